"""Drift between the baseline's runs and a setpoint's, as far as the baseline's own runs show it."""

import math

from benchgalley.metrology.sample import NotDetermined
from benchgalley.records import units
from benchgalley.records.quantity import Quantity

from . import budget
from .budget import Term
from .estimate import Estimate
from .estimating import with_unit
from .session import ROOT_3, Session

FEWEST_BASELINE_RUNS = 3
"""A straight line through two runs leaves nothing to judge its slope by."""


class Drift:
    """Contribution of drift between the baseline's runs and a setpoint's to their difference."""

    __slots__ = ("_at", "_base", "_quantity", "_session", "_slope", "_term", "contribution", "degrees_of_freedom")

    def __init__(
        self, session: Session, quantity: Quantity, at: Estimate, base: Estimate, slope: float, contribution: float
    ) -> None:
        self._session, self._quantity, self._at, self._base, self._slope = session, quantity, at, base, slope
        self._term: Term | None = None
        self.contribution = contribution
        """Signed, unit of the quantity."""
        self.degrees_of_freedom = float(base.count - 2)

    def term(self) -> Term:
        """As the budget names it."""
        if self._term is None:
            self._term = self._named()
        return self._term

    def _named(self) -> Term:
        base = self._base
        slope = _slope_text(self._session, self._quantity, self._slope, base)
        return Term(
            f"drift of {self._quantity.name} between {base.group} and {self._at.group}",
            budget.DRIFT,
            self.contribution,
            self.degrees_of_freedom,
            f"straight line through {base.count} baseline runs, slope {slope}",
        )


def drift_of(session: Session, quantity: Quantity, at: Estimate, base: Estimate) -> tuple[Drift | None, str]:
    """The contribution "drift since baseline" to a quantity, or why it cannot be given.

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
    slope, error = _line(session, quantity.name, base)
    contribution = (centre - places.centre) * math.hypot(slope / ROOT_3, error)
    return Drift(session, quantity, at, base, slope, contribution), ""


def _slope_text(session: Session, quantity: Quantity, slope: float, base: Estimate) -> str:
    """The slope as people read drifts: percent of the baseline an hour; temperatures and levels in their own unit."""
    per, scale = ("an hour", 60.0) if session.timed else ("a run", 1.0)
    own_unit = quantity.difference_unit is not None or quantity.unit == units.DECIBEL_A or not base.value
    share = slope * scale if own_unit else 100.0 * (slope * scale / base.value)
    unit = quantity.difference_unit or quantity.unit if own_unit else units.PERCENT
    if not math.isfinite(share):
        return "too steep to print"
    return f"{with_unit(_decimal(share), unit)} {per}"


def _decimal(value: float) -> str:
    """Two significant digits, never with an exponent: drift below a ten-thousandth is none to a reader."""
    if abs(value) < SMALLEST_DRIFT:
        return "below 0.0001" if value else "0"
    decimals = max(0, 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{decimals}f}".replace("-", "\u2212")


SMALLEST_DRIFT = 1e-4
"""In percent or in the unit of the quantity; what is below is said to be so."""


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
