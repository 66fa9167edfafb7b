"""Runs of a log by a column of it that marks them: with the name of the trial, or by being on or off."""

from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from ..records.findings import Location, Problem, Severity
from .log_blocks import NotInSectionsError
from .log_file import read_parts
from .log_rows import Mended
from .log_sections import in_sections
from .log_tasks import LogTask, clock_of, plan_of
from .problem_list import ProblemList, clip

OFF = ("", "0", "false", "off", "no", "idle", "-", "--", "n/a", "na", "nan", "null", "none")
"""Cells that mark no run, in any case of letters."""
_MOST_STRETCHES = 20_000


class Marked(NamedTuple):
    """Readings in a row with one mark, seconds after the base of the task."""

    name: str
    start_s: float
    end_s: float


def marked_stretches(task: LogTask, mark: Any, problems: ProblemList, processes: int) -> list[Marked] | None:
    """Every stretch with a mark, in file order; None with a problem."""
    before = problems.errors
    found: list[Marked] = []
    try:
        for section in in_sections(Path(task.path), partial(_marked_apart, task), processes):
            for stretch in section:
                _append(found, stretch)
    except NotInSectionsError:
        found = _marked(task, problems)
    if problems.errors > before:
        return None
    if len(found) > _MOST_STRETCHES:
        problems.add(
            plan_of(task, ()).problem(
                "not-a-mark",
                1,
                f"`{clip(mark['header'])}` changes more than {_MOST_STRETCHES} times: it does not mark runs",
                "Check `logs.mark.header`.",
            )
        )
        return None
    on = [stretch for stretch in found if stretch.name.lower() not in OFF]
    return _told(task, mark, on, problems)


def _marked_apart(task: LogTask, first: int, past: int) -> list[Marked]:
    """The stretches in some blocks of a log."""
    problems = ProblemList()
    found = _marked(task, problems, (first, past))
    if problems.sorted():
        raise NotInSectionsError
    return found


def _marked(task: LogTask, problems: ProblemList, numbers: tuple[int, int] | None = None) -> list[Marked]:
    """Stretches up to the first problem, or until there are far too many."""
    before = problems.errors
    plan = plan_of(task, ())
    clock = clock_of(task, plan, problems)
    found: list[Marked] = []
    for part in read_parts(plan, Mended(), problems, with_marks=True, numbers=numbers):
        time = clock.seconds(part)
        if numbers is not None and clock.met_unclear:
            raise NotInSectionsError
        if problems.errors > before or len(found) > _MOST_STRETCHES:
            break
        assert part.marks is not None
        if not len(time):
            continue
        edges = np.flatnonzero(np.concatenate([[True], part.marks[1:] != part.marks[:-1], [True]]))
        for start, stop in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
            _append(found, Marked(str(part.marks[start]), float(time[start]), float(time[stop - 1])))
    return found


def _append(found: list[Marked], stretch: Marked) -> None:
    """Add a stretch, or make the last one longer by it."""
    if found and found[-1].name == stretch.name:
        found[-1] = found[-1]._replace(end_s=stretch.end_s)
    else:
        found.append(stretch)


def _told(task: LogTask, mark: Any, on: list[Marked], problems: ProblemList) -> list[Marked] | None:
    """The stretches, after marks that mean nothing here were told."""
    names = list(dict.fromkeys(stretch.name for stretch in on))
    if mark["means"] == "toggle":
        if len(names) < 2:
            return on
        problems.add(
            plan_of(task).problem(
                "not-a-mark",
                1,
                f"`{clip(mark['header'])}` has more than one value for a run: {', '.join(map(clip, names[:3]))}",
                "Say `means: trial` if it names the trials.",
            )
        )
        return None
    known = {run.id for run in task.runs}
    if strange := [name for name in names if name not in known]:
        shown = ", ".join(f"`{clip(name)}`" for name in strange[:3])
        problems.add(
            Problem(
                rule="unknown-mark",
                where=Location(file=task.file),
                message=f"{len(strange)} marks of the log name no trial with this log, such as {shown}",
                mend="Their readings belong to no run; check that this is meant.",
                severity=Severity.WARNING,
            )
        )
    return on
