"""What relations are built from: drafts of means, differences, ratios and bounds with all that must be said."""

from benchgalley.metrology.sample import NotDetermined
from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Interval
from benchgalley.records.units import Unit

from . import budget
from .budget import Draft
from .combining import METHODS
from .estimate import Estimate
from .pairs import REPEATS_FIELLER, Pair, PairBudget
from .shape import shape_said
from .sheet import NO_SPREAD, Cell

UNBOUNDED = "the interval is unbounded: the baseline is not clearly different from zero"


def difference_unit(quantity: Quantity) -> Unit:
    """Unit of differences: kelvin for temperatures in degrees Celsius."""
    return quantity.difference_unit or quantity.unit


def mean_draft(both: Pair) -> Draft:
    """The setpoint's own mean."""
    at, cell = both.at, both.cell("")
    u = known_figure(cell.standard_uncertainty)
    return Draft(
        value=cell.value,
        combined=PairBudget(both, ""),
        standard_uncertainty=u,
        degrees_of_freedom=known_figure(cell.degrees_of_freedom),
        interval=both.interval(cell),
        repeatability_interval=both.repeats(cell),
        groups=both.groups,
        substitution=at.working_of,
        reason=lambda: _with_shape(at, limits_said(both, "", no_spread=at.deviation is not None and not u)),
        decimals=lambda: typed_decimals(both),
    )


def known_figure(figure: float) -> float | None:
    """The figure, or None for what is no number."""
    return figure if figure == figure else None


def _with_shape(at: Estimate, words: str) -> str:
    shape = shape_said(at.per_run, at.typed_decimals) if at.column else ""
    return "; ".join(part for part in (shape, words) if part)


def difference_draft(both: Pair, relation: str) -> Draft:
    """Setpoint less baseline, or the other way round."""
    cell = both.cell(relation)
    u = known_figure(cell.standard_uncertainty)

    def words() -> str:
        at, base = both.at_text, both.base_text
        return f"{at} \u2212 {base}" if relation == "change" else f"{base} \u2212 {at}"

    return Draft(
        value=cell.value,
        combined=PairBudget(both, relation),
        standard_uncertainty=u,
        degrees_of_freedom=known_figure(cell.degrees_of_freedom),
        interval=both.interval(cell),
        repeatability_interval=difference_repeats(both, cell),
        groups=both.groups,
        substitution=words,
        reason=lambda: limits_said(both, budget.OFFSET, no_spread=both.repeated and not u),
        adjusted=both.adjusted(cell),
        decimals=lambda: typed_decimals(both),
    )


def difference_repeats(both: Pair, cell: Cell) -> Interval | None:
    """A difference's interval from repeats alone, adjusted where there are several comparisons."""
    return both.repeats(cell, adjusted_method="{allowance}" + budget.REPEATS_ONLY)


def relative_draft(both: Pair, relation: str, words: str) -> Draft:
    """Something in proportion to the baseline, with Fieller's interval."""
    cell = both.cell(relation)
    u = known_figure(cell.standard_uncertainty)
    return Draft(
        value=cell.value,
        combined=PairBudget(both, relation),
        standard_uncertainty=u,
        degrees_of_freedom=known_figure(cell.degrees_of_freedom),
        interval=both.interval(cell, budget.FIELLER_METHOD),
        repeatability_interval=both.repeats(cell, REPEATS_FIELLER, "{allowance}, " + REPEATS_FIELLER),
        groups=both.groups,
        substitution=lambda: words.format(at=both.at_text, base=both.base_text),
        reason=lambda: limits_said(
            both, budget.GAIN, no_spread=both.repeated and not u, unbounded=cell.unbounded
        ),
        adjusted=both.adjusted(cell),
    )  # fmt: skip


def fan_draft(both: Pair, relation: str) -> Draft:
    """The change of sound that the fan law lets one expect."""
    cell = both.cell(relation)
    at, base = both.at, both.baseline
    note = "" if both.repeated else both.single_run_note
    return Draft(
        value=cell.value,
        combined=PairBudget(both, relation),
        standard_uncertainty=known_figure(cell.standard_uncertainty),
        degrees_of_freedom=known_figure(cell.degrees_of_freedom),
        interval=both.interval(cell),
        repeatability_interval=both.repeats(cell),
        groups=both.groups,
        substitution=lambda: f"50 × log10({budget.figure(at.value)} / {budget.figure(base.value)})",
        reason=f"{FAN_LAW_LIMITS}; {note}" if note else FAN_LAW_LIMITS,
    )


FAN_LAW_LIMITS = (
    "an estimate by the fan law: it knows nothing of bearings, coils, resonance or the rest of the computer"
)


def bound_draft(both: Pair, relation: str) -> Draft:
    """One-sided bound of the mean."""
    if not both.repeated:
        raise NotDetermined(both.single_run_note)
    cell = both.cell(relation)
    bound, u, upper = cell.value, cell.standard_uncertainty, relation == "at-most"
    half = cell.half_width
    return Draft(
        value=bound,
        combined=PairBudget(both, relation),
        standard_uncertainty=u,
        degrees_of_freedom=cell.degrees_of_freedom,
        interval=Interval(
            low=None if upper else bound,
            high=bound if upper else None,
            confidence_pct=both.confidence_pct,
            method=f"one-sided {METHODS[cell.method]}",
        ),
        groups=both.groups,
        substitution=lambda: (
            f"{both.at_text} {'+' if upper else chr(0x2212)} {budget.figure(half / u, 4)} × {budget.figure(u, 4)}"
        ),
        reason=lambda: limits_said(both, ""),
        spread_for_printing=half,
    )


def limits_said(both: Pair, cancelled: str, *, no_spread: bool = False, unbounded: bool = False) -> str:
    """Everything that must be said with a number of this pair, in one sentence.

    `cancelled`: the kind of limit that is harmless though unknown: a gain in a ratio, an offset in a difference.
    """
    parts = [
        both.single_run_note,
        NO_SPREAD if no_spread else "",
        UNBOUNDED if unbounded else "",
        *[sentence for kind, sentence in both.unknown if kind != cancelled],
        both.drift_note,
    ]
    return "; ".join([part for part in parts if part])


def typed_decimals(both: Pair) -> int | None:
    """Decimals as typed in the trials file, where every value was typed."""
    places = [e.typed_decimals for e in (both.at, both.base) if e is not None]
    known = [place for place in places if place is not None]
    return max(known) if len(known) == len(places) else None
