"""What relations are built from: drafts of means, differences, ratios and bounds with all that must be said."""

import math
from dataclasses import replace

from benchgalley.metrology.sample import NotDetermined
from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Interval
from benchgalley.records.units import Unit

from . import budget
from .budget import Draft, Term
from .estimating import with_unit
from .pairs import (
    Pair,
    adjusted_difference,
    adjusted_ratio,
    adjustment,
    fieller,
    from_repeats,
    ratio_terms,
    shifted,
    unknown_limits,
)


def difference_unit(quantity: Quantity) -> Unit:
    """Unit of differences: kelvin for temperatures in degrees Celsius."""
    return quantity.difference_unit or quantity.unit


def interval_draft(both: Pair, value: float, terms: tuple[Term, ...], substitution: str) -> Draft:
    repeated = both.repeated
    u, dof = budget.uncertainty(terms)
    plain = all(term.kind == budget.REPEATABILITY for term in terms)
    method = budget.T_METHOD if plain and both.base is None else budget.WELCH_METHOD
    return Draft(
        value=value,
        terms=terms,
        standard_uncertainty=u if u > 0 else None,
        degrees_of_freedom=dof if u > 0 else None,
        interval=budget.two_sided(value, u, dof, both.confidence_pct, method) if repeated else None,
        repeatability_interval=repeats_interval(both, terms, value, method) if repeated else None,
        groups=both.groups,
        substitution=substitution,
        reason=limits_said(both, budget.OFFSET if both.base is not None else "", no_spread=repeated and not u > 0),
        decimals=typed_decimals(both),
    )


def difference_draft(both: Pair, sign: float) -> Draft:
    at, base = both.at, both.baseline
    terms = budget.merge(at, base, sign, -sign)
    value = sign * (at.value - base.value)
    first, second = (at, base) if sign > 0 else (base, at)
    words = f"{value_text(both, first.value)} \u2212 {value_text(both, second.value)}"
    found = interval_draft(both, value, terms, words)
    allowance = adjustment(both) if both.repeated else None
    if allowance is None:
        return found
    interval = adjusted_difference(both, terms, allowance, value)
    return _replaced(found, interval, allowance.words)


def relative_draft(both: Pair, scale: float, shift: float, words: str) -> Draft:
    """scale · at / base + shift, with Fieller's interval."""
    at, base = both.at, both.baseline
    refuse_zero(base.value)
    terms = ratio_terms(at, base, scale)
    # subtract first where the shift would cancel digits
    value = scale * at.value / base.value if not shift else scale * ((at.value - base.value) / base.value)
    u, dof = budget.uncertainty(terms)
    interval = repeats = None
    if both.repeated:
        interval = shifted(fieller(both, terms, 1.0, both.confidence_pct, only_repeats=False), scale, shift)
        repeats = shifted(fieller(both, terms, 1.0, both.confidence_pct, only_repeats=True), scale, shift)
    unbounded = interval is not None and interval.low is None and interval.high is None
    found = Draft(
        value=value,
        terms=terms,
        standard_uncertainty=u if u > 0 else None,
        degrees_of_freedom=dof if u > 0 else None,
        interval=interval,
        repeatability_interval=repeats,
        groups=both.groups,
        substitution=words.format(at=value_text(both, at.value), base=value_text(both, base.value)),
        reason=limits_said(both, budget.GAIN, no_spread=both.repeated and not u > 0, unbounded=unbounded),
        decimals=None,
    )
    allowance = adjustment(both) if both.repeated else None
    if allowance is None:
        return found
    return _replaced(found, shifted(adjusted_ratio(both, terms, allowance, 1.0), scale, shift), allowance.words)


def _replaced(found: Draft, adjusted: Interval | None, words: str) -> Draft:
    if adjusted is None:
        return found
    return replace(found, repeatability_interval=adjusted, adjusted=words)


def bound_draft(both: Pair, side: float) -> Draft:
    at = both.at
    if not both.repeated:
        raise NotDetermined(both.single_run_note())
    u, dof = budget.uncertainty(at.terms)
    if not u > 0:
        raise NotDetermined("every run gave the same value: the spread cannot be estimated")
    half = budget.one_sided_half_width(u, dof, both.confidence_pct)
    bound = at.value + side * half
    method = f"one-sided {budget.WELCH_METHOD}"
    return Draft(
        value=bound,
        terms=at.terms,
        standard_uncertainty=u,
        degrees_of_freedom=dof,
        interval=Interval(
            low=None if side > 0 else bound,
            high=bound if side > 0 else None,
            confidence_pct=both.confidence_pct,
            method=method,
        ),
        groups=both.groups,
        substitution=f"{value_text(both, at.value)} {'+' if side > 0 else chr(0x2212)} {budget.figure(half / u, 4)} × "
        f"{budget.figure(u, 4)}",
        reason=limits_said(both, ""),
        spread_for_printing=half,
    )


def repeats_interval(both: Pair, terms: tuple[Term, ...], value: float, method: str) -> Interval | None:
    u, dof = budget.uncertainty(from_repeats(terms))
    return budget.two_sided(value, u, dof, both.confidence_pct, method + budget.REPEATS_ONLY)


def limits_said(both: Pair, cancelled: str, *, no_spread: bool = False, unbounded: bool = False) -> str:
    parts = [both.single_run_note()]
    if no_spread:
        parts.append("every run gave the same value: the spread cannot be estimated")
    if unbounded:
        parts.append("the interval is unbounded: the baseline is not clearly different from zero")
    parts.append(budget.say_unknown(unknown_limits(both, cancelled)))
    parts.append(both.drift_note)
    return "; ".join(part for part in parts if part)


def refuse_zero(value: float) -> None:
    if value == 0 or not math.isfinite(1 / value):
        raise NotDetermined("the baseline is zero, so nothing can be said in proportion to it")


def value_text(both: Pair, value: float) -> str:
    return with_unit(budget.figure(value), both.quantity.unit)


def typed_decimals(both: Pair) -> int | None:
    places = [e.typed_decimals for e in (both.at, both.base) if e is not None]
    known = [place for place in places if place is not None]
    return max(known) if len(known) == len(places) else None
