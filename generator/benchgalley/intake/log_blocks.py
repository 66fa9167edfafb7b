"""A log as blocks of whole lines: clean ones parsed at the speed of the reader, the others left to slower rules.

A block is clean when every row has as many cells as the header, nothing is quoted, its bytes are text in the log's
encoding, and every needed cell is a finite number, or text where the time is text. Which blocks are clean is
a property of the file alone, so the numbers never depend on the number of processes; and a number is read with the
same bits, rounded once, whether its block is clean or not.
"""

import io
import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from .log_cells import cells_of, numbers, texts
from .log_header import LogPlan

BLOCK_BYTES = 1 << 20
"""About what the inner caches hold: larger blocks are parsed more slowly."""
_LARGEST_KEPT = 31 << 20
"""Just below the largest piece that has this effect."""
_TRUTH = re.compile(rb"true|false", re.IGNORECASE)
STAMP_BYTES = 40
"""A time as text is shorter than this; a longer cell is left to the slower rules."""


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
    first_row: int = 0
    """Cells of the first row behind the header; 0: there is none."""

    @property
    def width(self) -> int:
        """Number of columns."""
        return len(self.cells)

    @property
    def unnamed(self) -> range:
        """Indices of the last columns, as far as the header gives them no name (it ends with separators)."""
        return range(max(index for index, name in enumerate(self.cells) if name) + 1, self.width)

    @property
    def cells_a_row(self) -> int:
        """Cells of every whole row: most often as many as the header has.

        Where the header ends with separators, its last cells have no name and rows may go without them; where it does
        not, rows may end with one. Either they all do or none does, as the first row says: a row with fewer broke off.
        """
        closed = self.first_row == self.width + 1 and not self.unnamed
        return self.first_row if closed or self.first_row in self.unnamed else self.width

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


class NotInSectionsError(Exception):
    """A log that can only be read as one, from its first line to its last."""


def blocks(path: Path, offset: int, numbers: tuple[int, int] | None = None) -> Iterator[Block]:
    """The lines of a file from a byte on: block k has those that begin in the k-th `BLOCK_BYTES` bytes behind it.

    `numbers`: only the blocks from the one to before the other.
    """
    number, past = numbers or (0, math.inf)
    with path.open("rb") as handle:
        at = offset + number * BLOCK_BYTES
        if number:
            # The line that holds the byte before began in a block before; its end is where this one starts.
            handle.seek(at - 1)
            line = handle.readline(BLOCK_BYTES)
            at += len(line) - 1
            if not line.endswith(b"\n") and handle.peek(1):
                yield Block(b"", at, to_end=True)
                return
        else:
            handle.seek(at)
        while number < past:
            number += 1
            if (wanted := offset + number * BLOCK_BYTES - at) <= 0:
                continue
            if not (data := handle.read(wanted)):
                return
            if not data.endswith(b"\n"):
                data += handle.readline(BLOCK_BYTES)
            if (b'"' in data and data.count(b'"') % 2) or (not data.endswith(b"\n") and handle.peek(1)):
                yield Block(b"", at, to_end=True)
                return
            end = len(data) if data.endswith((b"\n", b"\r")) else data.rfind(b"\n") + 1
            yield Block(data[:end], at, cut_off=end < len(data))
            at += len(data)


def keep_freed_memory() -> None:
    """Have memory that one block gave up used for the next.

    The GNU C library gives freed memory back to the system, and gets it again page by page, unless it has seen that a
    larger piece was freed before: that costs half as much as all the rest. Nothing is written to this piece, so that
    it takes up no memory; other libraries are not troubled by it.
    """
    np.empty(_LARGEST_KEPT, dtype=np.uint8)


def parser(plan: LogPlan, layout: Layout) -> Callable[[Block], Parsed | None]:
    """What parses one clean block; it gives None for any other."""
    separator = plan.separator.encode()
    as_text = [*layout.marks, *(() if plan.time_is_number else layout.times)]
    numeric = [index for index in layout.needed if index not in as_text]
    by_reader = _reader(plan, layout)
    unnamed, as_the_header = layout.unnamed, layout.cells_a_row == layout.width

    def parse(block: Block) -> Parsed | None:
        if not as_the_header:
            return None
        cells = None if b'"' in block.data else cells_of(block.data, separator, layout.width, STAMP_BYTES)
        if cells is None or not _is_text(block.data, plan.encoding):
            return None
        if any((cells.end_of(index) != cells.start_of(index)).any() for index in unnamed):
            return None
        written: dict[int, NDArray[np.bytes_]] = {}
        for index in as_text:
            if (text := texts(cells, index, STAMP_BYTES - 1, may_be_empty=index in layout.marks)) is None:
                return None
            written[index] = text
        known: dict[int, NDArray[np.float64]] = {}
        for index in numeric:
            if (values := numbers(cells, index, plan.decimal)) is None:
                values = by_reader(block.data, index, cells.rows)
            if values is None:
                return None
            known[index] = values
        return Parsed(known, written, cells.rows)

    return parse


def _reader(plan: LogPlan, layout: Layout) -> Callable[[bytes, int, int], NDArray[np.float64] | None]:
    """What parses a column of a block that holds numbers of any form, each rounded once."""
    # With a header line of its own and a known number of rows the reader is a third faster than without.
    names = [str(index) for index in range(layout.width)]
    head = plan.separator.join(names).encode() + b"\n"

    def read(data: bytes, index: int, rows: int) -> NDArray[np.float64] | None:
        import pandas as pd

        try:
            with pd.read_csv(
                io.BytesIO(head + data),
                sep=plan.separator,
                usecols=[names[index]],
                index_col=False,
                skip_blank_lines=False,
                dtype=np.float64,
                decimal=plan.decimal,
                na_filter=False,
                engine="c",
                chunksize=rows + 1,
            ) as reader:
                values: NDArray[np.float64] = next(reader)[names[index]].to_numpy()
        except (ValueError, OverflowError):
            return None
        if len(values) != rows or not np.isfinite(values).all():
            return None
        # A block of nothing but `true` and `false` is read as ones and zeros.
        return None if ((values == 0) | (values == 1)).all() and _TRUTH.search(data) else values

    return read


def _is_text(data: bytes, encoding: str) -> bool:
    if data.isascii() or encoding == "latin-1":
        return True
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True
