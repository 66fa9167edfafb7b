"""Differences, ratios and equivalence with the half-widths of `by_parts`: what the site prints and decides by."""

from __future__ import annotations

import math

from .by_parts import Piece, factors, half_width, one_sided, pieces_of, tail_by_parts
from .comparison import NO_SPREAD, Difference
from .equivalence import Equivalence, decided
from .mean_interval import mean_and_error
from .ratio_of_means import Ratio, fieller_set
from .sample import NotDetermined, Numbers, check_confidence, finite, moderate
from .uncertainty import combine


def difference_by_parts(
    mean_a: float,
    error_a: float,
    nu_a: float,
    mean_b: float,
    error_b: float,
    nu_b: float,
    confidence: float = 0.95,
) -> Difference:
    """Difference of two independent estimates, with the interval of `by_parts`.

    Parameters
    ----------
    mean_a, error_a, nu_a, mean_b, error_b, nu_b, confidence
        As `difference_from_statistics`.

    Returns
    -------
    Difference
        a - b. The degrees of freedom given are those of Welch and Satterthwaite.

    Raises
    ------
    NotDetermined
        Both errors zero, degrees of freedom not above zero, overflow.

    Notes
    -----
    `half_width`: Welch (Biometrika 34 (1947) 28-35) with degrees of freedom rounded down where those of the
    sides are alike, Banerjee (Sankhya 22 (1960) 357-358; from memory) where they are not.

    Examples
    --------
    >>> d = difference_by_parts(5.0, 1.0, 2, 3.0, 0.5, 9)
    >>> round(d.low, 3), round(d.high, 3)
    (-2.449, 6.449)
    """
    pieces = _pieces([error_a, error_b], [nu_a, nu_b])
    whole = combine([error_a, error_b], [nu_a if error_a else math.inf, nu_b if error_b else math.inf])
    value, half = finite(mean_a - mean_b, "difference"), half_width(pieces, confidence)
    return Difference(
        difference=value,
        standard_error=whole.standard_uncertainty,
        degrees_of_freedom=whole.degrees_of_freedom,
        t=finite(value / whole.standard_uncertainty, "t statistic"),
        p_two_sided=2 * tail_by_parts(abs(value), pieces),
        low=finite(value - half, "lower limit"),
        high=finite(value + half, "upper limit"),
        confidence=confidence,
    )


def _pieces(contributions: Numbers, degrees_of_freedom: Numbers) -> tuple[Piece, ...]:
    if not any(contributions):
        raise NotDetermined(NO_SPREAD)
    return pieces_of(contributions, degrees_of_freedom)


def mean_difference_by_parts(values_a: Numbers, values_b: Numbers, confidence: float = 0.95) -> Difference:
    """`difference_by_parts` of the means of two sets of runs, at least two runs each.

    Examples
    --------
    >>> d = mean_difference_by_parts([5.1, 4.9, 5.0], [4.0, 4.2, 4.1])
    >>> round(d.low, 4), round(d.high, 4)
    (0.6733, 1.1267)
    """
    return difference_by_parts(*mean_and_error(values_a), *mean_and_error(values_b), confidence)


def fieller_by_parts(
    mean_a: float,
    parts_a: Numbers,
    mean_b: float,
    parts_b: Numbers,
    degrees_of_freedom: Numbers,
    confidence: float = 0.95,
) -> Ratio:
    """Fieller's set for a / b with the half-width of `by_parts`.

    Parameters
    ----------
    mean_a, mean_b : float
        Estimates.
    parts_a, parts_b : 1-D of float
        Signed contributions of the same independent sources to a and to b; zero where a source bears on one only.
    degrees_of_freedom : 1-D of float
        One a source; infinite for what is taken as known.
    confidence : float
        Fraction.

    Returns
    -------
    Ratio

    Raises
    ------
    NotDetermined
        The base is exactly zero, no spread on both sides, or overflow.

    Notes
    -----
    The theta with (a - theta b)^2 <= sum t_i^2 (a_i - theta b_i)^2. Fieller, J. R. Stat. Soc. B 16 (1954) 175-185;
    t_i is the factor of the piece a source belongs to at theta = a / b (Welch-Satterthwaite there as Tamhane and
    Logan, Biostatistics 5 (2004) 449-464; from memory). Where every source keeps its own t, no
    estimate of degrees of freedom enters and the set holds at least its confidence at any theta.

    Examples
    --------
    >>> r = fieller_by_parts(14.0, [3.0, 0.0], 7.0, [0.0, 2.0], [30, 4], 0.9)
    >>> r.shape.value, round(r.low, 4), round(r.high, 4)
    ('bounded', 1.0367, 5.3226)
    """
    if mean_b == 0:
        raise NotDetermined("the value below the fraction is zero")
    theta = finite(mean_a / mean_b, "ratio")
    # to first order about theta, in the unit of the ratio
    sources = [(a - theta * b) / mean_b for a, b in zip(parts_a, parts_b, strict=True)]
    pieces = _pieces(sources, degrees_of_freedom)
    t = factors(pieces, check_confidence(confidence), len(sources))
    whole = combine(sources, [nu if part else math.inf for part, nu in zip(sources, degrees_of_freedom, strict=True)])
    moderate([*map(float, parts_a), *map(float, parts_b)])
    wide_a = [factor * part for factor, part in zip(t, parts_a, strict=True)]
    wide_b = [factor * part for factor, part in zip(t, parts_b, strict=True)]
    return fieller_set(
        mean_a, math.hypot(*wide_a), mean_b, math.hypot(*wide_b),
        sum(a * b for a, b in zip(wide_a, wide_b, strict=True)), 1.0,
        whole.degrees_of_freedom, confidence, whole.standard_uncertainty,
    )  # fmt: skip


def ratio_by_parts(values_a: Numbers, values_b: Numbers, confidence: float = 0.95) -> Ratio:
    """Ratio of the means of two independent sets of runs by `fieller_by_parts`, at least two runs each.

    Examples
    --------
    >>> r = ratio_by_parts([9.9, 10.0, 10.1], [5.0, 5.05, 4.95])
    >>> round(r.ratio, 3), round(r.low, 3), round(r.high, 3)
    (2.0, 1.955, 2.046)
    """
    (mean_a, error_a, nu_a), (mean_b, error_b, nu_b) = mean_and_error(values_a), mean_and_error(values_b)
    return fieller_by_parts(mean_a, [error_a, 0.0], mean_b, [0.0, error_b], [nu_a, nu_b], confidence)


def equivalence_by_parts(
    difference: float,
    contributions: Numbers,
    degrees_of_freedom: Numbers,
    low: float,
    high: float,
    alpha: float = 0.05,
) -> Equivalence:
    """Is a difference within (low, high)? Two one-sided tests that call it shown in at most alpha at the edge.

    Parameters
    ----------
    difference : float
        Estimate of a - b, any unit.
    contributions, degrees_of_freedom : 1-D of float
        Of the difference, as `pieces_of`.
    low, high : float
        Margins as absolute differences, same unit, low < high.
    alpha : float
        Size of each test.

    Returns
    -------
    Equivalence
        As `equivalence`, decided by the intervals of `half_width`.

    Raises
    ------
    NotDetermined
        No spread, margins in the wrong order, no degrees of freedom.

    Notes
    -----
    Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657-680, with the bounds of `one_sided`. With Welch's own
    degrees of freedom a difference on the margin passes in up to 5.4 % (three runs a side), and in up to 8.4 % with
    two runs beside many; so in at most 5.00 % at any ratio of variances.

    Examples
    --------
    >>> equivalence_by_parts(0.1646667, [0.1357514], [14], -0.6, 0.6).decision.value
    'shown'
    """
    pieces = _pieces(contributions, degrees_of_freedom)
    if not 0 < check_confidence(alpha) < 0.5:
        raise NotDetermined("the size of an equivalence test lies between 0 and 0.5")
    return decided(
        difference, combine(contributions).standard_uncertainty, low, high, alpha,
        tails=(tail_by_parts(difference - low, pieces), tail_by_parts(high - difference, pieces)),
        half=one_sided(pieces, 1 - alpha), wide=half_width(pieces, 1 - alpha),
    )  # fmt: skip
