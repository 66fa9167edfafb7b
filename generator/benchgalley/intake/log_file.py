"""Sensor logs as arrays: only the columns needed, one part of the file at a time.

Stated rules: lines that repeat the header, and blank lines, are left out; an empty or not-available cell is a missing
reading of that sensor; a last line without a line end may be cut off in the middle of a number and is left out; a row
of fewer cells than the others broke off and is left out; an empty cell behind the last column is left out where every
row has one. All are counted and told. Anything else that is no number, or a row with too many cells, is a problem.
"""

import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, TextIO

import numpy as np

from .log_blocks import Layout, NotInSectionsError, Parsed, blocks, body_offset, keep_freed_memory, parser
from .log_header import LogPlan, encoding_problem, find_header, open_encoding
from .log_row_widths import CountedRows
from .log_rows import Frame, LogPart, Mended, Rows, part_of
from .problem_list import ProblemList, clip

PART_ROWS = 500_000
_NOT_AVAILABLE = ["", "-", "--", "N/A", "n/a", "NA", "nan", "NaN", "null", "NULL", "None"]
_MOST_PROBLEMS = 12
"""After so many a log is not read on: the rest would say the same."""
_CUT_OFF = "last line without a line end was left out"


def read_parts(
    plan: LogPlan,
    mended: Mended,
    problems: ProblemList,
    *,
    with_marks: bool = False,
    numbers: tuple[int, int] | None = None,
) -> Iterator[LogPart]:
    """The log part by part; ends early with a problem when it cannot be read.

    Clean blocks are parsed in bulk, the others with every rule. `with_marks`: the cells of the column that marks the
    runs are wanted. `numbers`: only the blocks from the one to before the other; lines are then counted from the first.

    Raises
    ------
    NotInSectionsError
        Some blocks were asked for, and they cannot be told from the others.
    """
    found = find_header(plan, problems)
    if found is None:
        return
    header_line, cells, first_row = found
    layout = Layout(
        cells=cells,
        columns={column: cells.index(header) for column, header in plan.headers.items()},
        times=[cells.index(header) for header in plan.time_headers],
        marks=(cells.index(plan.mark),) if with_marks else (),
        first_row=first_row,
    )
    reading = _Reading(plan, layout, mended, problems)
    try:
        offset = body_offset(plan, header_line)
        if offset is None and numbers is not None:
            raise NotInSectionsError
        if offset is None:
            with plan.path.open(encoding=open_encoding(plan), newline="") as handle:
                for _ in range(header_line + 1):
                    handle.readline()
                yield from reading.rows(handle, header_line + 1, cut_off=not _ends_with_newline(plan))
        else:
            yield from reading.by_block(offset, header_line + 1, numbers)
    except UnicodeDecodeError:
        problems.add(encoding_problem(plan))
    except (ValueError, OSError) as error:
        if type(error).__name__ == "EmptyDataError":  # of pandas, which a clean log does not load
            what = "no reading follows the header"
            problems.add(plan.problem("empty-file", header_line + 1, what, "Export the log again."))
            return
        match = re.search(r"line ([0-9]+)", str(error))
        line = reading.line_before + int(match[1]) - 1 if match else 1
        problems.add(
            plan.problem("bad-csv", line, f"the log cannot be read: {clip(str(error), 120)}", "Export it again.")
        )


@dataclass(slots=True)
class _Reading:
    """One log being read."""

    plan: LogPlan
    layout: Layout
    mended: Mended
    problems: ProblemList
    line_before: int = 1
    """Line before the first one the slower rules look at."""

    def by_block(self, offset: int, line_before: int, numbers: tuple[int, int] | None) -> Iterator[LogPart]:
        """The log from a byte on, or some blocks of it; `line_before` is the line that ends there."""
        before = self.problems.errors
        encoding = "latin-1" if self.plan.encoding == "latin-1" else "utf-8"
        keep_freed_memory()
        parse = parser(self.plan, self.layout)
        for block in blocks(self.plan.path, offset, numbers):
            if block.to_end and numbers is not None:
                raise NotInSectionsError
            if block.to_end:
                with self.plan.path.open("rb") as raw:
                    raw.seek(block.offset)
                    text = io.TextIOWrapper(raw, encoding=encoding, newline="")
                    yield from self.rows(text, line_before, cut_off=not _ends_with_newline(self.plan))
                return
            if (parsed := parse(block)) is not None:
                yield _clean_part(self.plan, self.layout, parsed, line_before)
                line_before += parsed.rows
            elif block.data:
                yield from self.rows(io.StringIO(block.data.decode(encoding), newline=""), line_before, cut_off=False)
                line_before += block.data.count(b"\n")
                if self.problems.errors - before > _MOST_PROBLEMS:
                    return
            if block.cut_off:
                self.mended.add(_CUT_OFF)

    def rows(self, handle: TextIO, line_before: int, *, cut_off: bool) -> Iterator[LogPart]:
        """Lines of any kind, by the slower rules; `cut_off`: the last of them has no line end."""
        import pandas as pd

        self.line_before = line_before
        next_line = line_before
        counted = CountedRows(handle, self.plan.separator, self.layout.width)
        stream: Any = counted  # the type stubs ask for more methods than the reader calls
        with pd.read_csv(stream, **_options(self.plan, self.layout)) as reader:
            for frame, is_last in _with_last(reader):
                lines = np.arange(next_line, next_line + len(frame), dtype=np.int64)
                widths = counted.widths(len(frame))
                next_line += len(frame)
                if lines[0] == line_before:  # the empty row, in the header's place
                    frame, lines, widths = frame.iloc[1:], lines[1:], widths[1:]
                if is_last and len(frame) and cut_off:
                    frame, lines, widths = frame.iloc[:-1], lines[:-1], widths[:-1]
                    self.mended.add(_CUT_OFF)
                rows = Rows(frame, lines, widths)
                part = part_of(self.plan, rows, self.layout, self.mended, self.problems)
                if part is not None:
                    yield part


def _options(plan: LogPlan, layout: Layout) -> dict[str, Any]:
    """How the reader is told to read rows that may be spoilt."""
    width = layout.width
    as_text = {*layout.marks, *(() if plan.time_is_number else layout.times)}
    if plan.thousands:
        as_text |= {*layout.columns.values(), *layout.times}
    return {
        "sep": plan.separator,
        "header": None,
        "names": list(range(width + 1)),
        # One column more than the header has: whether what stands behind the named cells of a row is empty.
        "usecols": sorted({*layout.needed, *layout.unnamed, width}),
        "index_col": False,
        "skip_blank_lines": False,
        "skipinitialspace": True,
        "dtype": dict.fromkeys(as_text, str),
        "decimal": plan.decimal,
        "na_values": {key: [""] for key in (*layout.unnamed, width)} | dict.fromkeys(layout.needed, _NOT_AVAILABLE),
        "low_memory": False,  # one type a column and part, whatever its cells
        "keep_default_na": False,
        "chunksize": PART_ROWS,
        "engine": "c",
    }


def _clean_part(plan: LogPlan, layout: Layout, parsed: Parsed, line_before: int) -> LogPart:
    time = layout.times[0]
    return LogPart(
        time_text=None,
        time_stamps=tuple(parsed.texts[index] for index in layout.times) if not plan.time_is_number else (),
        time_number=parsed.numbers[time] if plan.time_is_number else None,
        values={column: parsed.numbers[index] for column, index in layout.columns.items()},
        lines=np.arange(line_before + 1, line_before + 1 + parsed.rows, dtype=np.int64),
        marks=np.char.strip(np.char.decode(parsed.texts[layout.marks[0]], open_encoding(plan)))
        if layout.marks
        else None,
        whole=True,
    )


def _with_last(reader: Any) -> Iterator[tuple[Frame, bool]]:
    before = None
    for frame in reader:
        if before is not None:
            yield before, False
        before = frame
    if before is not None:
        yield before, True


def _ends_with_newline(plan: LogPlan) -> bool:
    with plan.path.open("rb") as handle:
        handle.seek(0, io.SEEK_END)
        size = handle.tell()
        handle.seek(max(0, size - 4))
        end = handle.read()
    return b"\n" in end[-2:] or end.endswith(b"\r")
