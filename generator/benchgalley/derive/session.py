"""The runs of one write-up, sorted once into setpoints and sequences."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property, partial

from benchgalley.records.bench import Instrument, Sequence, Setpoint, Trial
from benchgalley.records.membership import in_setpoint, runs_along
from benchgalley.records.quantity import BY_COLUMN, SETTINGS, Quantity
from benchgalley.records.site import Site
from benchgalley.records.write_up import WriteUp

from . import budget
from .allowance import Adjustment
from .estimate import Channel, Estimate, UnknownLimit, row_of
from .numbers import About
from .runs import Runs

_SETTING_COLUMNS = tuple(setting.column for setting in SETTINGS)

COUNTED_BY_THE_MACHINE = frozenset({"score", "duration_s"})
"""Columns that need no instrument: the load counts them."""

ROOT_3 = math.sqrt(3)
ROOT_12 = math.sqrt(12)

Settings = Mapping[str, float | str]


def settings_key(settings: Settings) -> tuple[float | str | None, ...]:
    """Settings as a key: equal settings, equal key."""
    return tuple(map(settings.get, _SETTING_COLUMNS))


@dataclass(frozen=True, kw_only=True, slots=True)
class Group:
    """Runs with the same settings."""

    name: str
    """Setpoint, or the setting of a sequence's point."""
    trials: tuple[Trial, ...]
    """Every run that is not excluded, failed ones among them, in file order."""
    counted: tuple[Trial, ...]
    """The completed ones."""
    kept: dict[tuple[str, ...], Runs] = field(default_factory=dict, repr=False, compare=False)
    """Columns → the completed runs that have them; without columns: every completed run."""
    estimates: dict[str, Estimate | str] = field(default_factory=dict, repr=False, compare=False)
    """Quantity → its estimate, or the reason why there is none."""

    @property
    def everyone(self) -> Runs:
        """Every completed run."""
        if (found := self.kept.get(())) is None:
            found = self.kept[()] = Runs(self.counted)
        return found

    def runs_with(self, columns: tuple[str, ...]) -> Runs:
        """Completed runs that have all of certain columns; one object where that is every completed run."""
        if (found := self.kept.get(columns)) is None:
            everyone = self.everyone
            fit = self.counted
            for column in columns:
                if not everyone.all_have(column):
                    fit = tuple([trial for trial in fit if column in trial.measured])
            found = self.kept[columns] = everyone if len(fit) == len(self.counted) else Runs(fit)
        return found


class Session:
    """Runs of one write-up by setpoint and sequence, with what was computed from them so far."""

    def __init__(self, write_up: WriteUp, site: Site) -> None:
        self.write_up = write_up
        self.site = site
        self.confidence_pct = site.settings.confidence_pct
        self.quantities: dict[str, Quantity | None] = {}
        """Key → quantity with the unit it has here; None: no such quantity."""
        self.abouts: dict[tuple[str, ...], About] = {}
        """Quantity and relation → what all their numbers have in common."""
        self.pairs: dict[tuple[str, str, bool], object] = {}
        """(Setpoint, quantity, whether beside the baseline) → pair."""
        self.pools: dict[tuple[object, ...], object] = {}
        """Card, setpoint and where every write-up measured → pool."""
        self.samples: dict[str, dict[tuple[str, str], object]] = {}
        """Card → (setpoint, quantity) → its samples."""
        self.measured_at: dict[tuple[str, ...], tuple[object, ...] | None] = {}
        """Columns → their measuring points; None where one of them was not recorded."""
        self.channels: dict[str, Channel] = {}
        """Column → limits of the instrument behind it."""
        self.allowances: dict[str, Adjustment | None] = {}
        """Quantity → allowance for its several comparisons with the baseline."""
        self.kept: dict[tuple[str, ...], object] = {}
        """What derivations keep for the next question: sequences, straight lines of drift, the trade front."""

    def forget(self) -> None:
        """Drop everything, the runs too: estimates and pairs refer back to the session. It answers nothing any more."""
        vars(self).clear()

    @cached_property
    def baseline(self) -> str:
        """Name of the setpoint that others are compared with."""
        return self.write_up.baseline

    @cached_property
    def _labels(self) -> dict[str, str]:
        return {name: point.label or name.replace("-", " ") for name, point in self.write_up.setpoints.items()}

    @cached_property
    def _alike(self) -> list[list[Trial]]:
        """Runs that are not excluded, those of the same settings and sequence together: one rule fits them all."""
        found: dict[tuple[tuple[float | str | None, ...], str], list[Trial]] = {}
        for trial in self.write_up.trials:
            if not trial.excluded:
                found.setdefault((settings_key(trial.settings), trial.sequence), []).append(trial)
        return list(found.values())

    @cached_property
    def setpoints(self) -> dict[str, Group]:
        """Setpoint name → its runs; runs marked as a soak stay out of the means."""
        return {name: group_of(name, self._runs_at(setpoint)) for name, setpoint in self.write_up.setpoints.items()}

    def _runs_at(self, setpoint: Setpoint) -> list[Trial]:
        """Runs of a setpoint in file order."""
        found = [alike for alike in self._alike if in_setpoint(alike[0], setpoint, self.write_up.sequences)]
        if len(found) == 1:
            return found[0]
        wanted = {id(trial) for alike in found for trial in alike}
        return [trial for trial in self.write_up.trials if id(trial) in wanted]

    @cached_property
    def columns(self) -> frozenset[str]:
        """Canonical columns that at least one run has a value for."""
        found: set[str] = set()
        for trial in self.write_up.trials:
            found.update(trial.measured)
        return frozenset(found)

    def sequence_trials(self, sequence: Sequence) -> tuple[Trial, ...]:
        """Runs of a sequence, excluded ones left out."""
        return tuple(trial for trial in runs_along(sequence, self.write_up.trials) if not trial.excluded)

    def instrument(self, column: str) -> Instrument | None:
        """Instrument that supplies a column on this bench."""
        return self.write_up.bench.instrument_for(column)

    def label(self, setpoint: str) -> str:
        """A setpoint as named in sentences."""
        return self._labels[setpoint]

    @cached_property
    def positions(self) -> dict[str, float]:
        """Run id → place in time: minutes since the first start where every run has one, else its order."""
        trials = self.write_up.trials
        starts = [trial.started for trial in trials if trial.started is not None]
        if len(starts) < len(trials) or not starts:
            return {trial.id: float(trial.order) for trial in trials}
        first = min(start.timestamp() for start in starts)
        return {trial.id: (start.timestamp() - first) / 60 for trial, start in zip(trials, starts, strict=True)}

    @cached_property
    def timed(self) -> bool:
        """Whether every run has its start: drift is then counted by minutes, else by runs."""
        return all(trial.started is not None for trial in self.write_up.trials)


def group_of(name: str, trials: "tuple[Trial, ...] | list[Trial]") -> Group:
    """Runs with the completed ones told apart."""
    return Group(name=name, trials=tuple(trials), counted=tuple([trial for trial in trials if trial.counts]))


def channel(session: Session, column: str) -> Channel:
    """Limits of the instrument behind a column, gathered once.

    Rectangular limits (JCGM 100:2008, 4.3.7): gain a/√3 of the value, offset a/√3.
    """
    if (found := session.channels.get(column)) is None:
        found = session.channels[column] = _channel(session, column)
    return found


def _channel(session: Session, column: str) -> Channel:
    quantity = BY_COLUMN[column].name
    instrument = session.instrument(column)
    if instrument is None:
        missing = () if column in COUNTED_BY_THE_MACHINE else (UnknownLimit(kind="instrument", source=quantity),)
        return Channel(column, quantity, "", "", None, "", None, "", 0.0, missing)
    unknown: list[UnknownLimit] = []
    found: list[tuple[float | None, str]] = []
    for kind, limit, scale, unit_text in (
        (budget.GAIN, instrument.gain_error_pct, 100.0, "% of the reading"),
        (budget.OFFSET, instrument.offset_error, 1.0, "in the unit of the column"),
    ):
        if limit is None:
            unknown.append(UnknownLimit(kind=kind, source=f"{instrument.name} ({quantity})"))
        origin = f"{kind} error within {budget.figure(limit)} {unit_text}, rectangular" if limit else ""
        found.append((limit / scale / ROOT_3 if limit else None, origin))
    return Channel(
        column, quantity, f"{instrument.name} for {quantity}", instrument.name,
        *found[0], *found[1], instrument.resolution or 0.0, tuple(unknown),
    )  # fmt: skip


def instrument_row(
    channels: Iterable[Channel], means: Iterable[float], sensitivities: Iterable[float], runs: Runs, rounded: bool
) -> tuple[list[float], list[float]]:
    """Signed type B contributions of the instruments behind an estimate: (gain and offset of each, resolution of each).

    Resolution q is q/√12 (JCGM 100:2008, F.2.2.1). `rounded`: the repeats show no spread at all, so that rounding in
    the trials file itself counts where no better limit is known.
    """
    shared, own = [], []
    for limits, mean, sensitivity in zip(channels, means, sensitivities, strict=True):
        shared.append(limits.gain * mean * sensitivity if limits.gain is not None else 0.0)
        shared.append(limits.offset * sensitivity if limits.offset is not None else 0.0)
        step = limits.step or (runs.typed_step(limits.column) if rounded else 0.0)
        own.append(step / ROOT_12 * sensitivity)
    return shared, own


def column_estimate(session: Session, group: Group, column: str) -> Estimate | str:
    """Mean of a measured column over the completed runs; a reason instead when there are none."""
    runs = group.runs_with((column,))
    limits = channel(session, column)
    if not runs.trials:
        return why_empty(group, limits.quantity)
    found = runs.column(column)
    deviation, centre = found.standard_deviation, found.mean
    shared, steps = instrument_row((limits,), (centre,), (1.0,), runs, deviation == 0)
    return Estimate(
        value=centre,
        group=group.name,
        quantity=limits.quantity,
        runs=runs,
        deviations=found.deviations,
        deviation=deviation,
        channels=(limits,),
        row=row_of(centre, deviation, found.count, shared, steps),
        working_of=partial(working_of_mean, found.values),
        column=column,
    )


def working_of_mean(per_run: list[float]) -> str:
    """The sum with its figures, shortened in the middle for many runs."""
    count = len(per_run)
    if count == 1:
        return budget.figure(per_run[0])
    shown = [budget.figure(value) for value in (per_run if count <= 8 else [*per_run[:3], *per_run[-2:]])]
    if count > 8:
        shown.insert(3, "…")
    return f"({' + '.join(shown)}) / {count}"


def why_empty(group: Group, quantity: str) -> str:
    """Why a mean cannot be had, in words fit for a page."""
    if not group.trials:
        return f"no run was made at {group.name}"
    if not group.counted:
        count = len(group.trials)
        return (
            f"none of the {count} runs at {group.name} completed"
            if count > 1
            else (f"the one run at {group.name} did not complete")
        )
    return f"no completed run at {group.name} has a value for {quantity}"
