"""Reading a sweep: value at a setting, and the lowest setting that matches a target."""

from __future__ import annotations

import enum
import math
from dataclasses import dataclass, field

import numpy as np

from .by_parts import half_width, half_widths, pieces_of
from .comparison import NO_SPREAD
from .curve import Curve, monotone_curve, sensitivities
from .sample import Array, Estimate, NotDetermined, Numbers, as_array, check_confidence, finite, same_length
from .uncertainty import combine

_POINTS = 48


class Reach(enum.Enum):
    """Where the match lies compared with the settings run."""

    INSIDE = "inside"
    """between the lowest and the highest setting run"""
    BELOW_RANGE = "below range"
    """the lowest setting run already reaches the target"""
    ABOVE_RANGE = "above range"
    """no setting run reaches the target"""


@dataclass(frozen=True, kw_only=True, slots=True)
class MatchingSetting:
    """Lowest setting at which a curve is not below a target."""

    reach: Reach
    """where the match lies"""
    setting: float | None
    """the match, unit of the setting; None outside the range run"""
    low: float | None
    """lowest setting run or interpolated that the data do not exclude; None when all are excluded"""
    high: float | None
    """highest such setting"""
    low_open: bool
    """the interval reaches the lowest setting run and may go on below it"""
    high_open: bool
    """the interval reaches the highest setting run and may go on above it"""
    confidence: float
    """confidence of the interval as a fraction"""
    curve: Curve = field(compare=False)
    """what it was read from"""


def _errors(standard_errors: Numbers, degrees_of_freedom: Numbers, like: Array) -> tuple[Array, Array]:
    errors = as_array(standard_errors, noun="setting")
    # degrees of freedom may be infinite, so they do not pass through the finite check
    freedoms = np.asarray(degrees_of_freedom, dtype=np.float64)
    same_length(like, errors, freedoms)
    if (errors < 0).any() or not (errors > 0).any():
        raise NotDetermined("no setting was run twice: the spread cannot be estimated")
    if not (freedoms[errors > 0] > 0).all():
        raise NotDetermined("a setting was run once: its spread cannot be estimated")
    return errors, freedoms


def value_at_setting(
    settings: Numbers,
    means: Numbers,
    standard_errors: Numbers,
    degrees_of_freedom: Numbers,
    setting: float,
    confidence: float = 0.95,
    *,
    increasing: bool = True,
    weights: Numbers | None = None,
) -> Estimate:
    """Value of the monotone curve at a setting, with interval.

    Parameters
    ----------
    settings, means, standard_errors, degrees_of_freedom : 1-D of float
        One entry a setting run; equal settings are averaged.
    setting : float
        Where to read, inside the range run.
    confidence : float
        Fraction.
    increasing : bool
        False for a falling curve.
    weights : 1-D of float, optional
        For pooling neighbours, for example numbers of runs.

    Raises
    ------
    NotDetermined
        Outside the range run, no repeats, lengths that differ.

    Notes
    -----
    Linear propagation through `sensitivities`, half-width by `half_width`; the interpolation itself is taken as right.

    Examples
    --------
    >>> e = value_at_setting([60, 80, 100], [70, 90, 100], [1, 1, 1], [4, 4, 4], 80)
    >>> e.value, round(e.standard_error, 6)
    (90.0, 1.0)
    """
    x, y = as_array(settings, noun="setting"), as_array(means, noun="setting")
    curve = monotone_curve(x, y, weights, increasing=increasing)
    return value_on_curve(curve, standard_errors, degrees_of_freedom, setting, confidence)


def value_on_curve(
    curve: Curve, standard_errors: Numbers, degrees_of_freedom: Numbers, setting: float, confidence: float = 0.95
) -> Estimate:
    """As `value_at_setting`, of a curve at hand; errors in the order of the values it was made from.

    Examples
    --------
    >>> curve = monotone_curve([60, 80, 100], [70, 90, 100])
    >>> value_on_curve(curve, [1, 1, 1], [4, 4, 4], 80).value
    90.0
    """
    errors, freedoms = _errors(standard_errors, degrees_of_freedom, curve.averaging[0])
    value = curve.at(setting)
    parts = (sensitivities(curve, [setting]) * errors)[0].tolist()
    whole = combine(parts, [nu if part else math.inf for part, nu in zip(parts, freedoms.tolist(), strict=True)])
    if not whole.standard_uncertainty > 0:
        raise NotDetermined(NO_SPREAD)
    half = half_width(pieces_of(parts, freedoms.tolist()), confidence)
    return Estimate(
        value=value,
        standard_error=whole.standard_uncertainty,
        degrees_of_freedom=whole.degrees_of_freedom,
        low=finite(value - half, "lower limit"),
        high=finite(value + half, "upper limit"),
        confidence=confidence,
    )


def crossing(curve: Curve, target: float) -> float | None:
    """Lowest setting at which a rising curve is not below the target; None when it never is.

    Examples
    --------
    >>> round(crossing(monotone_curve([60, 80, 100], [70.0, 90.0, 100.0]), 90.0), 9)
    80.0
    """
    reached = np.nonzero(curve.fitted >= target)[0]
    if not reached.size:
        return None
    place = int(reached[0])
    if place == 0:
        return float(curve.settings[0])
    low, high = float(curve.settings[place - 1]), float(curve.settings[place])
    if curve.fitted[place] == target:
        return high
    start, width = low, high - low
    below, above = float(curve.fitted[place - 1]), float(curve.fitted[place])
    leave, arrive = float(curve.slopes[place - 1]) * width, float(curve.slopes[place]) * width
    low, high = 0.0, 1.0
    # halving the share of the piece until neighbouring floats: the piece rises, so one crossing exists
    for _ in range(60):
        share = (low + high) / 2
        rise, rest = share * share * (3 - 2 * share), 1 - share
        value = below * (1 - rise) + above * rise + share * rest * (leave * rest - arrive * share)
        low, high = (low, share) if value >= target else (share, high)
    return start + width * high


def matching_setting(
    settings: Numbers,
    means: Numbers,
    standard_errors: Numbers,
    degrees_of_freedom: Numbers,
    target: float,
    target_error: float = 0.0,
    target_degrees_of_freedom: float = math.inf,
    *,
    margin: float = 0.0,
    confidence: float = 0.95,
    target_index: int | None = None,
    weights: Numbers | None = None,
) -> MatchingSetting:
    """Lowest setting at which a rising curve is not below target - margin, with interval.

    Parameters
    ----------
    settings, means, standard_errors, degrees_of_freedom : 1-D of float
        One entry a setting run, any order; equal settings are averaged.
    target : float
        Value to reach, for example the mean score at baseline.
    target_error, target_degrees_of_freedom : float
        Its standard error and degrees of freedom; 0 and infinite for a value known exactly.
    margin : float
        How far below the target still counts, same unit, not negative.
    confidence : float
        Fraction.
    target_index : int, optional
        The target is the mean at this entry (the baseline belongs to the sweep): its error is then
        shared and cancels there. `target_error` is not used.
    weights : 1-D of float, optional
        For pooling neighbours that contradict the order, for example numbers of runs.

    Returns
    -------
    MatchingSetting
        The interval holds the settings whose difference from target - margin is not significant in a
        two-sided t test (inverse prediction by inversion of a test); never beyond the range run.

    Raises
    ------
    NotDetermined
        Fewer than two distinct settings, no repeats, lengths that differ, negative margin.

    Notes
    -----
    The monotone curve of `monotone_curve`; errors by its sensitivities, half-widths by
    `half_widths` at each setting. The principle is that of Fieller's inversion of a
    calibration line (Fieller 1954). Assumes that the curve describes the card between settings.

    Examples
    --------
    >>> found = matching_setting([60, 80, 100], [70, 90, 100], [1, 1, 1], [4, 4, 4], 81.458333)
    >>> found.reach.value, round(found.setting, 3)
    ('inside', 70.0)
    >>> matching_setting([60, 80], [70, 90], [1, 1], [4, 4], 200).reach.value
    'above range'
    """
    x, y = as_array(settings, noun="setting"), as_array(means, noun="setting")
    same_length(x, y)
    check_confidence(confidence)
    if not margin >= 0:
        raise NotDetermined("a margin is not negative")
    errors, freedoms = _errors(standard_errors, degrees_of_freedom, y)
    curve = monotone_curve(x, y, weights)
    if curve.settings.size < 2:
        raise NotDetermined("only one setting was run, at least 2 are needed")
    if not (target_error >= 0 and math.isfinite(target) and target_degrees_of_freedom > 0):
        raise NotDetermined("the target has no value to compare with")
    goal = target - margin
    test = _Inversion(
        curve, errors, freedoms, goal, (target_error, target_degrees_of_freedom), target_index, confidence
    )
    low, high, low_open, high_open = test.limits()
    found = crossing(curve, goal)
    reach = Reach.INSIDE
    if found is None:
        reach = Reach.ABOVE_RANGE
    elif curve.fitted[0] > goal:
        reach = Reach.BELOW_RANGE
    return MatchingSetting(
        reach=reach,
        setting=found if reach is Reach.INSIDE else None,
        low=low,
        high=high,
        low_open=low_open,
        high_open=high_open,
        confidence=confidence,
        curve=curve,
    )


class _Inversion:
    """The test whose accepted settings form the interval of a matching setting."""

    def __init__(
        self,
        curve: Curve,
        errors: Array,
        freedoms: Array,
        goal: float,
        target: tuple[float, float],
        target_index: int | None,
        confidence: float,
    ) -> None:
        self.curve, self.errors, self.freedoms = curve, errors, freedoms
        self.goal, self.target, self.target_index = goal, target, target_index
        self.confidence = confidence

    def excess(self, x: Array) -> Array:
        """|difference| less its critical size: at most zero where the setting is not excluded."""
        weights = self.curve.sensitivities.at(x)
        freedoms = self.freedoms
        if self.target_index is None:
            parts = np.column_stack([weights * self.errors, np.full(x.size, self.target[0])])
            freedoms = np.append(freedoms, self.target[1])
        else:
            weights[:, self.target_index] -= 1
            parts = weights * self.errors
        excess: Array = np.abs(self.curve.many(x) - self.goal) - half_widths(parts, freedoms, self.confidence)
        return excess

    def limits(self) -> tuple[float | None, float | None, bool, bool]:
        """Lowest and highest setting not excluded, and whether they are the ends of the range."""
        nodes = self.curve.settings
        share = np.linspace(0.0, 1.0, _POINTS, endpoint=False)
        grid = np.append((nodes[:-1, None] + np.diff(nodes)[:, None] * share).ravel(), nodes[-1])
        excess = self.excess(grid)
        kept = np.nonzero(excess <= 0)[0]
        if not kept.size:
            return self._between(grid, excess)
        first, last = int(kept[0]), int(kept[-1])
        inside = grid[[first, last]]
        low, high = self._edges(inside, grid[[max(first - 1, 0), min(last + 1, grid.size - 1)]])
        return low, high, first == 0, last == grid.size - 1

    def _between(self, grid: Array, excess: Array) -> tuple[float | None, float | None, bool, bool]:
        """An interval narrower than the grid: look again between the points around the crossing."""
        found = crossing(self.curve, self.goal)
        if found is None or self.curve.fitted[0] > self.goal:
            return None, None, False, False
        place = int(np.clip(np.searchsorted(grid, found), 1, grid.size - 1))
        low, high = self._edges(np.array([found, found]), grid[[place - 1, place]])
        return low, high, False, False

    def _edges(self, inside: Array, outside: Array) -> tuple[float, float]:
        """Settings between two accepted and two excluded ones where acceptance ends; equal ones stay."""
        pair = np.arange(2)
        for _ in range(3):
            ladders = np.linspace(inside, outside, 33, axis=1)
            out = self.excess(ladders.ravel()).reshape(ladders.shape) > 0
            place = np.maximum(np.where(out.any(axis=1), out.argmax(axis=1), 32), 1)
            inside = np.where(out.any(axis=1), ladders[pair, place - 1], outside)
            outside = ladders[pair, place]
        low, high = ((inside + outside) / 2).tolist()
        return low, high
