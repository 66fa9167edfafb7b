"""Where the runs lie in a log: as stated, by a column that marks them, or by the load itself.

By load: means over one second are split into idle and busy at the threshold that maximises the variance between
the two classes (N. Otsu, IEEE Trans. Syst. Man Cybern. 9 (1979) 62-66); pauses and runs shorter than stated below
are not taken for such; each edge is then put where one change in mean fits best by least squares
(`metrology.change_point`; Bai, Econometric Theory 13 (1997) 315-352). Busy stretches are the trials of the log in
the order of trials.csv, failed runs among them; a different number of them is a problem.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import NamedTuple

import numpy as np

from .. import metrology
from .log_blocks import NotInSectionsError
from .log_file import read_parts
from .log_marks import marked_stretches
from .log_rows import Floats, Mended
from .log_sections import in_sections
from .log_tasks import IDLE_SHARE, LOADED, LogTask, clock_of, plan_of
from .problem_list import ProblemList, clip

SHORTEST_PAUSE_S = 5
"""A dip in the load shorter than this does not end a run."""
SHORTEST_RUN_S = 10
"""A burst of load shorter than this is no run."""
_EDGE_S = 10
"""An edge is looked for so many seconds around where the threshold is crossed."""
_RAMP_SHARE = 0.1
"""A first or last second this far from its inner neighbour, as a share of the step from idle, is partly idle."""

Remarks = Callable[[int, str, str, str], None]
Places = Sequence[tuple[float, float] | None]


class Stretch(NamedTuple):
    """Part of a log that may be a run, seconds after the base of the task."""

    start_s: float
    end_s: float


def locate(task: LogTask, problems: ProblemList, remark: Remarks, processes: int) -> Places | None:
    """(start, length) of every run of a task, None for one that is not found; None with problems."""
    cut = task.settings.get("cut", "started")
    if cut == "started":
        return [
            None if run.start_s is None or run.duration_s is None else (run.start_s, run.duration_s)
            for run in task.runs
        ]
    if cut == "load":
        stretches = _busy_stretches(task, problems, processes)
        return None if stretches is None else _in_order(task, stretches, "busy", problems)
    mark = task.settings["mark"]
    marked = marked_stretches(task, mark, problems, processes)
    if marked is None:
        return None
    if mark["means"] == "toggle":
        return _in_order(task, [Stretch(m.start_s, m.end_s) for m in marked], "marked", problems)
    places: list[tuple[float, float] | None] = []
    for index, run in enumerate(task.runs):
        own = [m for m in marked if m.name == run.id]
        places.append((own[0].start_s, own[0].end_s - own[0].start_s) if own else None)
        if len(own) > 1:
            what = f"the log marks `{clip(run.id)}` in {len(own)} separate stretches"
            remark(index, "mark-twice", what, "Give every run a mark of its own.")
        elif not own and run.counts:
            remark(index, "mark-missing", f"the log marks no reading `{clip(run.id)}`", "Check `logs.mark`.")
    return places


def _in_order(task: LogTask, stretches: Sequence[Stretch], what: str, problems: ProblemList) -> Places | None:
    """Stretches as the runs of the task, in order; there must be as many."""
    if len(stretches) == len(task.runs):
        return [(s.start_s, s.end_s - s.start_s) for s in stretches]
    problems.add(
        plan_of(task).problem(
            "runs-and-log-differ",
            1,
            f"the log has {len(stretches)} {what} stretches; trials.csv has {len(task.runs)} trials with this log",
            "Each run, failed ones too, needs a row and a stretch of the log; or cut by `started`.",
        )
    )
    return None


def _busy_stretches(task: LogTask, problems: ProblemList, processes: int) -> list[Stretch] | None:
    mapped = {column for column, _, _ in task.columns}
    column = next(column for column in LOADED if column in mapped)
    before = problems.errors
    second, mean = _second_means(task, column, problems, processes)
    if problems.errors > before:
        return None
    limit = otsu_threshold(mean)
    busy = mean > limit
    if not busy.any() or not mean[~busy].mean() < IDLE_SHARE * mean[busy].mean():
        problems.add(
            plan_of(task).problem(
                "no-idle-in-log",
                1,
                f"`{column}` does not tell idle from busy: its two levels are less than a factor of two apart",
                "Cut by `started` or by marks.",
            )
        )
        return None
    return [_edges(second, mean, start, stop) for start, stop in _runs_of(second, busy)]


class _Sums(NamedTuple):
    """Seconds that have readings, the sum of each one's readings, and their number: a second may occur again."""

    second: Floats
    total: Floats
    number: Floats


def _second_means(task: LogTask, column: str, problems: ProblemList, processes: int) -> tuple[Floats, Floats]:
    """Seconds that have readings, rising, and the mean of each."""
    try:
        sums = _joined(in_sections(Path(task.path), partial(_sums_apart, task, column), processes))
    except NotInSectionsError:
        sums = _joined(_sums(task, column, problems))
    which, place = np.unique(sums.second, return_inverse=True)
    total = np.bincount(place, weights=sums.total, minlength=len(which))
    return which, total / np.bincount(place, weights=sums.number, minlength=len(which))


def _joined(parts: Iterable[_Sums]) -> _Sums:
    return _Sums(*map(np.concatenate, zip(_Sums(*[np.empty(0)] * 3), *parts, strict=True)))


def _sums_apart(task: LogTask, column: str, first: int, past: int) -> _Sums:
    """The sums of some blocks of a log."""
    problems = ProblemList()
    sums = _joined(_sums(task, column, problems, (first, past)))
    if problems.sorted():
        raise NotInSectionsError
    return sums


def _sums(task: LogTask, column: str, problems: ProblemList, numbers: tuple[int, int] | None = None) -> Iterator[_Sums]:
    plan = plan_of(task, (column,))
    clock = clock_of(task, plan, problems)
    for part in read_parts(plan, Mended(), problems, numbers=numbers):
        time, value = clock.seconds(part), part.values[column]
        there = ~(np.isnan(time) | np.isnan(value))
        which, place = np.unique(np.floor(time[there]), return_inverse=True)
        total = np.bincount(place, weights=value[there], minlength=len(which)).astype(np.float64)
        yield _Sums(which, total, np.bincount(place, minlength=len(which)).astype(np.float64))
        if numbers is not None and clock.met_unclear:
            raise NotInSectionsError


def otsu_threshold(values: Floats) -> float:
    """The value that splits `values` into the two classes with the greatest variance between them.

    Midway between the two neighbouring values; infinite when there are fewer than two different ones. Otsu (1979),
    equation 18: the variance between is w0 w1 (m1 - m0)^2.
    """
    ordered = np.sort(values)
    if ordered.size < 2 or ordered[0] == ordered[-1]:
        return float("inf")
    low = np.arange(1, ordered.size)
    below = np.cumsum(ordered)[:-1]
    between = low * (ordered.size - low) * (below / low - (ordered.sum() - below) / (ordered.size - low)) ** 2
    # Equal neighbours cannot be told apart by a threshold.
    between[ordered[1:] == ordered[:-1]] = -1.0
    at = int(np.argmax(between))
    return float(ordered[at] + ordered[at + 1]) / 2


def _runs_of(second: Floats, busy: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> list[tuple[int, int]]:
    """(first, one past the last) of every busy stretch, short pauses bridged and short bursts left out."""
    found: list[tuple[int, int]] = []
    edges = np.flatnonzero(np.diff(np.concatenate([[False], busy, [False]]).astype(np.int8)))
    for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if found and second[start] - second[found[-1][1] - 1] - 1 < SHORTEST_PAUSE_S:
            found[-1] = (found[-1][0], stop)
        else:
            found.append((start, stop))
    return [(start, stop) for start, stop in found if second[stop - 1] + 1 - second[start] >= SHORTEST_RUN_S]


def _edges(second: Floats, mean: Floats, start: int, stop: int) -> Stretch:
    start, stop = _change_near(mean, start, stop, at_start=True), _change_near(mean, start, stop, at_start=False)
    # A second that is only partly busy is not counted in: the run then starts with the next one.
    if start > 0 and abs(mean[start] - mean[start + 1]) > _RAMP_SHARE * abs(mean[start + 1] - mean[start - 1]):
        start += 1
    last = stop - 1
    if stop < len(mean) and abs(mean[last] - mean[last - 1]) > _RAMP_SHARE * abs(mean[last - 1] - mean[stop]):
        last -= 1
    return Stretch(float(second[start]), float(second[last]) + 1.0)


def _change_near(mean: Floats, start: int, stop: int, *, at_start: bool) -> int:
    """The edge of a busy stretch, put where one change in mean fits best around it."""
    edge = start if at_start else stop
    inner = min(_EDGE_S, (stop - start) // 2)
    low = max(0, edge - (_EDGE_S if at_start else inner))
    high = min(len(mean), edge + (inner if at_start else _EDGE_S))
    if edge in (0, len(mean)):
        return edge
    try:
        return low + metrology.change_point(mean[low:high], 1).index
    except metrology.NotDetermined:
        return edge
