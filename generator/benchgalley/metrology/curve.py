"""Monotone curves through a sweep: isotonic regression, then shape-preserving interpolation."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from .sample import Array, NotDetermined, Numbers, as_array, same_length


@dataclass(frozen=True, kw_only=True, eq=False)
class Curve:
    """A monotone curve: cubic Hermite pieces between nodes.

    `eq` is by identity since the fields are arrays.
    """

    settings: Array
    """distinct settings in rising order, unit of the setting"""
    fitted: Array
    """values at the settings after isotonic regression, unit of the quantity"""
    slopes: Array
    """slopes at the settings, quantity per setting"""
    averaging: Array
    """matrix A with fitted = A @ values in the order given to `monotone_curve`"""
    sensitivities: Sensitivities
    """how far it follows each value it was made from; see the function of that name"""

    def at(self, setting: float) -> float:
        """Value at a setting inside the range run.

        Raises
        ------
        NotDetermined
            Outside the range: a curve says nothing there.
        """
        return float(self.many(np.array([setting]))[0])

    def many(self, settings: Numbers) -> Array:
        """Values at several settings inside the range run; see `at`."""
        x = as_array(settings)
        if x.min() < self.settings[0] or x.max() > self.settings[-1]:
            raise NotDetermined(f"outside the range that was run ({self.settings[0]:g} to {self.settings[-1]:g})")
        return _hermite(self.settings, self.fitted, self.slopes, x)

    def slope_at(self, setting: float) -> float:
        """Slope at a setting by a central difference inside the range run; zero where only one setting was run."""
        first, last = float(self.settings[0]), float(self.settings[-1])
        step = (last - first) * 1e-4
        low, high = max(setting - step, first), min(setting + step, last)
        return (self.at(high) - self.at(low)) / (high - low) if high > low else 0.0


def _hermite(nodes: Array, values: Array, slopes: Array, x: Array) -> Array:
    """Cubic Hermite pieces; `values` and `slopes` may hold one curve per further axis."""
    if nodes.size == 1:
        return np.repeat(values[:1], x.size, axis=0)
    piece = np.clip(np.searchsorted(nodes, x, side="right") - 1, 0, nodes.size - 2)
    width = nodes[piece + 1] - nodes[piece]
    share = (x - nodes[piece]) / width
    if values.ndim > 1:
        width, share = width[:, None], share[:, None]
    rest = 1 - share
    # values as a weighted mean and slopes apart: exact at both nodes
    rise = share * share * (3 - 2 * share)
    ends: Array = values[piece] * (1 - rise) + values[piece + 1] * rise
    bend: Array = width * share * rest * (slopes[piece] * rest - slopes[piece + 1] * share)
    return ends + bend


def pchip_slopes(settings: Numbers, values: Numbers) -> Array:
    """Slopes at the nodes of the shape-preserving cubic interpolant.

    Parameters
    ----------
    settings : 1-D of float
        Strictly rising, at least two.
    values : 1-D of float
        Same length.

    Returns
    -------
    1-D array
        Quantity per setting.

    Raises
    ------
    NotDetermined
        Fewer than two nodes, not strictly rising, or lengths that differ.

    Notes
    -----
    Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) 238-246, with the weighted harmonic mean of
    Fritsch and Butland (1984); computed by scipy's `PchipInterpolator`.

    Examples
    --------
    >>> pchip_slopes([0.0, 1.0, 2.0], [0.0, 1.0, 1.0]).tolist()
    [1.5, 0.0, 0.0]
    """
    x, y = as_array(settings, 2, "setting"), as_array(values, 2, "setting")
    same_length(x, y)
    if not (np.diff(x) > 0).all():
        raise NotDetermined("the settings of a curve rise strictly")
    return _slopes(x, y)


def _slopes(x: Array, y: Array) -> Array:
    if x.size == 1:
        return np.zeros_like(y)
    from scipy.interpolate import PchipInterpolator  # start-up cost: only where needed

    # settings closer than the smallest floats give slopes that cannot be written down
    close = "the settings lie too close together for a curve"
    with np.errstate(all="ignore"):
        try:
            slopes: Array = PchipInterpolator(x, y, axis=0).derivative()(x)
        except ValueError:
            raise NotDetermined(close) from None
    if not np.isfinite(slopes).all():
        raise NotDetermined(close)
    return slopes


def isotonic(
    values: Numbers,
    weights: Numbers | None = None,
    settings: Numbers | None = None,
    *,
    increasing: bool = True,
) -> Array:
    """Best monotone fit by least squares.

    Parameters
    ----------
    values : 1-D of float
        In the order of the settings, or in any order with `settings` given.
    weights : 1-D of float, optional
        Above zero, for example numbers of runs. All one when left out.
    settings : 1-D of float, optional
        Values at equal settings get one common fit.
    increasing : bool
        False for a falling fit.

    Returns
    -------
    1-D array
        The fit in the order given, unit of the values.

    Raises
    ------
    NotDetermined
        No values, lengths that differ, weights not above zero.

    Notes
    -----
    Pool adjacent violators (`scipy.optimize.isotonic_regression`); ties by the secondary approach of
    de Leeuw, Hornik and Mair, J. Stat. Softw. 32(5) (2009).

    Examples
    --------
    >>> isotonic([3, 7, 5, 9, 8, 7, 10]).tolist()
    [3.0, 6.0, 6.0, 8.0, 8.0, 8.0, 10.0]
    """
    y = as_array(values, noun="setting")
    x = np.arange(y.size, dtype=float) if settings is None else as_array(settings, noun="setting")
    same_length(x, y)
    _, place, averaging = _pool(x, y, weights, increasing)
    fit: Array = (averaging @ y)[place]
    return fit


def _pool(x: Array, y: Array, weights: Numbers | None, increasing: bool) -> tuple[Array, npt.NDArray[np.intp], Array]:
    """Distinct settings, place of each value among them, and the averaging matrix of the fit."""
    from scipy.optimize import isotonic_regression  # start-up cost: only where needed

    w = np.ones_like(y) if weights is None else as_array(weights, noun="weight")
    same_length(y, w)
    if not (w > 0).all():
        raise NotDetermined("a weight lies above zero")
    w = w / w.max()
    nodes, place = np.unique(x, return_inverse=True)
    merge = np.zeros((nodes.size, y.size))
    merge[place, np.arange(y.size)] = w
    total = merge.sum(axis=1)
    merge /= total[:, None]
    blocks = isotonic_regression(merge @ y, weights=total, increasing=increasing).blocks
    averaging = np.zeros_like(merge)
    for start, end in pairwise(blocks):
        share = total[start:end] / total[start:end].sum()
        averaging[start:end] = share @ merge[start:end]
    return nodes, place, averaging


def monotone_curve(
    settings: Numbers, values: Numbers, weights: Numbers | None = None, *, increasing: bool = True
) -> Curve:
    """Monotone curve through the means of a sweep.

    Parameters
    ----------
    settings : 1-D of float
        Any order; equal settings are averaged.
    values : 1-D of float
        Mean at each setting.
    weights : 1-D of float, optional
        Above zero, for example numbers of runs.
    increasing : bool
        False for a falling curve.

    Returns
    -------
    Curve

    Raises
    ------
    NotDetermined
        No settings, lengths that differ, weights not above zero.

    Notes
    -----
    Where neighbouring means contradict the order they are pooled first (`isotonic`), then the cubic
    of `pchip_slopes` is laid through. The curve is a model between the settings run.

    Examples
    --------
    >>> curve = monotone_curve([60, 80, 100], [70.0, 90.0, 100.0])
    >>> round(curve.at(70), 4)
    81.4583
    """
    x, y = as_array(settings, noun="setting"), as_array(values, noun="setting")
    same_length(x, y)
    w = None if weights is None else tuple(as_array(weights, noun="weight").tolist())
    return _laid_through(tuple(x.tolist()), tuple(y.tolist()), w, increasing)


@lru_cache(maxsize=16)
def _laid_through(
    settings: tuple[float, ...], values: tuple[float, ...], weights: tuple[float, ...] | None, increasing: bool
) -> Curve:
    """`monotone_curve` of figures that were looked at: the same one is computed with, then drawn."""
    y = np.array(values)
    nodes, _, averaging = _pool(np.array(settings), y, weights, increasing)
    fitted: Array = averaging @ y
    # pooled means may differ in the last bit: that would turn a flat piece into a reversal
    fitted = np.maximum.accumulate(fitted) if increasing else np.minimum.accumulate(fitted)
    step = _small_step(fitted)
    shift = np.eye(nodes.size) * step
    # the curve and those with one node moved, laid through at once
    laid = np.concatenate([fitted[:, None], fitted[:, None] + shift, fitted[:, None] - shift], axis=1)
    slopes = _slopes(nodes, laid)
    return Curve(
        settings=nodes,
        fitted=fitted,
        slopes=slopes[:, 0],
        averaging=averaging,
        sensitivities=Sensitivities(nodes, laid[:, 1:], slopes[:, 1:], step, averaging),
    )


def _small_step(fitted: Array) -> float:
    """Small beside the smallest rise, so that no pooled piece turns, and large beside rounding."""
    gaps = np.abs(np.diff(fitted))
    rising = gaps[gaps > 0]
    size = float(np.abs(fitted).max())
    return max(float(rising.min()) * 1e-3 if rising.size else 0.0, size * 1e-9, 1e-300)


def sensitivities(curve: Curve, settings: Numbers) -> Array:
    """How far the curve at each setting follows each value it was made from.

    Parameters
    ----------
    curve : Curve
    settings : 1-D of float
        m settings inside the range run.

    Returns
    -------
    2-D array, m by number of values
        Derivatives of the curve by the values, pooling held fixed. Rows add to one.

    Notes
    -----
    Central differences of the interpolant by its node values, times the averaging of the
    isotonic fit; the sensitivity coefficients of JCGM 100:2008, 5.1.4.

    Examples
    --------
    >>> sensitivities(monotone_curve([60, 80, 100], [70.0, 90.0, 100.0]), [80.0]).round(6).tolist()
    [[0.0, 1.0, 0.0]]
    """
    return curve.sensitivities.at(as_array(settings))


class Sensitivities:
    """`sensitivities` of one curve, prepared once and read at many settings.

    Parameters
    ----------
    settings : 1-D of float
        Nodes of the curve.
    moved, slopes : 2-D of float, nodes by curves
        The curve with each node in turn moved up by `step`, then down.
    step : float
        Unit of the quantity.
    averaging : 2-D of float
        As in `Curve`.
    """

    __slots__ = ("_averaging", "_moved", "_settings", "_slopes", "_step")

    def __init__(self, settings: Array, moved: Array, slopes: Array, step: float, averaging: Array) -> None:
        self._settings, self._moved, self._slopes = settings, moved, slopes
        self._step, self._averaging = step, averaging

    def at(self, settings: Array) -> Array:
        """Derivatives at the settings, one row a setting, one column a value of the curve."""
        count = self._settings.size
        if count == 1:
            return np.repeat(self._averaging, settings.size, axis=0)
        moved = _hermite(self._settings, self._moved, self._slopes, settings)
        by_node = (moved[:, :count] - moved[:, count:]) / (2 * self._step)
        product: Array = by_node @ self._averaging
        return product
