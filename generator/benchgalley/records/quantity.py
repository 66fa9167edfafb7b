"""Measured quantities: the columns of trials.csv and what they are called everywhere else."""

from dataclasses import dataclass

from . import units
from .units import Unit


@dataclass(frozen=True, kw_only=True, slots=True)
class Quantity:
    """A kind of number a setpoint can have, measured or derived."""

    key: str
    """As in addresses: `board-power`."""
    name: str
    """As in sentences and table heads: `board power`."""
    unit: Unit
    """Unit of its values."""
    column: str = ""
    """Column of trials.csv it is read from; empty for derived quantities."""
    lower_is: str = ""
    """What less of it is called, if that is good or bad news: `cooler`, `quieter`; for word claims see claims."""
    difference_unit: Unit | None = None
    """Unit of differences where it is not the same: kelvin for temperatures in degrees Celsius."""
    definition: str = ""
    """One sentence for the methods section."""
    formula: str = ""
    """Formula as plain text, for derived quantities."""
    source: str = ""
    """Where the formula comes from."""


SCORE = Quantity(key="score", name="score", unit=units.score_unit("points"), column="score")
"""Its unit is replaced by the load's own: see `of_load`."""

MEASURED: tuple[Quantity, ...] = (
    SCORE,
    Quantity(key="board-power", name="board power", unit=units.WATT, column="board_power_w"),
    Quantity(key="wall-power", name="power at the wall", unit=units.WATT, column="wall_power_w"),
    Quantity(key="core-clock", name="core clock", unit=units.MEGAHERTZ, column="core_clock_mhz"),
    Quantity(key="memory-clock", name="memory clock", unit=units.MEGAHERTZ, column="memory_clock_mhz"),
    Quantity(key="core-voltage", name="core voltage", unit=units.MILLIVOLT, column="core_voltage_mv"),
    Quantity(
        key="core-temperature", name="core temperature", unit=units.CELSIUS, column="core_temp_c",
        difference_unit=units.KELVIN, lower_is="cooler",
    ),
    Quantity(
        key="hotspot-temperature", name="hotspot temperature", unit=units.CELSIUS, column="hotspot_temp_c",
        difference_unit=units.KELVIN, lower_is="cooler",
    ),
    Quantity(
        key="memory-temperature", name="memory temperature", unit=units.CELSIUS, column="memory_temp_c",
        difference_unit=units.KELVIN, lower_is="cooler",
    ),
    Quantity(
        key="ambient-temperature", name="ambient temperature", unit=units.CELSIUS, column="ambient_c",
        difference_unit=units.KELVIN, lower_is="cooler",
    ),
    Quantity(key="fan-speed", name="fan speed", unit=units.REVOLUTIONS, column="fan_rpm", lower_is="quieter"),
    Quantity(
        key="sound-level", name="A-weighted sound level", unit=units.DECIBEL_A, column="sound_dba", lower_is="quieter"
    ),
    Quantity(key="run-time", name="run time", unit=units.SECOND, column="duration_s"),
)  # fmt: skip
"""In the order tables show them."""

BY_COLUMN: dict[str, Quantity] = {q.column: q for q in MEASURED}


@dataclass(frozen=True, kw_only=True, slots=True)
class SettingKind:
    """A setting a tester changes: a settings column of trials.csv."""

    key: str
    """As in addresses and links: `power-limit`."""
    column: str
    """As in trials.csv and in setpoints: `power_limit_pct`."""
    name: str
    """As in sentences."""
    unit: Unit | None
    """None for settings told by a word, such as the fan mode."""
    default: float | str
    """Value at stock; what a setpoint that does not name the setting has."""


SETTINGS: tuple[SettingKind, ...] = (
    SettingKind(key="power-limit", column="power_limit_pct", name="power limit", unit=units.PERCENT, default=100.0),
    SettingKind(
        key="voltage-offset",
        column="voltage_offset_mv",
        name="voltage offset",
        unit=units.MILLIVOLT,
        default=0.0,
    ),
    SettingKind(key="core-offset", column="core_offset_mhz", name="core offset", unit=units.MEGAHERTZ, default=0.0),
    SettingKind(
        key="memory-offset",
        column="memory_offset_mhz",
        name="memory offset",
        unit=units.MEGAHERTZ,
        default=0.0,
    ),
    SettingKind(key="fan-mode", column="fan_mode", name="fan mode", unit=None, default="auto"),
)

SETTING_BY_COLUMN: dict[str, SettingKind] = {s.column: s for s in SETTINGS}

LOWER_IS_BETTER = frozenset(
    {
        "board-power", "wall-power", "core-temperature", "hotspot-temperature", "memory-temperature", "fan-speed",
        "sound-level", "run-energy", "energy-per-score", "temperature-rise", "thermal-resistance",
        "running-energy", "running-cost", "failure-rate",
    }
)  # fmt: skip
"""Quantities of which less is welcome; the score's direction stands in the load file."""
