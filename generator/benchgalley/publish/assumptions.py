"""What the formulae take for granted, and what the runs of a write-up say of it.

Each check looks at the runs behind the numbers the write-up states and answers with a word and a sentence or two,
with figures: held, doubtful, partly tested, or not tested on these data.
"""

import math
import statistics
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from benchgalley.records.bench import Outcome, SequenceKind
from benchgalley.records.membership import runs_along
from benchgalley.records.quantity import MEASURED, SETTING_BY_COLUMN
from benchgalley.records.write_up import WriteUp

from .run_evidence import Evidence, RunGroup, label_of
from .workings import NBSP, plain

FEWEST_FOR_SHAPE = 8
"""Runs below which the shape of a spread is not judged."""
UNEQUAL = 3.0
"""Largest over smallest standard deviation up to which spreads count as alike."""
FAR_FROM_ZERO = 10.0
"""Standard uncertainties from zero beyond which a divisor leaves every interval of a ratio bounded."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Assumption:
    """One assumption and its check."""

    key: str
    says: str
    """The assumption in one sentence."""
    check: Callable[[Evidence], tuple[str, str]]
    """(`held`, `doubtful`, `partly tested` or `not tested`, what was found)."""


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"


def _normal(found: Evidence) -> tuple[str, str]:
    """Asymmetry, which is what hurts intervals of means most; heavy tails are left to the caveats on outliers."""
    judged = [g for g in found.groups if len(g.values) >= FEWEST_FOR_SHAPE and len(set(g.values)) > 1]
    few = [g for g in found.groups if 1 < len(g.values) < FEWEST_FOR_SHAPE]
    parts, askew = [], []
    if judged:
        sizes = {g: abs(_skewness(g.values)) / _skewness_error(len(g.values)) for g in judged}
        askew = [g for g in judged if sizes[g] > 2]
        worst = max(sizes, key=lambda g: sizes[g])
        gap = abs(statistics.fmean(worst.values) - statistics.median(worst.values)) / _spread(worst)
        parts.append(
            f"{len(askew) or 'None'} of {_counted(len(judged), 'group')} of {FEWEST_FOR_SHAPE} runs or more "
            f"{'is' if len(askew) < 2 else 'are'} more skewed than chance lets one expect in one group of twenty "
            f"(most: {worst.words}, skewness {plain(_skewness(worst.values))}, mean and median {plain(gap)} standard "
            f"deviations apart, {len(worst.values)} runs)."
        )
    if few:
        parts.append(
            f"{_counted(len(few), 'group')} of {min(len(g.values) for g in few)} to "
            f"{max(len(g.values) for g in few)} runs: too few to test; taken on trust."
        )
    caveats = found.edition.cautions(found.write_up.slug).caveats
    seen = list(dict.fromkeys(c.title for c in caveats if c.code in ("two-groups", "outliers")))
    parts += [f"Seen and kept as a caveat: {', '.join(seen)}."] if seen else []
    if not judged:
        return "not tested", " ".join(parts) or "No repeats behind these numbers."
    # One group in twenty is what chance gives anyway.
    doubtful = bool(seen) or len(askew) > 1 + len(judged) / 20
    return "doubtful" if doubtful else "partly tested" if few else "held", " ".join(parts)


def _skewness(values: Sequence[float]) -> float:
    """Adjusted Fisher-Pearson skewness G1 (Joanes and Gill, The Statistician 47 (1998) 183-189)."""
    count, centre = len(values), statistics.fmean(values)
    second = statistics.fmean([(v - centre) ** 2 for v in values])
    third = statistics.fmean([(v - centre) ** 3 for v in values])
    return third / math.sqrt(second) ** 3 * math.sqrt(count * (count - 1)) / (count - 2)


def _skewness_error(count: int) -> float:
    """Standard deviation of G1 over normal samples (same source)."""
    return math.sqrt(6 * count * (count - 1) / ((count - 2) * (count + 1) * (count + 3)))


def _spread(group: RunGroup) -> float:
    return _deviation(group.values)


@lru_cache(maxsize=256)
def _deviation(values: tuple[float, ...]) -> float:
    """Several assumptions ask for that of the same runs."""
    if min(values) == max(values):
        return 0.0  # what the mean is rounded by must not count as a spread
    centre = statistics.fmean(values)
    return math.sqrt(math.fsum([(value - centre) ** 2 for value in values]) / (len(values) - 1))


def _spreads(found: Evidence) -> tuple[str, str]:
    by_quantity: dict[str, list[RunGroup]] = {}
    for group in found.groups:
        if len(group.values) > 1 and _spread(group) > 0:
            by_quantity.setdefault(group.quantity.name, []).append(group)
    ratios = {
        name: max(map(_spread, groups)) / min(map(_spread, groups))
        for name, groups in by_quantity.items()
        if len(groups) > 1
    }
    if not ratios:
        return "not tested", "Fewer than two groups with a spread: nothing to compare."
    worst = max(ratios, key=lambda name: ratios[name])
    return "held" if ratios[worst] <= UNEQUAL else "doubtful", (
        f"The largest standard deviation is {plain(ratios[worst])} times the smallest ({worst}, "
        f"{_counted(len(by_quantity[worst]), 'setpoint')}); up to {UNEQUAL:g} times counts as alike (rule of thumb, "
        "no published source). A difference of two means does not need it (Welch)."
    )


def _order(found: Evidence) -> tuple[str, str]:
    parts = []
    kinds = {s.order for s in found.write_up.sequences.values() if s.order and s.kind is not SequenceKind.SOAK}
    if kinds:
        parts.append(f"Order of the sequences as planned: {', '.join(sorted(kinds))}.")
    values = {g: _neighbours(g.values) for g in found.groups if len(g.values) >= FEWEST_FOR_SHAPE}
    known = {g: abs(r) for g, r in values.items() if r is not None}
    if not known:
        parts.append(f"No setpoint has {FEWEST_FOR_SHAPE} runs that differ.")
        return "not tested", " ".join(parts)
    beyond = [g for g in known if known[g] > 2 / math.sqrt(len(g.values))]
    worst = max(known, key=lambda g: known[g] * math.sqrt(len(g.values)))
    parts.append(
        f"In {len(beyond) or 'none'} of {_counted(len(known), 'group')} of {FEWEST_FOR_SHAPE} runs or more, "
        "neighbouring runs are more alike or unlike than chance lets one expect in one group of twenty (furthest: "
        f"{worst.words}, correlation {plain(values[worst] or 0.0)}, {len(worst.values)} runs)."
    )
    return "doubtful" if len(beyond) > 1 + len(known) / 20 else "held", " ".join(parts)


def _neighbours(values: Sequence[float]) -> float | None:
    """Lag-1 correlation; None for runs that do not vary."""
    before, after = values[:-1], values[1:]
    if len(set(before)) < 2 or len(set(after)) < 2:
        return None
    return statistics.correlation(before, after)


def _drift(found: Evidence) -> tuple[str, str]:
    shares: dict[str, float] = {}
    origins: dict[str, str] = {}
    for number in found.numbers:
        variance = sum(c.standard_uncertainty**2 for c in number.components)
        for component in number.components:
            if component.name.startswith("drift") and variance > 0:
                shares[component.name] = component.standard_uncertainty**2 / variance
                origins[component.name] = component.origin
    unknown = dict.fromkeys(n.reason for n in found.numbers if n.reason.startswith("drift"))
    parts = []
    if shares:
        worst = max(shares, key=lambda name: shares[name])
        parts.append(
            f"Estimated from {origins[worst]} ({worst.removeprefix('drift of ')}); at most "
            f"{plain(100 * shares[worst])}{NBSP}% of the variance of a stated number."
        )
    parts += [f"{r[0].upper()}{r[1:]}." for r in unknown]
    parts.append("Whether the line is straight is not tested.")
    noticed = any(c.code == "drift" for c in found.edition.cautions(found.write_up.slug).caveats)
    return "doubtful" if noticed else "partly tested" if shares else "not tested", " ".join(parts)


def _instruments(found: Evidence) -> tuple[str, str]:
    used = {g.quantity.column for g in found.groups}
    taken = [i for i in found.write_up.bench.instruments if used & set(i.columns)]
    checked = [f"{i.name} ({i.calibrated})" for i in taken if i.calibrated not in ("", "no", "unknown")]
    never = [i.name for i in taken if i.calibrated in ("", "no", "unknown")]
    silent = [i.name for i in taken if i.gain_error_pct is None and i.offset_error is None]
    parts = [f"Calibrated: {', '.join(checked)}."] if checked else []
    parts += [f"Not calibrated, limits taken from the maker's word: {', '.join(never)}."] if never else []
    parts += [f"No limits known, so none in the intervals: {', '.join(silent)}."] if silent else []
    verdict = "held" if checked and not never and not silent else "partly tested" if checked else "not tested"
    return verdict, " ".join(parts) or "No instrument is named for these columns."


def _logs(found: Evidence) -> tuple[str, str]:
    windows = [w for t in found.write_up.trials if t.counts for w in t.windows.values()]
    if not windows:
        return (
            "not tested",
            "No logs: each run's figure is as the tester noted it; whether the card had settled is not shown.",
        )
    worst = max(windows, key=lambda w: abs(w.slope_per_min) * (w.end_s - w.start_s) / max(abs(w.mean), 1e-300))
    change = abs(worst.slope_per_min) * (worst.end_s - worst.start_s) / 60
    quantity = next((q for q in MEASURED if q.column == worst.column), None)
    unit = (quantity.difference_unit or quantity.unit).symbol if quantity is not None else ""
    name = quantity.name if quantity is not None else worst.column
    unsettled = any(c.code == "not-steady" for c in found.edition.cautions(found.write_up.slug).caveats)
    return "doubtful" if unsettled else "held", (
        f"{_counted(len(windows), 'window')}, at least {min(w.readings for w in windows)} readings and "
        f"{plain(min(w.coverage_pct for w in windows))}{NBSP}% of the run in each. Largest trend left inside one, "
        f"relative to its mean: {plain(change)}{NBSP}{unit} from end to end ({name}, {worst.log})."
    )


def _denominator(found: Evidence) -> tuple[str, str]:
    base = {g.quantity.name: g for g in found.groups if g.subject == label_of(found.write_up, found.write_up.baseline)}
    sizes = {
        name: abs(statistics.fmean(g.values)) / (_spread(g) / len(g.values) ** 0.5)
        for name, g in base.items()
        if len(g.values) > 1 and _spread(g) > 0
    }
    if not sizes:
        return "not tested", "The baseline has no spread to compare its mean with."
    least = min(sizes, key=lambda name: sizes[name])
    far = sizes[least] > FAR_FROM_ZERO
    return "held" if far else "doubtful", (
        f"The baseline's mean is at least {plain(sizes[least])} times its standard uncertainty from repeats ({least})"
        f"{'' if far else ': an interval may be unbounded'}."
    )


def _monotone(found: Evidence) -> tuple[str, str]:
    parts, against = [], 0
    for sequence in found.write_up.sequences.values():
        if sequence.kind not in (SequenceKind.SWEEP, SequenceKind.WALK):
            continue
        means = _along(found.write_up, sequence.name)
        if len(means) > 2:
            falls = sum(b < a for (_, a), (_, b) in pairwise(means))
            falls = min(falls, len(means) - 1 - falls)
            against += falls
            setting = SETTING_BY_COLUMN[sequence.setting].name
            parts.append(
                f"{sequence.label}: {falls} of {len(means) - 1} steps of the {setting} go against the direction of "
                "the others" + ("; the curve is levelled there." if falls else ".")
            )
    if not parts:
        return "not tested", "No sequence with three settings or more."
    return "doubtful" if against else "held", " ".join(parts)


def _along(write_up: WriteUp, name: str) -> list[tuple[float, float]]:
    """(setting, mean score) along a sequence."""
    sequence = write_up.sequences[name]
    points: dict[float, list[float]] = {}
    for trial in runs_along(sequence, write_up.trials):
        at = trial.settings.get(sequence.setting)
        if trial.counts and isinstance(at, float | int) and "score" in trial.measured:
            points.setdefault(float(at), []).append(trial.measured["score"])
    return sorted((at, statistics.fmean(scores)) for at, scores in points.items())


def _rate(found: Evidence) -> tuple[str, str]:
    failed = sum(not t.excluded and t.outcome is not Outcome.COMPLETED for t in found.write_up.trials)
    if not failed:
        return "not tested", "No run failed: a rate can be bounded, but not tested for steadiness."
    return "not tested", (
        f"{_counted(failed, 'run')} failed in all, too few at any one setting to tell a steady rate from bunches. "
        "If failures come in bunches, the bound is too low."
    )


def _samples(found: Evidence) -> tuple[str, str]:
    samples = {w.sample.id for w in found.edition.write_ups_of(found.write_up.card.id)}
    return "not tested", (
        f"{_counted(len(samples), 'sample')}: too few to test. They were not drawn at random from those sold."
    )


def _margins(found: Evidence) -> tuple[str, str]:
    margins = found.write_up.margins.by_quantity
    if not margins:
        return "not tested", "No margin is declared."
    words = []
    for key, (size, relative) in margins.items():
        quantity = found.edition.glossary.get(key)
        symbol = "" if quantity is None else (quantity.difference_unit or quantity.unit).symbol
        if key == "score":
            symbol = found.write_up.load.score_unit.symbol
        words.append(f"{key.replace('-', ' ')} {size:g}{NBSP}{'% of the baseline' if relative else symbol}")
    return "not tested", (
        f"Declared in the front matter: {', '.join(words)}. That it was before the runs is the author's word."
    )


ASSUMPTIONS: tuple[Assumption, ...] = (
    Assumption(key="normal", says="Runs at one setpoint spread as a normal distribution does.", check=_normal),
    Assumption(key="order", says="Runs do not depend on the run before.", check=_order),
    Assumption(key="spreads", says="Setpoints compared together spread alike.", check=_spreads),
    Assumption(key="drift", says="What drifts, drifts in a straight line.", check=_drift),
    Assumption(key="instruments", says="Instruments keep within their stated limits.", check=_instruments),
    Assumption(key="logs", says="The card had settled when its figures were taken.", check=_logs),
    Assumption(key="denominator", says="What is divided by is far from zero.", check=_denominator),
    Assumption(key="monotone", says="More power never lowers the score.", check=_monotone),
    Assumption(key="rate", says="Failures come independently and at a steady rate.", check=_rate),
    Assumption(key="samples", says="Samples spread as a normal distribution does.", check=_samples),
    Assumption(key="margins", says="The margin was chosen before the comparison.", check=_margins),
)
"""In the order the methods list them."""
