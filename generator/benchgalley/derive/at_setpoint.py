"""Quantities at one setpoint: measured means, and what is derived from them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from benchgalley.metrology.sample import NotDetermined
from benchgalley.records import units
from benchgalley.records.quantity import BY_COLUMN, MEASURED, Quantity
from benchgalley.records.site import Running
from benchgalley.records.units import Unit
from benchgalley.records.write_up import WriteUp

from .session import Session

MEASURED_BY_KEY = {quantity.key: quantity for quantity in MEASURED}


class Readings:
    """Mean readings at a setpoint as a derivation sees them: `at["board_power_w"]`, `at.running`."""

    __slots__ = ("_means", "running")

    def __init__(self, means: Mapping[str, complex], running: Running | None) -> None:
        self._means = means
        self.running = running

    def __getitem__(self, column: str) -> complex:
        return self._means[column]

    @property
    def hours_a_year(self) -> float:
        """Hours of use a year from the site's settings."""
        if self.running is None:
            raise NotDetermined("the site states no hours of use (running: in site.yaml)")
        return self.running.hours_a_day * self.running.days_a_year

    @property
    def tariff_per_kwh(self) -> float:
        """Price of a kilowatt hour from the site's settings."""
        if self.running is None:
            raise NotDetermined("the site states no tariff (running: in site.yaml)")
        return self.running.tariff_per_kwh


@dataclass(frozen=True, kw_only=True, slots=True)
class Derivation:
    """One derived quantity. Everything the site says of it stands in its line of the table."""

    quantity: Quantity
    needs: tuple[str, ...]
    """Canonical columns; a run enters when it has all of them."""
    compute: Callable[[Readings], complex]
    """Plain arithmetic on mean readings; takes complex values, by which its sensitivities are found."""
    working: str
    """The formula with `{column}` in place of readings; formula and substitution are made from it."""
    unit_of: Callable[[WriteUp, Running | None], Unit] | None = None
    """Unit where it depends on the load's score or the site's currency."""
    needs_running: bool = False
    """Whether the site's hours and tariff enter."""
    counts_work: bool = False
    """Whether it reads the score as work done: only where a higher score is better."""


def score_per_watt(at: Readings) -> complex:
    """Score over board power, score units a watt."""
    return at["score"] / at["board_power_w"]


def score_per_wall_watt(at: Readings) -> complex:
    """Score over power at the wall, score units a watt."""
    return at["score"] / at["wall_power_w"]


def run_energy(at: Readings) -> complex:
    """Board power times run time, kJ."""
    return at["board_power_w"] * at["duration_s"] / 1000


def energy_per_score(at: Readings) -> complex:
    """Energy of a run over its score, J a score unit."""
    return at["board_power_w"] * at["duration_s"] / at["score"]


def temperature_rise(at: Readings) -> complex:
    """Core less ambient temperature, K."""
    return at["core_temp_c"] - at["ambient_c"]


def hotspot_rise(at: Readings) -> complex:
    """Hotspot less ambient temperature, K."""
    return at["hotspot_temp_c"] - at["ambient_c"]


def thermal_resistance(at: Readings) -> complex:
    """Core temperature rise over board power, K/W."""
    return (at["core_temp_c"] - at["ambient_c"]) / at["board_power_w"]


def running_energy(at: Readings) -> complex:
    """Board power times the site's hours a year, kW h a year."""
    return at["board_power_w"] * at.hours_a_year / 1000


def running_cost(at: Readings) -> complex:
    """Energy a year times the site's tariff, money a year."""
    return at["board_power_w"] * at.hours_a_year / 1000 * at.tariff_per_kwh


def _cost_unit(_: WriteUp, running: Running | None) -> Unit:
    return units.currency_a_year(running.currency.symbol) if running else units.ONE


RATIO_OF_TOTALS = "Ratio of the means over the runs, not a mean of ratios: Hoefler and Belli, SC '15, rule 3"

DERIVED: tuple[Derivation, ...] = (
    Derivation(
        quantity=Quantity(
            key="score-per-watt", name="score per watt", unit=units.per(units.score_unit("points"), units.WATT),
            definition="Mean score over mean board power of the same runs.", source=RATIO_OF_TOTALS,
        ),
        needs=("score", "board_power_w"), compute=score_per_watt, working="{score} / {board_power_w}",
        unit_of=lambda write_up, _: units.per(write_up.load.score_unit, units.WATT), counts_work=True,
    ),
    Derivation(
        quantity=Quantity(
            key="score-per-wall-watt", name="score per watt at the wall",
            unit=units.per(units.score_unit("points"), units.WATT),
            definition="Mean score over mean power of the whole computer at the wall, of the same runs.",
            source=RATIO_OF_TOTALS,
        ),
        needs=("score", "wall_power_w"), compute=score_per_wall_watt, working="{score} / {wall_power_w}",
        unit_of=lambda write_up, _: units.per(write_up.load.score_unit, units.WATT), counts_work=True,
    ),
    Derivation(
        quantity=Quantity(
            key="run-energy", name="energy per run", unit=units.KILOJOULE,
            definition="Mean board power times mean run time.",
            source="Energy is mean power times time, E = P t (plain physics)",
        ),
        needs=("board_power_w", "duration_s"), compute=run_energy,
        working="{board_power_w} × {duration_s} / 1000",
    ),
    Derivation(
        quantity=Quantity(
            key="energy-per-score", name="energy per score", unit=units.per(units.JOULE, units.score_unit("points")),
            definition="Mean energy of a run over the mean score of the same runs.", source=RATIO_OF_TOTALS,
        ),
        needs=("board_power_w", "duration_s", "score"), compute=energy_per_score,
        working="{board_power_w} × {duration_s} / {score}",
        unit_of=lambda write_up, _: units.per(units.JOULE, write_up.load.score_unit), counts_work=True,
    ),
    Derivation(
        quantity=Quantity(
            key="temperature-rise", name="temperature rise over ambient", unit=units.KELVIN, lower_is="cooler",
            definition="Core temperature less ambient temperature of the same runs.",
            source="Rise over ambient as in JEDEC JESD51 (definition of thermal resistance)",
        ),
        needs=("core_temp_c", "ambient_c"), compute=temperature_rise, working="{core_temp_c} - {ambient_c}",
    ),
    Derivation(
        quantity=Quantity(
            key="hotspot-rise", name="hotspot rise over ambient", unit=units.KELVIN, lower_is="cooler",
            definition="Hotspot temperature less ambient temperature of the same runs.",
            source="Rise over ambient as in JEDEC JESD51 (definition of thermal resistance)",
        ),
        needs=("hotspot_temp_c", "ambient_c"), compute=hotspot_rise, working="{hotspot_temp_c} - {ambient_c}",
    ),
    Derivation(
        quantity=Quantity(
            key="thermal-resistance", name="thermal resistance to ambient", unit=units.KELVIN_PER_WATT,
            definition="Core temperature rise over ambient, over board power, of the same runs.",
            source="R = (T_core - T_ambient) / P: JEDEC JESD51; board power stands for the power of the chip",
        ),
        needs=("core_temp_c", "ambient_c", "board_power_w"), compute=thermal_resistance,
        working="({core_temp_c} - {ambient_c}) / {board_power_w}",
    ),
    Derivation(
        quantity=Quantity(
            key="running-energy", name="energy a year", unit=units.KILOWATT_HOUR_A_YEAR,
            definition="Mean board power times the hours of use a year that the site states.",
            source="E[kW h] = P[W] t[h] / 1000 (plain arithmetic)",
        ),
        needs=("board_power_w",), compute=running_energy, working="{board_power_w} × {hours_a_year} / 1000",
        needs_running=True,
    ),
    Derivation(
        quantity=Quantity(
            key="running-cost", name="running cost a year", unit=units.ONE,
            definition="Energy a year times the tariff that the site states.",
            source="Energy times tariff (plain arithmetic)",
        ),
        needs=("board_power_w",), compute=running_cost,
        working="{board_power_w} × {hours_a_year} / 1000 × {tariff_per_kwh}",
        unit_of=_cost_unit, needs_running=True,
    ),
)  # fmt: skip
"""In the order tables show them."""

DERIVED_BY_KEY = {derivation.quantity.key: derivation for derivation in DERIVED}

QUANTITIES = (*MEASURED_BY_KEY, *DERIVED_BY_KEY)
"""Keys of everything a setpoint may have, in the order tables show them."""


def formula_of(derivation: Derivation) -> str:
    """The formula in words: "score / board power"."""
    names = {column: BY_COLUMN[column].name for column in derivation.needs}
    text = derivation.working.format(**names, hours_a_year="hours a year", tariff_per_kwh="tariff per kW h")
    return text.replace(" - ", " \u2212 ")


def quantity_of(session: Session, key: str) -> Quantity | None:
    """The quantity with the unit it has in this write-up; None when there is none of that name."""
    kept = session.quantities
    if key not in kept:
        kept[key] = _quantity_here(session, key)
    return kept[key]


def _quantity_here(session: Session, key: str) -> Quantity | None:
    if (measured := MEASURED_BY_KEY.get(key)) is not None:
        return replace(measured, unit=session.write_up.load.score_unit) if key == "score" else measured
    if (derivation := DERIVED_BY_KEY.get(key)) is None:
        return None
    unit = derivation.quantity.unit
    if derivation.unit_of is not None:
        unit = derivation.unit_of(session.write_up, session.site.settings.running)
    return replace(derivation.quantity, unit=unit, formula=formula_of(derivation))


def columns_needed(key: str) -> tuple[str, ...]:
    """Canonical columns that a quantity is made from."""
    if (measured := MEASURED_BY_KEY.get(key)) is not None:
        return (measured.column,)
    return DERIVED_BY_KEY[key].needs


def has_data(session: Session, key: str) -> bool:
    """Whether the write-up recorded what the quantity needs, in any run."""
    if not session.columns.issuperset(columns_needed(key)):
        return False
    derivation = DERIVED_BY_KEY.get(key)
    if derivation is None:
        return True
    if derivation.needs_running and session.site.settings.running is None:
        return False
    return not derivation.counts_work or session.write_up.load.higher_is_better
