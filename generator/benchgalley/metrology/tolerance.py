"""Tolerance factors: mean + k s bounds a share of the population with a confidence."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from scipy import special

from .distribution import chi2_quantile, noncentral_t_quantile, normal_quantile
from .repeatability import mean, standard_deviation
from .sample import Interval, NotDetermined, Numbers, as_list, check_confidence, finite


def _design(count: int, degrees_of_freedom: float | None) -> float:
    if count < 2:
        raise NotDetermined("one sample: nothing can be said about the spread between samples")
    return float(count - 1) if degrees_of_freedom is None else degrees_of_freedom


@lru_cache(maxsize=512)
def one_sided_factor(
    count: int, share: float, confidence: float = 0.95, degrees_of_freedom: float | None = None
) -> float:
    """k with mean + k s above a share of the population (or mean - k s below it).

    Parameters
    ----------
    count : int
        Samples behind the mean, at least two.
    share : float
        Share of the population to be bounded, fraction.
    confidence : float
        Fraction.
    degrees_of_freedom : float, optional
        Behind s when it does not come from the same samples; count - 1 when left out.

    Returns
    -------
    float
        t'_{confidence}(nu, z_share sqrt(n)) / sqrt(n), non-central t.

    Raises
    ------
    NotDetermined
        Fewer than two samples, arguments out of range.

    Notes
    -----
    NIST/SEMATECH e-Handbook 7.2.6.3; ISO 16269-6. Assumes a normal population.

    Examples
    --------
    >>> round(one_sided_factor(43, 0.90, 0.99), 4)
    1.874
    """
    nu = _design(count, degrees_of_freedom)
    delta = normal_quantile(share) * math.sqrt(count)
    return noncentral_t_quantile(check_confidence(confidence), nu, delta) / math.sqrt(count)


def two_sided_factor_howe(
    count: int, share: float, confidence: float = 0.95, degrees_of_freedom: float | None = None
) -> float:
    """Howe's approximation of `two_sided_factor`, good to 1 % from four samples.

    Notes
    -----
    z sqrt(nu (1 + 1/n) / chi2_{1-confidence, nu}); Howe, J. Am. Stat. Assoc. 64 (1969) 610-620;
    NIST/SEMATECH e-Handbook 7.2.6.3.

    Examples
    --------
    >>> round(two_sided_factor_howe(43, 0.90, 0.99), 3)
    2.217
    """
    nu = _design(count, degrees_of_freedom)
    check_confidence(share)
    z = normal_quantile((1 + share) / 2)
    return finite(z * math.sqrt(nu * (1 + 1 / count) / chi2_quantile(1 - confidence, nu)), "tolerance factor")


@lru_cache(maxsize=512)
def two_sided_factor(
    count: int, share: float, confidence: float = 0.95, degrees_of_freedom: float | None = None
) -> float:
    """k with mean - k s to mean + k s holding a share of the population.

    Parameters
    ----------
    count, share, confidence, degrees_of_freedom
        As `one_sided_factor`.

    Returns
    -------
    float
        Solution of  integral of P(chi2_nu >= nu r(z)^2 / k^2) over z ~ N(0, 1/n) = confidence, with
        Phi(z + r) - Phi(z - r) = share. Exact up to quadrature (about 1e-9).

    Raises
    ------
    NotDetermined
        Fewer than two samples, arguments out of range.

    Notes
    -----
    Odeh and Owen, Tables for Normal Tolerance Limits (1980); ISO 16269-6, Annex.

    Examples
    --------
    >>> round(two_sided_factor(4, 0.95), 2)
    6.34
    """
    from scipy.optimize import brentq  # start-up cost: only where needed

    nu = _design(count, degrees_of_freedom)
    check_confidence(share)
    check_confidence(confidence)
    points, weights = np.polynomial.legendre.leggauss(120)
    # symmetric in z: half the line, out to where the normal density is below 1e-16
    z = 4.25 * (points + 1)
    density = weights * np.exp(-z * z / 2)
    density /= density.sum()
    reach = _half_width(z / math.sqrt(count), share)

    def shortfall(log_k: float) -> float:
        covered = special.gammaincc(nu / 2, nu * (reach / math.exp(log_k)) ** 2 / 2)
        return float(density @ covered) - confidence

    start = math.log(two_sided_factor_howe(count, share, confidence, degrees_of_freedom))
    return math.exp(float(brentq(shortfall, start - 1, start + 1, xtol=1e-13)))


def _half_width(
    shift: np.ndarray[tuple[int, ...], np.dtype[np.float64]], share: float
) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """r with Phi(shift + r) - Phi(shift - r) = share, by Newton's method from above."""
    r = shift + normal_quantile((1 + share) / 2)
    for _ in range(60):
        missing = special.ndtr(shift + r) - special.ndtr(shift - r) - share
        slope = (np.exp(-((shift + r) ** 2) / 2) + np.exp(-((shift - r) ** 2) / 2)) / math.sqrt(2 * math.pi)
        step = missing / slope
        r = r - step
        if float(np.abs(step).max()) < 1e-15:
            break
    return r


def tolerance_interval(values: Numbers, share: float, confidence: float = 0.95) -> Interval:
    """Limits that hold a share of the population with the confidence given.

    Parameters
    ----------
    values : 1-D of float
        One value a sample (card), at least two.
    share : float
        Share of the population, fraction.
    confidence : float
        Fraction.

    Raises
    ------
    NotDetermined
        Fewer than two samples, or no spread.

    Examples
    --------
    >>> i = tolerance_interval([9.0, 10.0, 10.0, 11.0], 0.95)
    >>> round(i.low, 2), round(i.high, 2)
    (4.82, 15.18)
    """
    centre, spread = _centre_and_spread(values)
    half = two_sided_factor(len(values), share, confidence) * spread
    return Interval(
        low=finite(centre - half, "lower limit"),
        high=finite(centre + half, "upper limit"),
        confidence=confidence,
    )


def tolerance_at_least(values: Numbers, share: float, confidence: float = 0.95) -> float:
    """Value that a share of the population exceeds, with the confidence given.

    Examples
    --------
    >>> round(tolerance_at_least([9.0, 10.0, 10.0, 11.0], 0.95), 2)
    5.8
    """
    centre, spread = _centre_and_spread(values)
    return finite(centre - one_sided_factor(len(values), share, confidence) * spread, "lower limit")


def tolerance_at_most(values: Numbers, share: float, confidence: float = 0.95) -> float:
    """Value that a share of the population stays below, with the confidence given.

    Examples
    --------
    >>> round(tolerance_at_most([9.0, 10.0, 10.0, 11.0], 0.95), 2)
    14.2
    """
    centre, spread = _centre_and_spread(values)
    return finite(centre + one_sided_factor(len(values), share, confidence) * spread, "upper limit")


def _centre_and_spread(values: Numbers) -> tuple[float, float]:
    numbers = as_list(values, noun="sample")
    if len(numbers) < 2:
        raise NotDetermined("one sample: nothing can be said about the spread between samples")
    spread = standard_deviation(numbers)
    if spread == 0:
        raise NotDetermined("all samples gave the same value: the spread between them cannot be estimated")
    return mean(numbers), spread
