"""Several setpoints against one baseline: Dunnett's adjustment, and Holm's for other families."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import special

from .comparison import NO_SPREAD, welch_degrees_of_freedom
from .distribution import gamma_quantile
from .repeatability import mean, pooled_standard_deviation
from .sample import Array, NotDetermined, Numbers, as_list, check_confidence, finite

_Z_NODES = 96
_S_NODES = 64
LARGEST_LAMBDA = 0.995
"""a stronger correlation is taken as this one: on the safe side by less than 0.01 in the factor"""


@dataclass(frozen=True, kw_only=True, slots=True)
class AdjustedComparison:
    """One setpoint against the baseline, adjusted for having looked at several."""

    difference: float
    """setpoint less baseline, unit of the quantity"""
    standard_error: float
    """of the difference, same unit"""
    degrees_of_freedom: float
    """behind the standard error"""
    t: float
    """difference over standard error"""
    p_two_sided: float
    """adjusted two-sided p"""
    p_greater: float
    """adjusted one-sided p of the setpoint lying above the baseline"""
    p_less: float
    """adjusted one-sided p of the setpoint lying below the baseline"""
    low: float
    """lower limit of the adjusted two-sided interval"""
    high: float
    """upper limit of the adjusted two-sided interval"""
    at_least: float
    """adjusted one-sided lower limit of the difference"""
    at_most: float
    """adjusted one-sided upper limit of the difference"""
    critical_two_sided: float
    """factor of the two-sided interval"""
    critical_one_sided: float
    """factor of the one-sided limits"""
    confidence: float
    """joint confidence of all comparisons as a fraction"""


@lru_cache(maxsize=64)
def _spread_nodes(nu: float) -> tuple[Array, Array]:
    """Nodes and weights for averaging over s / sigma with nu degrees of freedom."""
    if math.isinf(nu):
        return np.ones(1), np.ones(1)
    # the probability beyond these ends is 1e-16 each; the density is summed in logarithms
    low = math.sqrt(2 * gamma_quantile(1e-16, nu / 2) / nu) if nu > 2 else 0.0
    high = math.sqrt(2 * gamma_quantile(1 - 1e-16, nu / 2) / nu)
    points, weights = _legendre(_S_NODES)
    # s = u^m with m nu >= 2 turns the edge at zero for fewer than two degrees of freedom into a smooth one
    stretch = 1.0 if nu >= 2 else 2.0 / nu * 2
    low, high = low ** (1 / stretch), high ** (1 / stretch)
    u = (high - low) / 2 * points + (high + low) / 2
    s = u**stretch
    log_density = (
        math.log(2) + nu / 2 * math.log(nu / 2) - special.gammaln(nu / 2) + (nu - 1) * np.log(s) - nu * s * s / 2
    )
    share = weights * (high - low) / 2 * stretch * u ** (stretch - 1) * np.exp(log_density)
    return s, share / share.sum()


@lru_cache(maxsize=4)
def _legendre(count: int) -> tuple[Array, Array]:
    points, weights = np.polynomial.legendre.leggauss(count)
    return points, weights


@lru_cache(maxsize=2)
def _normal_nodes(count: int) -> tuple[Array, Array]:
    points, weights = _legendre(count)
    z = 8.5 * points
    density = weights * 8.5 * np.exp(-z * z / 2) / math.sqrt(2 * math.pi)
    return z, density / density.sum()


@lru_cache(maxsize=8192)
def _inside(limit: float, lambdas: tuple[float, ...], nu: float, two_sided: bool) -> float:
    """P(max T_i <= limit), or of |T_i| when two-sided."""
    s, s_weights = _spread_nodes(nu)
    # strong correlation makes the inner probability steep in z
    z, z_weights = _normal_nodes(_Z_NODES if max(lambdas) < 0.9 else 4 * _Z_NODES)
    edge = limit * s[:, None]
    product = np.ones((s.size, z.size))
    for factor in lambdas:
        rest = math.sqrt(1 - factor * factor)
        shift = factor * z[None, :]
        inner = special.ndtr((edge + shift) / rest)
        if two_sided:
            inner = inner - special.ndtr((shift - edge) / rest)
        product *= inner
    return float(s_weights @ product @ z_weights)


def _check(lambdas: Sequence[float], nu: float) -> tuple[float, ...]:
    if not lambdas:
        raise NotDetermined("there is no setpoint to compare with the baseline")
    if any(not 0 <= factor <= 1 for factor in lambdas):
        raise NotDetermined("a correlation factor lies between 0 and 1")
    if not nu > 0:
        raise NotDetermined("no degrees of freedom are left to estimate the spread")
    return tuple(min(float(factor), LARGEST_LAMBDA) for factor in lambdas)


def dunnett_tail(t: float, lambdas: Sequence[float], nu: float, *, two_sided: bool = True) -> float:
    """Adjusted p: probability that the largest of k (absolute) t statistics exceeds t by chance.

    Parameters
    ----------
    t : float
        Observed statistic; its size is used when two-sided.
    lambdas : sequence of float
        One factor a setpoint, correlation of i and j is lambda_i lambda_j. With equal spreads
        lambda_i = sqrt(n_i / (n_i + n_0)); in general sqrt(v_0 / (v_0 + v_i)) with v variances of means.
    nu : float
        Degrees of freedom, may be infinite.
    two_sided : bool

    Notes
    -----
    Dunnett, J. Am. Stat. Assoc. 50 (1955) 1096-1121: a double integral over the baseline's error
    and the common spread, here by Gauss-Legendre quadrature (about 1e-9).

    Examples
    --------
    >>> round(dunnett_tail(2.2281, [0.5**0.5], 10), 4)
    0.05
    """
    factors = _check(lambdas, nu)
    return min(1.0, max(0.0, 1 - _inside(abs(t) if two_sided else t, factors, nu, two_sided)))


@lru_cache(maxsize=1024)
def _critical(lambdas: tuple[float, ...], nu: float, confidence: float, two_sided: bool) -> float:
    from scipy.optimize import brentq  # start-up cost: only where needed

    high = 4.0
    while _inside(high, lambdas, nu, two_sided) < confidence:
        high *= 2
        if high > 1e6:
            raise NotDetermined("the factor for several comparisons is too large to compute")
    low = 0.0 if two_sided else -high
    return float(brentq(lambda c: _inside(c, lambdas, nu, two_sided) - confidence, low, high, xtol=1e-10))


def dunnett_critical(lambdas: Sequence[float], nu: float, confidence: float = 0.95, *, two_sided: bool = True) -> float:
    """Factor that all k comparisons with one baseline stay below jointly with the confidence given.

    Parameters
    ----------
    lambdas, nu, two_sided
        As `dunnett_tail`.
    confidence : float
        Joint confidence as a fraction.

    Raises
    ------
    NotDetermined
        No setpoint, factors or degrees of freedom out of range.

    Notes
    -----
    Dunnett 1955; two-sided tables Dunnett, Biometrics 20 (1964) 482-491.

    Examples
    --------
    >>> round(dunnett_critical([0.5**0.5] * 3, 10), 3)
    2.759
    """
    return _critical(_check(lambdas, nu), float(nu), check_confidence(confidence), two_sided)


def dunnett_from_statistics(
    baseline: tuple[float, float, float],
    setpoints: Sequence[tuple[float, float, float]],
    confidence: float = 0.95,
    *,
    pooled_degrees_of_freedom: float | None = None,
) -> list[AdjustedComparison]:
    """Compare several setpoints with one baseline from means, standard errors and degrees of freedom.

    Parameters
    ----------
    baseline : (mean, standard error, degrees of freedom)
    setpoints : sequence of (mean, standard error, degrees of freedom)
        Independent of each other and of the baseline, same unit.
    confidence : float
        Joint confidence.
    pooled_degrees_of_freedom : float, optional
        Given when all errors come from one pooled spread; else each comparison uses its own
        Welch-Satterthwaite value.

    Returns
    -------
    list of AdjustedComparison
        In the order of `setpoints`.

    Raises
    ------
    NotDetermined
        No setpoint, or no spread.

    Notes
    -----
    With unequal spreads: Hasler and Hothorn, Biom. J. 50 (2008) 793-800 (from memory): correlations from
    the estimated variances, degrees of freedom comparison by comparison.

    Examples
    --------
    >>> found = dunnett_from_statistics((10.0, 0.1, 4), [(10.5, 0.1, 4), (10.1, 0.1, 4)])
    >>> [round(c.p_two_sided, 3) for c in found]
    [0.014, 0.713]
    """
    mean_0, error_0, nu_0 = baseline
    errors = [math.hypot(error, error_0) for _, error, _ in setpoints]
    if not errors or any(not error > 0 for error in errors):
        raise NotDetermined(NO_SPREAD if errors else "there is no setpoint to compare with the baseline")
    # rounded so that equal designs share one cached factor
    lambdas = [round(error_0 / error, 9) for error in errors]
    found = []
    for (centre, error_i, nu_i), error in zip(setpoints, errors, strict=True):
        nu = pooled_degrees_of_freedom or welch_degrees_of_freedom(error_i, nu_i, error_0, nu_0)
        found.append(_adjusted(centre - mean_0, error, nu, lambdas, confidence))
    return found


def _adjusted(
    difference: float, error: float, nu: float, lambdas: Sequence[float], confidence: float
) -> AdjustedComparison:
    statistic = finite(difference / error, "t statistic")
    both = dunnett_critical(lambdas, nu, confidence)
    one = dunnett_critical(lambdas, nu, confidence, two_sided=False)
    return AdjustedComparison(
        difference=finite(difference, "difference"),
        standard_error=error,
        degrees_of_freedom=nu,
        t=statistic,
        p_two_sided=dunnett_tail(statistic, lambdas, nu),
        p_greater=dunnett_tail(statistic, lambdas, nu, two_sided=False),
        p_less=dunnett_tail(-statistic, lambdas, nu, two_sided=False),
        low=finite(difference - both * error, "lower limit"),
        high=finite(difference + both * error, "upper limit"),
        at_least=finite(difference - one * error, "lower limit"),
        at_most=finite(difference + one * error, "upper limit"),
        critical_two_sided=both,
        critical_one_sided=one,
        confidence=confidence,
    )


def dunnett(baseline: Numbers, setpoints: Sequence[Numbers], confidence: float = 0.95) -> list[AdjustedComparison]:
    """Compare several setpoints with one baseline, one common spread assumed.

    Parameters
    ----------
    baseline : 1-D of float
        Runs at the baseline.
    setpoints : sequence of 1-D of float
        Runs at each setpoint; unequal numbers allowed.

    Raises
    ------
    NotDetermined
        No setpoint, nothing run twice, or no spread.

    Notes
    -----
    Dunnett 1955; spread pooled over baseline and setpoints (divisor sum of n - 1).

    Examples
    --------
    >>> found = dunnett([55, 47, 48], [[55, 64, 64], [55, 49, 52], [50, 44, 41]])
    >>> [round(c.p_two_sided, 4) for c in found]
    [0.0366, 0.8965, 0.4092]
    """
    groups = [as_list(group) for group in (baseline, *setpoints)]
    deviation, freedom = pooled_standard_deviation(groups)
    rows = [(mean(group), deviation / math.sqrt(len(group)), float(freedom)) for group in groups]
    return dunnett_from_statistics(rows[0], rows[1:], confidence, pooled_degrees_of_freedom=float(freedom))


def holm(p_values: Numbers) -> list[float]:
    """Holm's adjusted p values, in the order given.

    Parameters
    ----------
    p_values : 1-D of float
        Each between 0 and 1.

    Returns
    -------
    list of float
        Adjusted p_(i) = max over j <= i of min(1, (m - j + 1) p_(j)). A finding holds at level
        alpha when its adjusted p is at most alpha.

    Raises
    ------
    NotDetermined
        No p value, or one outside 0 to 1.

    Notes
    -----
    Holm, Scand. J. Stat. 6 (1979) 65-70. Needs no independence.

    Examples
    --------
    >>> [round(p, 9) for p in holm([0.01, 0.04, 0.03])]
    [0.03, 0.06, 0.06]
    """
    numbers = as_list(p_values, noun="p value")
    if any(not 0 <= p <= 1 for p in numbers):
        raise NotDetermined("a p value lies between 0 and 1")
    adjusted = [0.0] * len(numbers)
    running = 0.0
    for rank, place in enumerate(sorted(range(len(numbers)), key=numbers.__getitem__)):
        running = max(running, min(1.0, (len(numbers) - rank) * numbers[place]))
        adjusted[place] = running
    return adjusted
