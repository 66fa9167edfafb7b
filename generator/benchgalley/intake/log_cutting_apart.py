"""A log cut section by section, with the outcome of one that is read as one.

What a log gives for a run depends on the run's readings alone: a section reduces the runs that lie within it and hands
over the readings of the others. All else that one part must know of the parts before it (readings out of order, an
hour that happened twice, the line of a problem) makes the sections give up, and the log is read as one.
"""

import math
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

from .log_blocks import NotInSectionsError
from .log_cutting import PADDING_S, Cut, Runs, cut_log, cutting_of, runs_of
from .log_rows import Mended
from .log_sections import in_sections
from .log_tasks import Gathered, LogTask, Remark, RunFigures
from .problem_list import ProblemList


@dataclass(slots=True)
class Section:
    """What some blocks of a log give."""

    runs: list[RunFigures] = field(default_factory=list)
    """Those that lie within it."""
    remarks: list[Remark] = field(default_factory=list)
    pieces: list[Cut] = field(default_factory=list)
    """Runs with their readings here, which may have more in another section."""
    mended: Mended = field(default_factory=Mended)
    latest: float = -math.inf
    """Time of its last reading."""


def cut_in_sections(task: LogTask, runs: Runs, processes: int, gathered: Gathered, mended: Mended) -> bool:
    """Reduce every run of a log, by so many processes; False, with nothing gathered, when it is to be read as one."""
    left = {cut.index: cut for cut in map(runs.cut, range(runs.index.size))}
    rules = Mended()
    own = Gathered(task, rules)

    def take(cuts: list[Cut]) -> None:
        for cut in cuts:
            own.take(left.pop(cut.index))
            cut.forget()

    try:
        for section in in_sections(Path(task.path), partial(section_of, task, runs), processes):
            own.runs.extend(section.runs)
            own.remarks.extend(section.remarks)
            rules.include(section.mended)
            for figures in section.runs:
                del left[figures.run]
            for piece in section.pieces:
                left[piece.index].join(piece)
            take([left[piece.index] for piece in section.pieces if piece.end_s + PADDING_S < section.latest])
    except NotInSectionsError:
        return False
    take([*left.values()])
    gathered.runs.extend(own.runs)
    gathered.remarks.extend(own.remarks)
    mended.include(rules)
    return True


def section_of(task: LogTask, runs: Runs, first: int, past: int) -> Section:
    """What the blocks of a log from the one to before the other give."""
    found, problems = Section(), ProblemList()
    gathered = Gathered(task, found.mended)
    latest = _last_time(task, first - 1) if first else -math.inf

    def done(cut: Cut) -> None:
        if cut.start_s - PADDING_S > latest and cut.end_s + PADDING_S < here.latest:
            gathered.take(cut)
        elif cut.times:
            # The cut forgets its readings as soon as this has ended.
            found.pieces.append(replace(cut, times=[*cut.times], values={**cut.values}))

    here = cutting_of(task, runs, done, found.mended, problems, latest=latest)
    cut_log(here, (first, past))
    if problems.sorted() or not here.rising or here.clock.met_unclear:
        raise NotInSectionsError
    found.runs, found.remarks, found.latest = gathered.runs, gathered.remarks, here.latest
    return found


def _last_time(task: LogTask, block: int) -> float:
    """Time of the last reading of a block; what else it holds is told by its own section."""
    cutting = cutting_of(task, runs_of(task, []), lambda cut: None, Mended(), ProblemList())
    cut_log(cutting, (block, block + 1))
    if cutting.latest == -math.inf:
        raise NotInSectionsError
    return cutting.latest
