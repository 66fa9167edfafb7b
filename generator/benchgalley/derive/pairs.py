"""A setpoint beside the baseline: what the two estimates give together."""

import math

from benchgalley.metrology.comparison_by_parts import fieller_by_parts
from benchgalley.metrology.distribution import t_tail
from benchgalley.metrology.ratio_of_means import RatioShape, fieller_ratio
from benchgalley.metrology.sample import NotDetermined
from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Interval

from . import budget, expanding
from .allowance import Adjustment, adjusted_difference, allowance_for, pooled_spread
from .budget import Combined, Estimate, Term, UnknownLimit
from .drifting import drift_term
from .estimating import estimate_at
from .session import Session


class Pair:
    """What a relation is computed from: one quantity at a setpoint, and at the baseline where it needs one.

    Relations of one pair share nearly all of their arithmetic, so each part of it is kept once done.
    """

    __slots__ = ("_difference", "_mean", "_relative", "at", "base", "drift_note", "quantity", "session", "setpoint")

    def __init__(
        self, session: Session, quantity: Quantity, setpoint: str, at: Estimate, base: Estimate | None, note: str = ""
    ) -> None:
        self.session = session
        self.quantity = quantity
        """With the unit it has in this write-up."""
        self.setpoint = setpoint
        self.at = at
        self.base = base
        """None for relations without a baseline. Its runs and the setpoint's never overlap."""
        self.drift_note = note
        """Why drift since the baseline is not in the interval; empty when it is."""
        self._mean: Combined | None = None
        self._difference: Difference | None = None
        self._relative: Relative | None = None

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
        """Whether the repeatability of every side is known."""
        return self.at.repeated and (self.base is None or self.base.repeated)

    @property
    def groups(self) -> budget.Groups:
        """Setpoint and baseline with their run ids."""
        own = (self.at.group, self.at.run_ids)
        return (own,) if self.base is None else (own, (self.base.group, self.base.run_ids))

    def single_run_note(self) -> str:
        """What to say when one side was run once; empty otherwise."""
        sides = [e for e in (self.at, self.base) if e is not None and e.deviation is None]
        once = [e.group for e in sides if not e.borrowed]
        borrowed = dict.fromkeys(e.borrowed for e in sides if e.borrowed)
        unknown = [f"one run at {' and at '.join(once)}: repeatability cannot be determined"] if once else []
        return "; ".join([*unknown, *borrowed])

    @property
    def mean(self) -> Combined:
        """Budget of the setpoint's own mean."""
        if self._mean is None:
            self._mean = Combined(self.at.terms)
        return self._mean

    @property
    def difference(self) -> "Difference":
        """Setpoint less baseline."""
        if self._difference is None:
            self._difference = Difference(self)
        return self._difference

    @property
    def relative(self) -> "Relative":
        """Setpoint over baseline.

        Raises
        ------
        NotDetermined
            The baseline is zero.
        """
        if self._relative is None:
            self._relative = Relative(self)
        return self._relative


def pair(session: Session, quantity: Quantity, setpoint: str, with_baseline: bool) -> Pair:
    """Gather the estimates of one comparison, once.

    Raises
    ------
    NotDetermined
        One side has no value.
    """
    key = ("pair" if with_baseline else "alone", setpoint, quantity.key)
    kept = session.kept.get(key)
    if isinstance(kept, Pair):
        return kept
    at = estimate_at(session, setpoint, quantity.key)
    if not with_baseline:
        both = Pair(session, quantity, setpoint, at, None)
    else:
        base = estimate_at(session, session.write_up.baseline, quantity.key)
        found, note = drift_term(session, quantity, at, base)
        both = Pair(session, quantity, setpoint, at if found is None else at.with_terms([found]), base, note)
    session.kept[key] = both
    return both


FEWEST_BORROWED = 4
"""Degrees of freedom from which other setpoints lend their spread to one that was run once (rule of thumb, ours)."""


def with_borrowed_spread(session: Session, quantity: Quantity, setpoint: str) -> Estimate:
    """Estimate at a setpoint; one that was run once takes the spread pooled over the others, where they agree in it.

    At least two other setpoints must have been run repeatedly, with spreads of one size and four degrees of freedom
    between them (ISO 5725-2, 7.4.5.1: one repeatability for all); one alone could not show that they agree. For
    planning only: one run of a setpoint supports no statement about it.

    Raises
    ------
    NotDetermined
        As `estimate_at`.
    """
    found = estimate_at(session, setpoint, quantity.key)
    if found.deviation is not None:
        return found
    spreads: list[tuple[float, int]] = []
    for other in session.write_up.setpoints:
        try:
            estimate = estimate_at(session, other, quantity.key)
        except NotDetermined:
            continue
        if estimate.deviation is not None:
            spreads.append((estimate.deviation, estimate.count - 1))
    pooled = pooled_spread(spreads)
    if pooled is None or len(spreads) < 2 or pooled[1] < FEWEST_BORROWED:
        return found
    deviation, freedom = pooled
    note = f"one run at {found.group}: its repeatability is that of {len(spreads)} other setpoints together"
    term = Term(
        f"repeatability of {quantity.name} at {found.group}", budget.REPEATABILITY, deviation, float(freedom),
        f"one run at {found.group}, s = {budget.figure(deviation)} pooled over {len(spreads)} other setpoints",
    )  # fmt: skip
    return found.with_terms([term], f"{note} ({freedom} degrees of freedom)")


class Difference:
    """Setpoint less baseline: budget and intervals."""

    __slots__ = ("adjusted", "combined", "interval", "plain_repeats", "repeats", "value")

    def __init__(self, both: Pair) -> None:
        at, base = both.at, both.baseline
        self.value = at.value - base.value
        self.combined = found = Combined(budget.merge(at, base, 1.0, -1.0))
        self.interval: Interval | None = None
        self.repeats: Interval | None = None
        self.plain_repeats: Interval | None = None
        """Not adjusted for several comparisons."""
        self.adjusted = ""
        """How the repeats' interval allows for several comparisons."""
        if not both.repeated:
            return
        pct = both.confidence_pct
        self.interval = expanding.two_sided(self.value, found, pct)
        self.plain_repeats = self.repeats = expanding.two_sided(self.value, found, pct, repeats_only=True)
        allowance = adjustment(both)
        if allowance is None:
            return
        adjusted = adjusted_difference(self.value, found, at.count, base.count, allowance, pct)
        if adjusted is not None:
            self.repeats, self.adjusted = adjusted, allowance.words


class Relative:
    """Setpoint over baseline: budget and intervals of the ratio."""

    __slots__ = ("adjusted", "combined", "interval", "percent", "repeats", "unbounded", "value")

    def __init__(self, both: Pair) -> None:
        at, base = both.at, both.baseline
        if base.value == 0 or not math.isfinite(1 / base.value):
            raise NotDetermined("the baseline is zero, so nothing can be said in proportion to it")
        self.value = at.value / base.value
        if not math.isfinite(self.value):
            raise NotDetermined("the values are too large to compute with")
        terms = ratio_terms(at, base, 1.0)
        self.combined = Combined(terms)
        self.percent = self.combined.scaled(100.0)
        self.interval: Interval | None = None
        self.repeats: Interval | None = None
        self.adjusted = ""
        self.unbounded = False
        if not both.repeated:
            return
        pct = both.confidence_pct
        # a relative error common to both sides leaves the ratio alone, so it stays out of both variances
        cancelled = frozenset(term.name for term in terms if term.contribution == 0.0)
        self.interval = fieller(_side(at, cancelled), _side(base, cancelled), pct, budget.FIELLER_METHOD)
        self.unbounded = self.interval is not None and self.interval.low is None and self.interval.high is None
        allowance = adjustment(both)
        if allowance is not None:
            self.repeats = _adjusted_ratio(at, base, allowance, pct)
            self.adjusted = allowance.words if self.repeats is not None else ""
        if self.repeats is None:
            self.repeats = fieller(
                Side(at.value, _repeats(at.terms)), Side(base.value, _repeats(base.terms)), pct, REPEATS_FIELLER
            )


REPEATS_FIELLER = budget.FIELLER_METHOD + budget.REPEATS_ONLY


class Side:
    """One side of a ratio with the terms that bear on it."""

    __slots__ = ("combined", "value")

    def __init__(self, value: float, terms: tuple[Term, ...]) -> None:
        self.value = value
        self.combined = Combined(terms)


def _side(estimate: Estimate, cancelled: frozenset[str]) -> Side:
    return Side(estimate.value, tuple([term for term in estimate.terms if term.name not in cancelled]))


def _repeats(terms: tuple[Term, ...]) -> tuple[Term, ...]:
    return tuple([term for term in terms if term.kind in budget.FROM_REPEATS])


def fieller(
    at: Side, base: Side, confidence_pct: float, method: str, degrees_of_freedom: float | None = None
) -> Interval | None:
    """Fieller's set for at / base; a source both share (offset of one channel) bears on both with its sign.

    Every source keeps the t of its piece (`fieller_by_parts`), or all have that of the degrees of freedom given.
    """
    a, b = at.combined, base.combined
    if a.standard_uncertainty == 0 and b.standard_uncertainty == 0:
        return None
    in_a, in_b = ({term.name: term.contribution for term in side.terms} for side in (a, b))
    freedoms = {term.name: term.degrees_of_freedom for term in (*b.terms, *a.terms)}
    parts_a, parts_b = ([side.get(name, 0.0) for name in freedoms] for side in (in_a, in_b))
    confidence = confidence_pct / 100
    if degrees_of_freedom is None:
        found = fieller_by_parts(at.value, parts_a, base.value, parts_b, list(freedoms.values()), confidence)
    else:
        shared = math.fsum([x * y for x, y in zip(parts_a, parts_b, strict=True)])
        found = fieller_ratio(
            at.value, a.standard_uncertainty, a.degrees_of_freedom, base.value, b.standard_uncertainty,
            b.degrees_of_freedom, confidence, covariance=shared, degrees_of_freedom=degrees_of_freedom,
        )  # fmt: skip
    if found.shape is not RatioShape.BOUNDED:
        return Interval(
            low=None, high=None, confidence_pct=confidence_pct,
            method=f"{method}: unbounded, the baseline is not clearly different from zero",
        )  # fmt: skip
    return Interval(low=found.low, high=found.high, confidence_pct=confidence_pct, method=method)


def ratio_terms(at: Estimate, base: Estimate, scale: float) -> tuple[Term, ...]:
    """Terms of scale · at / base to first order; relative errors that both share cancel."""
    ratio = at.value / base.value
    return budget.merge(at, base, scale / base.value, -scale * ratio / base.value)


def unknown_limits(both: Pair, cancelled: str) -> tuple[UnknownLimit, ...]:
    """Limits not stated and not cancelled: an unknown gain is harmless in a ratio, an offset in a difference."""
    base = both.base.unknown if both.base is not None else ()
    return tuple(limit for limit in {*both.at.unknown, *base} if limit.kind != cancelled)


def shifted(interval: Interval | None, factor: float, shift: float) -> Interval | None:
    """factor · interval + shift; a negative factor swaps the ends."""
    if interval is None:
        return None
    low = None if interval.low is None else factor * interval.low + shift
    high = None if interval.high is None else factor * interval.high + shift
    if factor < 0:
        low, high = high, low
    return Interval(low=low, high=high, confidence_pct=interval.confidence_pct, method=interval.method)


def adjustment(both: Pair) -> Adjustment | None:
    """The allowance for several comparisons of this quantity with the baseline, found once."""
    session, key = both.session, ("allowance", both.quantity.key)
    if key not in session.kept:
        others: list[Estimate] = []
        for name in session.write_up.setpoints:
            if name == session.write_up.baseline:
                continue
            try:
                others.append(estimate_at(session, name, both.quantity.key))
            except NotDetermined:
                continue
        label = session.label(session.write_up.baseline)
        session.kept[key] = allowance_for(both.baseline, others, label, session.confidence_pct)
    found = session.kept[key]
    return found if isinstance(found, Adjustment) else None


def _adjusted_ratio(at: Estimate, base: Estimate, allowance: Adjustment, confidence_pct: float) -> Interval | None:
    """The adjusted interval of a ratio: Fieller at the confidence the adjusted factor stands for."""
    terms_at, terms_base = _repeats(at.terms), _repeats(base.terms)
    freedom = None
    if allowance.pooled_deviation is None:
        share_pct = 100 - (100 - confidence_pct) / allowance.degrees_of_freedom
    else:
        freedom = allowance.degrees_of_freedom
        share_pct = 100 * (1 - 2 * t_tail(allowance.factor, freedom))
        terms_at = _pooled(terms_at, allowance.pooled_deviation / math.sqrt(at.count))
        terms_base = _pooled(terms_base, allowance.pooled_deviation / math.sqrt(base.count))
    method = f"{allowance.words}, {REPEATS_FIELLER}"
    found = fieller(Side(at.value, terms_at), Side(base.value, terms_base), share_pct, method, freedom)
    if found is None:
        return None
    return Interval(low=found.low, high=found.high, confidence_pct=confidence_pct, method=found.method)


def _pooled(terms: tuple[Term, ...], error: float) -> tuple[Term, ...]:
    """The terms with the pooled spread in place of a side's own."""
    return tuple([term.of(error) if term.kind == budget.REPEATABILITY else term for term in terms])
