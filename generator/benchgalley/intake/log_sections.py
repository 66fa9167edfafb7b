"""A long log read by several processes at once, a section of it each.

The sections depend on the length of the log alone, so that what each of them gives is the same from any number of
processes. Where one cannot be read without what stands before it, the log is read as one.
"""

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from itertools import pairwise
from pathlib import Path
from typing import Any, TypeVar

from .log_blocks import BLOCK_BYTES, NotInSectionsError
from .processes import pool

SECTION_BLOCKS = 32
"""Long beside a run, so that few runs lie in two sections, and short beside the memory of a process."""

_AHEAD = 3
"""Results for each process that helps that may wait for one before them."""

Result = TypeVar("Result")
Work = Callable[[int, int], Result]
"""What the blocks of a log from the one to before the other give; raises `NotInSectionsError` when they cannot be read
by themselves. It travels between processes."""


def in_sections(path: Path, work: Work[Result], processes: int) -> Iterator[Result]:
    """What every section of a log gives, in order; few of them are in memory at a time.

    Raises
    ------
    NotInSectionsError
        The log is to be read as one: no other process would help, a section cannot be read by itself, or a process
        that helped is gone (the system ends one for want of memory).
    """
    blocks = -(-path.stat().st_size // BLOCK_BYTES)
    # A last section that would be short is part of the one before.
    edges = [*range(0, max(blocks - SECTION_BLOCKS // 2, 1), SECTION_BLOCKS), blocks]
    sections = list(pairwise(edges))
    helpers = min(processes, len(sections)) - 1
    if helpers < 1:
        raise NotInSectionsError
    with pool(helpers, _ready, work) as others:
        try:
            yield from _shared(others, helpers, sections, work)
        except BrokenProcessPool:
            raise NotInSectionsError from None
        finally:
            others.shutdown(cancel_futures=True)


def _shared(
    others: ProcessPoolExecutor, helpers: int, sections: Sequence[tuple[int, int]], work: Work[Result]
) -> Iterator[Result]:
    """This process does what the others have not begun, as long as not too much waits for its turn."""
    left = deque(enumerate(sections))
    begun: dict[int, Future[Result]] = {}
    ready: dict[int, Result] = {}
    for turn in range(len(sections)):
        while turn not in ready:
            while left and len(begun) <= helpers:  # one more than there are, so that none waits for this process
                number, section = left.popleft()
                begun[number] = others.submit(_there, *section)
            if left and len(ready) < _AHEAD * helpers:
                number, section = left.popleft()
                ready[number] = work(*section)
            elif turn in begun:
                ready[turn] = begun.pop(turn).result()
            for number in [number for number, future in begun.items() if future.done()]:
                ready[number] = begun.pop(number).result()
        yield ready.pop(turn)


_work: list[Callable[[int, int], Any]] = []
"""In a process that helps: set when it starts."""


def _ready(work: Callable[[int, int], Any]) -> None:
    _work[:] = [work]


def _there(first: int, past: int) -> Any:
    return _work[0](first, past)
