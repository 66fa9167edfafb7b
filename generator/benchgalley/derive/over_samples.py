"""Numbers over the samples of one card model: what one more card may do, and what one sample cannot say."""

import math
from collections.abc import Callable
from dataclasses import dataclass

from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Interval
from benchgalley.records.units import Unit

from . import budget
from .budget import Draft
from .combining import interval_of
from .relating import difference_unit, known_figure
from .samples import SampleBudget, Samples
from .sheet import SAME_MEANS, Cell

BETWEEN_METHOD = "Student t over sample means"


@dataclass(frozen=True, kw_only=True, slots=True)
class SampleRelation:
    """One relation over samples. A new one is a function and its line."""

    key: str
    words: str
    """Name in words, with {quantity}, {setpoint} and {card}."""
    compute: Callable[[Samples], Draft]
    unit_of: Callable[[Quantity], Unit]
    definition: str
    formula: str
    source: str
    fewest: int = 1
    """Samples from which it is listed."""
    direction: int = 1
    """1: good news as for the quantity, 0: neither."""


def mean_over_samples(samples: Samples) -> Draft:
    """Mean of sample means; errors of an instrument shared by all samples do not shrink with their number."""
    cell, count = samples.cell(""), len(samples.own)
    same = count > 1 and not samples.spread > 0
    return Draft(
        value=cell.value,
        combined=SampleBudget(samples, "", count, lambda: _spread_origin(samples)) if count > 1 else None,
        standard_uncertainty=known_figure(cell.standard_uncertainty),
        degrees_of_freedom=known_figure(cell.degrees_of_freedom),
        interval=interval_of(cell.low, cell.high, samples.pool.confidence_pct, BETWEEN_METHOD),
        repeatability_interval=interval_of(
            cell.repeats_low, cell.repeats_high, samples.pool.confidence_pct, BETWEEN_METHOD + budget.REPEATS_ONLY
        ),
        groups=samples.groups,
        substitution=lambda: _sum_text(samples.means),
        reason=lambda: "; ".join(note for note in (SAME_MEANS if same else "", _notes(samples)) if note),
        spread_for_printing=samples.own_half_width(),
    )


def between_samples(samples: Samples) -> Draft:
    """Standard deviation between samples, run-to-run spread taken out."""
    cell = samples.cell("between-samples")
    ms_within = samples.variance("ms_within")
    nothing = "the samples differ less than their runs do, so nothing is left between them"
    left = samples.variance("between_squared") < 0
    return Draft(
        value=cell.value,
        groups=samples.groups,
        substitution=lambda: (
            f"√(({budget.figure(samples.variance('ms_between'))} \u2212 {budget.figure(ms_within)}) / "
            f"{budget.figure(samples.variance('runs_per_group'))})"
        ),
        reason=lambda: "; ".join(note for note in (nothing if left else "", _notes(samples)) if note),
        degrees_of_freedom=cell.degrees_of_freedom,
        spread_for_printing=cell.value or math.sqrt(ms_within) or None,
    )


def within_samples(samples: Samples) -> Draft:
    """Repeatability standard deviation pooled over samples."""
    cell = samples.cell("within-samples")
    interval = interval_of(cell.low, cell.high, samples.pool.confidence_pct, budget.CHI_SQUARE_METHOD)
    return Draft(
        value=cell.value,
        interval=interval,
        repeatability_interval=interval,
        groups=samples.groups,
        substitution=lambda: f"√({budget.figure(samples.variance('ss_within'))} / {cell.degrees_of_freedom:.0f})",
        reason=samples.pool.left_out_note,
        no_budget=budget.CHI_SQUARE_SPREAD if interval is not None else "",
        degrees_of_freedom=cell.degrees_of_freedom,
        spread_for_printing=cell.value or None,
    )


def next_sample_at_least(samples: Samples) -> Draft:
    """One-sided prediction: the mean of one more sample is at least this."""
    return _prediction(samples, "next-sample-at-least")


def next_sample_at_most(samples: Samples) -> Draft:
    """One-sided prediction: the mean of one more sample is at most this."""
    return _prediction(samples, "next-sample-at-most")


def tolerance_lower(samples: Samples) -> Draft:
    """Value that 95 % of all cards of the model exceed, with the site's confidence."""
    return _tolerance(samples, "tolerance-at-least")


def tolerance_upper(samples: Samples) -> Draft:
    """Value that 95 % of all cards of the model stay below, with the site's confidence."""
    return _tolerance(samples, "tolerance-at-most")


def _prediction(samples: Samples, relation: str) -> Draft:
    draft, cell = _one_sided(samples, relation, "one-sided prediction, " + BETWEEN_METHOD)
    draft.combined = SampleBudget(samples, relation, len(samples.own), lambda: _spread_origin(samples))
    draft.standard_uncertainty = cell.standard_uncertainty
    return draft


def _tolerance(samples: Samples, relation: str) -> Draft:
    draft, _ = _one_sided(samples, relation, "one-sided normal tolerance bound (non-central t)")
    draft.no_budget = budget.TOLERANCE_FACTOR
    return draft


def _spread_origin(samples: Samples) -> str:
    """Where the spread between sample means comes from, and how much of it runs alone explain.

    The square of the spread of k sample means holds the variance between samples and, on average over samples, the
    variance within them over their runs (ISO 5725-2, 7.4.5). Both come from the one figure s, so they are one
    contribution with its k - 1 degrees of freedom and not two.
    """
    counts, spread = samples.counts, samples.spread
    origin = f"{len(counts)} samples, s = {budget.figure(spread)}"
    if not samples.variance("df_within") > 0:
        return origin
    within = samples.variance("ms_within") * math.fsum(1 / count for count in counts) / len(counts)
    share_pct = min(100.0, 100.0 * (within / spread) / spread) if spread > 0 else 0.0
    return f"{origin}; run-to-run spread within samples accounts for {share_pct:.0f}\u00a0% of its square"


def _one_sided(samples: Samples, relation: str, method: str) -> tuple[Draft, Cell]:
    cell, upper = samples.cell(relation), relation.endswith("at-most")
    bound = cell.value
    draft = Draft(
        value=bound,
        interval=Interval(
            low=None if upper else bound, high=bound if upper else None,
            confidence_pct=samples.pool.confidence_pct, method=method,
        ),
        groups=samples.groups,
        substitution=lambda: f"{len(samples.own)} sample means, mean {budget.figure(samples.centre)}, "
        f"s = {budget.figure(samples.spread)}",
        reason=lambda: _notes(samples),
        degrees_of_freedom=cell.degrees_of_freedom,
        spread_for_printing=cell.half_width or None,
    )  # fmt: skip
    return draft, cell


def _sum_text(means: list[float]) -> str:
    if len(means) == 1:
        return budget.figure(means[0])
    return f"({' + '.join(budget.figure(value) for value in means)}) / {len(means)}"


def _notes(samples: Samples) -> str:
    return "; ".join(note for note in (samples.few_note(len(samples.own)), samples.pool.left_out_note()) if note)


SAMPLE_RELATIONS: tuple[SampleRelation, ...] = (
    SampleRelation(
        key="", words="{quantity} at {setpoint}, mean over samples of {card}", compute=mean_over_samples,
        unit_of=lambda q: q.unit, definition="Mean of the means of the samples of a card model.",
        formula="Σ mean of sample / samples",
        source="Random effects: ISO 5725-2, 7.4.5; t with samples \u2212 1 degrees of freedom",
    ),
    SampleRelation(
        key="between-samples", words="spread of {quantity} at {setpoint} between samples of {card}",
        compute=between_samples, unit_of=difference_unit,
        definition="Standard deviation between samples, run-to-run spread taken out.",
        formula="√((MS between \u2212 MS within) / runs per sample)", source="ISO 5725-2, 7.4.5", fewest=2, direction=0,
    ),
    SampleRelation(
        key="within-samples", words="run-to-run spread of {quantity} at {setpoint} within samples of {card}",
        compute=within_samples, unit_of=difference_unit,
        definition="Repeatability standard deviation pooled over samples.", formula="√(MS within)",
        source="ISO 5725-2, 7.4.5; interval by chi-square, NIST/SEMATECH e-Handbook 1.3.5.8", fewest=2, direction=0,
    ),
    SampleRelation(
        key="next-sample-at-least", words="lower prediction bound of {quantity} at {setpoint} for one more {card}",
        compute=next_sample_at_least, unit_of=lambda q: q.unit,
        definition="One-sided prediction bound of the mean of the next sample, run as often as these.",
        formula="mean \u2212 t s √(1 + 1/samples)", source="NIST/SEMATECH e-Handbook 7.2.6; assumes normal samples",
        fewest=2,
    ),
    SampleRelation(
        key="next-sample-at-most", words="upper prediction bound of {quantity} at {setpoint} for one more {card}",
        compute=next_sample_at_most, unit_of=lambda q: q.unit,
        definition="One-sided prediction bound of the mean of the next sample, run as often as these.",
        formula="mean + t s √(1 + 1/samples)", source="NIST/SEMATECH e-Handbook 7.2.6; assumes normal samples",
        fewest=2,
    ),
    SampleRelation(
        key="tolerance-at-least", words="value of {quantity} at {setpoint} that 95 % of {card} cards exceed",
        compute=tolerance_lower, unit_of=lambda q: q.unit,
        definition="Tolerance bound: 95 % of all cards of the model lie above it, with the site's confidence.",
        formula="mean \u2212 k s", source="NIST/SEMATECH e-Handbook 7.2.6.3; ISO 16269-6; assumes normal samples",
        fewest=2,
    ),
    SampleRelation(
        key="tolerance-at-most", words="value of {quantity} at {setpoint} that 95 % of {card} cards stay below",
        compute=tolerance_upper, unit_of=lambda q: q.unit,
        definition="Tolerance bound: 95 % of all cards of the model lie below it, with the site's confidence.",
        formula="mean + k s", source="NIST/SEMATECH e-Handbook 7.2.6.3; ISO 16269-6; assumes normal samples",
        fewest=2,
    ),
)  # fmt: skip
"""In the order tables show them."""
