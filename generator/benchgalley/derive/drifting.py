"""Drift between the baseline's runs and a setpoint's, as far as the baseline's own runs show it."""

import math

from benchgalley.metrology.straight_line import fit_line
from benchgalley.records.quantity import Quantity

from . import budget
from .budget import Estimate, Term
from .session import Session

FEWEST_BASELINE_RUNS = 3
"""A straight line through two runs leaves nothing to judge its slope by."""


def drift_term(session: Session, quantity: Quantity, at: Estimate, base: Estimate) -> tuple[Term | None, str]:
    """The contribution "drift since baseline", or why it cannot be given.

    The baseline's runs before and after the setpoint's give a straight line with slope b and its standard
    error. Between the mean times of the two lies D. What drift may have added to the difference: b D, within
    ± b D (rectangular), and the slope's own uncertainty: u² = (b D)²/3 + (u(b) D)², with the slope's degrees of
    freedom. Blocked or shuffled runs have D near zero, and so next to none of it.
    """
    base_places, base_centre = base.runs.places(session.positions)
    _, centre = at.runs.places(session.positions)
    if len(set(base_places)) < FEWEST_BASELINE_RUNS:
        return None, "drift since the baseline cannot be estimated: the baseline was run fewer than three times"
    if not min(base_places) < centre < max(base_places):
        return None, f"drift since the baseline cannot be estimated: no baseline runs on both sides of {at.group}"
    slope, error = _line(session, quantity.key, base_places, base)
    distance = centre - base_centre
    return (
        Term(
            name=f"drift of {quantity.name} between {base.group} and {at.group}",
            kind=budget.DRIFT,
            contribution=distance * math.hypot(slope / math.sqrt(3), error),
            degrees_of_freedom=float(base.count - 2),
            origin=f"straight line through {base.count} baseline runs, slope {budget.figure(slope, 3)} "
            f"{'a minute' if _timed(session) else 'a run'}",
        ),
        "",
    )


def _line(session: Session, quantity: str, places: list[float], base: Estimate) -> tuple[float, float]:
    """Slope of the baseline and its standard error, fitted once a quantity."""
    found = session.kept.get(("drift", quantity))
    if not isinstance(found, tuple):
        line = fit_line(places, base.per_run)
        found = session.kept["drift", quantity] = (line.slope, line.slope_error)
    return found[0], found[1]


def _timed(session: Session) -> bool:
    return all(trial.started is not None for trial in session.write_up.trials)
