"""Choosing among many: several differences at once, and the best of noisy neighbours."""

import math
from collections import Counter
from collections.abc import Iterable, Mapping

from ..metrology.choice import best_of_many
from ..metrology.repeatability import mean, standard_deviation
from ..metrology.sample import NotDetermined
from ..records.bench import Trial
from ..records.findings import Caveat
from ..records.quantity import SETTING_BY_COLUMN
from .context import Context
from .wording import NO_BREAK, counted, exact, figure, joined, listed

BEST = "J. C. Hsu, Ann. Stat. 9 (1981) 1026"

FEWEST_IN_FAMILY = 2
"""R67: from two setpoints up there is something to pick from."""
FEWEST_FOR_BEST = 2
"""A setting needs two runs before its mean has a spread to be told apart by."""
COMPARING = frozenset({"change", "change-percent", "saved", "saved-percent", "ratio", "of-baseline"})


def several_comparisons(context: Context) -> Iterable[Caveat]:
    """Raised when differences of one quantity are claimed of two setpoints or more without adjustment (R67)."""
    unadjusted: dict[str, list[str]] = {}
    setpoints: dict[str, set[str]] = {}
    for address in context.claimed_here():
        number = context.results.find(address)
        if number is None or number.interval is None or number.adjusted or not _compares(context, address.subject):
            continue
        if address.relation not in COMPARING:
            continue
        unadjusted.setdefault(address.quantity, []).append(address.local())
        setpoints.setdefault(address.quantity, set()).add(address.subject)
    family = {q: found for q, found in unadjusted.items() if len(setpoints[q]) >= FEWEST_IN_FAMILY}
    if not family:
        return
    sizes = Counter({q: len(setpoints[q]) for q in family})
    most = max(sizes.values())
    risk_pct = min(100.0, most * (100 - context.site.settings.confidence_pct))
    told = listed([f"{q.replace('-', ' ')} at {counted(k, 'setpoint')}" for q, k in sizes.items()])
    yield Caveat(
        code="several-comparisons",
        title="Several setpoints compared with one baseline",
        missing=f"Differences from the baseline are stated for {told}, each with its own "
        f"{exact(context.site.settings.confidence_pct)} % interval.",
        effect=f"The chance that at least one of {most} such intervals misses is up to {figure(risk_pct)} %. The "
        "largest of several differences is likely overstated.",
        remedy="Use the adjusted intervals (Dunnett for setpoints against one baseline), or name the one comparison "
        "decided beforehand.",
        addresses=tuple(dict.fromkeys(a for found in family.values() for a in found)),
        source="general statistics (multiple comparisons)",
    )


def _compares(context: Context, subject: str) -> bool:
    return subject in context.write_up.setpoints and subject != context.baseline


def tied_optimum(context: Context) -> Iterable[Caveat]:
    """Raised when the best score per watt of a sweep or walk cannot be told from another of its settings (R66)."""
    told: list[str] = []
    addresses: list[str] = []
    for name, points in context.curves.items():
        sequence = context.write_up.sequences[name]
        tied = _tied(points, context)
        if len(tied) < 2:
            continue
        kind = SETTING_BY_COLUMN[sequence.setting]
        unit = kind.unit.symbol if kind.unit else ""
        told.append(f"{sequence.label}: {listed(f'{exact(v)}{NO_BREAK}{unit}' for v in tied)}")
        for quantity in ("best-score-per-watt", "best-score-per-watt-setting"):
            addresses += [f"{name}/{quantity}", f"{name}/{quantity}/"]
    if not told:
        return
    yield Caveat(
        code="tied-optimum",
        title="The best setting is a tie",
        missing=f"These settings cannot be told apart from the best in score per watt: {joined(told)}.",
        effect="The setting named as best came out on top this time; another of the set may be as good.",
        remedy="More runs at the settings in the set, or name the set.",
        addresses=tuple(addresses),
        source=BEST,
    )


def _tied(points: Mapping[float, tuple[Trial, ...]], context: Context) -> list[float]:
    """Settings that may be the best in score per watt, the best among them; empty where it cannot be said."""
    settings, means, errors, freedoms = [], [], [], []
    for setting, runs in sorted(points.items()):
        found = [
            t.measured["score"] / t.measured["board_power_w"]
            for t in runs
            if "score" in t.measured and t.measured.get("board_power_w", 0.0) > 0
        ]
        if len(found) < FEWEST_FOR_BEST:
            continue
        settings.append(setting)
        means.append(mean(found))
        errors.append(standard_deviation(found) / math.sqrt(len(found)))
        freedoms.append(len(found) - 1.0)
    try:
        best = best_of_many(
            means,
            errors,
            freedoms,
            context.site.settings.confidence_pct / 100,
            larger_is_better=context.write_up.load.higher_is_better,
        )
    except NotDetermined:
        return []
    return [settings[i] for i in best.candidates]


RULES = (
    several_comparisons,
    tied_optimum,
)
