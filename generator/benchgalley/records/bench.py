"""Benches, loads, cards and trials: what was measured, with what, on what."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from .findings import Location
from .units import Unit


class MeasuringPoint(StrEnum):
    """Where an instrument taps in. Two channels of different points are never compared."""

    CARD_SENSOR = "card sensor"
    SLOT_AND_CABLE = "slot and cable"
    WALL = "wall"
    AIR = "air"
    SOFTWARE = "software"


@dataclass(frozen=True, kw_only=True, slots=True)
class Instrument:
    """A channel: what it measures, where, and how wrong it may be."""

    id: str
    """Key in the bench file: `card-sensor`, `clamp`."""
    name: str
    """As printed."""
    columns: tuple[str, ...]
    """Canonical columns it supplies: `board_power_w` ..."""
    measures_at: MeasuringPoint
    """Where it measures."""
    gain_error_pct: float | None
    """Greatest gain error, percent of the reading (half-width of a rectangle). None: not known."""
    offset_error: float | None
    """Greatest offset error in the column's unit (half-width). None: not known."""
    resolution: float | None
    """Smallest step shown, in the column's unit. None: not known."""
    sampling_interval_s: float | None
    """Seconds between readings. None: not known, or one figure a run."""
    reading: str
    """`instant`, `average` or `unknown`."""
    calibrated: str
    """Date of the last calibration (ISO 8601) or `no`."""
    channel_spread: str = "card"
    """`bench`: one physical instrument for every card; `card`: each card carries its own (its own gain error)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Bench:
    """A test rig."""

    id: str
    name: str
    facts: Mapping[str, str]
    """Host, supply, case, room ...: label → text, as printed in the methods section."""
    instruments: tuple[Instrument, ...]
    """In file order."""
    where: Location

    def instrument_for(self, column: str) -> Instrument | None:
        """The instrument that supplies a canonical column, or None when the bench names none."""
        return next((i for i in self.instruments if column in i.columns), None)


@dataclass(frozen=True, kw_only=True, slots=True)
class Load:
    """A benchmark load."""

    id: str
    name: str
    version: str
    preset: str
    score_unit: Unit
    higher_is_better: bool
    run_length_s: float | None
    """Nominal length of one run in seconds."""
    output_checked: bool
    """Whether the load checks its own output: without that, silent errors go unseen."""
    facts: Mapping[str, str]
    where: Location


@dataclass(frozen=True, kw_only=True, slots=True)
class Sample:
    """One physical card."""

    id: str
    """Alias of one letter or word; never a serial number."""
    note: str = ""
    contributed: str = ""
    """Empty for the author's own; otherwise who sent the runs in."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Card:
    """A card model with the samples that were on the bench."""

    id: str
    maker: str
    model: str
    stock_board_power_w: float
    """The maker's board power at 100 % power limit."""
    power_limit_range_pct: tuple[float, float]
    """Lowest and highest power limit the maker allows, percent."""
    connectors: tuple[str, ...]
    """Auxiliary connectors: `6-pin`, `8-pin`, `16-contact`."""
    ratings: Mapping[str, str]
    """Further rated limits and facts: label → text with unit, e.g. "Memory" → "8 GB"."""
    samples: tuple[Sample, ...]
    where: Location


class Outcome(StrEnum):
    """How a run ended. Only completed runs enter a mean; the others are counted and shown."""

    COMPLETED = "completed"
    CRASHED = "crashed"
    ARTEFACTS = "artefacts"
    HUNG = "hung"
    ABORTED = "aborted"


@dataclass(frozen=True, kw_only=True, slots=True)
class Window:
    """How a logged figure of a run was reduced from its log."""

    column: str
    log: str
    """File, relative to the write-up."""
    start_s: float
    """Start of the window, seconds after the start of the run."""
    end_s: float
    """End of the window, seconds after the start of the run."""
    readings: int
    """Readings inside the window."""
    effective_readings: float
    """Independent readings they are worth, after autocorrelation."""
    mean: float
    minimum: float
    maximum: float
    percentile_95: float
    integral: float
    """Time integral over the window, unit of the column times seconds."""
    coverage_pct: float
    """Share of the run that the window covers, percent."""
    repeated_pct: float
    """Share of readings equal to the one before, percent: a sensor slower than its log."""
    step: float | None
    """Smallest step between readings: quantisation of the sensor, unit of the column."""
    largest_gap_s: float
    """Longest time between neighbouring readings, seconds."""
    slope_per_min: float
    """Straight-line trend inside the window, unit of the column a minute: what settling is left."""
    trace: tuple[tuple[float, float], ...] = ()
    """Thinned (seconds after run start, value) pairs for the chart; at most some hundred."""
    counter_j: float | None = None
    """Energy over the window by the log's own counter, J; None: no counter, or it cannot tell."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Trial:
    """One run: one row of trials.csv."""

    id: str
    line: int
    """Line in trials.csv."""
    order: int
    """Position in the file, from 0: the order in which runs were made unless `started` says otherwise."""
    settings: Mapping[str, float | str]
    """Settings column → value, every settings column present (defaults filled in)."""
    outcome: Outcome
    measured: Mapping[str, float]
    """Canonical column → value in the canonical unit. An absent value has no key; it is never zero."""
    decimals: Mapping[str, int]
    """Canonical column → decimals as typed: the resolution the file itself shows. Logged values have no key."""
    windows: Mapping[str, Window] = field(default_factory=dict)
    """Canonical column → how it came from a log."""
    started: datetime | None = None
    """Start of the run, with zone; None when not recorded."""
    driver: str = ""
    note: str = ""
    log: str = ""
    sequence: str = ""
    """Name of the sequence the run belongs to by its own word; empty: by its settings."""
    excluded: str = ""
    """Reason the run is left out of every figure; printed in the methods."""

    @property
    def counts(self) -> bool:
        """Whether the run enters means: completed and not excluded."""
        return self.outcome is Outcome.COMPLETED and not self.excluded


@dataclass(frozen=True, kw_only=True, slots=True)
class Setpoint:
    """A named combination of settings."""

    name: str
    settings: Mapping[str, float | str]
    """Every settings column → value, defaults filled in."""
    label: str
    """As printed in tables and charts; the name with spaces unless given."""
    where: Location


class SequenceKind(StrEnum):
    """What a sequence of runs was for."""

    SWEEP = "sweep"
    LADDER = "ladder"
    WALK = "walk"
    SOAK = "soak"


@dataclass(frozen=True, kw_only=True, slots=True)
class Sequence:
    """Runs that vary one setting with the others held, or that soak one setpoint."""

    name: str
    kind: SequenceKind
    setting: str
    """Settings column that varies; empty for a soak."""
    held: Mapping[str, float | str]
    """Every other settings column → value held."""
    setpoint: str
    """Setpoint that was soaked; empty for the others."""
    order: str
    """`shuffled`, `rising`, `falling` or `blocked`: as planned; the runs themselves show what was done."""
    label: str
    where: Location
