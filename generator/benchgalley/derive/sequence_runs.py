"""The runs of one sequence, point by point, and what a line of the sequence tables looks like."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar, cast

from benchgalley.metrology.repeatability import pooled_standard_deviation
from benchgalley.metrology.sample import NotDetermined
from benchgalley.records import units
from benchgalley.records.bench import Sequence, SequenceKind, Trial
from benchgalley.records.quantity import SETTING_BY_COLUMN, Quantity
from benchgalley.records.units import Unit

from . import budget
from .budget import Draft
from .estimate import Estimate
from .estimating import estimate_at, estimate_group
from .session import Group, Session, group_of

ALL_KINDS = frozenset(SequenceKind)
LINES_OF_SETTINGS = frozenset({SequenceKind.SWEEP, SequenceKind.WALK, SequenceKind.LADDER})
SWEEPS = frozenset({SequenceKind.SWEEP, SequenceKind.WALK})


_Found = TypeVar("_Found")


class Walk:
    """A sequence with its runs; in a sweep, ladder or walk sorted into points of equal setting."""

    def __init__(self, session: Session, sequence: Sequence) -> None:
        self.session = session
        self.sequence = sequence
        self.trials: tuple[Trial, ...] = session.sequence_trials(sequence)
        self._found: dict[Callable[[Walk], object], object] = {}

    def once(self, find: Callable[[Walk], _Found]) -> _Found:
        """What a function finds of it, found when it is first asked for: several lines of a table share it."""
        if find not in self._found:
            self._found[find] = find(self)
        return cast("_Found", self._found[find])

    @property
    def confidence_pct(self) -> float:
        """Confidence of the site, percent."""
        return self.session.confidence_pct

    @property
    def whole(self) -> Group:
        """All its runs as one group."""
        return group_of(self.sequence.name, self.trials)

    @property
    def label(self) -> str:
        """As named in sentences."""
        return self.sequence.label or self.sequence.name.replace("-", " ")

    @property
    def unit(self) -> Unit:
        """Unit of the setting that varies."""
        kind = SETTING_BY_COLUMN.get(self.sequence.setting)
        return kind.unit if kind is not None and kind.unit is not None else units.ONE

    @property
    def stock_value(self) -> float:
        """The varied setting at stock."""
        kind = SETTING_BY_COLUMN.get(self.sequence.setting)
        return float(kind.default) if kind is not None and kind.unit is not None else 0.0

    @cached_property
    def points(self) -> tuple[tuple[float, Group], ...]:
        """(Setting, its runs) from the lowest setting to the highest."""
        found: dict[float, list[Trial]] = {}
        for trial in self.trials:
            value = trial.settings.get(self.sequence.setting)
            if isinstance(value, int | float):
                found.setdefault(float(value), []).append(trial)
        return tuple((value, group_of(self.point_name(value), found[value])) for value in sorted(found))

    def point_name(self, value: float) -> str:
        """E.g. "84 %", as named in budgets and groups."""
        text = budget.figure(value)
        return f"{text}\u00a0{self.unit.symbol}" if self.unit.symbol else text

    def measured_points(self, key: str) -> tuple[tuple[float, Estimate], ...]:
        """(Setting, estimate) of every point that has one; points without completed runs are left out.

        Raises
        ------
        NotDetermined
            No point at all has a value.
        """
        found: list[tuple[float, Estimate]] = []
        reason = f"no run of {self.label} has a setting and a result"
        for value, group in self.points:
            try:
                found.append((value, estimate_group(self.session, group, key)))
            except NotDetermined as problem:
                reason = problem.reason
        if not found:
            raise NotDetermined(reason)
        return tuple(found)


@dataclass(frozen=True, kw_only=True, slots=True)
class SequenceLine:
    """One number over a sequence: a quantity under one relation. A new one is a function and its line."""

    quantity: Quantity
    compute: Callable[[Walk], Draft]
    words: str
    """Name in words, with {sequence}."""
    kinds: frozenset[SequenceKind]
    relation: str = ""
    unit_of: Callable[[Walk], Unit] | None = None
    """Unit where it depends on the sequence or the load."""
    setting: str = ""
    """Only for sequences that vary this settings column; empty: any."""
    columns: tuple[str, ...] = ()
    """Canonical columns that must have been recorded."""
    counts_work: bool = False
    """Only where a higher score is better."""
    higher_is_better: bool | None = None

    def applies(self, walk: Walk) -> bool:
        """Whether a sequence has this number at all."""
        return (
            walk.sequence.kind in self.kinds
            and (not self.setting or walk.sequence.setting == self.setting)
            and walk.session.columns.issuperset(self.columns)
            and (not self.counts_work or walk.session.write_up.load.higher_is_better)
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Errors:
    """Standard error and degrees of freedom of each point's mean, from repeats."""

    errors: tuple[float, ...]
    freedoms: tuple[float, ...]
    note: str
    """Said with the number where the spread was pooled."""


def repeat_errors(estimates: tuple[Estimate, ...]) -> Errors:
    """Errors of the means of a sweep. Where a setting was run once, one spread is taken for all settings.

    Raises
    ------
    NotDetermined
        No setting was run twice, or there was no spread.
    """
    if all(estimate.deviation is not None for estimate in estimates):
        errors = tuple((e.deviation or 0.0) / e.count**0.5 for e in estimates)
        if any(errors) and all(errors):
            return Errors(errors=errors, freedoms=tuple(float(e.count - 1) for e in estimates), note="")
    deviation, freedom = pooled_standard_deviation([e.per_run for e in estimates])
    if not deviation > 0:
        raise NotDetermined("every run gave the same value: the spread cannot be estimated")
    once = sum(e.deviation is None for e in estimates)
    why = f"{once} of {len(estimates)} settings were run once" if once else "one setting showed no spread"
    return Errors(
        errors=tuple(deviation / e.count**0.5 for e in estimates),
        freedoms=(float(freedom),) * len(estimates),
        note=f"{why}, so one spread was taken for all settings, from the {freedom} degrees of freedom there are",
    )


def run_groups(
    points: tuple[tuple[float, Estimate], ...], base: Estimate | None = None
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    found = tuple((estimate.group, estimate.run_ids) for _, estimate in points)
    return found if base is None else (*found, (base.group, base.run_ids))


def baseline_estimate(walk: Walk, key: str) -> Estimate:
    return estimate_at(walk.session, walk.session.baseline, key)
