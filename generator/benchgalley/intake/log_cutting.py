"""Runs cut out of a log by their start and length, while the log streams by."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .log_file import Floats, Mended, read_parts
from .log_header import LogPlan
from .log_times import Clock
from .problem_list import ProblemList

PADDING_S = 30.0
"""Kept before and after each run, so that window edges can be interpolated."""
GAP_INTERVALS = 5.0
"""A step of time this many times the usual one is a gap."""
_LATE_READINGS = 5
"""So many readings in a row behind their predecessors are disorder; more mean that the clock was set."""


@dataclass(slots=True)
class Cut:
    """One run and its readings so far."""

    index: int
    """Of the trial."""
    start_s: float
    """Seconds after the base of the clock."""
    duration_s: float
    times: list[Floats] = field(default_factory=list)
    values: dict[str, list[Floats]] = field(default_factory=dict)

    def take(self, time_s: Floats, values: dict[str, Floats], *, rising: bool) -> None:
        """Add the readings that lie in this run or near it; `rising`: the times are in order."""
        low, high = self.start_s - PADDING_S, self.start_s + self.duration_s + PADDING_S
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

    def readings(self, column: str) -> tuple[Floats, Floats]:
        """Seconds after the start of the run and values, missing ones left out, in file order."""
        if not self.times:
            return np.empty(0), np.empty(0)
        time, value = np.concatenate(self.times), np.concatenate(self.values[column])
        there = ~np.isnan(value)
        return time[there], value[there]


def cut_log(plan: LogPlan, clock: Clock, cuts: Sequence[Cut], mended: Mended, problems: ProblemList) -> None:
    """Stream a log once and give every run its readings."""
    latest = -np.inf
    for part in read_parts(plan, mended, problems):
        time = clock.seconds(part)
        known = ~np.isnan(time)
        time, lines = time[known], part.lines[known]
        values = {column: value[known] for column, value in part.values.items()}
        if not time.size:
            continue
        before = np.maximum.accumulate(np.concatenate([[latest], time]))[:-1]
        late = time < before
        rising = not late.any()
        if not rising:
            _judge_late(plan, time, before, late, lines, cuts, mended, problems)
        repeated = int((np.diff(time, prepend=latest) == 0).sum())
        mended.add("readings repeat the time of the one before; readings of one instant were averaged", repeated)
        mended.add(
            "gaps lie outside the runs (a paused logger, or a clock that was set)", _outer_gaps(time, latest, cuts)
        )
        latest = max(latest, float(time.max()))
        low, high = float(time.min()), float(time.max())
        for cut in cuts:
            if low <= cut.start_s + cut.duration_s + PADDING_S and high >= cut.start_s - PADDING_S:
                cut.take(time, values, rising=rising)


def _outer_gaps(time: Floats, latest: float, cuts: Sequence[Cut]) -> int:
    """Long steps of time that touch no run; those inside a run are judged with its window."""
    steps = np.diff(time, prepend=latest if np.isfinite(latest) else time[0])
    usual_s = float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0
    ends = np.flatnonzero(steps > GAP_INTERVALS * max(usual_s, 1e-9))
    outer = 0
    for end in ends.tolist():
        high = float(time[end])
        low = high - float(steps[end])
        outer += not any(low < cut.start_s + cut.duration_s and high > cut.start_s for cut in cuts)
    return outer


def _judge_late(
    plan: LogPlan,
    time: Floats,
    before: Floats,
    late: NDArray[np.bool_],
    lines: NDArray[np.int64],
    cuts: Sequence[Cut],
    mended: Mended,
    problems: ProblemList,
) -> None:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], late, [False]]).astype(np.int8)))
    for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if stop - start <= _LATE_READINGS:
            mended.add("readings out of order were put in order", stop - start)
            continue
        low, high = float(time[start:stop].min()), float(before[start:stop].max())
        touched = [c for c in cuts if low <= c.start_s + c.duration_s and high >= c.start_s]
        if not touched:
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
