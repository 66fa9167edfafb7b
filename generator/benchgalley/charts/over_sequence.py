"""Figures over the sequences of a write-up: ladders, walks and sweeps."""

from collections import Counter
from collections.abc import Callable, Sequence
from typing import Any

from ..records.bench import Outcome, SequenceKind, Trial
from ..records.bench import Sequence as RunSequence
from ..records.quantity import SETTING_BY_COLUMN
from ..records.results import Results
from ..records.site import Site
from ..records.write_up import WriteUp
from . import reading, theme
from .picture import Drawing
from .reading import NBSP, counted, find, setpoint_label


def offset_ladder(write_up: WriteUp, site: Site, results: Results) -> Drawing | None:
    """Every run of a ladder by step and in the order made, told apart by outcome."""
    ladder = next((s for s in write_up.sequences.values() if s.kind is SequenceKind.LADDER), None)
    if ladder is None:
        return None
    runs = reading.members(write_up, ladder)
    if not runs:
        return None
    kind = SETTING_BY_COLUMN[ladder.setting]
    unit = kind.unit.symbol if kind.unit else ""
    steps: dict[float, list[Trial]] = {}
    for trial in runs:
        steps.setdefault(float(trial.settings[ladder.setting]), []).append(trial)
    levels = sorted(steps, reverse=True)
    place = {trial.id: i for i, trial in enumerate(runs, start=1)}
    labels = {level: _step_label(write_up, ladder, level, unit) for level in levels}
    words = {level: summary(steps[level]) for level in levels}
    outcomes = [o for o in theme.OUTCOMES if any(t.outcome == o for t in runs)]
    marks = [
        {
            "row": labels[level],
            "order": place[trial.id],
            "outcome": trial.outcome.value,
            "tooltip": f"{labels[level]}\nrun {trial.id}: {trial.outcome.value}",
        }
        for level in levels
        for trial in steps[level]
    ]
    failed = sum(t.outcome is not Outcome.COMPLETED for t in runs)
    facts, addresses = _ladder_facts(write_up, ladder, results)
    title = f"{reading.titled(kind.name, '')} step by step"
    return Drawing(
        id="offset-ladder",
        kind="offset-ladder",
        template="outcome-rows",
        title=title,
        caption=(
            f"{counted(len(runs), 'run')} at {counted(len(levels), 'step')} of the {kind.name}, each drawn by its"
            f" outcome in the order made; {failed} did not complete.{facts}"
        ),
        alternative=f"{title}: " + "; ".join(f"{labels[v]}, {words[v]}" for v in levels) + "." + facts,
        columns=(reading.titled(kind.name, unit), "Runs", *outcomes),
        rows=tuple(
            (labels[v], str(len(steps[v])), *(str(sum(t.outcome == o for t in steps[v])) for o in outcomes))
            for v in levels
        ),
        data={
            "rows": [{"row": labels[v], "label": labels[v], "summary": words[v]} for v in levels],
            "runs": marks,
            "key": _key(outcomes),
        },
        signals={"x_low": 0.4, "x_high": len(runs) + 0.6, "x_title": "Run, in the order made"},
        addresses=addresses,
    )


def summary(trials: Sequence[Trial]) -> str:
    """Outcomes of some runs in words: `3 of 3 completed`, `1 of 3 completed, 2 crashed`."""
    counts = Counter(t.outcome for t in trials)
    failed = [
        f"{counts[o]} {_FAILED_WORDS.get(o, o.value)}" for o in Outcome if o is not Outcome.COMPLETED and counts[o]
    ]
    return ", ".join((f"{counts[Outcome.COMPLETED]} of {len(trials)} completed", *failed))


_FAILED_WORDS = {Outcome.ARTEFACTS: "with artefacts"}


def _step_label(write_up: WriteUp, sequence: RunSequence, level: float, unit: str) -> str:
    label = reading.shortest(level) + (f"{NBSP}{unit}" if unit else "")
    wanted = {**sequence.held, sequence.setting: level}
    named = [setpoint_label(write_up, name) for name, s in write_up.setpoints.items() if dict(s.settings) == wanted]
    return f"{label} ({named[0]})" if named else label


def _key(outcomes: Sequence[str]) -> list[dict[str, Any]]:
    pixel, entries = 8.0, []
    for outcome in outcomes:
        entries.append({"pixel": pixel, "word": outcome, "outcome": outcome})
        pixel += 40 + len(outcome) * theme.FONT_SIZE * 0.7
    return entries


_LADDER_FACTS = (
    ("deepest-completed", "Deepest step completed"),
    ("first-failed", "first step that failed"),
    ("headroom", "headroom left"),
)


def _ladder_facts(write_up: WriteUp, ladder: RunSequence, results: Results) -> tuple[str, tuple[str, ...]]:
    found = [
        (words, number)
        for quantity, words in _LADDER_FACTS
        if (number := find(results, write_up.slug, ladder.name, quantity)) is not None
    ]
    if not found:
        return "", ()
    sentence = "; ".join(f"{words}: {number.printed.text}" for words, number in found)
    return f" {sentence[:1].upper()}{sentence[1:]}.", tuple(n.address.local() for _, n in found)


FIGURES: tuple[tuple[str, Callable[[WriteUp, Site, Results], Drawing | None]], ...] = (
    ("offset-ladder", offset_ladder),
)
"""Chart kind and the function that prepares it, in page order."""
