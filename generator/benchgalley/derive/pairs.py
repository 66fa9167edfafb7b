"""A setpoint beside the baseline: what the two estimates give together."""

import math
from dataclasses import dataclass, replace
from functools import lru_cache

from benchgalley.metrology.distribution import t_tail
from benchgalley.metrology.ratio_of_means import Ratio, RatioShape, fieller_ratio
from benchgalley.metrology.repeatability import pooled_standard_deviation
from benchgalley.metrology.sample import NotDetermined
from benchgalley.metrology.several_against_baseline import dunnett_critical
from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Interval

from . import budget
from .budget import Estimate, Term, UnknownLimit
from .drifting import drift_term
from .estimating import estimate_at
from .session import Session

UNEQUAL_SPREADS = 3.0
"""Largest over smallest standard deviation from which spreads are no longer pooled (rule of thumb, ours)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Adjustment:
    """Allowance for comparing several setpoints with one baseline."""

    words: str
    """E.g. "Dunnett, 4 settings against stock"."""
    factor: float
    """Multiplies the standard error of each comparison in place of t."""
    degrees_of_freedom: float
    pooled_deviation: float | None
    """Spread pooled over baseline and setpoints; None: each comparison keeps its own."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Pair:
    """What a relation is computed from: one quantity at a setpoint, and at the baseline where it needs one."""

    session: Session
    quantity: Quantity
    """With the unit it has in this write-up."""
    setpoint: str
    at: Estimate
    base: Estimate | None
    """None for relations without a baseline. Its runs and the setpoint's never overlap."""
    drift_note: str = ""
    """Why drift since the baseline is not in the interval; empty when it is."""

    @property
    def baseline(self) -> Estimate:
        """The baseline's estimate where the relation needs one."""
        if self.base is None:
            raise NotDetermined("there is no baseline to compare with")
        return self.base

    @property
    def confidence_pct(self) -> float:
        """Confidence of the site, percent."""
        return self.session.confidence_pct

    @property
    def repeated(self) -> bool:
        """Whether every side has at least two runs."""
        return self.at.deviation is not None and (self.base is None or self.base.deviation is not None)

    @property
    def groups(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Setpoint and baseline with their run ids."""
        own = ((self.at.group, self.at.run_ids),)
        return own if self.base is None else (*own, (self.base.group, self.base.run_ids))

    def single_run_note(self) -> str:
        """What to say when one side was run once; empty otherwise."""
        once = [e.group for e in (self.at, self.base) if e is not None and e.deviation is None]
        if not once:
            return ""
        return f"one run at {' and at '.join(once)}: repeatability cannot be determined"


def pair(session: Session, quantity: Quantity, setpoint: str, with_baseline: bool) -> Pair:
    """Gather the estimates of one comparison.

    Raises
    ------
    NotDetermined
        One side has no value.
    """
    at = estimate_at(session, setpoint, quantity.key)
    if not with_baseline:
        return Pair(session=session, quantity=quantity, setpoint=setpoint, at=at, base=None)
    kept = session.kept.get(("pair", setpoint, quantity.key))
    if isinstance(kept, Pair):
        return kept
    base = estimate_at(session, session.write_up.baseline, quantity.key)
    found, note = drift_term(session, quantity, at, base)
    both = Pair(
        session=session,
        quantity=quantity,
        setpoint=setpoint,
        at=at if found is None else at.with_terms([found]),
        base=base,
        drift_note=note,
    )
    session.kept["pair", setpoint, quantity.key] = both
    return both


def from_repeats(terms: tuple[Term, ...]) -> tuple[Term, ...]:
    """The contributions that repeats themselves show."""
    return budget.of_kinds(terms, budget.REPEATABILITY, budget.DRIFT)


def unknown_limits(both: Pair, cancelled: str) -> tuple[UnknownLimit, ...]:
    """Limits not stated and not cancelled: an unknown gain is harmless in a ratio, an offset in a difference."""
    base = both.base.unknown if both.base is not None else ()
    return tuple(limit for limit in {*both.at.unknown, *base} if limit.kind != cancelled)


def ratio_terms(at: Estimate, base: Estimate, scale: float) -> tuple[Term, ...]:
    """Terms of scale · at / base to first order; relative errors that both share cancel."""
    ratio = at.value / base.value
    return budget.merge(at, base, scale / base.value, -scale * ratio / base.value)


def fieller(
    both: Pair,
    terms: tuple[Term, ...],
    scale: float,
    confidence_pct: float,
    only_repeats: bool,
    degrees_of_freedom: float | None = None,
) -> Interval | None:
    """Fieller's set for scale · at / base over the terms that do not cancel in the ratio.

    A relative error common to both sides leaves the ratio alone, so it stays out of both variances; what
    else both share (offset of one channel) enters as covariance.
    """  # fmt: skip
    at, base = both.at, both.baseline
    wanted = {t.name for t in (from_repeats(terms) if only_repeats else terms) if t.contribution != 0.0}
    in_at = {t.name: t for t in at.terms if t.name in wanted}
    in_base = {t.name: t for t in base.terms if t.name in wanted}
    u_at, dof_at = budget.uncertainty(tuple(in_at.values()))
    u_base, dof_base = budget.uncertainty(tuple(in_base.values()))
    if u_at == 0 and u_base == 0:
        return None
    shared = math.fsum(t.contribution * in_base[n].contribution for n, t in in_at.items() if n in in_base)
    if degrees_of_freedom is None and shared:
        degrees_of_freedom = budget.uncertainty(tuple(t for t in terms if t.name in wanted))[1]
    found = fieller_ratio(
        at.value, u_at, dof_at, base.value, u_base, dof_base, confidence_pct / 100,
        covariance=shared, degrees_of_freedom=degrees_of_freedom,
    )  # fmt: skip
    return _scaled_set(found, scale, confidence_pct, only_repeats)


def _scaled_set(found: Ratio, scale: float, confidence_pct: float, only_repeats: bool) -> Interval:
    method = budget.FIELLER_METHOD + (budget.REPEATS_ONLY if only_repeats else "")
    if found.shape is not RatioShape.BOUNDED:
        return Interval(
            low=None, high=None, confidence_pct=confidence_pct,
            method=f"{method}: unbounded, the baseline is not clearly different from zero",
        )  # fmt: skip
    low = None if found.low is None else found.low * scale
    high = None if found.high is None else found.high * scale
    return Interval(low=low, high=high, confidence_pct=confidence_pct, method=method)


def shifted(interval: Interval | None, factor: float, shift: float) -> Interval | None:
    """factor · interval + shift; a negative factor swaps the ends."""
    if interval is None:
        return None
    ends = [None if end is None else factor * end + shift for end in (interval.low, interval.high)]
    low, high = ends if factor >= 0 else ends[::-1]
    return replace(interval, low=low, high=high)


def adjustment(both: Pair) -> Adjustment | None:
    """The allowance for several comparisons of this quantity, computed once: see `_allowance`."""
    key = ("allowance", both.quantity.key)
    if key not in both.session.kept:
        both.session.kept[key] = _allowance(both)
    found = both.session.kept[key]
    return found if isinstance(found, Adjustment) else None


def _allowance(both: Pair) -> Adjustment | None:
    """Allowance for several comparisons with the baseline; None where there is only one, or no spread.

    Spreads of one size are pooled and Dunnett's factor taken (J. Am. Stat. Assoc. 50 (1955) 1096-1121); spreads
    that differ more than threefold keep their own, with Bonferroni's share of the confidence.
    """
    session, base = both.session, both.baseline
    others: list[Estimate] = []
    for name in session.write_up.setpoints:
        if name == session.write_up.baseline:
            continue
        try:
            others.append(estimate_at(session, name, both.quantity.key))
        except NotDetermined:
            continue
    if len(others) < 2 or not any(other.deviation for other in (base, *others)):
        return None
    words = f"{len(others)} settings against {session.label(session.write_up.baseline)}"
    spreads = [e.deviation for e in (base, *others) if e.deviation is not None]
    if max(spreads) > UNEQUAL_SPREADS * min(spreads):
        return Adjustment(
            words=f"Bonferroni, {words}", factor=0.0, degrees_of_freedom=float(len(others)), pooled_deviation=None
        )
    deviation, freedom = pooled_standard_deviation([e.per_run for e in (base, *others)])
    factor = _dunnett_factor(base.count, tuple(o.count for o in others), freedom, session.confidence_pct)
    return Adjustment(
        words=f"Dunnett, {words}",
        factor=factor,
        degrees_of_freedom=float(freedom),
        pooled_deviation=deviation,
    )


@lru_cache(maxsize=1024)
def _dunnett_factor(base: int, others: tuple[int, ...], freedom: int, confidence_pct: float) -> float:
    lambdas = [math.sqrt(count / (count + base)) for count in others]
    return dunnett_critical(lambdas, freedom, confidence_pct / 100)


def adjusted_difference(both: Pair, terms: tuple[Term, ...], allowance: Adjustment, value: float) -> Interval | None:
    """The adjusted interval of a difference."""
    method = allowance.words + budget.REPEATS_ONLY
    if allowance.pooled_deviation is None:
        share_pct = 100 - (100 - both.confidence_pct) / allowance.degrees_of_freedom
        u, dof = budget.uncertainty(from_repeats(terms))
        found = budget.two_sided(value, u, dof, share_pct, method)
        return None if found is None else replace(found, confidence_pct=both.confidence_pct)
    error = math.hypot(
        allowance.pooled_deviation * math.sqrt(1 / both.at.count + 1 / both.baseline.count),
        *(term.contribution for term in budget.of_kinds(terms, budget.DRIFT)),
    )
    half = allowance.factor * error
    if not half > 0:
        return None
    return Interval(low=value - half, high=value + half, confidence_pct=both.confidence_pct, method=method)


def adjusted_ratio(both: Pair, terms: tuple[Term, ...], allowance: Adjustment, scale: float) -> Interval | None:
    """The adjusted interval of a ratio: Fieller at the confidence the adjusted factor stands for."""
    if allowance.pooled_deviation is None:
        share_pct = 100 - (100 - both.confidence_pct) / allowance.degrees_of_freedom
        found = fieller(both, terms, scale, share_pct, only_repeats=True)
    else:
        freedom = allowance.degrees_of_freedom
        share_pct = 100 * (1 - 2 * t_tail(allowance.factor, freedom))
        found = fieller(_pooled(both, allowance), terms, scale, share_pct, True, freedom)
    if found is None:
        return None
    method = f"{allowance.words}, {found.method}"
    return replace(found, confidence_pct=both.confidence_pct, method=method)


def _pooled(both: Pair, allowance: Adjustment) -> Pair:
    """The pair with the pooled spread in place of each side's own."""

    def pooled(estimate: Estimate) -> Estimate:
        spread = (allowance.pooled_deviation or 0.0) / math.sqrt(estimate.count)
        return replace(
            estimate,
            terms=tuple(t.of(spread) if t.kind == budget.REPEATABILITY else t for t in estimate.terms),
        )

    return replace(both, at=pooled(both.at), base=pooled(both.baseline))
