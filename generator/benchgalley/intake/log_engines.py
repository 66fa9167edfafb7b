"""What reduces the logs of a site: this process, several on this machine, or a cluster; the outcome is the same.

A log is one piece of work. Its outcome depends on nothing but its bytes and what is asked of it, so that it can be
kept under the hash of the two, and made anywhere.
"""

import hashlib
import importlib
from collections.abc import Callable, Sequence
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from .. import __version__
from ..records.sealed import unsealed
from .log_outcomes import as_bytes, from_bytes
from .log_tasks import LogOutcome, LogTask, reduce_log
from .processes import cores, pool

_MEBIBYTE = 1024 * 1024
PAYING_BYTES = 128 * _MEBIBYTE
"""Logs smaller than this, one or all together, are reduced faster here than further processes start up."""


Keep = Callable[[str, bytes], None]
"""Writes an outcome under a file name; given by the pipeline, because only publish writes."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Reductions:
    """How logs are reduced."""

    kept_in: Path | None = None
    """Folder with the outcomes of earlier builds; None: every log is read."""
    keep: Keep | None = None
    """What keeps new outcomes there; None: nothing."""
    workers: int | None = None
    """Processes; None: as many as pay."""
    scheduler: str = ""
    """Address of a Dask scheduler that gives the work to a cluster, whose machines see the logs under the same
    paths; empty: this machine."""


class SchedulerError(RuntimeError):
    """The cluster cannot be used; the text says why."""


def reduce_all(tasks: Sequence[LogTask], how: Reductions) -> list[LogOutcome]:
    """The outcome of every task, in order; kept ones are not made again.

    Raises
    ------
    SchedulerError
        A cluster was asked for and cannot be used.
    """
    found: dict[int, LogOutcome] = {}
    names: dict[int, str] = {}
    stamps = [_stamp(task) for task in tasks]
    if how.kept_in is not None:
        for index, task in enumerate(tasks):
            names[index] = f"{key_of(task)}.log"
            if (outcome := _kept(how.kept_in / names[index])) is not None:
                found[index] = outcome
    left = [index for index in range(len(tasks)) if index not in found]
    for index, outcome in zip(left, _made([tasks[index] for index in left], how), strict=True):
        found[index] = outcome
        # Problems are told again in every build until they are mended: only sound outcomes are kept. A log that was
        # written to meanwhile is not the one whose hash was taken.
        as_hashed = _stamp(tasks[index]) == stamps[index]
        if how.keep is not None and index in names and outcome.sound and as_hashed:
            how.keep(names[index], as_bytes(outcome))
    return [found[index] for index in range(len(tasks))]


def _stamp(task: LogTask) -> tuple[int, int, int, int]:
    found = Path(task.path).stat()
    return found.st_size, found.st_mtime_ns, found.st_ctime_ns, found.st_ino


def key_of(task: LogTask) -> str:
    """Hash of the log's bytes, of everything that is asked of it, and of the program that answers."""
    asked = [_program(), task.file, task.log, task.columns, sorted(task.settings.items()), task.runs]
    key = hashlib.sha256(repr([*asked, task.base_s, task.origin_s]).encode())
    with Path(task.path).open("rb") as handle:
        while data := handle.read(_MEBIBYTE):
            key.update(data)
    return key.hexdigest()


def _kept(file: Path) -> LogOutcome | None:
    try:
        content = unsealed(file.read_bytes(), file.name)
    except OSError:
        return None
    return None if content is None else from_bytes(content)


@lru_cache(maxsize=1)
def _program() -> str:
    """Hash of the modules that reduce logs, so that a change of rules never meets figures made by the old ones."""
    package = Path(__file__).parents[1]
    text = hashlib.sha256(__version__.encode())
    for path in sorted(
        [*package.glob("intake/log*.py"), *package.glob("metrology/*.py"), package / "records/bench.py"]
    ):
        text.update(path.read_bytes())
    return text.hexdigest()


def _made(tasks: list[LogTask], how: Reductions) -> list[LogOutcome]:
    if not tasks:
        return []
    if how.scheduler:
        return _by_cluster(tasks, how.scheduler)
    sizes = [Path(task.path).stat().st_size for task in tasks]
    workers = how.workers or (cores() if sum(sizes) >= PAYING_BYTES else 1)
    # A log that would keep one process at work when the others have long ended is shared among all of them.
    long = [size >= PAYING_BYTES and size * workers > sum(sizes) for size in sizes]
    found = {i: reduce_log(task, workers) for i, task in enumerate(tasks) if long[i]}
    short = [i for i in range(len(tasks)) if i not in found]
    if workers == 1 or len(short) < 2:
        found |= {i: reduce_log(tasks[i]) for i in short}
    else:
        made = _by_processes([tasks[i] for i in short], [sizes[i] for i in short], min(workers, len(short)))
        found |= dict(zip(short, made, strict=True))
    return [found[i] for i in range(len(tasks))]


def _by_processes(tasks: list[LogTask], sizes: list[int], workers: int) -> list[LogOutcome]:
    # The longest first, so that no process ends up with a long one alone.
    order = sorted(range(len(tasks)), key=lambda index: -sizes[index])
    try:
        with pool(workers) as others:
            futures = {index: others.submit(reduce_log, tasks[index]) for index in order}
            return [futures[index].result() for index in range(len(tasks))]
    except BrokenProcessPool:  # the system ends a process for want of memory: one needs the least
        return [reduce_log(task) for task in tasks]


def _by_cluster(tasks: list[LogTask], scheduler: str) -> list[LogOutcome]:
    try:
        distributed: Any = importlib.import_module("distributed")
    except ImportError:
        raise SchedulerError("a cluster needs the extra `cluster`: install benchgalley[cluster]") from None
    try:
        client = distributed.Client(scheduler, timeout="10s", set_as_default=False)
    except (OSError, ValueError) as error:
        raise SchedulerError(f"no scheduler answers at {scheduler}: {error}") from None
    with client:
        # Not `pure`: what is kept is kept by content here, and a log may have changed under its path.
        outcomes: list[LogOutcome] = client.gather(client.map(reduce_log, tasks, pure=False))
    return outcomes
