"""Runs cut out of a log while it streams by: each is handed over, and forgotten, as soon as the log has passed it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .log_file import read_parts
from .log_header import LogPlan
from .log_rows import Floats, LogPart, Mended
from .log_tasks import LogTask, clock_of, plan_of
from .log_times import Clock
from .problem_list import ProblemList

PADDING_S = 30.0
"""Kept before and after each run, so that window edges can be interpolated."""
LATEST_S = 60.0
"""A reading this far behind its predecessors is put in order; one further behind comes from a clock that was set."""
_LATE_READINGS = 5
"""So many readings in a row behind their predecessors are disorder; more mean that the clock was set."""


@dataclass(frozen=True, slots=True)
class Runs:
    """The runs whose figures are wanted of a log, by their start: their number tells nothing of how many a part has."""

    index: NDArray[np.int64]
    """Position in the task."""
    start_s: Floats
    """Seconds after the base of the clock."""
    duration_s: Floats

    @property
    def end_s(self) -> Floats:
        """Seconds after the base of the clock."""
        return self.start_s + self.duration_s

    def cut(self, place: int) -> "Cut":
        """One of them, without readings."""
        return Cut(int(self.index[place]), float(self.start_s[place]), float(self.duration_s[place]))


def runs_of(task: LogTask, places: Sequence[tuple[float, float] | None]) -> Runs:
    """The runs of a task at their places in its log, (start, length); None: it is not found."""
    known = [
        (place[0], index, place[1])
        for index, place in enumerate(places)
        if place is not None and task.runs[index].counts
    ]
    start_s, index, duration_s = zip(*sorted(known), strict=True) if known else ((), (), ())
    return Runs(np.array(index, np.int64), np.array(start_s, np.float64), np.array(duration_s, np.float64))


@dataclass(slots=True)
class Cut:
    """One run and its readings so far."""

    index: int
    """Of the run."""
    start_s: float
    """Seconds after the base of the clock."""
    duration_s: float
    times: list[Floats] = field(default_factory=list)
    values: dict[str, list[Floats]] = field(default_factory=dict)

    @property
    def end_s(self) -> float:
        """Seconds after the base of the clock."""
        return self.start_s + self.duration_s

    def take(self, time_s: Floats, values: dict[str, Floats], *, rising: bool) -> None:
        """Add the readings that lie in this run or near it; `rising`: the times are in order."""
        low, high = self.start_s - PADDING_S, self.end_s + PADDING_S
        near: slice | NDArray[np.bool_]
        if rising:
            near = slice(*np.searchsorted(time_s, [low, high + 1e-9]).tolist())
        else:
            near = (time_s >= low) & (time_s <= high)
        if not (kept := time_s[near]).size:
            return
        self.times.append(kept - self.start_s)
        for column, value in values.items():
            # A copy: a view would keep the whole part of the log in memory.
            self.values.setdefault(column, []).append(value[near].copy())

    def join(self, other: "Cut") -> None:
        """Add the readings of the same run from a later part of the log."""
        self.times.extend(other.times)
        for column, values in other.values.items():
            self.values.setdefault(column, []).extend(values)

    def forget(self) -> None:
        """Let the readings go: they would fill the memory with the whole log."""
        self.times.clear()
        self.values.clear()

    def readings(self, column: str) -> tuple[Floats, Floats]:
        """Seconds after the start of the run and values, missing ones left out, in file order."""
        if not self.times:
            return np.empty(0), np.empty(0)
        time, value = np.concatenate(self.times), np.concatenate(self.values[column])
        if not np.isnan(value.sum()):
            return time, value
        missing = np.isnan(value)
        return time[~missing], value[~missing]


class _Late(NamedTuple):
    """Readings in a row behind their predecessors."""

    place: int
    """Of the first one in its part of the log."""
    readings: int
    low: float
    """Earliest of them, seconds after the base of the clock."""
    high: float
    """Latest time before the last of them."""
    line: int
    back_s: float
    """By how much the clock goes back."""

    def joined(self, rest: "_Late") -> "_Late":
        """With those that follow at once in the next part."""
        readings = self.readings + rest.readings
        return self._replace(readings=readings, low=min(self.low, rest.low), high=max(self.high, rest.high))


@dataclass(slots=True)
class Cutting:
    """A log being cut: what one part of it must know of the parts before."""

    plan: LogPlan
    clock: Clock
    runs: Runs
    done: Callable[[Cut], None]
    """Gets every run with its readings, those the log passes first coming first."""
    mended: Mended
    problems: ProblemList
    latest: float = -np.inf
    """Latest time so far, seconds after the base of the clock."""
    rising: bool = True
    """No reading so far has an earlier time than the one before it."""
    _late: _Late | None = None
    """Readings behind their predecessors at the end of the last part: more may follow."""
    _open: list[Cut] = field(default_factory=list)
    _waiting: list[int] = field(init=False)
    """Places of the runs that the log has not come near to, the next one last."""

    def __post_init__(self) -> None:
        # Those that ended before the log is looked at have no readings to come.
        self._waiting = np.flatnonzero(~(self.runs.end_s + PADDING_S < self.latest))[::-1].tolist()

    def take(self, part: LogPart) -> None:
        """Hand the readings of the next part to the runs they lie in."""
        time, values, lines = _known(part, self.clock.seconds(part))
        if not time.size:
            return
        begun = bool(np.isfinite(self.latest))
        steps = np.empty_like(time)
        np.subtract(time[1:], time[:-1], out=steps[1:])
        steps[0] = time[0] - self.latest if begun else 0.0
        lowest = float(steps.min())
        if lowest < 0 or self._late is not None:
            self.rising = self.rising and lowest >= 0
            for late in self._passed_late(_late_stretches(time, self.latest, lines), len(time)):
                self._judge(late)
        if lowest <= 0:
            repeated = int((steps[0 if begun else 1 :] == 0).sum())
            self.mended.add(
                "readings repeat the time of the one before; readings of one instant were averaged", repeated
            )
        ordered = time if lowest < 0 else time[[0, -1]]
        low, high = float(ordered.min()), float(ordered.max())
        self.latest = max(self.latest, high)
        while self._waiting and self.runs.start_s[self._waiting[-1]] - PADDING_S <= high:
            self._open.append(self.runs.cut(self._waiting.pop()))
        for cut in self._open:
            if low <= cut.end_s + PADDING_S:
                cut.take(time, values, rising=lowest >= 0)
        self._pass([cut for cut in self._open if cut.end_s + PADDING_S + LATEST_S < self.latest])

    def finish(self) -> None:
        """Hand over the runs that the log ended in or near."""
        if self._late is not None:
            self._judge(self._late)
        self._pass(self._open)

    def _passed_late(self, found: list[_Late], readings: int) -> list[_Late]:
        """The stretches that have ended: what stood at the end of the part before may go on in this one."""
        open_end = bool(found) and found[-1].place + found[-1].readings == readings
        if (before := self._late) is not None:
            found = [before.joined(found[0]), *found[1:]] if found and found[0].place == 0 else [before, *found]
        self._late = found.pop() if open_end else None
        return found

    def _judge(self, late: _Late) -> None:
        """Readings behind their predecessors are put in order where they are few, and told."""
        if late.readings <= _LATE_READINGS and late.high - late.low <= LATEST_S:
            self.mended.add("readings out of order were put in order", late.readings)
        elif not ((late.low <= self.runs.end_s) & (late.high >= self.runs.start_s)).any():
            self.mended.add("readings outside all runs, where the clock was set back,", late.readings)
        else:
            self.problems.add(
                self.plan.problem(
                    "clock-step",
                    late.line,
                    f"the clock goes back by {late.back_s:.0f} s here, and a run lies in that time",
                    "Say in which time the run was made: correct the log's times, or leave the run out with a reason.",
                )
            )

    def not_reached(self) -> list[Cut]:
        """Runs that lie wholly behind the last reading."""
        return [self.runs.cut(place) for place in reversed(self._waiting)]

    def _pass(self, cuts: list[Cut]) -> None:
        for cut in cuts:
            self.done(cut)
            cut.forget()
        if cuts:
            passed = {cut.index for cut in cuts}
            self._open = [cut for cut in self._open if cut.index not in passed]


def cutting_of(
    task: LogTask,
    runs: Runs,
    done: Callable[[Cut], None],
    mended: Mended,
    problems: ProblemList,
    *,
    latest: float = -np.inf,
) -> Cutting:
    """A log about to be cut, from its first line or from where `latest` was the last time."""
    plan = plan_of(task)
    return Cutting(plan, clock_of(task, plan, problems), runs, done, mended, problems, latest)


def cut_log(cutting: Cutting, numbers: tuple[int, int] | None = None) -> None:
    """Stream a log, or some blocks of it (see `read_parts`), once."""
    for part in read_parts(cutting.plan, cutting.mended, cutting.problems, numbers=numbers):
        cutting.take(part)
    cutting.finish()


def _known(part: LogPart, time: Floats) -> tuple[Floats, dict[str, Floats], NDArray[np.int64]]:
    """The readings of a part that have a time."""
    # Only a reading without a time makes the sum one that is no number.
    if not np.isnan(time.sum()):
        return time, part.values, part.lines
    known = ~np.isnan(time)
    return time[known], {column: value[known] for column, value in part.values.items()}, part.lines[known]


def _late_stretches(time: Floats, latest: float, lines: NDArray[np.int64]) -> list[_Late]:
    """Readings in a row that have an earlier time than one before them; `latest`: of all parts before."""
    before = np.maximum.accumulate(np.concatenate([[latest], time]))[:-1]
    edges = np.flatnonzero(np.diff(np.concatenate([[False], time < before, [False]]).astype(np.int8)))
    return [
        _Late(
            start,
            stop - start,
            float(time[start:stop].min()),
            float(before[start:stop].max()),
            int(lines[start]),
            float(before[start] - time[start]),
        )
        for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
    ]
