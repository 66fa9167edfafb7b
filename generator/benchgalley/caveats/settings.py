"""Settings against what was run, what the maker allows and what physics allows."""

from collections.abc import Iterable

from ..metrology.physics import dynamic_power_ratio, power_limit_w
from ..metrology.sample import NotDetermined
from ..records.findings import Caveat
from .context import Context, everything_at, of_columns
from .wording import amount, exact, figure, joined, unique

SWITCHING = "N. Weste and D. Harris, CMOS VLSI Design, 4th ed. (2011), 5.2"
BOUND = "T. Hoefler and R. Belli, SC '15, doi:10.1145/2807591.2807644"

SAVING_ALLOWANCE_PCT = 5.0
"""Ours: percent of stock power that leakage and the memory may save besides, before a saving is called too large."""
UNKNOWN_GAIN_PCT = 5.0
"""Ours, after R45: what an instrument of unknown accuracy may show above a limit."""

INTERPOLATED = ("matching-power-limit", "matching-power-limit-watts", "score-at-matched-power")


def outside_range(context: Context) -> Iterable[Caveat]:
    """Raised by a setpoint nothing was run at, or with a power limit outside the maker's range (R65)."""
    low, high = context.write_up.card.power_limit_range_pct
    told: dict[str, str] = {}
    for name, setpoint in context.write_up.setpoints.items():
        limit = setpoint.settings.get("power_limit_pct")
        if not context.at[name]:
            told[name] = f"{setpoint.label} has no run"
        elif isinstance(limit, float | int) and not low <= limit <= high:
            told[name] = (
                f"{setpoint.label} sets {exact(limit)} %, the maker allows {exact(low)} to {exact(high)} % "
            ).rstrip()
    if not told:
        return
    yield Caveat(
        code="outside-range",
        title="Setting outside what was run or is allowed",
        missing=joined(list(told.values())) + ".",
        effect="Beyond the settings that were run every figure is a guess; beyond the maker's range the card may not "
        "follow the setting.",
        remedy="Run the setting, or stay inside the range.",
        addresses=everything_at(told),
        source="general statistics (extrapolation)",
    )


def interpolated(context: Context) -> Iterable[Caveat]:
    """Raised when a claimed matching power limit lies between the limits that were run (R65)."""
    told: list[str] = []
    addresses: list[str] = []
    for address in context.claimed_here():
        if address.quantity not in INTERPOLATED:
            continue
        matched = context.number(address.subject, "matching-power-limit")
        sequence = context.write_up.sequences.get(address.subject)
        if matched is None or matched.value is None or sequence is None:
            continue
        ran = {float(v) for t in context.along[address.subject] if t.counts for v in [t.settings["power_limit_pct"]]}
        below, above = ({v for v in ran if v <= matched.value}, {v for v in ran if v >= matched.value})
        if matched.value in ran or not below or not above:
            continue
        told.append(f"{sequence.label}: between {exact(max(below))} and {exact(min(above))} %, neither of which it is")
        addresses.append(address.local())
    if not told:
        return
    yield Caveat(
        code="interpolated",
        title="By interpolation",
        missing=joined(unique(told)) + ".",
        effect="No run was made at that limit; the figure rests on a rising curve between its neighbours.",
        remedy="A few runs at the limit found.",
        addresses=unique(addresses),
        source="general statistics (interpolation)",
    )


def above_power_limit(context: Context) -> Iterable[Caveat]:
    """Raised when mean board power exceeds the limit set by more than the instrument's error (R13)."""
    card = context.write_up.card
    instrument = context.write_up.bench.instrument_for("board_power_w")
    known = instrument is not None and instrument.gain_error_pct is not None
    allowance_pct = instrument.gain_error_pct if instrument and known else UNKNOWN_GAIN_PCT
    offset_w = (instrument.offset_error or 0.0) if instrument else 0.0
    told: dict[str, str] = {}
    for name, setpoint in context.write_up.setpoints.items():
        limit_pct, values = setpoint.settings.get("power_limit_pct"), context.values(name, "board_power_w")
        if not isinstance(limit_pct, float | int) or limit_pct <= 0 or not values or not card.stock_board_power_w > 0:
            continue
        limit_w, mean_w = power_limit_w(card.stock_board_power_w, limit_pct), sum(values) / len(values)
        if mean_w > limit_w * (1 + (allowance_pct or 0.0) / 100) + offset_w + 1e-9:
            told[name] = f"{setpoint.label} drew {amount(mean_w, 'W', 3)} at a limit of {amount(limit_w, 'W', 3)}"
    if not told:
        return
    yield Caveat(
        code="above-power-limit",
        title="More power than the limit allows",
        missing=joined(list(told.values())) + "; more than the instrument's error explains.",
        effect="Either the limit was not in force or the reading is wrong; neither the watts nor the setting can be "
        "taken as stated.",
        remedy="Check that the limit was applied in every run, and the instrument against another.",
        addresses=of_columns(told, ["board_power_w"]),
        source=BOUND,
    )


def implausible_saving(context: Context) -> Iterable[Caveat]:
    """Raised when board power fell further than clock times voltage squared explains, at the interval's near end."""
    told: dict[str, str] = {}
    for name in context.compared:
        saved = context.number(name, "board-power", "saved-percent")
        explained_pct = _explained_pct(context, name)
        if saved is None or saved.value is None or explained_pct is None:
            continue
        ends = saved.interval
        least_pct = ends.low if ends is not None and ends.low is not None else saved.value
        if least_pct > explained_pct + SAVING_ALLOWANCE_PCT + 1e-9:
            told[name] = (
                f"{context.label(name)} drew {saved.printed.text} less, its clock and voltage explain "
                f"{figure(explained_pct)} %"
            )
    if not told:
        return
    yield Caveat(
        code="implausible-saving",
        title="Saving larger than clock and voltage explain",
        missing=joined(list(told.values())) + f"; {exact(SAVING_ALLOWANCE_PCT)} % more is passed over for leakage and "
        "memory.",
        effect="Something else fell with the power: less work done, another load phase, or a reading that is wrong.",
        remedy="Compare score and clock of the same runs; measure at the wall or with an external meter.",
        addresses=of_columns(told, ["board_power_w"]),
        source=SWITCHING,
    )


def _explained_pct(context: Context, setpoint: str) -> float | None:
    """Percent of power that the change of measured clock and voltage explains, or None where one is missing."""
    means = []
    for name in (setpoint, context.baseline):
        clocks, volts = context.values(name, "core_clock_mhz"), context.values(name, "core_voltage_mv")
        if not clocks or not volts:
            return None
        means.append((sum(clocks) / len(clocks), sum(volts) / len(volts)))
    (clock, volt), (stock_clock, stock_volt) = means
    try:
        return 100 * (1 - dynamic_power_ratio(clock / stock_clock, volt / stock_volt))
    except (NotDetermined, ZeroDivisionError):
        return None


RULES = (
    outside_range,
    interpolated,
    above_power_limit,
    implausible_saving,
)
