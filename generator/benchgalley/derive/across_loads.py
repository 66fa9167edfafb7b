"""One card over several loads: the geometric mean of ratios, and why no other average will do."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from benchgalley.metrology.averages import geometric_mean, geometric_mean_interval
from benchgalley.metrology.sample import NotDetermined
from benchgalley.records import units
from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Interval
from benchgalley.records.units import Unit

from . import budget
from .at_setpoint import quantity_of
from .budget import Draft, Term
from .combining import Combined
from .estimate import Estimate
from .estimating import estimate_at
from .session import Session, settings_key

SUFFIX = "-across-loads"
"""`score-across-loads/ratio` at a card: `<card>:<setpoint>/score-across-loads/ratio`."""

SUMMARISED = ("score", "score-per-watt")
"""Quantities summarised over loads."""

METHOD = "Student t of the logarithms over loads, transformed back"
SOURCE = "Geometric mean of normalised results: Fleming and Wallace, Commun. ACM 29 (1986) 218-221"


@dataclass(frozen=True, kw_only=True, slots=True)
class Loads:
    """Ratios to the baseline, one a load."""

    ratios: tuple[float, ...]
    """Above 1 is better, whichever way the load counts."""
    names: tuple[str, ...]
    groups: budget.Groups
    notes: tuple[str, ...]
    confidence_pct: float


def loads_of(sessions: Sequence[Session], setpoint: str, key: str) -> Loads:
    """The ratio of a setpoint to its baseline under each load, every write-up of a load taken together.

    Write-ups count that have a setpoint of that name with the settings most of them have.

    Raises
    ------
    NotDetermined
        Fewer than two loads have such a ratio.
    """
    fitting, left_out = _same_settings(sessions, setpoint)
    by_load: dict[str, list[float]] = {}
    groups: list[tuple[str, tuple[str, ...]]] = []
    turned: list[str] = []
    for session in fitting:
        load = session.write_up.load
        try:
            at, base = estimate_at(session, setpoint, key), estimate_at(session, session.baseline, key)
            ratio = _ratio(session, key, at, base)
        except NotDetermined:
            left_out.append(session.write_up.slug)
            continue
        name = f"{load.name} {load.version} {load.preset}".strip()
        by_load.setdefault(name, []).append(ratio)
        groups += [(f"{session.write_up.slug}: {e.group}", e.run_ids) for e in (at, base)]
        if key == "score" and not load.higher_is_better:
            turned.append(name)
    if len(by_load) < 2:
        raise NotDetermined("one load: there is nothing to average over" if by_load else "no load has such a ratio")
    notes = ["the interval speaks of further loads like these, as if they had been drawn at random"]
    if turned:
        notes.append(f"of {', '.join(dict.fromkeys(turned))} a lower score is better, so its ratio is turned round")
    if left_out:
        notes.append(f"left out, for another setting or a missing value: {', '.join(left_out)}")
    return Loads(
        ratios=tuple(geometric_mean(ratios) for ratios in by_load.values()),
        names=tuple(by_load),
        groups=tuple(groups),
        notes=tuple(notes),
        confidence_pct=fitting[0].confidence_pct,
    )


def _same_settings(sessions: Sequence[Session], setpoint: str) -> tuple[list[Session], list[str]]:
    found: dict[tuple[object, ...], list[Session]] = {}
    for session in sessions:
        write_up = session.write_up
        if setpoint in write_up.setpoints and setpoint != write_up.baseline:
            found.setdefault(settings_key(write_up.setpoints[setpoint].settings), []).append(session)
    if not found:
        raise NotDetermined(f"no write-up compares {setpoint} with a baseline")
    best = max(found.values(), key=lambda group: len({s.write_up.load.id for s in group}))
    others = [s.write_up.slug for group in found.values() if group is not best for s in group]
    return best, others


def _ratio(session: Session, key: str, at: Estimate, base: Estimate) -> float:
    turned = key == "score" and not session.write_up.load.higher_is_better
    top, bottom = (base.value, at.value) if turned else (at.value, base.value)
    if not (top > 0 and bottom > 0) or not math.isfinite(top / bottom):
        raise NotDetermined("a ratio needs values above zero")
    return top / bottom


def mean_ratio(found: Loads) -> Draft:
    """Geometric mean of the ratios."""
    return _draft(found, 1.0, 0.0)


def mean_change_percent(found: Loads) -> Draft:
    """100 · (geometric mean - 1)."""
    return _draft(found, 100.0, -100.0)


def _draft(found: Loads, scale: float, shift: float) -> Draft:
    mean = geometric_mean(found.ratios)
    shown = " × ".join(budget.figure(ratio) for ratio in found.ratios)
    draft = Draft(
        value=scale * mean + shift if not shift else scale * (mean - 1.0),
        groups=found.groups,
        substitution=f"({shown})^(1/{len(found.ratios)}) over {', '.join(found.names)}",
        reason="; ".join(found.notes),
    )
    try:
        limits = geometric_mean_interval(found.ratios, found.confidence_pct / 100)
    except NotDetermined as problem:
        draft.reason = f"{problem.reason}; {draft.reason}"
        return draft
    term = Term(
        "spread between loads", budget.REPEATABILITY, scale * limits.standard_error, limits.degrees_of_freedom,
        f"{len(found.ratios)} loads",
    )  # fmt: skip
    draft.combined = Combined((term,))
    draft.standard_uncertainty, draft.degrees_of_freedom = scale * limits.standard_error, limits.degrees_of_freedom
    draft.interval = draft.repeatability_interval = Interval(
        low=scale * limits.low + shift, high=scale * limits.high + shift, confidence_pct=found.confidence_pct,
        method=METHOD,
    )  # fmt: skip
    return draft


def refuse_arithmetic(_: Loads) -> Draft:
    """An arithmetic mean of ratios depends on which setpoint they are taken to, so it is not given."""
    raise NotDetermined(
        "an arithmetic mean of normalised scores changes with the setpoint they are normalised to: "
        "ask for the geometric mean, /ratio"
    )


def refuse_scores(_: Loads) -> Draft:
    """Scores of different loads have no common unit."""
    raise NotDetermined("scores of different loads have no common unit: ask for the geometric mean of ratios, /ratio")


LoadLine = tuple[str, Callable[[Loads], Draft], Unit, str, bool]

LOAD_LINES: tuple[LoadLine, ...] = (
    ("ratio", mean_ratio, units.RATIO, "{quantity} at {setpoint} over baseline, geometric mean over loads", True),
    (
        "change-percent", mean_change_percent, units.PERCENT,
        "change of {quantity} from baseline to {setpoint}, geometric mean over loads", True,
    ),
    ("mean-of-ratios", refuse_arithmetic, units.RATIO, "arithmetic mean of {quantity} ratios over loads", False),
    ("", refuse_scores, units.ONE, "{quantity} at {setpoint}, mean over loads", False),
)  # fmt: skip
"""(Relation, computation, unit, name in words, whether it is listed), in the order tables show them."""

LOAD_LINE_BY_KEY = {line[0]: line for line in LOAD_LINES}


def across_quantity(session: Session, key: str) -> Quantity | None:
    """The quantity behind `score-across-loads`; None when there is none."""
    base = key.removesuffix(SUFFIX)
    return quantity_of(session, base) if key.endswith(SUFFIX) and base in SUMMARISED else None


def across_glossary() -> tuple[Quantity, ...]:
    """What is said of summaries over loads in the methods."""
    return tuple(
        Quantity(
            key=f"{key}{SUFFIX}", name=f"{key.replace('-', ' ')} across loads", unit=units.RATIO,
            definition="Geometric mean, over loads, of the ratio of a setpoint to its baseline; arithmetic means of "
            "normalised scores are refused.",
            formula="(Π ratio)^(1/loads)", source=SOURCE,
        )
        for key in SUMMARISED
    )  # fmt: skip
