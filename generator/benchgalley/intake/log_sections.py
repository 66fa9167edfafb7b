"""A long log read by several processes at once, a section of it each.

The sections depend on the length of the log alone, so that what each of them gives is the same from any number of
processes. One that cannot be read without what stands before it gives nothing: the log is then read as one.
"""

from collections.abc import Callable, Iterable
from concurrent.futures import Future
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Any, TypeVar

from .log_blocks import BLOCK_BYTES
from .processes import pool

SECTION_BLOCKS = 32
"""Long beside a run, so that few runs lie in two sections, and short beside the memory of a process."""

Result = TypeVar("Result")
Work = Callable[[int, int], Result | None]
"""What the blocks of a log from the one to before the other give; None when they cannot be read by themselves. It
travels between processes."""


def in_sections(path: Path, work: Work[Result], processes: int) -> list[Result] | None:
    """What every section of a log gives, in order; None as soon as one gives nothing."""
    blocks = -(-path.stat().st_size // BLOCK_BYTES)
    # A last section that would be short is part of the one before.
    edges = [*range(0, max(blocks - SECTION_BLOCKS // 2, 1), SECTION_BLOCKS), blocks]
    sections = list(pairwise(edges))
    here = [partial(work, *section) for section in sections]
    helpers = min(processes, len(sections)) - 1
    if helpers < 1:
        return _all(here)
    # The others begin at the end and this process at the start; what no other has begun is done here.
    with pool(helpers, _ready, work) as others:
        futures: list[Future[Result | None]] = [others.submit(_there, *section) for section in reversed(sections)][::-1]
        try:
            return _all(own if future.cancel() else future.result for own, future in zip(here, futures, strict=True))
        finally:
            others.shutdown(cancel_futures=True)


def _all(steps: Iterable[Callable[[], Result | None]]) -> list[Result] | None:
    found: list[Result] = []
    for step in steps:
        if (result := step()) is None:
            return None
        found.append(result)
    return found


_work: list[Callable[[int, int], Any]] = []
"""In a process that helps: set when it starts."""


def _ready(work: Callable[[int, int], Any]) -> None:
    _work[:] = [work]


def _there(first: int, past: int) -> Any:
    return _work[0](first, past)
