"""Runs cut out of a log while it streams by: each is handed over, and forgotten, as soon as the log has passed it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .log_file import read_parts
from .log_header import LogPlan
from .log_rows import Floats, LogPart, Mended
from .log_times import Clock
from .problem_list import ProblemList

PADDING_S = 30.0
"""Kept before and after each run, so that window edges can be interpolated."""
LATEST_S = 60.0
"""A reading this far behind its predecessors is put in order; one further behind comes from a clock that was set."""
GAP_INTERVALS = 5.0
"""A step of time this many times the usual one is a gap."""
_LATE_READINGS = 5
"""So many readings in a row behind their predecessors are disorder; more mean that the clock was set."""


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


def cut_log(
    plan: LogPlan,
    clock: Clock,
    cuts: Sequence[Cut],
    done: Callable[[Cut], None],
    mended: Mended,
    problems: ProblemList,
    *,
    processes: int = 1,
) -> None:
    """Stream a log once; `done` gets every run with its readings, those the log passes first coming first."""
    open_cuts: list[Cut] = []
    waiting = sorted(cuts, key=lambda cut: (cut.start_s, cut.index), reverse=True)
    latest = -np.inf
    for part in read_parts(plan, mended, problems, processes=processes):
        time, values, lines = _known(part, clock.seconds(part))
        if not time.size:
            continue
        steps = np.empty_like(time)
        np.subtract(time[1:], time[:-1], out=steps[1:])
        steps[0] = time[0] - latest if np.isfinite(latest) else 0.0
        lowest = float(steps.min())
        if lowest < 0:
            _judge_late(plan, time, latest, lines, cuts, mended, problems)
        if lowest <= 0:
            repeated = int((steps[0 if np.isfinite(latest) else 1 :] == 0).sum())
            mended.add("readings repeat the time of the one before; readings of one instant were averaged", repeated)
        inner = _inner_gaps(time, steps, lowest, cuts)
        mended.add("gaps inside a run were bridged by a straight line", inner)
        ordered = time if lowest < 0 else time[[0, -1]]
        low, high = float(ordered.min()), float(ordered.max())
        latest = max(latest, high)
        while waiting and waiting[-1].start_s - PADDING_S <= high:
            open_cuts.append(waiting.pop())
        for cut in open_cuts:
            if low <= cut.end_s + PADDING_S:
                cut.take(time, values, rising=lowest >= 0)
        for cut in [c for c in open_cuts if c.end_s + PADDING_S + LATEST_S < latest]:
            open_cuts.remove(cut)
            done(cut)
            cut.forget()
    for cut in (*open_cuts, *reversed(waiting)):
        done(cut)
        cut.forget()


def _known(part: LogPart, time: Floats) -> tuple[Floats, dict[str, Floats], NDArray[np.int64]]:
    """The readings of a part that have a time."""
    # Only a reading without a time makes the sum one that is no number.
    if not np.isnan(time.sum()):
        return time, part.values, part.lines
    known = ~np.isnan(time)
    return time[known], {column: value[known] for column, value in part.values.items()}, part.lines[known]


def _inner_gaps(time: Floats, steps: Floats, lowest: float, cuts: Sequence[Cut]) -> int:
    """Long steps of time inside runs; how long the logger pauses between them does not matter.

    Those too long to be bridged are a problem of the window they lie in.
    """
    if lowest > 0 and float(steps.max()) <= GAP_INTERVALS * lowest:
        return 0
    usual_s = float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0
    longest_s = GAP_INTERVALS * max(usual_s, 1e-9)
    inner = 0
    for end in np.flatnonzero(steps > longest_s).tolist():
        high = float(time[end])
        low = high - float(steps[end])
        inner += any(min(high, cut.end_s) - max(low, cut.start_s) > longest_s for cut in cuts)
    return inner


def _judge_late(
    plan: LogPlan,
    time: Floats,
    latest: float,
    lines: NDArray[np.int64],
    cuts: Sequence[Cut],
    mended: Mended,
    problems: ProblemList,
) -> None:
    before = np.maximum.accumulate(np.concatenate([[latest], time]))[:-1]
    late = time < before
    edges = np.flatnonzero(np.diff(np.concatenate([[False], late, [False]]).astype(np.int8)))
    for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        low, high = float(time[start:stop].min()), float(before[start:stop].max())
        if stop - start <= _LATE_READINGS and high - low <= LATEST_S:
            mended.add("readings out of order were put in order", stop - start)
            continue
        if not any(low <= cut.end_s and high >= cut.start_s for cut in cuts):
            mended.add("readings outside all runs, where the clock was set back,", stop - start)
            continue
        problems.add(
            plan.problem(
                "clock-step",
                int(lines[start]),
                f"the clock goes back by {before[start] - time[start]:.0f} s here, and a run lies in that time",
                "Say in which time the run was made: correct the log's times, or leave the run out with a reason.",
            )
        )
