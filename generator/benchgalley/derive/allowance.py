"""Allowance for comparing several setpoints with one baseline."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from benchgalley.metrology.cells import t_factors
from benchgalley.metrology.sample import Array
from benchgalley.metrology.several_against_baseline import dunnett_critical

from .combining import Sums
from .estimate import Estimate

UNEQUAL_SPREADS = 3.0
"""Largest over smallest standard deviation from which spreads are no longer pooled (rule of thumb, ours)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Adjustment:
    """What several comparisons of one quantity with the baseline have in common."""

    words: str
    """E.g. "Dunnett, 4 settings against stock"."""
    factor: float
    """Multiplies the standard error of each comparison in place of t."""
    degrees_of_freedom: float
    """Of the pooled spread; the number of comparisons where spreads are not pooled."""
    pooled_deviation: float | None
    """Spread pooled over baseline and setpoints; None: each comparison keeps its own."""


def allowance_for(
    base: Estimate, others: Sequence[Estimate], baseline_label: str, confidence_pct: float
) -> Adjustment | None:
    """Allowance for several comparisons with the baseline; None where there is only one, or no spread.

    Spreads of one size are pooled and Dunnett's factor taken (J. Am. Stat. Assoc. 50 (1955) 1096-1121); spreads
    that differ more than threefold keep their own, with Bonferroni's share of the confidence.
    """
    if len(others) < 2 or not any(other.deviation for other in (base, *others)):
        return None
    words = f"{len(others)} settings against {baseline_label}"
    spreads = [(e.deviation, e.count - 1) for e in (base, *others) if e.deviation is not None]
    pooled = pooled_spread(spreads)
    if pooled is None:
        return Adjustment(
            words=f"Bonferroni, {words}", factor=0.0, degrees_of_freedom=float(len(others)), pooled_deviation=None
        )
    deviation, freedom = pooled
    return Adjustment(
        words=f"Dunnett, {words}",
        factor=_dunnett_factor(base.count, tuple(o.count for o in others), freedom, confidence_pct),
        degrees_of_freedom=float(freedom),
        pooled_deviation=deviation,
    )


def pooled_spread(spreads: Sequence[tuple[float, int]]) -> tuple[float, int] | None:
    """(Standard deviation, degrees of freedom) pooled over groups; None where they are not of one size."""
    largest = max((deviation for deviation, _ in spreads), default=0.0)
    if not largest > 0 or largest > UNEQUAL_SPREADS * min(deviation for deviation, _ in spreads):
        return None
    freedom = sum(nu for _, nu in spreads)
    squares = math.fsum(nu * (deviation / largest) ** 2 for deviation, nu in spreads)
    return largest * math.sqrt(squares / freedom), freedom


@lru_cache(maxsize=1024)
def _dunnett_factor(base: int, others: tuple[int, ...], freedom: int, confidence_pct: float) -> float:
    lambdas = [math.sqrt(count / (count + base)) for count in others]
    return dunnett_critical(lambdas, freedom, confidence_pct / 100)


class Allowances:
    """Allowances of many comparisons; every array has one element a comparison."""

    __slots__ = ("_bonferroni", "_factor", "_pooled", "_tail", "_tails", "any")

    def __init__(self, found: Sequence[Adjustment | None], confidence_pct: float) -> None:
        nan = math.nan
        rows = [
            (nan, nan, nan) if a is None
            else (nan, nan, a.degrees_of_freedom) if a.pooled_deviation is None
            else (a.factor, a.pooled_deviation, nan)
            for a in found
        ]  # fmt: skip
        self._factor, self._pooled, comparisons = np.array(rows, dtype=np.float64).reshape(-1, 3).T
        self._bonferroni = ~np.isnan(comparisons)
        self.any = ~np.isnan(self._pooled) | self._bonferroni
        """Whether there are several comparisons."""
        self._tail = (1 - confidence_pct / 100) / 2
        share_pct = 100 - (100 - confidence_pct) / comparisons[self._bonferroni]
        self._tails: Array = (1 - share_pct / 100) / 2

    def widened(self, errors: Array, of: Sums, runs_at: Array, runs_base: Array) -> Array:
        """Contributions that repeats show, times the factors that several comparisons ask for.

        Parameters
        ----------
        errors : 2-D, sources by numbers
            Of the setpoint's runs, of drift, and of the baseline's runs.
        of : Sums
            What they amount to in the comparison: a source that does not bear on it counts only in a pooled spread.
        runs_at, runs_base : array
            Runs on both sides, which a pooled spread is shared among.
        """
        factors = t_factors(self._tail, of.piece_freedoms)
        if self._bonferroni.any():
            factors[:, self._bonferroni] = t_factors(self._tails, of.piece_freedoms[:, self._bonferroni])
        found: Array = np.where(of.repeats != 0, factors, 0.0) * errors
        pooled = ~np.isnan(self._pooled)
        if pooled.any():
            spread = self._pooled / np.sqrt(np.stack([runs_at, runs_base]))
            found[:, pooled] = (self._factor * np.stack([spread[0], errors[1], spread[1]]))[:, pooled]
        return found
