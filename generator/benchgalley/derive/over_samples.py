"""Numbers over the samples of one card model: what one more card may do, and what one sample cannot say."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from benchgalley.metrology.between_samples import (
    model_mean_interval,
    next_sample_interval,
)
from benchgalley.metrology.mean_interval import deviation_interval
from benchgalley.metrology.sample import NotDetermined
from benchgalley.metrology.tolerance import one_sided_factor
from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Interval
from benchgalley.records.units import Unit

from . import budget, expanding
from .budget import Combined, Draft, Term
from .relating import difference_unit
from .sample_runs import Samples

TOLERANCE_SHARE = 0.95
"""Share of all cards of the model that a tolerance bound speaks of."""

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
    means = samples.means
    value = samples.centre
    found = Draft(
        value=value,
        groups=samples.groups,
        substitution=lambda: _sum_text(means),
        reason=lambda: _notes(samples),
        spread_for_printing=samples.own_half_width(),
    )
    if len(means) < 2:
        return found
    spread = samples.spread
    terms = (
        Term(
            "spread between samples", budget.REPEATABILITY, spread / len(means) ** 0.5,
            float(len(means) - 1), _spread_origin(samples),
        ),
        *_shared_terms(samples),
    )  # fmt: skip
    if not spread > 0:
        note = "all samples have the same mean: the spread between them cannot be estimated"
        return replace(
            found, combined=Combined(terms), reason="; ".join(part for part in (note, _notes(samples)) if part)
        )
    combined = Combined(terms)
    u, dof = combined.standard_uncertainty, combined.degrees_of_freedom
    repeats = model_mean_interval([[m] for m in means], samples.pool.confidence_pct / 100)
    pct = samples.pool.confidence_pct
    return replace(
        found,
        combined=combined,
        standard_uncertainty=u,
        degrees_of_freedom=dof,
        interval=expanding.two_sided(value, combined, pct, BETWEEN_METHOD),
        repeatability_interval=Interval(
            low=repeats.low, high=repeats.high, confidence_pct=pct, method=BETWEEN_METHOD + budget.REPEATS_ONLY
        ),
    )


def between_samples(samples: Samples) -> Draft:
    """Standard deviation between samples, run-to-run spread taken out."""
    found = samples.variances
    reason = _notes(samples)
    if found.between_squared < 0:
        note = "the samples differ less than their runs do, so nothing is left between them"
        reason = "; ".join(part for part in (note, reason) if part)
    return Draft(
        value=found.between,
        groups=samples.groups,
        substitution=lambda: (
            f"√(({budget.figure(found.ms_between)} \u2212 {budget.figure(found.ms_within)}) / "
            f"{budget.figure(found.runs_per_group)})"
        ),
        reason=reason,
        degrees_of_freedom=float(found.df_between),
        spread_for_printing=found.between or found.repeatability or None,
    )


def within_samples(samples: Samples) -> Draft:
    """Repeatability standard deviation pooled over samples."""
    if len(samples.runs) < 2:
        raise NotDetermined("one sample: see the spread of its own runs")
    found = samples.variances
    pct = samples.pool.confidence_pct
    interval = None
    if found.repeatability > 0:
        limits = deviation_interval(found.repeatability, found.df_within, pct / 100)
        interval = Interval(low=limits.low, high=limits.high, confidence_pct=pct, method=budget.CHI_SQUARE_METHOD)
    return Draft(
        value=found.repeatability,
        interval=interval,
        repeatability_interval=interval,
        groups=samples.groups,
        substitution=lambda: f"√({budget.figure(found.ss_within)} / {found.df_within})",
        reason=samples.pool.left_out_note,
        no_budget=budget.CHI_SQUARE_SPREAD if interval is not None else "",
        degrees_of_freedom=float(found.df_within),
        spread_for_printing=found.repeatability or None,
    )


def next_sample_at_least(samples: Samples) -> Draft:
    """One-sided prediction: the mean of one more sample is at least this."""
    return _prediction(samples, upper=False)


def next_sample_at_most(samples: Samples) -> Draft:
    """One-sided prediction: the mean of one more sample is at most this."""
    return _prediction(samples, upper=True)


def tolerance_lower(samples: Samples) -> Draft:
    """Value that 95 % of all cards of the model exceed, with the site's confidence."""
    return _tolerance(samples, upper=False)


def tolerance_upper(samples: Samples) -> Draft:
    """Value that 95 % of all cards of the model stay below, with the site's confidence."""
    return _tolerance(samples, upper=True)


def _prediction(samples: Samples, upper: bool) -> Draft:
    pct = samples.pool.confidence_pct
    # the ends of a two-sided interval at 2 c - 1 are one-sided bounds at c
    kept = samples.kept
    if "next" not in kept:
        kept["next"] = next_sample_interval([[m] for m in samples.means], 2 * pct / 100 - 1)
    found = kept["next"]
    bound = found.high if upper else found.low
    count = len(samples.means)
    # one more sample departs by s from the model's mean, which the samples give within s/√k
    term = Term(
        "spread between samples", budget.REPEATABILITY, samples.spread * math.sqrt(1 + 1 / count), float(count - 1),
        _spread_origin(samples),
    )  # fmt: skip
    draft = _one_sided(samples, bound, upper, "one-sided prediction, " + BETWEEN_METHOD)
    return replace(draft, combined=Combined((term,)), standard_uncertainty=abs(term.contribution))


def _tolerance(samples: Samples, upper: bool) -> Draft:
    if len(samples.means) < 2:
        raise NotDetermined("one sample: nothing can be said about the spread between samples")
    if samples.spread == 0:
        raise NotDetermined("all samples gave the same value: the spread between them cannot be estimated")
    factor = one_sided_factor(len(samples.means), TOLERANCE_SHARE, samples.pool.confidence_pct / 100)
    bound = samples.centre + (factor if upper else -factor) * samples.spread
    draft = _one_sided(samples, bound, upper, "one-sided normal tolerance bound (non-central t)")
    return replace(draft, no_budget=budget.TOLERANCE_FACTOR)


def _spread_origin(samples: Samples) -> str:
    """Where the spread between sample means comes from, and how much of it runs alone explain.

    The square of the spread of k sample means holds the variance between samples and, on average over samples, the
    variance within them over their runs (ISO 5725-2, 7.4.5). Both come from the one figure s, so they are one
    contribution with its k - 1 degrees of freedom and not two.
    """
    counts = [count for count, _, _ in samples.runs]
    origin = f"{len(counts)} samples, s = {budget.figure(samples.spread)}"
    try:
        within = samples.variances.ms_within * math.fsum(1 / count for count in counts) / len(counts)
    except NotDetermined:
        return origin
    share_pct = min(100.0, 100.0 * (within / samples.spread) / samples.spread) if samples.spread > 0 else 0.0
    return f"{origin}; run-to-run spread within samples accounts for {share_pct:.0f}\u00a0% of its square"


def _one_sided(samples: Samples, bound: float, upper: bool, method: str) -> Draft:
    means = samples.means
    return Draft(
        value=bound,
        interval=Interval(
            low=None if upper else bound, high=bound if upper else None,
            confidence_pct=samples.pool.confidence_pct, method=method,
        ),
        groups=samples.groups,
        substitution=lambda: f"{len(means)} sample means, mean {budget.figure(samples.centre)}, "
        f"s = {budget.figure(samples.spread)}",
        reason=lambda: _notes(samples),
        degrees_of_freedom=float(len(means) - 1),
        spread_for_printing=abs(bound - samples.centre) or None,
    )  # fmt: skip


def _shared_terms(samples: Samples) -> tuple[Term, ...]:
    """Gain and offset of instruments that measured every sample; a card's own sensor is part of the spread."""
    found: dict[str, list[float]] = {}
    kept: dict[str, Term] = {}
    for estimates in samples.estimates:
        for term in _bench_terms(samples, estimates[0].terms):
            found.setdefault(term.name, []).append(term.contribution)
            kept[term.name] = term
    count = len(samples.estimates)
    return tuple(kept[name].of(sum(parts) / count) for name, parts in found.items() if len(parts) == count)


def _bench_terms(samples: Samples, terms: tuple[Term, ...]) -> list[Term]:
    own = samples.pool.card_instruments()
    return [
        term for term in terms
        if term.kind in (budget.GAIN, budget.OFFSET) and not any(f"of {name} for " in term.name for name in own)
    ]  # fmt: skip


def _sum_text(means: list[float]) -> str:
    if len(means) == 1:
        return budget.figure(means[0])
    return f"({' + '.join(budget.figure(value) for value in means)}) / {len(means)}"


def _notes(samples: Samples) -> str:
    return "; ".join(note for note in (samples.few_note(), samples.pool.left_out_note()) if note)


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
