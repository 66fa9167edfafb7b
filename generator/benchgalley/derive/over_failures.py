"""What failed runs, and their absence, say: counts, shares, ladders of offsets, soaks."""

from functools import lru_cache

from benchgalley.metrology.sample import NotDetermined
from benchgalley.metrology.stability import (
    failure_rate_at_most,
    failure_rate_interval,
    failure_share_at_most,
    failure_share_interval,
    zero_failure_bound,
)
from benchgalley.records import units
from benchgalley.records.bench import SequenceKind, Trial
from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Interval

from . import budget
from .budget import Draft
from .sequence_runs import ALL_KINDS, SequenceLine, Walk
from .session import Group

_SOAK = frozenset({SequenceKind.SOAK})
_LADDER = frozenset({SequenceKind.LADDER})

BINOMIAL_METHOD = "exact binomial (Clopper-Pearson)"
POISSON_METHOD = "exact Poisson (Garwood)"


def counts_of(group: Group) -> tuple[int, int]:
    """(Failed runs, all runs) of a group, excluded ones left out."""
    return len(group.trials) - len(group.counted), len(group.trials)


def _plural(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _ids(trials: tuple[Trial, ...]) -> tuple[str, ...]:
    return tuple(trial.id for trial in trials)


def count_all(group: Group) -> Draft:
    """Every run that is not excluded."""
    return Draft(value=float(len(group.trials)), exact=True, groups=lambda: ((group.name, _ids(group.trials)),))


def count_completed(group: Group) -> Draft:
    """Runs that completed."""
    return Draft(value=float(len(group.counted)), exact=True, groups=lambda: ((group.name, _ids(group.counted)),))


def count_failed(group: Group) -> Draft:
    """Runs that crashed, hung, showed artefacts or were aborted."""
    failed = tuple(trial for trial in group.trials if not trial.counts)
    return Draft(value=float(len(failed)), exact=True, groups=lambda: ((group.name, _ids(failed)),))


@lru_cache(maxsize=4096)
def _share_limits(failed: int, runs: int, confidence_pct: float) -> tuple[float, float]:
    found = failure_share_interval(failed, runs, confidence_pct / 100)
    return 100 * found.low, 100 * found.high


@lru_cache(maxsize=4096)
def _share_bound(failed: int, runs: int, confidence_pct: float) -> float:
    return 100 * failure_share_at_most(failed, runs, confidence_pct / 100)


def failure_share(group: Group, confidence_pct: float) -> Draft:
    """Percent of runs that failed, with the exact binomial interval."""
    failed, runs = counts_of(group)
    low, high = _share_limits(failed, runs, confidence_pct)
    interval = Interval(low=low, high=high, confidence_pct=confidence_pct, method=BINOMIAL_METHOD)
    return Draft(
        value=100 * failed / runs,
        interval=interval,
        repeatability_interval=interval,
        groups=lambda: ((group.name, _ids(group.trials)),),
        substitution=f"100 × {failed} / {runs}",
        no_budget=budget.EXACT_COUNT,
    )


def failure_share_bound(group: Group, confidence_pct: float) -> Draft:
    """One-sided exact upper bound of the share of runs that fail, percent."""
    failed, runs = counts_of(group)
    bound = _share_bound(failed, runs, confidence_pct)
    return Draft(
        value=bound,
        interval=Interval(low=None, high=bound, confidence_pct=confidence_pct, method=BINOMIAL_METHOD),
        groups=lambda: ((group.name, _ids(group.trials)),),
        substitution=f"{_plural(failed, 'failure')} in {_plural(runs, 'run')}",
        no_budget=budget.EXACT_COUNT,
        spread_for_printing=bound,
    )


def ladder_completed(walk: Walk) -> Draft:
    """Setting furthest from stock at which every run completed, with no failure there or nearer to stock."""
    clean: tuple[float, Group] | None = None
    for value, group in _outwards(walk):
        failed, runs = counts_of(group)
        if failed:
            break
        if runs:
            clean = (value, group)
    if clean is None:
        raise NotDetermined("a run failed at the setting nearest to stock already")
    value, group = clean
    runs = len(group.trials)
    bound = 100 * zero_failure_bound(runs, walk.confidence_pct / 100)
    reason = (
        f"{runs} of {runs} runs completed there, which bounds the share of failures at "
        f"{budget.figure(bound, 2)}\u00a0% ({budget.figure(walk.confidence_pct)}\u00a0% confidence)"
    )
    return Draft(value=value, exact=True, groups=lambda: ((group.name, _ids(group.trials)),), reason=reason)


def ladder_failed(walk: Walk) -> Draft:
    """Setting nearest to stock at which a run failed."""
    for value, group in _outwards(walk):
        failed, runs = counts_of(group)
        if failed:
            return Draft(
                value=value,
                exact=True,
                groups=((group.name, _ids(group.trials)),),
                reason=f"{failed} of {runs} runs failed there",
            )
    points = _outwards(walk)
    deepest = f"; the furthest setting run was {points[-1][1].name}" if points else ""
    raise NotDetermined(f"no run of {walk.label} failed{deepest}")


def ladder_headroom(walk: Walk) -> Draft:
    """Distance from the backed-off setpoint to the first failed setting; negative when it lies beyond."""
    failed = ladder_failed(walk)
    column, stock = walk.sequence.setting, walk.stock_value
    write_up = walk.session.write_up
    reach = abs(failed.value - stock)
    side = 1 if failed.value >= stock else -1
    depths: list[tuple[float, str]] = []
    for name, setpoint in write_up.setpoints.items():
        value = setpoint.settings.get(column)
        if name == write_up.baseline or not isinstance(value, int | float):
            continue
        if (depth := (float(value) - stock) * side) > 0:
            depths.append((depth, name))
    if not depths:
        raise NotDetermined("no setpoint of this write-up uses an offset")
    inside = [entry for entry in depths if entry[0] < reach]
    depth, name = max(inside) if inside else min(depths)
    chosen = walk.point_name(stock + side * depth)
    return Draft(
        value=reach - depth,
        exact=True,
        groups=failed.groups,
        substitution=f"|{walk.point_name(failed.value)} \u2212 ({chosen})|",
        reason=f"from {walk.session.label(name)} ({chosen}) to the first failed setting ({failed.reason})",
    )


def _outwards(walk: Walk) -> list[tuple[float, Group]]:
    """Points from stock outwards, on the side of stock where most settings lie."""
    stock = walk.stock_value
    below = sum(value < stock for value, _ in walk.points)
    above = sum(value > stock for value, _ in walk.points)
    kept = [p for p in walk.points if (p[0] <= stock if below >= above else p[0] >= stock)]
    return sorted(kept, key=lambda point: abs(point[0] - stock))


def _soak_seconds(walk: Walk) -> tuple[float, str]:
    """Running time of a soak and what had to be assumed."""
    nominal = walk.session.write_up.load.run_length_s
    total_s, assumed, missing = 0.0, 0, 0
    for trial in walk.trials:
        if (duration_s := trial.measured.get("duration_s")) is not None:
            total_s += duration_s
        elif trial.counts and nominal is not None:
            total_s += nominal
            assumed += 1
        else:
            missing += 1
    notes = []
    if assumed:
        notes.append(f"{assumed} runs without a recorded time count with the load's nominal length")
    if missing:
        notes.append(f"{missing} runs without a recorded time count as no time")
    return total_s, "; ".join(notes)


def soak_hours(walk: Walk) -> Draft:
    """Running time of every run of the soak, failed ones up to their failure."""
    if not walk.trials:
        raise NotDetermined(f"no run is marked as part of {walk.label}")
    total_s, note = _soak_seconds(walk)
    return Draft(
        value=total_s / 3600,
        groups=((walk.sequence.name, _ids(walk.trials)),),
        substitution=f"{budget.figure(total_s)}\u00a0s / 3600",
        reason=note,
        decimals=2,
    )


def soak_rate(walk: Walk) -> Draft:
    """Failures per hour with the exact Poisson interval."""
    hours, failed = soak_hours(walk), count_failed(walk.whole).value
    if not hours.value > 0:
        raise NotDetermined("the soak has no recorded running time")
    found = failure_rate_interval(int(failed), hours.value, walk.confidence_pct / 100)
    interval = Interval(low=found.low, high=found.high, confidence_pct=walk.confidence_pct, method=POISSON_METHOD)
    return Draft(
        value=failed / hours.value,
        interval=interval,
        repeatability_interval=interval,
        groups=hours.groups,
        substitution=f"{failed:.0f} / {budget.figure(hours.value, 4)}\u00a0h",
        reason=hours.reason,
        no_budget=budget.EXACT_COUNT,
    )


def soak_rate_bound(walk: Walk) -> Draft:
    """One-sided exact upper bound of the failure rate."""
    hours, failed = soak_hours(walk), int(count_failed(walk.whole).value)
    if not hours.value > 0:
        raise NotDetermined("the soak has no recorded running time")
    bound = failure_rate_at_most(failed, hours.value, walk.confidence_pct / 100)
    return Draft(
        value=bound,
        interval=Interval(low=None, high=bound, confidence_pct=walk.confidence_pct, method=POISSON_METHOD),
        groups=hours.groups,
        substitution=f"{_plural(failed, 'failure')} in {budget.figure(hours.value, 4)}\u00a0h",
        reason=hours.reason,
        no_budget=budget.EXACT_COUNT,
        spread_for_printing=bound,
    )


RUNS = Quantity(
    key="runs", name="runs", unit=units.RUNS, definition="Runs that are not excluded, failed ones among them.",
    formula="n", source="Counted",
)  # fmt: skip
COMPLETED_RUNS = Quantity(
    key="completed-runs", name="completed runs", unit=units.RUNS,
    definition="Runs that completed and are not excluded.", formula="n", source="Counted",
)  # fmt: skip
FAILED_RUNS = Quantity(
    key="failed-runs", name="failed runs", unit=units.RUNS,
    definition="Runs that crashed, hung, showed artefacts or were aborted.", formula="n", source="Counted",
)  # fmt: skip
FAILURE_SHARE = Quantity(
    key="failure-share", name="share of runs that fail", unit=units.PERCENT, lower_is="more stable",
    definition="Failed runs in percent of all runs that are not excluded.", formula="100 × failed / runs",
    source="Clopper and Pearson, Biometrika 26 (1934) 404-413",
)  # fmt: skip
FAILURE_RATE = Quantity(
    key="failure-rate", name="failure rate", unit=units.PER_HOUR, lower_is="more stable",
    definition="Failures of a soak per hour of running time.", formula="failures / hours",
    source="Garwood, Biometrika 28 (1936) 437-442; assumes failures that come independently at a steady rate",
)  # fmt: skip

FAILURE_LINES: tuple[SequenceLine, ...] = (
    SequenceLine(
        quantity=RUNS, compute=lambda w: count_all(w.whole), words="runs of {sequence}", kinds=ALL_KINDS,
    ),
    SequenceLine(
        quantity=COMPLETED_RUNS, compute=lambda w: count_completed(w.whole), words="completed runs of {sequence}",
        kinds=ALL_KINDS,
    ),
    SequenceLine(
        quantity=FAILED_RUNS, compute=lambda w: count_failed(w.whole), words="failed runs of {sequence}",
        kinds=ALL_KINDS,
    ),
    SequenceLine(
        quantity=FAILURE_SHARE, compute=lambda w: failure_share(w.whole, w.confidence_pct),
        words="share of runs of {sequence} that failed", kinds=ALL_KINDS, higher_is_better=False,
    ),
    SequenceLine(
        quantity=FAILURE_SHARE, relation="at-most", compute=lambda w: failure_share_bound(w.whole, w.confidence_pct),
        words="upper bound of the share of runs of {sequence} that fail", kinds=ALL_KINDS, higher_is_better=False,
    ),
    SequenceLine(
        quantity=Quantity(
            key="deepest-completed", name="deepest completed setting", unit=units.MILLIVOLT,
            definition="Setting furthest from stock at which every run completed, with no failure there or at any "
            "setting of the ladder nearer to stock.",
            formula="furthest setting before the first failed one",
            source="Bracket of a ladder: common practice, no published source",
        ),
        compute=ladder_completed, words="deepest setting of {sequence} at which every run completed", kinds=_LADDER,
        unit_of=lambda w: w.unit,
    ),
    SequenceLine(
        quantity=Quantity(
            key="first-failed", name="first failed setting", unit=units.MILLIVOLT,
            definition="Setting of the ladder nearest to stock at which a run failed.",
            formula="nearest setting with a failed run",
            source="Bracket of a ladder: common practice, no published source",
        ),
        compute=ladder_failed, words="first setting of {sequence} at which a run failed", kinds=_LADDER,
        unit_of=lambda w: w.unit,
    ),
    SequenceLine(
        quantity=Quantity(
            key="headroom", name="headroom", unit=units.MILLIVOLT,
            definition="Distance from the backed-off setpoint (the deepest one nearer to stock than the first failed "
            "setting) to the first failed setting; negative when every setpoint lies at or beyond it.",
            formula="|first failed \u2212 setpoint|", source="Backing off: common practice, no published source",
        ),
        compute=ladder_headroom, words="headroom left below the first failed setting of {sequence}", kinds=_LADDER,
        unit_of=lambda w: w.unit, higher_is_better=True,
    ),
    SequenceLine(
        quantity=Quantity(
            key="hours", name="hours", unit=units.HOUR,
            definition="Running time of every run of a soak, failed ones up to their failure.",
            formula="Σ run time / 3600", source="Counted",
        ),
        compute=soak_hours, words="hours of {sequence}", kinds=_SOAK,
    ),
    SequenceLine(
        quantity=Quantity(
            key="failures", name="failures", unit=units.RUNS,
            definition="Runs of a soak that crashed, hung, showed artefacts or were aborted.", formula="n",
            source="Counted",
        ),
        compute=lambda w: count_failed(w.whole), words="failures in {sequence}", kinds=_SOAK,
    ),
    SequenceLine(
        quantity=FAILURE_RATE, compute=soak_rate, words="failure rate in {sequence}", kinds=_SOAK,
        higher_is_better=False,
    ),
    SequenceLine(
        quantity=FAILURE_RATE, relation="at-most", compute=soak_rate_bound,
        words="upper bound of the failure rate in {sequence}", kinds=_SOAK, higher_is_better=False,
    ),
)  # fmt: skip
"""In the order tables show them."""
