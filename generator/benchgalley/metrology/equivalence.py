"""Equal within a margin: two one-sided tests."""

from __future__ import annotations

import enum
from dataclasses import dataclass

from .comparison import NO_SPREAD, Difference
from .distribution import coverage_factor, t_quantile, t_tail
from .sample import NotDetermined, check_confidence, finite


class Decision(enum.Enum):
    """What the data say about being equal within the margin."""

    SHOWN = "shown"
    """the difference lies within the margin"""
    REFUTED = "refuted"
    """the difference lies outside the margin"""
    NOT_SETTLED = "not settled"
    """the runs are compatible with both"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Equivalence:
    """Outcome of two one-sided tests."""

    decision: Decision
    """shown, refuted or not settled"""
    p: float
    """the larger of the two one-sided p values; shown when below alpha"""
    t_lower: float
    """t of the test against the lower margin"""
    p_lower: float
    """p of the difference lying at or below the lower margin"""
    t_upper: float
    """t of the test against the upper margin"""
    p_upper: float
    """p of the difference lying at or above the upper margin"""
    low: float
    """lower limit of the interval of confidence 1 - 2 alpha that decides `SHOWN`"""
    high: float
    """upper limit of that interval"""
    alpha: float
    """size of each one-sided test"""


def equivalence(
    difference: float, standard_error: float, nu: float, low: float, high: float, alpha: float = 0.05
) -> Equivalence:
    """Is a difference within (low, high)? Two one-sided t tests.

    Parameters
    ----------
    difference : float
        Estimate of a - b, any unit.
    standard_error : float
        Its standard uncertainty, same unit.
    nu : float
        Degrees of freedom, may be infinite.
    low, high : float
        Margins as absolute differences, same unit, low < high.
    alpha : float
        Size of each test; 0.05 means the 90 % interval must lie within the margins.

    Returns
    -------
    Equivalence
        `SHOWN` when both p < alpha. `REFUTED` when the two-sided interval of confidence 1 - alpha
        (95 %), the one printed with a difference, lies wholly outside the margins.

    Raises
    ------
    NotDetermined
        No spread, margins in the wrong order, no degrees of freedom.

    Notes
    -----
    Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657-680. A difference at a margin's edge is
    called shown in at most alpha of cases where the degrees of freedom are exact (paired, pooled); with Welch's
    in up to 5.4 % for alpha 5 % and three runs a side. The site decides by `equivalence_by_parts`.

    Examples
    --------
    >>> e = equivalence(0.1646667, 0.1357514, 14, -0.6, 0.6)
    >>> e.decision.value, round(e.p, 6)
    ('shown', 0.003167)
    >>> equivalence(2.0, 0.1, 14, -0.6, 0.6).decision.value
    'refuted'
    """
    if not standard_error > 0:
        raise NotDetermined(NO_SPREAD)
    if not 0 < check_confidence(alpha) < 0.5:
        raise NotDetermined("the size of an equivalence test lies between 0 and 0.5")
    t_lower, t_upper = (difference - low) / standard_error, (difference - high) / standard_error
    return decided(
        difference, standard_error, low, high, alpha,
        tails=(t_tail(finite(t_lower, "t statistic"), nu), t_tail(finite(-t_upper, "t statistic"), nu)),
        half=t_quantile(1 - alpha, nu) * standard_error, wide=coverage_factor(1 - alpha, nu) * standard_error,
    )  # fmt: skip


def decided(
    difference: float,
    standard_error: float,
    low: float,
    high: float,
    alpha: float,
    *,
    tails: tuple[float, float],
    half: float,
    wide: float,
) -> Equivalence:
    """The outcome from the p values against the lower and the upper margin and the half-widths of the intervals.

    Parameters
    ----------
    difference, standard_error, low, high, alpha
        As `equivalence`.
    tails : (float, float)
        p of the difference lying at or below the lower margin, and at or above the upper one.
    half, wide : float
        Half-widths of the intervals of confidence 1 - 2 alpha and 1 - alpha.

    Raises
    ------
    NotDetermined
        No spread, margins in the wrong order, overflow.

    Examples
    --------
    >>> decided(0.1, 0.2, -1.0, 1.0, 0.05, tails=(0.01, 0.02), half=0.4, wide=0.5).decision.value
    'shown'
    """
    if not low < high:
        raise NotDetermined("the lower margin lies below the upper one")
    if not standard_error > 0:
        raise NotDetermined(NO_SPREAD)
    p_lower, p_upper = tails
    decision = Decision.NOT_SETTLED
    if max(p_lower, p_upper) < alpha:
        decision = Decision.SHOWN
    elif difference - wide > high or difference + wide < low:
        decision = Decision.REFUTED
    return Equivalence(
        decision=decision,
        p=max(p_lower, p_upper),
        t_lower=finite((difference - low) / standard_error, "t statistic"),
        p_lower=p_lower,
        t_upper=finite((difference - high) / standard_error, "t statistic"),
        p_upper=p_upper,
        low=finite(difference - half, "lower limit"),
        high=finite(difference + half, "upper limit"),
        alpha=alpha,
    )


def equivalence_of(found: Difference, low: float, high: float, alpha: float = 0.05) -> Equivalence:
    """`equivalence` for a `Difference` already made (Welch, pooled or paired).

    Examples
    --------
    >>> from benchgalley.metrology.comparison import welch_difference
    >>> equivalence_of(welch_difference([5.1, 4.9, 5.0], [5.0, 5.1, 4.9]), -1, 1).decision.value
    'shown'
    """
    return equivalence(found.difference, found.standard_error, found.degrees_of_freedom, low, high, alpha)
