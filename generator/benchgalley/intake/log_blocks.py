"""A log as blocks of whole lines: clean ones parsed at the speed of the reader, the others left to slower rules.

A block is clean when a list of its separators, line ends, quotes and NUL bytes is the same short pattern over and
over (every row has as many cells as the header, and nothing is quoted), when its bytes are text in the log's
encoding, and when every needed cell is a finite number, or text where the time is text. Which blocks are clean is
a property of the file alone, so the numbers never depend on the number of threads.
"""

import io
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from .log_header import LogPlan

BLOCK_BYTES = 1 << 20
"""About what the inner caches hold: larger blocks are parsed more slowly."""
STAMP_BYTES = 40
"""Longest time as text; a cell that fills it may be cut off and is left to the slower rules."""
_MARKS = b'\n\r"\0'

_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class Layout:
    """Where the needed cells of a row stand."""

    cells: Sequence[str]
    """The header line."""
    columns: Mapping[str, int]
    """Canonical column → index."""
    times: Sequence[int]
    marks: tuple[int, ...] = ()
    """The column that marks the runs, if one is needed."""
    last_may_be_empty: bool = False
    """An empty last cell is no sign of a row that broke off."""

    @property
    def width(self) -> int:
        """Number of columns."""
        return len(self.cells)

    @property
    def needed(self) -> list[int]:
        """Indices of every column that is looked at."""
        return sorted({*self.columns.values(), *self.times, *self.marks})


@dataclass(frozen=True, slots=True)
class Block:
    """Some whole lines."""

    data: bytes
    offset: int
    """Of the first byte in the file."""
    cut_off: bool = False
    """A last line without a line end followed and is left out."""
    to_end: bool = False
    """Lines cannot be told apart by their ends from here on (a quoted line end): read on by the slower rules."""


@dataclass(frozen=True, slots=True)
class Parsed:
    """The needed cells of a clean block, by index."""

    numbers: Mapping[int, NDArray[np.float64]]
    texts: Mapping[int, NDArray[np.bytes_]]
    rows: int


def body_offset(plan: LogPlan, header_line: int) -> int | None:
    """Byte after the header line; None when the log cannot be taken apart by bytes."""
    if plan.encoding == "utf-16" or plan.thousands or ord(plan.separator) > 127:
        return None
    with plan.path.open("rb") as handle:
        head = [handle.readline() for _ in range(header_line + 1)]
    start = b"".join(head)
    if not start.endswith(b"\n") or b'"' in start or start.count(b"\r") != start.count(b"\r\n"):
        return None
    return len(start)


def blocks(path: Path, offset: int) -> Iterator[Block]:
    """The lines of a file from a byte on."""
    with path.open("rb") as handle:
        handle.seek(offset)
        while data := handle.read(BLOCK_BYTES):
            data += handle.readline(BLOCK_BYTES)
            if data.count(b'"') % 2 or (not data.endswith(b"\n") and handle.peek(1)):
                yield Block(b"", offset, to_end=True)
                return
            end = len(data) if data.endswith((b"\n", b"\r")) else data.rfind(b"\n") + 1
            yield Block(data[:end], offset, cut_off=end < len(data))
            offset += len(data)


def in_turn(items: Iterable[_T], work: Callable[[_T], Any], threads: int) -> Iterator[tuple[_T, Any]]:
    """Each item with what `work` makes of it, in order; several at once when there are threads for it."""
    if threads < 2:
        for item in items:
            yield item, work(item)
        return
    with ThreadPoolExecutor(threads) as pool:
        waiting: deque[tuple[_T, Future[Any]]] = deque()
        for item in items:
            waiting.append((item, pool.submit(work, item)))
            if len(waiting) > threads:
                first, future = waiting.popleft()
                yield first, future.result()
        while waiting:
            first, future = waiting.popleft()
            yield first, future.result()


def parser(plan: LogPlan, layout: Layout) -> Callable[[Block], Parsed | None]:
    """What parses one clean block; it gives None for any other."""
    separator = plan.separator.encode()
    dropped = bytes(byte for byte in range(256) if byte not in _MARKS + separator)
    as_text = [*layout.marks, *(() if plan.time_is_number else layout.times)]
    numeric = [index for index in layout.needed if index not in as_text]
    # With a header line of its own and a known number of rows the reader is a third faster than without.
    names = [str(index) for index in range(layout.width)]
    head = separator.join(name.encode() for name in names) + b"\n"
    options: dict[str, Any] = {
        "sep": plan.separator,
        "usecols": [names[index] for index in layout.needed],
        "index_col": False,
        "skip_blank_lines": False,
        "dtype": {
            **dict.fromkeys((names[i] for i in numeric), np.float64),
            **dict.fromkeys((names[i] for i in as_text), f"S{STAMP_BYTES}"),
        },
        "decimal": plan.decimal,
        "na_filter": False,
        "engine": "c",
    }

    def parse(block: Block) -> Parsed | None:
        import pandas as pd

        data = block.data
        rows = _rows(data, data.translate(None, dropped), separator, layout)
        if not rows or not _is_text(data, plan.encoding):
            return None
        try:
            with pd.read_csv(io.BytesIO(head + data), chunksize=rows + 1, **options) as reader:
                frame = next(reader)
        except (ValueError, OverflowError):
            return None
        numbers = {index: frame[names[index]].to_numpy() for index in numeric}
        texts = {index: frame[names[index]].to_numpy() for index in as_text}
        whole = len(frame) == rows and all(np.isfinite(values).all() for values in numbers.values())
        fits = all(_fits(values, index in layout.marks) for index, values in texts.items())
        return Parsed(numbers, texts, rows) if whole and fits else None

    return parse


def _rows(data: bytes, marks: bytes, separator: bytes, layout: Layout) -> int:
    """Number of rows when every one has the header's number of cells; 0 when one has not."""
    end = b"\r\n" if b"\r" in marks[: layout.width + 1] else b"\n"
    row = separator * (layout.width - 1) + end
    rows = len(marks) // len(row)
    if marks != row * rows or not data:
        return 0
    if layout.width == 1 or layout.last_may_be_empty:
        return rows
    # A row may break off before its last cell; when none has a last cell, the header ends with a separator.
    open_ends = _pairs(data, separator + end[:1])
    broken = open_ends and (layout.width - 1 in layout.needed or open_ends * 2 < rows)
    return 0 if broken else rows


def _pairs(data: bytes, pair: bytes) -> int:
    """How often two bytes follow each other: counted as 16-bit numbers, which is faster than a search."""
    wanted = np.frombuffer(pair, np.uint16)[0]
    return sum(
        int(np.count_nonzero(np.frombuffer(data, np.uint16, (len(data) - start) // 2, start) == wanted))
        for start in (0, 1)
    )


def _is_text(data: bytes, encoding: str) -> bool:
    if data.isascii() or encoding == "latin-1":
        return True
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _fits(values: NDArray[np.bytes_], may_be_empty: bool) -> bool:
    """Whether no cell was cut off, or is empty."""
    letters = values.view(np.uint8).reshape(len(values), STAMP_BYTES)
    return bool((may_be_empty or (letters[:, 0] != 0).all()) and not letters[:, -1].any())
