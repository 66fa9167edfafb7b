"""The instruments: where they measure, how wrong they may be, how finely they read."""

from collections.abc import Iterable

from ..records.address import Address
from ..records.bench import Bench, Instrument, MeasuringPoint
from ..records.findings import Caveat
from ..records.quantity import BY_COLUMN
from ..records.write_up import WriteUp
from .context import POWER_COLUMNS, QUANTITIES_OF, Context, of_columns, of_relations
from .wording import agree, amount, exact, figure, joined, listed, unique

OWN_SENSORS = "Z. Yang, K. Adamek and W. Armour, SC '24, doi:10.1109/SC41406.2024.00028"
POWER_METHOD = "Energy Efficient HPC Working Group, Power Measurement Methodology, version 2.0 RC 1.0"
TIMING = "T. Ilsche, Power measurement methodology, decision note of 2023-06-27"
RESOLUTION = "T. Hoefler and R. Belli, SC '15, doi:10.1145/2807591.2807644"

OWN_SENSOR_ERROR_PCT = 5.0
"""R45: card sensors were found to err by about this much of the reading."""
TWO_SENSORS_PCT = 7.0
"""R45: sqrt(2) times 5 %, rounded: what two cards' own sensors cannot tell apart."""
RESOLUTION_SHARE = 0.10
"""R29: a step should be at least ten times finer than the value."""

ABSOLUTE = ("", "change", "saved", "at-most", "at-least")
"""Relations in which a gain error stays; it cancels in ratios and percentages of the same channel."""
PHYSICAL = (*POWER_COLUMNS, "core_temp_c", "hotspot_temp_c", "memory_temp_c", "ambient_c", "fan_rpm", "sound_dba")
"""Columns that come from a sensor with an accuracy; clocks, scores and durations are counted."""
INTERVAL_SCALE = ("core_temp_c", "hotspot_temp_c", "memory_temp_c", "ambient_c", "sound_dba")
"""Zero is arbitrary: a step in percent of the value means nothing."""
UNCALIBRATED = frozenset({"", "no", "unknown"})


def own_sensor(context: Context) -> Iterable[Caveat]:
    """Raised when watts come from the card's own sensor and nobody calibrated it (R45)."""
    found = [
        (column, instrument)
        for column in POWER_COLUMNS
        if column in context.columns and (instrument := context.write_up.bench.instrument_for(column))
        if instrument.measures_at is MeasuringPoint.CARD_SENSOR and _uncalibrated(instrument)
    ]
    if not found:
        return
    names = tuple(context.write_up.setpoints)
    yield Caveat(
        code="own-sensor",
        title="Watts from the card's own sensor",
        missing=f"{_columns(c for c, _ in found)} {agree(len(found), 'comes', 'come')} from "
        f"{listed(unique(_named(i) for _, i in found))}, not calibrated.",
        effect=f"Watts, joules and running cost may be off by about {exact(OWN_SENSOR_ERROR_PCT)} % either way. "
        "Ratios and percentages on the same card keep, since the error cancels.",
        remedy="A calibrated meter in slot and cables, or one comparison run against it.",
        standing=True,
        addresses=of_relations(names, (c for c, _ in found), ABSOLUTE),
        source=OWN_SENSORS,
    )


def _uncalibrated(instrument: Instrument) -> bool:
    return instrument.calibrated.strip().lower() in UNCALIBRATED


def own_sensors_compared(context: Context) -> Iterable[Caveat]:
    """Raised when the prose sets another card's own-sensor watts within 7 % of this card's (R45)."""
    found: list[tuple[str, str]] = []
    for address, other in _power_elsewhere(context):
        if other.card.id == context.write_up.card.id and other.sample.id == context.write_up.sample.id:
            continue
        if not (_from_card(context.write_up.bench) and _from_card(other.bench)):
            continue
        there = context.results.find(address)
        near = [
            (context.label(name), apart)
            for name in context.write_up.setpoints
            if (here := context.number(name, address.quantity)) is not None
            and (apart := _apart_pct(here.value, there.value if there else None)) is not None
            and apart < TWO_SENSORS_PCT
        ]
        if near:
            told = listed([f"{figure(apart)} % from {name}" for name, apart in near])
            found.append((str(address), f"{address} is {told}"))
    if not found:
        return
    yield Caveat(
        code="own-sensors-compared",
        title="Two cards' own sensors compared",
        missing=joined([told for _, told in found]) + ".",
        effect=f"Own-sensor watts of two cards cannot be told apart below some {exact(TWO_SENSORS_PCT)} %.",
        remedy="Measure both cards with one external meter.",
        addresses=unique(a for a, _ in found),
        source=OWN_SENSORS,
    )


def _power_elsewhere(context: Context) -> Iterable[tuple[Address, WriteUp]]:
    for other, claimed in context.elsewhere():
        for address in context.claimed_elsewhere():
            if str(address) in claimed and address.quantity == "board-power" and not address.relation:
                yield address, other


def _from_card(bench: Bench) -> bool:
    instrument = bench.instrument_for("board_power_w")
    return instrument is not None and instrument.measures_at is MeasuringPoint.CARD_SENSOR


def _apart_pct(a: float | None, b: float | None) -> float | None:
    if a is None or b is None or not a > 0:
        return None
    return 100 * abs(a - b) / a


def accuracy_unknown(context: Context) -> Iterable[Caveat]:
    """Raised by a sensor column whose instrument, gain error or offset error is not known (R44)."""
    bench = context.write_up.bench
    lacking: dict[str, str] = {}
    for column in context.columns:
        if column not in PHYSICAL:
            continue
        instrument = bench.instrument_for(column)
        if instrument is None:
            lacking[column] = "no instrument named"
        elif instrument.gain_error_pct is None or instrument.offset_error is None:
            limits = (("gain", instrument.gain_error_pct), ("offset", instrument.offset_error))
            lacking[column] = f"{_named(instrument)}, {' and '.join(n for n, v in limits if v is None)} error"
    if not lacking:
        return
    yield Caveat(
        code="accuracy-unknown",
        title="Accuracy of an instrument not known",
        missing="Not known: " + joined([f"{_columns([c])} ({why})" for c, why in lacking.items()]) + ".",
        effect="The intervals of these figures show repeatability and what is known only. Readings of other benches "
        "are not comparable with them.",
        remedy="Take the limits from the instrument's data sheet or calibrate it, and put them in the bench file.",
        standing=True,
        addresses=of_relations(context.write_up.setpoints, lacking, ABSOLUTE),
        source=POWER_METHOD,
    )


def mixed_channels(context: Context) -> Iterable[Caveat]:
    """Raised when one comparison would use readings taken at two different points (R43)."""
    told: list[str] = []
    addresses: list[str] = []
    for column in context.columns:
        points = unique(i.measures_at.value for i in context.write_up.bench.instruments if column in i.columns)
        if len(points) > 1:
            told.append(f"{_columns([column])} has instruments at {listed(points)}")
            addresses += of_columns(context.write_up.setpoints, [column])
    for other, claimed in context.elsewhere():
        differing = _differing_points(context, other, claimed)
        told += [f"{_columns([c])} at {here} here, at {there} in {other.slug}" for _, c, here, there in differing]
        addresses += [a for a, _, _, _ in differing]
    if not told:
        return
    yield Caveat(
        code="mixed-channels",
        title="Readings from different measuring points",
        missing=joined(unique(told)) + ".",
        effect="The points see different parts of the power (the wall adds the supply's loss and the rest of the "
        "computer), so a difference between them is not the card's.",
        remedy="Compare readings of one instrument at one point only.",
        addresses=unique(addresses),
        source=POWER_METHOD,
    )


def logged_and_typed(context: Context) -> Iterable[Caveat]:
    """Raised when a column comes from logs in some runs of a comparison and was typed in others."""
    columns: list[str] = []
    addresses: list[str] = []
    for column in context.columns:
        sources = {
            name: {column in t.windows for t in context.counting(name) if column in t.measured}
            for name in (context.baseline, *context.compared)
        }
        if set().union(*sources.values()) == {True, False}:
            columns.append(column)
            mixed = [name for name, kinds in sources.items() if len(kinds) > 1]
            # A mixed baseline reaches every comparison; otherwise only the setpoints read in the other way.
            reached = context.compared if context.baseline in mixed or not mixed else mixed
            addresses += of_columns([*mixed, *reached], [column])
    if not columns:
        return
    yield Caveat(
        code="logged-and-typed",
        title="Part logged, part typed",
        missing=f"{_columns(columns)} is the mean of a log in some runs and a typed figure in others.",
        effect="A typed figure may be a glance or the mean of another stretch of the run, so the two kinds can differ "
        "by the way of reading alone.",
        remedy="Take the figure from the log in every run, or in none.",
        addresses=unique(addresses),
        source=POWER_METHOD,
    )


def _differing_points(context: Context, other: WriteUp, claimed: tuple[str, ...]) -> list[tuple[str, str, str, str]]:
    """(address, column, point here, point there) of claimed figures taken at another point there."""
    found = []
    for address in context.claimed_elsewhere():
        if str(address) not in claimed:
            continue
        for column in POWER_COLUMNS:
            here, there = (b.instrument_for(column) for b in (context.write_up.bench, other.bench))
            if address.quantity not in QUANTITIES_OF[column] or here is None or there is None:
                continue
            if here.measures_at is not there.measures_at:
                found.append((str(address), column, here.measures_at.value, there.measures_at.value))
    return found


def coarse_resolution(context: Context) -> Iterable[Caveat]:
    """Raised when a step exceeds a tenth of the value, or a claimed difference is below one step (R29)."""
    told: list[str] = []
    addresses: list[str] = []
    for column in context.columns:
        step, quantity = _step(context, column), BY_COLUMN.get(column)
        if step is None or quantity is None:
            continue
        for name in context.write_up.setpoints:
            number = context.number(name, quantity.key)
            if column in INTERVAL_SCALE or number is None or number.value is None:
                continue
            if step > RESOLUTION_SHARE * abs(number.value) * (1 + 1e-9):
                told.append(
                    f"{_columns([column])} is read in steps of {amount(step, quantity.unit.symbol)}, at "
                    f"{context.label(name)} it is {number.printed.text}"
                )
                addresses += of_columns([name], [column])
        for address in context.claimed_here(relations=("change", "saved")):
            number = context.results.find(address)
            if address.quantity != quantity.key or number is None or number.value is None:
                continue
            if abs(number.value) < step * (1 - 1e-9):
                told.append(f"{address.local()} is {number.printed.text}, less than one step of {figure(step)}")
                addresses.append(address.local())
    if not told:
        return
    yield Caveat(
        code="coarse-resolution",
        title="Coarse readings",
        missing=joined(unique(told)) + ".",
        effect="Repeats may agree only because the reading cannot move; the step's own uncertainty (step over the "
        "square root of 12) is a large part of the result.",
        remedy="An instrument with steps ten times finer, or a longer average.",
        addresses=unique(addresses),
        source=RESOLUTION,
    )


def _step(context: Context, column: str) -> float | None:
    instrument = context.write_up.bench.instrument_for(column)
    if instrument is not None and instrument.resolution is not None:
        return instrument.resolution
    # a step seen in a log belongs to single readings; their mean is finer, so only stated steps count
    return None


def averaging_unknown(context: Context) -> Iterable[Caveat]:
    """Raised when logged power does not say whether its readings are averages or instants (R42)."""
    found = [
        (column, instrument)
        for column in POWER_COLUMNS
        if any(column in t.windows for t in context.counted)
        if (instrument := context.write_up.bench.instrument_for(column)) is not None
        if instrument.reading not in ("instant", "average")
    ]
    if not found:
        return
    yield Caveat(
        code="averaging-unknown",
        title="Averages or instants not known",
        missing=f"It is not known whether the readings of {listed(unique(_named(i) for _, i in found))} are averages "
        "or instants.",
        effect="Energy is a sum for averages and a trapezoid for instants; peaks between readings may be missed.",
        remedy="Look it up in the instrument's manual and state `reading` in the bench file.",
        standing=True,
        addresses=of_columns(context.write_up.setpoints, (c for c, _ in found)),
        source=TIMING,
    )


def _named(instrument: Instrument) -> str:
    """Name as it stands inside a sentence."""
    return "t" + instrument.name[1:] if instrument.name.startswith("The ") else instrument.name


def _columns(columns: Iterable[str]) -> str:
    names = [BY_COLUMN[c].name for c in columns]
    text = listed(names)
    return text[:1].upper() + text[1:]


RULES = (
    own_sensor,
    own_sensors_compared,
    accuracy_unknown,
    mixed_channels,
    logged_and_typed,
    coarse_resolution,
    averaging_unknown,
)
