"""Further processes of this machine that share work: how they start, and that none outlives the one that asked."""

import multiprocessing
import os
import threading
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

_THREADS = Path("/proc/self/task")
"""Where Linux lists the threads of this process, those of libraries included."""
_LOOKS, _LOOK_EVERY_S = 10, 0.002
"""A thread that has ended is listed for a moment more."""


def cores() -> int:
    """Processor cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def copied() -> bool:
    """Whether further processes start as copies of this one, with all at hand that it has loaded.

    A copy holds one thread only: where others are at work it could wait for ever for what they held.
    """
    try:
        for _ in range(_LOOKS):
            if len(list(_THREADS.iterdir())) == 1:
                return True
            if threading.active_count() > 1:
                return False
            time.sleep(_LOOK_EVERY_S)
    except OSError:  # another system, where copies of a process are not safe or not known
        pass
    return False


def pool(processes: int, enter: Callable[..., object] | None = None, *what: object) -> ProcessPoolExecutor:
    """Processes of which each calls `enter(*what)` before anything else."""
    return ProcessPoolExecutor(
        processes,
        mp_context=multiprocessing.get_context("fork" if copied() else "spawn"),
        initializer=_enter,
        initargs=(enter, what),
    )


def _enter(enter: Callable[..., object] | None, what: tuple[object, ...]) -> None:
    threading.Thread(target=_end_with_parent, daemon=True).start()
    if enter is not None:
        enter(*what)


def _end_with_parent() -> None:
    """A process that was killed cannot send its helpers home: they would wait for work for ever."""
    parent = multiprocessing.parent_process()
    assert parent is not None
    parent.join()
    os._exit(1)
