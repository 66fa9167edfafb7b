"""What the repeats themselves show: too few, in two groups, far from the others."""

from collections.abc import Iterable

from ..metrology.distribution import coverage_factor
from ..metrology.distribution_free import quartile_fences, two_groups
from ..records.findings import Caveat
from ..records.quantity import BY_COLUMN
from .context import Context, everything_at, of_columns
from .wording import agree, amount, counted, figure, joined, listed

REPORTING = "T. Hoefler and R. Belli, SC '15, doi:10.1145/2807591.2807644"
RANKS = "J.-Y. Le Boudec, Performance Evaluation of Computer and Communication Systems (2010), table A.1"

FEWEST_RUNS = 3
"""Below three runs the t factor is so large (12.7 at two runs) that hardly any difference shows."""
FEWEST_FOR_MEDIAN = 6
"""R20: below six runs no 95 % interval of the median exists that is free of distribution."""
FEWEST_FOR_SHAPE = 8
"""R08: below eight runs no test of normality says anything; ours."""
FEWEST_FOR_FENCES = 8
"""Ours: quartiles of fewer runs say little."""
FENCE_REACH = 3.0
"""Outer fences, in interquartile ranges. At the inner ones (1.5, as R15 marks them) 27 of 100 honest sets of eight
normal runs have a value outside, at the outer ones 5: only these are worth a reader's time."""
GROUP_SHARES = ((10, 0.5), (8, 0.6))
"""R30 asks for a gap over half the range. With eight or nine runs 3 of 100 honest sets have one; over 0.6 of the range
fewer than 1. (Runs at least, share.)"""
STEPS_APART = 3
"""Ours: two groups lie more than so many steps of the instrument apart; else the reading has only a few values."""

WATCHED = ("score", "board_power_w", "wall_power_w", "core_clock_mhz")
"""Columns looked at for groups and outliers: those that settle within a run. Temperatures follow the room."""


def single_run(context: Context) -> Iterable[Caveat]:
    """Raised by a setpoint, or a point of a sweep or walk, with one counted run (R07)."""
    names = [n for n in context.write_up.setpoints if len(context.counting(n)) == 1]
    told = [context.label(n) for n in names]
    for sequence, points in context.curves.items():
        if lone := [v for v, runs in points.items() if len(runs) == 1]:
            told.append(
                f"{len(lone)} of {counted(len(points), 'point')} of {context.write_up.sequences[sequence].label}"
            )
            names.append(sequence)
    if not names:
        return
    yield Caveat(
        code="single-run",
        title="Single runs",
        missing=f"One completed run only: {listed(told)}.",
        effect="No spread can be given from it, so no difference from it can be called real.",
        remedy=f"Repeat; with {FEWEST_RUNS} runs a first interval is worth something, with {FEWEST_FOR_MEDIAN} or more "
        "it is useful.",
        addresses=everything_at(names),
        source=REPORTING,
    )


def few_runs(context: Context) -> Iterable[Caveat]:
    """Raised by a setpoint with two counted runs (R20 and the t factor)."""
    names = [n for n in context.write_up.setpoints if 1 < len(context.counting(n)) < FEWEST_RUNS]
    if not names:
        return
    factor = coverage_factor(0.95, FEWEST_RUNS - 2)
    yield Caveat(
        code="few-runs",
        title="Few runs",
        missing=f"Fewer than {FEWEST_RUNS} completed runs: "
        + joined([f"{context.label(n)} {counted(len(context.counting(n)))}" for n in names])
        + ".",
        effect=f"The 95 % factor for two runs is {figure(factor, 3)}: intervals are so wide that hardly any difference "
        "shows.",
        remedy=f"At least {FEWEST_RUNS} runs; `benchgalley numbers` says how many a claim needs.",
        addresses=everything_at(names),
        source=REPORTING,
    )


def shape_untested(context: Context) -> Iterable[Caveat]:
    """Raised when a setpoint has repeats, but fewer than eight: normality is assumed, not tested (R08, R20)."""
    made = [k for n in context.write_up.setpoints if FEWEST_RUNS <= (k := len(context.counting(n))) < FEWEST_FOR_SHAPE]
    if not made:
        return
    fewest = min(made)
    yield Caveat(
        code="shape-untested",
        title="Shape of the spread not tested",
        missing=f"{counted(len(made), 'setpoint')} {agree(len(made), 'has', 'have')} fewer than {FEWEST_FOR_SHAPE} "
        f"completed runs (fewest {fewest}); too few to test whether runs spread as a normal distribution does.",
        effect="Intervals of means assume it."
        + (
            f" Below {FEWEST_FOR_MEDIAN} runs there is no 95 % interval of the median to fall back on."
            if fewest < FEWEST_FOR_MEDIAN
            else ""
        ),
        remedy=f"{FEWEST_FOR_SHAPE} runs or more a setpoint.",
        standing=True,
        source=RANKS,
    )


def split_runs(context: Context) -> Iterable[Caveat]:
    """Raised when eight runs or more fall in two groups with a wide gap between (R30)."""
    found: dict[tuple[str, str], str] = {}
    for name, column, values in _watched(context, GROUP_SHARES[-1][0]):
        share = next(share for least, share in GROUP_SHARES if len(values) >= least)
        split = two_groups(values, least_share=share)
        if split is not None and split.gap > STEPS_APART * _step(context, name, column):
            unit = "" if column == "score" else BY_COLUMN[column].unit.symbol
            found[name, column] = (
                f"{BY_COLUMN[column].name} at {context.label(name)}: {split.lower_count} runs about "
                f"{amount(split.lower_mean, unit, 4)}, {split.upper_count} about {amount(split.upper_mean, unit, 4)}"
            )
    if not found:
        return
    yield Caveat(
        code="two-groups",
        title="Runs fall in two groups",
        missing=joined(list(found.values())) + ".",
        effect="The mean lies between the groups and describes neither; its interval assumes one group.",
        remedy="Find what differs between the groups (clock state, driver, a process in the background) and keep it "
        "fixed.",
        addresses=tuple(a for name, column in found for a in of_columns([name], [column])),
        source=REPORTING,
    )


def outliers(context: Context) -> Iterable[Caveat]:
    """Raised by a value beyond the outer quartile fences (R15). It is kept."""
    found: dict[tuple[str, str], str] = {}
    for name, column, values in _watched(context, FEWEST_FOR_FENCES):
        fences = quartile_fences(values, FENCE_REACH)
        having = [t.id for t in context.counting(name) if column in t.measured]
        out = [having[place] for place in fences.outside]
        # where the middle half spans less than a step, any other value would lie outside
        middle = (fences.high - fences.low) / (1 + 2 * FENCE_REACH)
        if out and middle > 0 and middle >= _step(context, name, column):
            found[name, column] = (
                f"{BY_COLUMN[column].name} at {context.label(name)}, {listed(out)} of {counted(len(values))}"
            )
    if not found:
        return
    yield Caveat(
        code="outliers",
        title="Runs far from the others",
        missing=f"Outside the outer quartile fences: {joined(list(found.values()))}. All are kept.",
        effect="One such run moves the mean and widens the interval.",
        remedy="Look at these runs; more repeats show whether they belong.",
        addresses=tuple(a for name, column in found for a in of_columns([name], [column])),
        source=REPORTING,
    )


def _step(context: Context, setpoint: str, column: str) -> float:
    """Smallest step of a column: the instrument's or, if coarser, that of the digits typed; 0 where not known."""
    instrument = context.write_up.bench.instrument_for(column)
    stated = instrument.resolution if instrument is not None and instrument.resolution else 0.0
    typed = [t.decimals.get(column) for t in context.counting(setpoint) if column in t.measured]
    known = [d for d in typed if d is not None]
    return max(stated, 10.0 ** -max(known) if known and len(known) == len(typed) else 0.0)


def _watched(context: Context, fewest: int) -> Iterable[tuple[str, str, list[float]]]:
    for name in context.write_up.setpoints:
        for column in WATCHED:
            values = context.values(name, column)
            if len(values) >= fewest:
                yield name, column, values


RULES = (
    single_run,
    few_runs,
    shape_untested,
    split_runs,
    outliers,
)
