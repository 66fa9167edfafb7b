"""What the failed and the completed runs can and cannot say about stability."""

from collections import Counter
from collections.abc import Iterable, Mapping

from ..metrology.stability import zero_failure_bound
from ..records.bench import Outcome, SequenceKind, Trial
from ..records.findings import Caveat
from ..records.quantity import SETTING_BY_COLUMN
from .context import FAILURES, Context, everything_at
from .wording import counted, exact, figure, joined, listed, unique

SAFE_LIMITS = "J. Leng et al., MICRO-48 (2015), doi:10.1145/2830772.2830811"
SILENT = "H. Zamani et al., ICS '19, doi:10.1145/3330345.3330373"
BINOMIAL = "C. J. Clopper and E. S. Pearson, Biometrika 26 (1934); F. Garwood, Biometrika 28 (1936)"

DEEPER: Mapping[str, int] = {"voltage_offset_mv": -1, "core_offset_mhz": 1, "memory_offset_mhz": 1}
"""Settings that can make a card fail, and the direction in which they do."""

REPEATED_FOR_MEANS = frozenset({SequenceKind.SWEEP, SequenceKind.WALK, SequenceKind.SOAK})
"""Sequences in which a failure is news; a ladder is run until it fails."""


def next_to_failed(context: Context) -> Iterable[Caveat]:
    """Raised when the next setting tried beyond a setpoint failed in any run (R61)."""
    if FAILURES.isdisjoint([t.outcome for t in context.runs]):
        return
    told: dict[str, list[str]] = {}
    for name in context.compared:
        for column in DEEPER:
            if text := _beyond(context, name, column):
                told.setdefault(name, []).append(text)
    if not told:
        return
    soaks = [s.name for s in context.write_up.sequences.values() if s.setpoint in told]
    yield Caveat(
        code="next-to-failed",
        title="Setting beside a failed one",
        missing=joined([f"{context.label(n)}: {listed(t)}" for n, t in told.items()]) + ".",
        effect="The lowest safe voltage depends on the program, the sample and the temperature, so a little more heat "
        "or another load may fail here too. The figures are for the loads run.",
        remedy="More headroom, completed runs between the two settings, or a soak in everything you use.",
        addresses=everything_at([*told, *soaks]),
        source=SAFE_LIMITS,
    )


def _beyond(context: Context, setpoint: str, column: str) -> str:
    """What happened at the next setting tried beyond a setpoint's; empty when nothing failed there."""
    settings = context.write_up.setpoints[setpoint].settings
    here = settings.get(column)
    if not isinstance(here, float | int):
        return ""
    others = [c for c in DEEPER if c != column]
    # a deeper offset fails with any power limit and fan mode, so only the other offsets must be the same
    runs = [t for t in context.runs if all(t.settings.get(c) == settings.get(c) for c in others)]
    tried = {v for t in runs if isinstance(v := t.settings.get(column), float | int)}
    beyond = sorted((v for v in tried if (v - here) * DEEPER[column] > 0), key=lambda v: abs(v - here))
    if not beyond:
        return ""
    there = [t for t in runs if t.settings.get(column) == beyond[0]]
    failed = [t for t in there if t.outcome in FAILURES]
    if not failed:
        return ""
    kind = SETTING_BY_COLUMN[column]
    unit = kind.unit.symbol if kind.unit else ""
    return (
        f"{kind.name} {exact(here)} {unit}, next to {exact(beyond[0])} {unit}, where {len(failed)} of "
        f"{counted(len(there))} failed ({_outcomes(failed)}); {exact(abs(beyond[0] - here))} {unit} of headroom"
    )


def failures_present(context: Context) -> Iterable[Caveat]:
    """Raised when runs at a setpoint, in a sweep, a walk or a soak did not complete (R64)."""
    groups = {context.label(n): (n, runs) for n, runs in context.at.items()}
    for name, sequence in context.write_up.sequences.items():
        if sequence.kind in REPEATED_FOR_MEANS:
            groups.setdefault(sequence.label, (name, context.along[name]))
    bad = {
        label: (name, runs, out)
        for label, (name, runs) in groups.items()
        if (out := [t for t in runs if t.outcome is not Outcome.COMPLETED])
    }
    if not bad:
        return
    told = [
        f"{label} in {len(out)} of {counted(len(runs))} ({_outcomes(out)})" for label, (_, runs, out) in bad.items()
    ]
    yield Caveat(
        code="failures-present",
        title="Runs that did not complete",
        missing=f"Did not complete: {joined(told)}.",
        effect="Means are over the completed runs only, so they describe the runs that survived; a setting with "
        "failures is no candidate for best.",
        remedy="Back the setting off until repeats complete, or find what stopped the runs.",
        addresses=unique(everything_at(name for name, _, _ in bad.values())),
        source="general statistics (survivors)",
    )


def _outcomes(trials: Iterable[Trial]) -> str:
    return listed(f"{k} {outcome.value}" for outcome, k in Counter(t.outcome for t in trials).items())


def zero_failures(context: Context) -> Iterable[Caveat]:
    """Raised when a setpoint off stock voltage or clocks, or a soak, has no failed run: what that bounds (R63)."""
    confidence_pct = context.site.settings.confidence_pct
    told: list[str] = []
    for name in _risky(context):
        runs = context.at[name]
        if all(t.outcome is Outcome.COMPLETED for t in runs):
            bound_pct = 100 * zero_failure_bound(len(runs), confidence_pct / 100)
            told.append(
                f"{context.label(name)} failed in 0 of {counted(len(runs))}: up to {figure(bound_pct, 3)} % may fail"
            )
    soaks = []
    for sequence in context.write_up.sequences.values():
        runs = context.along[sequence.name] if sequence.kind is SequenceKind.SOAK else ()
        hours = context.number(sequence.name, "hours")
        rate = context.number(sequence.name, "failure-rate", "at-most")
        if not runs or any(t.outcome is not Outcome.COMPLETED for t in runs):
            continue
        if hours is not None and hours.value and rate is not None and rate.value:
            told.append(
                f"{sequence.label} failed 0 times in {hours.printed.text}: up to {figure(rate.value)} failures "
                f"an hour, one in {figure(1 / rate.value)} h"
            )
            soaks.append(sequence.name)
    if not told:
        return
    yield Caveat(
        code="zero-failures",
        title="No failure seen is not no failures",
        missing=joined(told) + f" ({exact(confidence_pct)} % confidence).",
        effect="The runs bound the failure rate, they do not show that it is zero.",
        remedy="More runs or hours: three times as many bring the bound down to a third.",
        standing=True,
        addresses=everything_at(soaks),
        source=BINOMIAL,
    )


def unchecked_output(context: Context) -> Iterable[Caveat]:
    """Raised when voltage or clocks are off stock and the load does not check its own output (R62)."""
    risky = _risky(context)
    if context.write_up.load.output_checked or not risky:
        return
    sequences = [
        s.name for s in context.write_up.sequences.values() if s.kind in (SequenceKind.SOAK, SequenceKind.LADDER)
    ]
    yield Caveat(
        code="unchecked-output",
        title="Output not checked",
        missing=f"{context.write_up.load.name} does not check its own output; {listed(map(context.label, risky))} "
        "ran off stock voltage or clocks.",
        effect="Results can be wrong without a crash. Completed means that no crash was seen.",
        remedy="A load that checks its output, or a comparison with output made at stock.",
        standing=True,
        addresses=everything_at([*risky, *sequences]),
        source=SILENT,
    )


def _risky(context: Context) -> list[str]:
    """Setpoints with runs whose voltage or clocks differ from the baseline's."""
    stock = (
        context.write_up.setpoints[context.baseline].settings if context.baseline in context.write_up.setpoints else {}
    )
    return [
        name
        for name, setpoint in context.write_up.setpoints.items()
        if context.at[name] and any(setpoint.settings.get(c) != stock.get(c, setpoint.settings.get(c)) for c in DEEPER)
    ]


RULES = (
    next_to_failed,
    failures_present,
    zero_failures,
    unchecked_output,
)
