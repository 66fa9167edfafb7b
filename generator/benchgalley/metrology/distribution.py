"""Quantiles and tails of the distributions behind every interval.

Thin covers over `scipy.special` (Cephes, Boost and cdflib), written so that degrees of
freedom may be infinite, small tails keep their digits and no NaN comes out. `scipy.stats`
is left aside for its start-up cost; the tests compare with it.
"""

from __future__ import annotations

import math
from functools import lru_cache

from scipy import special

from .sample import NotDetermined, check_confidence, finite


def _probability(p: float) -> float:
    if not 0 < p < 1:
        raise NotDetermined("a probability lies between 0 and 1")
    return p


def _freedom(nu: float) -> float:
    if not nu > 0:
        raise NotDetermined("no degrees of freedom are left to estimate the spread")
    return nu


def normal_quantile(p: float) -> float:
    """Quantile of the standard normal distribution at lower-tail probability p.

    Raises
    ------
    NotDetermined
        p outside 0 to 1.

    Examples
    --------
    >>> round(normal_quantile(0.975), 6)
    1.959964
    """
    return float(special.ndtri(_probability(p)))


def normal_cdf(z: float) -> float:
    """Probability that a standard normal value is at most z.

    Examples
    --------
    >>> normal_cdf(0.0)
    0.5
    """
    return float(special.ndtr(z))


@lru_cache(maxsize=4096)
def t_quantile(p: float, nu: float) -> float:
    """Quantile of Student's t at lower-tail probability p with nu degrees of freedom.

    Parameters
    ----------
    p : float
        Probability, 0 < p < 1.
    nu : float
        Degrees of freedom above zero; infinite gives the normal quantile.

    Raises
    ------
    NotDetermined
        p or nu out of range.

    Notes
    -----
    NIST/SEMATECH e-Handbook 1.3.6.7.2.

    Examples
    --------
    >>> round(t_quantile(0.975, 4), 3)
    2.776
    """
    _freedom(nu)
    _probability(p)
    if math.isinf(nu):
        return float(special.ndtri(p))
    if p == 0.5:
        return 0.0
    # the lower tail keeps its digits; the upper one is its mirror image
    tail = min(p, 1 - p)
    size = -float(special.stdtrit(nu, tail))
    return finite(size if p > 0.5 else -size, "t quantile")


@lru_cache(maxsize=4096)
def coverage_factor(confidence: float, nu: float) -> float:
    """Two-sided factor k: P(-k <= T <= k) = confidence for nu degrees of freedom.

    Parameters
    ----------
    confidence : float
        Fraction.
    nu : float
        Degrees of freedom, may be infinite.

    Returns
    -------
    float
        t_{(1+confidence)/2, nu}.

    Raises
    ------
    NotDetermined
        Confidence or nu out of range.

    Notes
    -----
    JCGM 100:2008, G.3.2 and Table G.2.

    Examples
    --------
    >>> round(coverage_factor(0.95, 9), 2)
    2.26
    """
    check_confidence(confidence)
    return -t_quantile((1 - confidence) / 2, nu)


def t_cdf(t: float, nu: float) -> float:
    """Probability that Student's t with nu degrees of freedom is at most t.

    Examples
    --------
    >>> round(t_cdf(2.776445, 4), 6)
    0.975
    """
    _freedom(nu)
    return float(special.ndtr(t)) if math.isinf(nu) else float(special.stdtr(nu, t))


def t_tail(t: float, nu: float) -> float:
    """Upper tail of Student's t: probability of a value above t, small tails kept.

    Examples
    --------
    >>> t_tail(40.0, 30.0) < 1e-26
    True
    """
    return t_cdf(-t, nu)


def t_two_sided_p(t: float, nu: float) -> float:
    """Two-sided p value of a t statistic.

    Examples
    --------
    >>> round(t_two_sided_p(-2.776445, 4), 6)
    0.05
    """
    return min(1.0, 2 * t_cdf(-abs(t), nu))


def chi2_quantile(p: float, nu: float) -> float:
    """Quantile of chi-square at lower-tail probability p.

    Examples
    --------
    >>> round(chi2_quantile(0.95, 5), 3)
    11.07
    """
    _freedom(nu)
    _probability(p)
    value = special.gammaincinv(nu / 2, p) if p <= 0.5 else special.gammainccinv(nu / 2, 1 - p)
    return finite(2 * float(value), "chi-square quantile")


def chi2_upper_quantile(tail: float, nu: float) -> float:
    """Value of chi-square exceeded with probability `tail`.

    Examples
    --------
    >>> round(chi2_upper_quantile(0.05, 5), 3)
    11.07
    """
    return finite(2 * float(special.gammainccinv(_freedom(nu) / 2, _probability(tail))), "chi-square quantile")


def chi2_tail(value: float, nu: float) -> float:
    """Probability that chi-square exceeds the value.

    Examples
    --------
    >>> round(chi2_tail(11.0705, 5), 5)
    0.05
    """
    return float(special.gammaincc(_freedom(nu) / 2, max(value, 0.0) / 2))


def f_upper_quantile(tail: float, dfn: float, dfd: float) -> float:
    """Value of F(dfn, dfd) exceeded with probability `tail`.

    Examples
    --------
    >>> round(f_upper_quantile(0.05, 4, 10), 3)
    3.478
    """
    _freedom(dfn)
    _freedom(dfd)
    # 1/F is F with the degrees swapped, so the small tail is the one inverted
    share = float(special.betaincinv(dfd / 2, dfn / 2, _probability(tail)))
    if dfn * share <= 0:
        raise NotDetermined("the F quantile is too large to compute")
    return finite(dfd * (1 - share) / (dfn * share), "F quantile")


def f_tail(value: float, dfn: float, dfd: float) -> float:
    """Probability that F(dfn, dfd) exceeds the value.

    Examples
    --------
    >>> round(f_tail(3.478, 4, 10), 4)
    0.05
    """
    _freedom(dfn)
    _freedom(dfd)
    if value <= 0:
        return 1.0
    return float(special.betainc(dfd / 2, dfn / 2, dfd / (dfd + dfn * value)))


def beta_quantile(p: float, a: float, b: float) -> float:
    """Quantile of the beta distribution, used for exact binomial limits.

    Examples
    --------
    >>> round(beta_quantile(0.95, 1, 10), 4)
    0.2589
    """
    return finite(float(special.betaincinv(_freedom(a), _freedom(b), _probability(p))), "beta quantile")


def gamma_quantile(p: float, shape: float) -> float:
    """Quantile of the gamma distribution of scale 1, used for exact Poisson limits.

    Examples
    --------
    >>> round(gamma_quantile(0.95, 1), 4)
    2.9957
    """
    _freedom(shape)
    _probability(p)
    value = special.gammaincinv(shape, p) if p <= 0.5 else special.gammainccinv(shape, 1 - p)
    return finite(float(value), "gamma quantile")


def binomial_cdf(k: int, n: int, p: float) -> float:
    """Probability of at most k events in n runs at event probability p.

    Examples
    --------
    >>> round(binomial_cdf(0, 10, 0.1), 6)
    0.348678
    """
    if k < 0:
        return 0.0
    return 1.0 if k >= n else float(special.betainc(n - k, k + 1, 1 - p))


def poisson_cdf(k: int, expected: float) -> float:
    """Probability of at most k events when `expected` are expected.

    Examples
    --------
    >>> round(poisson_cdf(0, 3.0), 6)
    0.049787
    """
    return 0.0 if k < 0 else float(special.gammaincc(k + 1, expected))


def noncentral_t_quantile(p: float, nu: float, delta: float) -> float:
    """Quantile of non-central t, used for one-sided tolerance factors.

    Parameters
    ----------
    p : float
        Probability.
    nu : float
        Degrees of freedom.
    delta : float
        Non-centrality.

    Raises
    ------
    NotDetermined
        Arguments out of range, or the inversion fails.

    Examples
    --------
    >>> round(noncentral_t_quantile(0.99, 42, 8.4037), 3)
    12.288
    """
    value = float(special.nctdtrit(_freedom(nu), delta, _probability(p)))
    return finite(value, "non-central t quantile")
