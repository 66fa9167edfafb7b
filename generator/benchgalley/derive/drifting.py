"""Drift between the baseline's runs and a setpoint's, as far as the baseline's own runs show it."""

import math

from benchgalley.metrology.sample import NotDetermined

from . import budget
from .budget import Estimate, Term
from .session import Session

FEWEST_BASELINE_RUNS = 3
"""A straight line through two runs leaves nothing to judge its slope by."""


def drift_term(session: Session, name: str, at: Estimate, base: Estimate) -> tuple[Term | None, str]:
    """The contribution "drift since baseline" to a quantity of that name, or why it cannot be given.

    The baseline's runs before and after the setpoint's give a straight line with slope b and its standard
    error. Between the mean times of the two lies D. What drift may have added to the difference: b D, within
    ± b D (rectangular), and the slope's own uncertainty: u² = (b D)²/3 + (u(b) D)², with the slope's degrees of
    freedom. Blocked or shuffled runs have D near zero, and so next to none of it.
    """
    places = base.runs.places(session.positions)
    centre = at.runs.places(session.positions).centre
    if places.distinct < FEWEST_BASELINE_RUNS:
        return None, "drift since the baseline cannot be estimated: the baseline was run fewer than three times"
    if not places.first < centre < places.last:
        return None, f"drift since the baseline cannot be estimated: no baseline runs on both sides of {at.group}"
    slope, error = _line(session, name, base)
    distance = centre - places.centre
    origin = f"straight line through {base.count} baseline runs, slope {budget.figure(slope, 3)} {session.clock}"
    return (
        Term(
            f"drift of {name} between {base.group} and {at.group}",
            budget.DRIFT,
            distance * math.hypot(slope / math.sqrt(3), error),
            float(base.count - 2),
            origin,
        ),
        "",
    )


def _line(session: Session, name: str, base: Estimate) -> tuple[float, float]:
    """Slope of the baseline and its standard error, fitted once a quantity."""
    key = ("drift", name, base.group)
    found = session.kept.get(key)
    if found is None:
        try:
            found = base.runs.places(session.positions).slope(base.deviations, base.deviation or 0.0)
        except NotDetermined as problem:
            found = problem.reason
        session.kept[key] = found
    if not isinstance(found, tuple):
        raise NotDetermined(str(found))
    return found[0], found[1]
