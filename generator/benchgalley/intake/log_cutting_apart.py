"""A log cut section by section, with the outcome of one that is read as one.

What a log gives for a run depends on the run's readings alone: a section reduces the runs that lie within it and hands
over the readings of the others. All else that one part must know of the parts before it (readings out of order, an
hour that happened twice, the line of a problem) makes the sections give up, and the log is read as one.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from .log_blocks import NotInSectionsError
from .log_cutting import PADDING_S, Cut, Cutting, Runs, cut_log, runs_of
from .log_rows import Floats, Mended
from .log_sections import in_sections
from .log_tasks import Gathered, LogTask, Remark, RunFigures, clock_of, plan_of
from .problem_list import ProblemList


@dataclass(frozen=True, kw_only=True, slots=True)
class Piece:
    """Readings of a run that may have more of them in another section."""

    run: int
    """Position in the task."""
    times: list[Floats]
    values: dict[str, list[Floats]]


@dataclass(slots=True)
class Section:
    """What some blocks of a log give."""

    passed: list[int] = field(default_factory=list)
    """Runs that lie within it, positions in the task."""
    runs: list[RunFigures] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    pieces: list[Piece] = field(default_factory=list)
    mended: Mended = field(default_factory=Mended)
    latest: float = -math.inf
    """Time of its last reading."""


def cut_in_sections(task: LogTask, runs: Runs, processes: int, gathered: Gathered, mended: Mended) -> bool:
    """Reduce every run of a log, by so many processes; False, with nothing gathered, when it is to be read as one."""
    left = {cut.index: cut for cut in map(runs.cut, range(runs.index.size))}
    own, rules = Gathered(task), Mended()

    def take(cuts: list[Cut]) -> None:
        for cut in cuts:
            own.take(left.pop(cut.index))
            cut.forget()

    try:
        for section in in_sections(Path(task.path), partial(section_of, task, runs), processes):
            own.runs.extend(section.runs)
            own.remarks.extend(section.remarks)
            for what, number in section.mended.counts.items():
                rules.add(what, number)
            for index in section.passed:
                del left[index]
            for piece in section.pieces:
                cut = left[piece.run]
                cut.times.extend(piece.times)
                for column, values in piece.values.items():
                    cut.values.setdefault(column, []).extend(values)
            begun = [left[piece.run] for piece in section.pieces]
            take([cut for cut in begun if cut.end_s + PADDING_S < section.latest])
    except NotInSectionsError:
        return False
    take([*left.values()])
    gathered.runs.extend(own.runs)
    gathered.remarks.extend(own.remarks)
    for what, number in rules.counts.items():
        mended.add(what, number)
    return True


def section_of(task: LogTask, runs: Runs, first: int, past: int) -> Section | None:
    """What the blocks of a log from the one to before the other give; None when they cannot be read by themselves."""
    plan, problems = plan_of(task), ProblemList()
    found, gathered = Section(), Gathered(task)

    def cutting(
        runs: Runs, done: Callable[[Cut], None], mended: Mended, problems: ProblemList, latest: float = -math.inf
    ) -> Cutting:
        return Cutting(plan, clock_of(task, plan, problems), runs, done, mended, problems, latest)

    def done(cut: Cut) -> None:
        if cut.start_s - PADDING_S > latest and cut.end_s + PADDING_S < here.latest:
            gathered.take(cut)
            found.passed.append(cut.index)
        elif cut.times:
            found.pieces.append(Piece(run=cut.index, times=[*cut.times], values={**cut.values}))

    try:
        latest = -math.inf
        if first:
            # The block before is looked at for its last time only; what else it holds is told by its own section.
            before = cutting(runs_of(task, []), done, Mended(), ProblemList())
            cut_log(before, (first - 1, first))
            if (latest := before.latest) == -math.inf:
                return None
        here = cutting(runs, done, found.mended, problems, latest)
        cut_log(here, (first, past))
    except NotInSectionsError:
        return None
    if problems.sorted() or not here.rising or here.clock.met_unclear:
        return None
    found.runs, found.remarks, found.latest = gathered.runs, gathered.remarks, here.latest
    return found
