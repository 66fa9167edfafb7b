"""Who does the work of a build: this process, several on this machine, or a cluster; the result is the same."""

import gc
import importlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from .intake import Reductions, SchedulerError, copied, cores, pool
from .making import Made, Workshop
from .publish import Printing
from .reducing import WorkersError, kept_reductions
from .source_tree import Tree

PAYING_UNITS = 12
"""Fewer write-ups than this are made faster here than further processes start up."""
_SHARES = 4
"""Pieces the work of each process is cut into at least, so that none ends up long after the others."""
_SHARE_UNITS = 5
"""Pieces of work in a share at most."""

Chunk = Sequence[str]
"""Units that rest on one another's work. A process forgets after each chunk what it read, and stays small and quick."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Order:
    """Everything a process must know to do its share. It travels."""

    root: Path
    cards: Mapping[str, str]
    trees: Mapping[str, Tree]
    parts: Mapping[str, str | Mapping[str, str]]
    """Slug → what earlier work kept of it, or the name of that, where it still holds."""
    how: Reductions
    """Without what keeps figures of logs: each process has its own."""
    target: Path | None
    """Where the site will stand, for processes that put files beside it; None: files are sent back."""


def done(chunks: Sequence[Chunk], order: Order, workshop: Workshop) -> Iterator[tuple[Made, ...]]:
    """The work of every chunk, in any order; `workshop` is that of this process.

    Raises SchedulerError when a cluster was asked for and cannot be used.
    """
    units = sum(len(chunk) for chunk in chunks)
    if order.how.scheduler:
        yield from _by_cluster(_shared(chunks, max(16, units // _SHARE_UNITS)), order)
        return
    workers = min(order.how.workers or (cores() if units >= PAYING_UNITS else 1), len(chunks))
    if workers > 1:
        if copied():
            workshop.get_ready()
        yield from _by_processes(_shared(chunks, max(workers * _SHARES, units // _SHARE_UNITS)), order, workers)
        return
    for chunk in chunks:
        yield _made(workshop, [chunk], order)


def _shared(chunks: Sequence[Chunk], number: int) -> list[list[Chunk]]:
    """Chunks dealt out to shares of like size, the largest first."""
    shares: list[list[Chunk]] = [[] for _ in range(min(number, len(chunks)))]
    sizes = [0] * len(shares)
    for chunk in sorted(chunks, key=lambda c: (-len(c), c)):
        least = sizes.index(min(sizes))
        shares[least].append(chunk)
        sizes[least] += len(chunk)
    return shares


def _made(workshop: Workshop, share: Sequence[Chunk], order: Order) -> tuple[Made, ...]:
    printing = None if order.target is None else Printing(order.target)
    found = []
    for chunk in share:
        for unit in chunk:
            made = workshop.make(unit)
            if printing is not None:
                printing.put(made.files)
                made = replace(made, files={})
            found.append(made)
        workshop.let_go()  # while the work went on all of that was in use, and a search for cycles would be idle
        gc.collect(0)  # where searches are off everything new is young
    return tuple(found)


_shops: dict[str, tuple[Workshop, Order]] = {}
"""The workshop of a process that was started for one build."""


def _enter(order: Order) -> None:
    _shops["own"] = (_workshop(order), order)
    gc.freeze()  # what was read stays to the end
    gc.disable()  # cycles are searched for where a share ends


def _workshop(order: Order) -> Workshop:
    how = kept_reductions(order.root, order.how, keeps=True)
    return Workshop(order.root, order.cards, order.trees, order.parts, how)


def _share(chunks: Sequence[Chunk]) -> tuple[Made, ...]:
    workshop, order = _shops["own"]
    return _made(workshop, chunks, order)


def share_on_cluster(chunks: Sequence[Chunk], order: Order) -> tuple[Made, ...]:
    """A share of the work as a cluster's process does it."""
    return _made(_workshop(order), chunks, order)


def _by_processes(shares: Sequence[Sequence[Chunk]], order: Order, workers: int) -> Iterator[tuple[Made, ...]]:
    from concurrent.futures import as_completed
    from concurrent.futures.process import BrokenProcessPool

    order = replace(order, how=replace(order.how, workers=1))
    with pool(workers, _enter, order) as others:
        try:
            futures = [others.submit(_share, share) for share in shares]
            for future in as_completed(futures):
                yield future.result()
        except BrokenProcessPool:
            raise WorkersError("a process ended before its work was done: try --workers 1") from None
        except BaseException:
            others.shutdown(cancel_futures=True)
            raise


def _by_cluster(shares: Sequence[Sequence[Chunk]], order: Order) -> Iterator[tuple[Made, ...]]:
    try:
        distributed: Any = importlib.import_module("distributed")
    except ImportError:
        raise SchedulerError("a cluster needs the extra `cluster`: install benchgalley[cluster]") from None
    try:
        client = distributed.Client(order.how.scheduler, timeout="10s", set_as_default=False)
    except (OSError, ValueError) as error:
        raise SchedulerError(f"no scheduler answers at {order.how.scheduler}: {error}") from None
    with client:
        order = replace(order, how=replace(order.how, workers=1, scheduler=""), target=None)
        # Not `pure`: the files of the site may have changed under their paths.
        futures = client.map(share_on_cluster, shares, order=order, pure=False)
        for future in futures:
            made: tuple[Made, ...] = future.result()
            yield made
