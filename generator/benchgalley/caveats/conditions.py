"""What else changed between the runs compared: driver, room, bench, load."""

from collections.abc import Iterable

from ..records.findings import Caveat
from ..records.write_up import WriteUp
from .context import Context, everything_at, measured, of_columns
from .wording import agree, counted, figure, joined, listed, unique

HEAT = "K. De Vogeleer et al., arXiv:1404.3381"
FACTORS = "T. Hoefler and R. Belli, SC '15, doi:10.1145/2807591.2807644"

AMBIENT_SPAN_K = 3.0
"""R51 gives the effect (power rises with temperature at equal work); the limit of 3 K is ours."""

WARM_COLUMNS = (
    "board_power_w",
    "wall_power_w",
    "core_temp_c",
    "hotspot_temp_c",
    "memory_temp_c",
    "fan_rpm",
    "sound_dba",
)
"""What a warmer room changes."""
HEAT_COLUMNS = ("core_temp_c", "hotspot_temp_c", "memory_temp_c")


def different_driver(context: Context) -> Iterable[Caveat]:
    """Raised when a compared setpoint was not run with exactly the baseline's drivers, here or elsewhere."""
    stock = _drivers(context, context.baseline)
    found: dict[str, tuple[str, ...]] = {
        name: drivers
        for name in context.compared
        if (drivers := _drivers(context, name)) and stock and set(drivers) != set(stock)
    }
    mixed = stock if len(stock) > 1 and not found else ()
    told = [f"{context.label(name)}: {listed(drivers)}" for name, drivers in found.items()]
    addresses = list(everything_at(found))
    if mixed:
        addresses += everything_at(context.compared or [context.baseline])
    here = context.write_up.drivers_counted
    for other, claimed in context.elsewhere():
        there = other.drivers_counted
        if here and there and here != there:
            told.append(f"{other.slug}: {listed(there)}")
            addresses += claimed
    if not told and not mixed:
        return
    yield Caveat(
        code="different-driver",
        title="Driver differs",
        missing=f"The baseline was run with driver {listed(stock) or listed(here)}"
        + (f"; {joined(told)}." if told else ", mixed within every setpoint."),
        effect="A difference may come from the driver instead of the setting."
        if told
        else "The driver's own effect is part of the spread between runs.",
        remedy="Repeat the runs of one side with the other's driver.",
        addresses=unique(addresses),
        source=FACTORS,
    )


def _drivers(context: Context, setpoint: str) -> tuple[str, ...]:
    return tuple(sorted({t.driver for t in context.counting(setpoint) if t.driver}))


def temperature_span(context: Context) -> Iterable[Caveat]:
    """Raised when the room's temperature spans more than 3 K over the runs compared (R51)."""
    names = (context.baseline, *context.compared)
    found = measured([t for n in names for t in context.counting(n)], "ambient_c")
    if len(found) < 2 or not context.compared:
        return
    span = max(found) - min(found)
    # the excess of a few ulp that subtracting decimals leaves must not raise it
    if span <= AMBIENT_SPAN_K * (1 + 1e-9):
        return
    told = joined(
        [
            f"{context.label(n)} {figure(min(v), 3)} to {figure(max(v), 3)} °C"
            for n in names
            if (v := context.values(n, "ambient_c"))
        ]
    )
    yield Caveat(
        code="temperature-span",
        title=f"Room temperature spans {figure(span)} K",
        missing=f"Over the runs compared the room went from {figure(min(found), 3)} to {figure(max(found), 3)} °C "
        f"({told}); up to 3 K is passed over.",
        effect="Part of a difference in power, temperature, fan speed or sound may be the room's. Rise over ambient "
        "allows for it, the plain readings do not.",
        remedy="Repeat at one room temperature, or in shuffled order so that the room falls on every setpoint alike.",
        addresses=of_columns(context.compared, WARM_COLUMNS),
        source=HEAT,
    )


def ambient_absent(context: Context) -> Iterable[Caveat]:
    """Raised when a counted run with a temperature or a power figure has no room temperature."""
    runs = [t for t in context.counted if any(c in t.measured for c in WARM_COLUMNS)]
    without = [t for t in runs if "ambient_c" not in t.measured]
    if not without:
        return
    names = tuple(n for n in context.write_up.setpoints if any(t in without for t in context.counting(n)))
    told = "No run has" if len(without) == len(runs) else f"{len(without)} of {counted(len(runs))} have no"
    yield Caveat(
        code="ambient-absent",
        title="Room temperature not logged",
        missing=f"{told}{' a' if len(without) == len(runs) else ''} room temperature.",
        effect="A change of core temperature cannot be told from a change of the room; rise over ambient and thermal "
        f"resistance {agree(len(without), 'lack this run', 'lack these runs')}.",
        remedy="Log the air at the intake of the case beside every run (ambient_c).",
        standing=not names,
        addresses=of_columns(names, (*HEAT_COLUMNS, "ambient_c")),
        source=FACTORS,
    )


def different_bench(context: Context) -> Iterable[Caveat]:
    """Raised when the prose draws on data from another bench."""
    found = [(w, a) for w, a in context.elsewhere() if w.bench.id != context.write_up.bench.id]
    yield from _across(
        found,
        code="different-bench",
        title="Data from another bench",
        missing=f"This write-up was measured on {context.write_up.bench.name}; "
        + joined([f"{w.slug} on {w.bench.name}" for w, _ in found])
        + ".",
        effect="Host, supply, airflow and instruments differ too, so a difference between the two is not the card's "
        "alone.",
        remedy="Measure both on one bench.",
    )


def different_load(context: Context) -> Iterable[Caveat]:
    """Raised when the prose draws on data from another load, version or preset."""
    own = context.write_up
    found = [(w, a) for w, a in context.elsewhere() if _load(w) != _load(own)]
    yield from _across(
        found,
        code="different-load",
        title="Data from another load",
        missing=f"This write-up ran {_load_name(own)}; "
        + joined([f"{w.slug} ran {_load_name(w)}" for w, _ in found])
        + ".",
        effect="Scores of different loads, versions or presets are different quantities; power and heat depend on "
        "the load too.",
        remedy="Run both with the same load, version and preset.",
    )


def _load(write_up: WriteUp) -> tuple[str, str, str]:
    return write_up.load.id, write_up.load.version, write_up.load.preset


def _load_name(write_up: WriteUp) -> str:
    load = write_up.load
    return " ".join(part for part in (load.name, load.version, load.preset) if part)


def _across(
    found: list[tuple[WriteUp, tuple[str, ...]]], *, code: str, title: str, missing: str, effect: str, remedy: str
) -> Iterable[Caveat]:
    if found:
        addresses = unique(a for _, claimed in found for a in claimed)
        yield Caveat(
            code=code, title=title, missing=missing, effect=effect, remedy=remedy, addresses=addresses, source=FACTORS
        )


RULES = (
    different_driver,
    temperature_span,
    ambient_absent,
    different_bench,
    different_load,
)
