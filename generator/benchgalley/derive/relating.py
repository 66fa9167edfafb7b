"""What relations are built from: drafts of means, differences, ratios and bounds with all that must be said."""

from benchgalley.metrology.sample import NotDetermined
from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Interval
from benchgalley.records.units import Unit

from . import budget, expanding
from .budget import Combined, Draft, Estimate
from .estimating import with_unit
from .pairs import Pair, shifted, unknown_limits
from .shape import shape_said

NO_SPREAD = "every run gave the same value: the spread cannot be estimated"
UNBOUNDED = "the interval is unbounded: the baseline is not clearly different from zero"


def difference_unit(quantity: Quantity) -> Unit:
    """Unit of differences: kelvin for temperatures in degrees Celsius."""
    return quantity.difference_unit or quantity.unit


def mean_draft(both: Pair) -> Draft:
    """The setpoint's own mean."""
    at, found = both.at, both.mean
    interval = repeats = None
    if both.repeated:
        pct = both.confidence_pct
        interval = expanding.two_sided(at.value, found, pct)
        repeats = expanding.two_sided(at.value, found, pct, repeats_only=True)
    return Draft(
        value=at.value,
        combined=found,
        standard_uncertainty=found.standard_uncertainty or None,
        degrees_of_freedom=found.degrees_of_freedom if found.standard_uncertainty else None,
        interval=interval,
        repeatability_interval=repeats,
        groups=both.groups,
        substitution=at.working_of,
        reason=lambda: _with_shape(
            at, limits_said(both, "", no_spread=at.deviation is not None and not found.standard_uncertainty)
        ),
        decimals=lambda: typed_decimals(both),
    )


def _with_shape(at: Estimate, words: str) -> str:
    shape = shape_said(at.per_run, at.typed_decimals) if at.column else ""
    return "; ".join(part for part in (shape, words) if part)


def difference_draft(both: Pair, sign: float) -> Draft:
    """Setpoint less baseline, or the other way round with sign -1."""
    found = both.difference
    u = found.combined.standard_uncertainty

    def words() -> str:
        first, second = (both.at, both.baseline) if sign > 0 else (both.baseline, both.at)
        return f"{value_text(both, first.value)} \u2212 {value_text(both, second.value)}"

    return Draft(
        value=sign * found.value,
        combined=found.combined,
        standard_uncertainty=u or None,
        degrees_of_freedom=found.combined.degrees_of_freedom if u else None,
        interval=found.interval if sign > 0 else shifted(found.interval, -1.0, 0.0),
        repeatability_interval=found.repeats if sign > 0 else shifted(found.repeats, -1.0, 0.0),
        groups=both.groups,
        substitution=words,
        reason=lambda: limits_said(both, budget.OFFSET, no_spread=both.repeated and not u > 0),
        adjusted=found.adjusted,
        decimals=lambda: typed_decimals(both),
    )


def relative_draft(both: Pair, scale: float, shift: float, words: str) -> Draft:
    """scale · at / base + shift, with Fieller's interval."""
    found = both.relative
    at, base = both.at, both.baseline
    # subtract first where the shift would cancel digits
    value = scale * at.value / base.value if not shift else scale * ((at.value - base.value) / base.value)
    combined = _scaled(found.combined, found.percent, scale)
    u = combined.standard_uncertainty
    plain = scale == 1.0 and not shift
    return Draft(
        value=value,
        combined=combined,
        standard_uncertainty=u or None,
        degrees_of_freedom=combined.degrees_of_freedom if u else None,
        interval=found.interval if plain else shifted(found.interval, scale, shift),
        repeatability_interval=found.repeats if plain else shifted(found.repeats, scale, shift),
        groups=both.groups,
        substitution=lambda: words.format(at=value_text(both, at.value), base=value_text(both, base.value)),
        reason=lambda: limits_said(both, budget.GAIN, no_spread=both.repeated and not u > 0, unbounded=found.unbounded),
        adjusted=found.adjusted,
    )


def _scaled(ratio: Combined, percent: Combined, scale: float) -> Combined:
    return percent if abs(scale) == 100.0 else ratio.scaled(abs(scale)) if abs(scale) != 1.0 else ratio


def bound_draft(both: Pair, side: float) -> Draft:
    """One-sided bound of the mean: upper with side 1, lower with side -1."""
    at = both.at
    if not both.repeated:
        raise NotDetermined(both.single_run_note())
    u, dof = both.mean.standard_uncertainty, both.mean.degrees_of_freedom
    if not u > 0:
        raise NotDetermined(NO_SPREAD)
    half, method = expanding.bound_of_mean(both.mean, both.confidence_pct)
    bound = at.value + side * half
    return Draft(
        value=bound,
        combined=both.mean,
        standard_uncertainty=u,
        degrees_of_freedom=dof,
        interval=Interval(
            low=None if side > 0 else bound,
            high=bound if side > 0 else None,
            confidence_pct=both.confidence_pct,
            method=method,
        ),
        groups=both.groups,
        substitution=lambda: (
            f"{value_text(both, at.value)} {'+' if side > 0 else chr(0x2212)} "
            f"{budget.figure(half / u, 4)} × {budget.figure(u, 4)}"
        ),
        reason=lambda: limits_said(both, ""),
        spread_for_printing=half,
    )


def limits_said(both: Pair, cancelled: str, *, no_spread: bool = False, unbounded: bool = False) -> str:
    """Everything that must be said with a number of this pair, in one sentence."""
    parts = [both.single_run_note()]
    if no_spread:
        parts.append(NO_SPREAD)
    if unbounded:
        parts.append(UNBOUNDED)
    parts.append(budget.say_unknown(unknown_limits(both, cancelled)))
    parts.append(both.drift_note)
    return "; ".join(part for part in parts if part)


def value_text(both: Pair, value: float) -> str:
    """A value of the pair's quantity inside a working."""
    return with_unit(budget.figure(value), both.quantity.unit)


def typed_decimals(both: Pair) -> int | None:
    """Decimals as typed in the trials file, where every value was typed."""
    places = [e.typed_decimals for e in (both.at, both.base) if e is not None]
    known = [place for place in places if place is not None]
    return max(known) if len(known) == len(places) else None
