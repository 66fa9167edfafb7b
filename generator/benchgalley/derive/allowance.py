"""Allowance for comparing several setpoints with one baseline."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from benchgalley.metrology.several_against_baseline import dunnett_critical
from benchgalley.records.results import Interval

from . import budget, expanding
from .budget import Combined, Estimate

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


def adjusted_difference(
    value: float, combined: Combined, runs_at: int, runs_base: int, allowance: Adjustment, confidence_pct: float
) -> Interval | None:
    """The adjusted interval of a difference; None without a spread."""
    method = allowance.words + budget.REPEATS_ONLY
    if allowance.pooled_deviation is None:
        share_pct = 100 - (100 - confidence_pct) / allowance.degrees_of_freedom
        found = expanding.two_sided(value, combined, share_pct, repeats_only=True)
        if found is None:
            return None
        return Interval(low=found.low, high=found.high, confidence_pct=confidence_pct, method=method)
    error = math.hypot(
        allowance.pooled_deviation * math.sqrt(1 / runs_at + 1 / runs_base),
        *(term.contribution for term in combined.terms if term.kind == budget.DRIFT),
    )
    half = allowance.factor * error
    if not half > 0:
        return None
    return Interval(low=value - half, high=value + half, confidence_pct=confidence_pct, method=method)
