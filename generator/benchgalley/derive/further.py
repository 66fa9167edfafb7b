"""Relations asked for and not listed: the median, and how many more runs would settle a question."""

import math

from benchgalley.metrology.averages import median
from benchgalley.metrology.distribution_free import median_interval
from benchgalley.metrology.planning import more_needed, runs_to_settle_equivalence, runs_to_show_difference
from benchgalley.metrology.sample import NotDetermined
from benchgalley.records import units
from benchgalley.records.results import Equivalence, Interval

from .against_baseline import Relation, equivalent
from .borrowing import with_borrowed_spread
from .budget import ORDER_STATISTICS, REPEATABILITY, Draft, figure
from .estimate import Estimate
from .pairs import Pair
from .relating import difference_repeats
from .shape import shape_said
from .sheet import Cell


def the_median(both: Pair) -> Draft:
    """Middle value of the runs, with an interval between two of them."""
    at = both.at
    if not at.column:
        raise NotDetermined("a median is given of readings, not of figures made from several means")
    values = at.per_run
    interval, note, working = None, "", f"middle of {len(values)} runs"
    try:
        found = median_interval(values, both.confidence_pct / 100)
    except NotDetermined as problem:
        note = problem.reason if len(values) > 1 else both.single_run_note
        value = median(values)
    else:
        value = found.median
        reached_pct = figure(100 * found.coverage, 4)
        interval = Interval(
            low=found.low, high=found.high, confidence_pct=both.confidence_pct,
            method=f"order statistics {found.low_rank} and {found.high_rank} of {len(values)}, exact binomial "
            f"({reached_pct}\u00a0%)",
        )  # fmt: skip
        working = f"{working}, from the {found.low_rank}th to the {found.high_rank}th"
    return Draft(
        value=value,
        interval=interval,
        repeatability_interval=interval,
        groups=both.groups,
        substitution=working,
        no_budget=ORDER_STATISTICS if interval is not None else "",
        reason=lambda: "; ".join(part for part in (shape_said(values, at.typed_decimals), note) if part),
        decimals=lambda: at.typed_decimals,
    )


def runs_needed(both: Pair) -> Draft:
    """Further runs at each of the two setpoints that would tell them apart, at the spread and difference found."""
    at, base = both.at, both.baseline
    first, second = _spreads(both)
    cell = both.cell("change")
    interval = difference_repeats(both, cell)
    if interval is not None and not interval.contains(0.0):
        return _further(both, 0, "the repeats tell the two apart already")
    if cell.value == 0:
        raise NotDetermined("no difference was found: more runs are not expected to show one")
    # several comparisons ask for wider intervals than one: as much more spread, as far as planning goes
    stretch = _stretch(both, cell)
    needed = runs_to_show_difference(cell.value, stretch * first, stretch * second, both.confidence_pct / 100)
    more = int(more_needed(needed, min(at.count, base.count)))
    said = f"{needed} runs on each side, should spread and difference stay as found"
    if not both.repeated:
        said += "; a setpoint that was run once is taken to spread as the others do"
    return _further(both, max(more, 1), said)


def runs_needed_for_equivalence(both: Pair) -> Draft:
    """Further runs at each of the two setpoints that would settle whether they are equal within the margin."""
    asked = equivalent(both)
    if asked.finding is not Equivalence.NOT_SETTLED:
        return _further(both, 0, f"equivalence within the margin is {asked.finding} already")
    size, in_percent = both.session.write_up.margins.by_quantity[both.quantity.key]
    at, base = both.at, both.baseline
    first, second = _spreads(both)
    relation = "change-percent" if in_percent else "change"
    whole, repeats = both.cell(relation).standard_uncertainty, both.repeats_of(relation)
    if in_percent:
        first, second = 100 * first / abs(base.value), 100 * second * abs(at.value) / base.value**2
    floor = math.sqrt(max(whole**2 - repeats**2, 0.0))
    needed = runs_to_settle_equivalence(asked.value, first, second, -size, size, 1 - both.confidence_pct / 100, floor)
    more = int(more_needed(needed, min(at.count, base.count)))
    return _further(both, max(more, 1), f"{needed} runs on each side, should spread and difference stay as found")


def _spreads(both: Pair) -> tuple[float, float]:
    """Spread of single runs on both sides, borrowed where one side was run once."""
    names = (both.setpoint, both.session.baseline)
    sides = [with_borrowed_spread(both.session, both.quantity, name) for name in names]
    if not all(side.repeated for side in sides):
        raise NotDetermined(both.single_run_note)
    first, second = (_spread(side) for side in sides)
    if not max(first, second) > 0:
        raise NotDetermined("every run gave the same value: the spread cannot be estimated")
    return first, second


def _spread(side: Estimate) -> float:
    if side.deviation is not None:
        return side.deviation
    return math.sqrt(math.fsum(t.contribution**2 for t in side.terms if t.kind == REPEATABILITY))


def _stretch(both: Pair, cell: Cell) -> float:
    """Adjusted half-width over the plain one; 1 with one comparison."""
    plain = both.plain_half()
    if not cell.adjusted or not plain > 0:
        return 1.0
    return max((cell.repeats_high - cell.repeats_low) / 2 / plain, 1.0)


def _further(both: Pair, more: int, reason: str) -> Draft:
    return Draft(value=float(more), exact=True, groups=both.groups, substitution=str(more), reason=reason)


PLANNING = "Solved for n with spread and difference as found; Hoefler and Belli, SC '15, 4.2.2"

FURTHER: tuple[Relation, ...] = (
    Relation(
        key="median", words="median of {quantity} at {setpoint}", compute=the_median, unit_of=lambda q: q.unit,
        against_baseline=False, definition="Middle value of the completed runs, whatever their distribution.",
        formula="middle of the ordered runs",
        source="Interval by order statistics: Le Boudec, Performance Evaluation (2010), theorem 2.1",
    ),
    Relation(
        key="runs-needed", words="further runs on each side that would tell {quantity} at {setpoint} from {baseline}",
        compute=runs_needed, unit_of=lambda q: units.RUNS, against_baseline=True, direction=0,
        definition="Further runs at setpoint and baseline for which the interval of the difference found would exclude "
        "zero; an expectation, not a promise.",
        formula="fewest n with t s √(2/n) < difference, less the runs made", source=PLANNING,
    ),
    Relation(
        key="runs-needed-for-equivalence",
        words="further runs on each side that would settle whether {quantity} at {setpoint} is the same as at "
        "{baseline}",
        compute=runs_needed_for_equivalence, unit_of=lambda q: units.RUNS, against_baseline=True, direction=0,
        definition="Further runs at setpoint and baseline that would settle equivalence within the declared margin, "
        "one way or the other; an expectation, not a promise.",
        formula="fewest n with t s √(2/n) < distance to the margin, less the runs made", source=PLANNING,
    ),
)  # fmt: skip
"""Found by their addresses, not listed in tables."""
