"""How many more hours or runs without a failure would bound failures further."""

import re
from collections.abc import Callable

from benchgalley.metrology.planning import more_needed
from benchgalley.metrology.sample import NotDetermined
from benchgalley.metrology.stability import exposure_needed, failure_rate_at_most, failure_share_at_most, runs_needed

from . import budget
from .budget import Draft
from .over_failures import count_failed, counts_of, soak_hours
from .sequence_runs import Walk
from .session import Group

_PLAN = re.compile(r"^(?P<what>hours|runs)-needed(?:-for-(?P<whole>\d+)(?:-(?P<part>\d+))?)?$")
"""`hours-needed` halves the bound there is; `hours-needed-for-0-05` brings it to 0.05 an hour."""

DEFINITION = (
    "Further {what} without a failure after which the upper bound would be the one asked for, or half of today's."
)


def wanted_of(relation: str) -> tuple[str, float | None] | None:
    """(`hours` or `runs`, bound asked for) of a planning relation; None when it is none."""
    if (match := _PLAN.match(relation)) is None:
        return None
    whole = match["whole"]
    return match["what"], None if whole is None else float(f"{whole}.{match['part'] or 0}")


def further_hours(walk: Walk, wanted_per_hour: float | None) -> Draft:
    """Hours of a soak still to run without a failure."""
    done, failed = soak_hours(walk), int(count_failed(walk.whole).value)
    confidence = walk.confidence_pct / 100
    if wanted_per_hour is None:
        if not done.value > 0:
            raise NotDetermined("the soak has no recorded running time")
        wanted_per_hour = failure_rate_at_most(failed, done.value, confidence) / 2
    needed_h = exposure_needed(wanted_per_hour, confidence, failed)
    more_h = more_needed(needed_h, done.value)
    return Draft(
        value=more_h, groups=done.groups, decimals=0 if more_h >= 10 else 1,
        substitution=f"{budget.figure(needed_h, 4)}\u00a0h \u2212 {budget.figure(done.value, 4)}\u00a0h",
        reason=f"to bound the failure rate at {budget.figure(wanted_per_hour, 3)} per hour, no further run may fail",
    )  # fmt: skip


def further_runs(group: Group, wanted_pct: float | None, confidence_pct: float) -> Draft:
    """Runs still to be made without a failure."""
    failed, runs = counts_of(group)
    confidence = confidence_pct / 100
    if wanted_pct is None:
        wanted_pct = 50 * failure_share_at_most(failed, runs, confidence)
    needed = runs_needed(wanted_pct / 100, confidence, failed)
    return Draft(
        value=float(more_needed(needed, runs)), exact=True,
        groups=((group.name, tuple(trial.id for trial in group.trials)),),
        substitution=f"{needed} \u2212 {runs}",
        reason=f"to bound the share of failures at {budget.figure(wanted_pct, 3)}\u00a0%, no further run may fail",
    )  # fmt: skip


def plan_for(quantity: str, relation: str) -> tuple[str, Callable[[Walk], Draft]] | None:
    """What is planned and how, for an address at a sequence; None when there is no such plan."""
    if (wanted := wanted_of(relation)) is None:
        return None
    what, bound = wanted
    if quantity == "failure-rate" and what == "hours":
        return what, lambda walk: further_hours(walk, bound)
    if quantity == "failure-share" and what == "runs":
        return what, lambda walk: further_runs(walk.whole, bound, walk.confidence_pct)
    return None
