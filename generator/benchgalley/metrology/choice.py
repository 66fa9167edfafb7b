"""Choosing among settings: which cannot be told from the best, and the trade front."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from .comparison import NO_SPREAD, welch_degrees_of_freedom
from .distribution import t_tail
from .front_chance import front_chance
from .sample import Array, NotDetermined, Numbers, as_array, check_confidence, same_length
from .several_against_baseline import dunnett_tail


@dataclass(frozen=True, kw_only=True, slots=True)
class Best:
    """The best of several settings and those that may be it as well."""

    index: int
    """place of the best mean in the order given"""
    candidates: tuple[int, ...]
    """places that cannot be told from the best, the best among them, in the order given"""
    confidence: float
    """the true best is among the candidates with at least this confidence"""

    @property
    def distinguishable(self) -> bool:
        """True when the best stands alone."""
        return len(self.candidates) == 1


def best_of_many(
    means: Numbers,
    standard_errors: Numbers,
    degrees_of_freedom: Numbers,
    confidence: float = 0.95,
    *,
    larger_is_better: bool = True,
) -> Best:
    """The best of several settings, with all that cannot be distinguished from it.

    Parameters
    ----------
    means, standard_errors, degrees_of_freedom : 1-D of float
        One entry a setting, independent of each other, same unit. Degrees of freedom may be infinite.
    confidence : float
        Joint confidence that the true best is among the candidates.
    larger_is_better : bool
        False where the smallest is wanted.

    Returns
    -------
    Best

    Raises
    ------
    NotDetermined
        No setting, lengths that differ, a setting without spread.

    Notes
    -----
    Multiple comparisons with the best (Hsu, Ann. Stat. 9 (1981) 1026-1034; from memory): each setting is
    taken as the control of a one-sided Dunnett comparison with all others and leaves the list when one
    of them is significantly better. Unequal spreads by Welch-Satterthwaite, pair by pair.

    Examples
    --------
    >>> best_of_many([1.0, 1.1, 2.0], [0.1, 0.1, 0.1], [8, 8, 8]).candidates
    (2,)
    >>> best_of_many([1.9, 1.1, 2.0], [0.1, 0.1, 0.1], [8, 8, 8]).candidates
    (0, 2)
    """
    y, errors = as_array(means, noun="setting"), as_array(standard_errors, noun="setting")
    freedoms = np.asarray(degrees_of_freedom, dtype=np.float64)
    same_length(y, errors, freedoms)
    check_confidence(confidence)
    if y.size > 1 and not ((errors > 0).all() and (freedoms > 0).all()):
        raise NotDetermined(NO_SPREAD)
    good = y if larger_is_better else -y
    best = int(np.argmax(good))
    kept = tuple(
        place for place in range(y.size) if place == best or _may_be_best(place, good, errors, freedoms, 1 - confidence)
    )
    return Best(index=best, candidates=kept, confidence=confidence)


def _may_be_best(place: int, good: Array, errors: Array, freedoms: Array, size: float) -> bool:
    """Whether no other setting is better at a test of the given size.

    The adjusted p lies between that of one comparison and, by Bonferroni's inequality, so many times that as there
    are comparisons: only where the size lies between the two is it worked out.
    """
    others = [other for other in range(good.size) if other != place]
    spreads = [math.hypot(errors[place], errors[other]) for other in others]
    lambdas = [round(float(errors[place]) / spread, 9) for spread in spreads]
    for other, spread in zip(others, spreads, strict=True):
        nu = welch_degrees_of_freedom(
            float(errors[place]), float(freedoms[place]), float(errors[other]), float(freedoms[other])
        )
        behind = float(good[other] - good[place]) / spread
        alone = t_tail(behind, nu)
        if behind <= 0 or alone > size:
            continue
        if len(others) * alone <= size or dunnett_tail(behind, lambdas, nu, two_sided=False) <= size:
            return False
    return True


@dataclass(frozen=True, kw_only=True, slots=True)
class TradeFront:
    """Settings that no other setting beats in both quantities."""

    members: tuple[int, ...]
    """places of the means that are not dominated, in the order given"""
    chance: tuple[float, ...]
    """for each setting the chance that it belongs to the front, given the errors"""


def trade_front(costs: Numbers, gains: Numbers) -> tuple[int, ...]:
    """Settings that are not dominated: no other costs at most as much and gains at least as much.

    Parameters
    ----------
    costs, gains : 1-D of float
        One entry a setting; costs are better small, gains better large.

    Returns
    -------
    tuple of int
        Places in the order given. Of settings equal in both, all stay.

    Raises
    ------
    NotDetermined
        No setting, or lengths that differ.

    Examples
    --------
    >>> trade_front([100, 150, 200, 180], [50, 70, 80, 60])
    (0, 1, 2)
    """
    x, y = as_array(costs, noun="setting"), as_array(gains, noun="setting")
    same_length(x, y)
    return tuple(int(place) for place in np.nonzero(~_dominated(x[None, :], y[None, :])[0])[0])


def _dominated(x: Array, y: Array) -> npt.NDArray[np.bool_]:
    """Row by row: which columns are beaten by another column in both quantities."""
    beaten = np.zeros(x.shape, dtype=bool)
    for other in range(x.shape[1]):
        rival_x, rival_y = x[:, other : other + 1], y[:, other : other + 1]
        beaten |= (rival_x <= x) & (rival_y >= y) & ((rival_x < x) | (rival_y > y))
    return beaten


def trade_front_chance(
    costs: Numbers,
    cost_errors: Numbers,
    gains: Numbers,
    gain_errors: Numbers,
    degrees_of_freedom: Numbers,
    *,
    correlations: Sequence[float] | None = None,
) -> TradeFront:
    """Trade front with the chance that each setting belongs to it.

    Parameters
    ----------
    costs, cost_errors, gains, gain_errors : 1-D of float
        Means and standard errors, one entry a setting.
    degrees_of_freedom : 1-D of float
        Behind the errors of each setting; may be infinite.
    correlations : sequence of float, optional
        Correlation of cost and gain within each setting, -1 to 1. Zero when left out.

    Returns
    -------
    TradeFront

    Raises
    ------
    NotDetermined
        No setting, lengths that differ, negative errors, no degrees of freedom.

    Notes
    -----
    See `front_chance`. A statement about the means, settings taken as independent.

    Examples
    --------
    >>> front = trade_front_chance([100, 150, 155], [1, 1, 1], [50, 70, 69.9], [1, 1, 1], [8, 8, 8])
    >>> front.members, [round(c, 1) for c in front.chance]
    ((0, 1), [1.0, 1.0, 0.5])
    """
    rho = [0.0] * len(costs) if correlations is None else list(correlations)
    if any(abs(value) > 1 for value in rho):
        raise NotDetermined("a correlation lies between -1 and 1")
    chance = front_chance(costs, cost_errors, gains, gain_errors, list(degrees_of_freedom), rho)
    return TradeFront(members=trade_front(costs, gains), chance=chance)
