"""The formulas of budgets and ratios for many numbers at once: one array element a number."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import special

from .by_parts import ROUNDING, WHOLE
from .comparison import NO_SPREAD
from .sample import Array


def t_factors(tails: Array | float, freedoms: Array) -> Array:
    """Student's t exceeded with probability `tails`, element by element; see `t_quantile`.

    Parameters
    ----------
    tails : float or array
        Upper tail, above 0 and below one half.
    freedoms : array
        Degrees of freedom above zero; infinite gives the normal quantile.

    Examples
    --------
    >>> t_factors(0.025, np.array([4.0, np.inf])).round(3).tolist()
    [2.776, 1.96]
    """
    if isinstance(tails, float):
        # rounded down they are few, so each quantile is worked out once
        found = [_t_factor(tails, freedom) for freedom in freedoms.ravel().tolist()]
        return np.array(found, dtype=np.float64).reshape(freedoms.shape)
    endless = np.isinf(freedoms)
    factors: Array = -special.stdtrit(np.where(endless, 1.0, freedoms), tails)
    return np.where(endless, -special.ndtri(tails), factors) if endless.any() else factors


@lru_cache(maxsize=16384)
def _t_factor(tail: float, freedom: float) -> float:
    return -float(special.ndtri(tail) if freedom == math.inf else special.stdtrit(freedom, tail))


def root_sum(parts: Array) -> Array:
    """Root of the sum of squares over the first axis, whatever the size of the parts.

    Examples
    --------
    >>> root_sum(np.array([[3.0], [4.0]])).tolist()
    [5.0]
    """
    _, exponents = np.frexp(np.abs(parts).max(axis=0, initial=0.0))
    shares = np.ldexp(parts, -exponents)
    u: Array = np.ldexp(np.sqrt((shares * shares).sum(axis=0)), exponents)
    return u


class Gathered(NamedTuple):
    """Contributions gathered by like degrees of freedom, as `pieces_of` does for one number."""

    freedoms: Array
    """Sources by numbers: degrees of freedom of the piece each source belongs to, rounded down; 1 for none."""
    pieces: NDArray[np.int_]
    """How many pieces each number has."""


def gathered(parts: Array, freedoms: Array) -> Gathered:
    """Contributions by like degrees of freedom; see `pieces_of`, which does one number.

    Parameters
    ----------
    parts : 2-D, sources by numbers
        Contributions; 0 where a number lacks the source, which then belongs to no piece.
    freedoms : array of the same shape
        Degrees of freedom, at least one; rounded down, a piece has at least one too.

    Examples
    --------
    >>> g = gathered(np.array([[1.0], [1.0], [2.0]]), np.array([[4.0], [5.0], [40.0]]))
    >>> g.freedoms.tolist(), g.pieces.tolist()
    ([[8.0], [8.0], [40.0]], [2])
    """
    present = parts != 0
    if len(parts) == 1:
        return Gathered(_rounded_down(freedoms), present[0].astype(np.int_))
    keys = np.where(present, freedoms, np.inf)
    order = np.argsort(keys, axis=0, kind="stable")
    sorted_, here = np.take_along_axis(keys, order, axis=0), np.take_along_axis(present, order, axis=0)
    _, exponents = np.frexp(np.abs(parts).max(axis=0))
    shares = np.take_along_axis(np.ldexp(parts, -exponents), order, axis=0)
    squares = shares * shares
    below = squares * squares / sorted_
    fewest, pieces = sorted_[0], present.any(axis=0).astype(np.int_)
    starts = [np.ones_like(here[0])]
    for k in range(1, len(parts)):
        alike = (fewest == sorted_[k]) | ((fewest >= 2) & (sorted_[k] <= 2 * fewest))
        starts.append(here[k] & ~alike)
        fewest = np.where(starts[k], sorted_[k], fewest)
        pieces += starts[k]
        # running sums of the piece begun last
        squares[k] += np.where(starts[k], 0.0, squares[k - 1])
        below[k] += np.where(starts[k], 0.0, below[k - 1])
    known = below > 0
    nu = _rounded_down(np.where(known, squares * squares / np.where(known, below, 1.0), np.inf))
    for k in range(len(parts) - 2, -1, -1):
        # the last member of a piece has its whole sums
        nu[k] = np.where(starts[k + 1], nu[k], nu[k + 1])
    found = np.empty_like(nu)
    np.put_along_axis(found, order, nu, axis=0)
    return Gathered(np.where(present, found, 1.0), pieces)


def _rounded_down(freedoms: Array) -> Array:
    """As `rounded_down`, element by element."""
    whole = (freedoms >= 1) & (freedoms < WHOLE)
    return np.where(whole, np.floor(freedoms * (1 + ROUNDING)), freedoms)


def root_sums(parts: Array, freedoms: Array) -> tuple[Array, Array]:
    """Combined standard uncertainty and effective degrees of freedom; see `combine`.

    Parameters
    ----------
    parts : 2-D, sources by numbers
        Contributions c_i u(x_i), each in the unit of its number; 0 where a number lacks the source.
    freedoms : array that fits `parts`
        Degrees of freedom above zero, infinite for a value taken as known.

    Returns
    -------
    (array, array)
        u_c = sqrt(sum c_i^2 u_i^2) and nu_eff = u_c^4 / sum(c_i^4 u_i^4 / nu_i), infinite without a finite source.

    Notes
    -----
    JCGM 100:2008, 5.1.2 and G.4.1. Contributions are first divided by a power of two near the largest, which is exact
    and keeps their fourth powers in range.

    Examples
    --------
    >>> u, nu = root_sums(np.array([[0.25], [0.57], [0.82]]), np.array([[9.0], [4.0], [14.0]]))
    >>> round(float(u[0]), 2), round(float(nu[0]), 1)
    (1.03, 19.0)
    """
    _, exponents = np.frexp(np.abs(parts).max(axis=0))
    shares = np.ldexp(parts, -exponents)
    squares = shares * shares
    total = squares.sum(axis=0)
    below = (squares * squares / freedoms).sum(axis=0)
    known = below > 0
    nu: Array = np.where(known, total * total / np.where(known, below, 1.0), np.inf)
    u: Array = np.ldexp(np.sqrt(total), exponents)
    return u, nu


def means_and_spreads(values: Array, present: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Mean and standard deviation (divisor k - 1) of each row; see `mean` and `standard_deviation`.

    Parameters
    ----------
    values : 2-D
        One row a set of figures, any unit.
    present : 2-D of bool, like `values`
        Which of them count, at least one a row.

    Returns
    -------
    (array, array)
        Same unit; 0 for the deviation of a single figure, and exactly 0 for equal ones.

    Notes
    -----
    Corrected two-pass algorithm (Chan, Golub and LeVeque, Am. Stat. 37 (1983) 242-247) on figures less the first of
    the row, at a power of two near the largest deviation.

    Examples
    --------
    >>> m, s = means_and_spreads(np.array([[4.0, 7.0, 13.0, 16.0]]), np.ones((1, 4), dtype=bool))
    >>> float(m[0]), round(float(s[0]), 6)
    (10.0, 5.477226)
    """
    counts = present.sum(axis=1)
    first = np.take_along_axis(values, present.argmax(axis=1)[:, None], axis=1)
    shifted = np.where(present, values - first, 0.0)
    middle = shifted.sum(axis=1) / counts
    deviations = np.where(present, shifted - middle[:, None], 0.0)
    _, exponents = np.frexp(np.abs(deviations).max(axis=1))
    scaled = np.ldexp(deviations, -exponents[:, None])
    rest = scaled.sum(axis=1)
    squares = np.maximum((scaled * scaled).sum(axis=1) - rest * rest / counts, 0.0)
    return first[:, 0] + middle, np.ldexp(np.sqrt(squares / np.maximum(counts - 1, 1)), exponents)


class Variances(NamedTuple):
    """Spread within and between samples, one element a set of samples; fields as in `SampleVariances`."""

    df_between: Array
    df_within: Array
    ms_between: Array
    ms_within: Array
    ss_within: Array
    runs_per_group: Array
    between_squared: Array


def sample_variances_of(counts: Array, means: Array, squares: Array) -> Variances:
    """Variance components of many sets of samples; see `sample_variances`, which does one.

    Parameters
    ----------
    counts, means, squares : 2-D, sets by samples
        Runs of each sample, their mean, and the sum of squares about it; a count of 0 for no sample.

    Notes
    -----
    ISO 5725-2, 7.4.5. Of one sample, or where none was run twice, some fields are no number.

    Examples
    --------
    >>> v = sample_variances_of(*(np.array([row]) for row in ([3.0, 3.0], [2.0, 3.0], [2.0, 2.0])))
    >>> float(v.ms_between[0]), float(v.ms_within[0]), float(v.runs_per_group[0])
    (1.5, 1.0, 3.0)
    """
    runs, samples = counts.sum(axis=1), (counts > 0).sum(axis=1)
    shifted = np.where(counts > 0, means - means[:, :1], 0.0)
    grand = (counts * shifted).sum(axis=1) / runs
    df_between, df_within = samples - 1.0, runs - samples
    ss_within = squares.sum(axis=1)
    away = shifted - grand[:, None]
    with np.errstate(all="ignore"):
        ms_between = (counts * away * away).sum(axis=1) / df_between
        ms_within = ss_within / df_within
        n_0 = (runs - (counts * counts).sum(axis=1) / runs) / df_between
        return Variances(df_between, df_within, ms_between, ms_within, ss_within, n_0, (ms_between - ms_within) / n_0)


class Sets(NamedTuple):
    """Fieller's sets, one element a ratio."""

    low: Array
    """Lower end; meaningless where not `bounded` or in trouble."""
    high: Array
    """Upper end."""
    bounded: NDArray[np.bool_]
    """Whether the set is an interval; otherwise the base is not clearly different from zero."""
    trouble: NDArray[np.int_]
    """0, or the place in `TROUBLES` of why there is no set."""


TROUBLES = (
    "",
    NO_SPREAD,
    "the uncertainties are too large beside the values for a ratio",
    "the limit of the ratio is too large or undefined",
    "the g of Fieller is too large or undefined",
    "the standard error of the ratio is too large or undefined",
)


def fieller_sets(means_a: Array, errors_a: Array, means_b: Array, errors_b: Array, covariances: Array) -> Sets:
    """Fieller's set of a / b, element by element; see `fieller_set`, which does one ratio.

    Parameters
    ----------
    means_a, means_b : array
        Estimates of both sides; no base is zero, every a / b is finite.
    errors_a, errors_b : array
        Their errors, widened by the factors of Student's t.
    covariances : array
        Of the two estimates, widened likewise.

    Notes
    -----
    Fieller, J. R. Stat. Soc. B 16 (1954) 175-185; the steps and their order are those of `fieller_set`.

    Examples
    --------
    >>> one = [np.array([float(v)]) for v in (10.0, 0.2, 5.0, 0.0, 0.0)]
    >>> s = fieller_sets(*one)
    >>> round(float(s.low[0]), 4), round(float(s.high[0]), 4), bool(s.bounded[0])
    (1.96, 2.04, True)
    """
    with np.errstate(all="ignore"):
        theta = means_a / means_b
        at_zero = theta == 0
        scale = np.where(at_zero, errors_a / np.abs(means_b), theta)
        top = np.where(at_zero, 0.0, 1.0)
        spread_a, spread_b = errors_a / (scale * means_b), errors_b / means_b
        shared = covariances / means_b / means_b / scale
        moderate = (np.abs(spread_a) < 1e70) & (np.abs(spread_b) < 1e70) & (np.abs(shared) < 1e70)
        variance_a, variance_b = spread_a * spread_a, spread_b * spread_b
        variance = variance_a - 2 * top * shared + top * top * variance_b
        lead = 1 - variance_b
        middle = top - shared
        constant = top * top - variance_a
        discriminant = variance - (variance_a * variance_b - shared * shared)
        root = np.sqrt(np.maximum(discriminant, 0.0))
        sum_ = middle + np.copysign(root, middle)
        first = np.where(sum_ == 0, 0.0, sum_ / lead) * scale
        second = np.where(sum_ == 0, 0.0, constant / sum_) * scale
        endless = (lead == 0) | ((lead < 0) & (discriminant < 0))
        error = np.abs(scale) * np.sqrt(np.maximum(variance, 0.0))
        trouble = np.select(
            [
                scale == 0,
                ~moderate,
                ~endless & ~(np.isfinite(first) & np.isfinite(second)),
                ~np.isfinite(variance_b),
                ~np.isfinite(error),
            ],
            [1, 2, 3, 4, 5],
            0,
        )
        return Sets(np.minimum(first, second), np.maximum(first, second), lead > 0, trouble)
