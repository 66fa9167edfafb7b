"""Sensor logs as arrays: only the columns needed, one part of the file at a time.

Stated rules: lines that repeat the header, and blank lines, are left out; an empty or not-available cell is a
missing reading of that sensor; a last line without a line end may be cut off in the middle of a number and is
left out; a row that breaks off before the last column is left out. All are counted and told. Anything else that
is no number, or a row with too many cells, is a problem.
"""

import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TextIO

import numpy as np
from numpy.typing import NDArray

from .log_header import LogPlan, encoding_problem, find_header, open_encoding
from .problem_list import ProblemList, clip

Column = Any
Frame = Any
"""A pandas series and frame; pandas is heavy and imported only inside the functions that read logs."""

Floats = NDArray[np.float64]
PART_ROWS = 500_000
_MOST_TOLD = 3
"""Bad cells told one by one for each column of a log; the rest are counted."""
_NOT_AVAILABLE = ["", "-", "--", "N/A", "n/a", "NA", "nan", "NaN", "null", "NULL", "None"]


@dataclass(slots=True)
class Mended:
    """How often each stated rule was applied."""

    counts: dict[str, int] = field(default_factory=dict)

    def add(self, what: str, number: int = 1) -> None:
        """Count one more application."""
        if number:
            self.counts[what] = self.counts.get(what, 0) + int(number)

    def told(self) -> str:
        """One sentence part: `2 repeated header lines were left out; ...`."""
        return "; ".join(f"{number} {what}" for what, number in self.counts.items())


@dataclass(slots=True)
class LogPart:
    """Some rows of a log: raw times and values, missing ones NaN."""

    time_text: Column | None
    """Times as text, for the formats that are no number."""
    time_number: Floats | None
    values: dict[str, Floats]
    lines: NDArray[np.int64]


class _Readings:
    """The log after its header, behind one empty row that is wider than the header by a cell.

    The reader takes the number of columns from the first row; with the empty row it sees one more than there
    should be, and rows with too many cells are found instead of being cut silently.
    """

    def __init__(self, handle: TextIO, lines_before: int, separators: str) -> None:
        for _ in range(lines_before):
            handle.readline()
        self._handle = handle
        self._before = separators + "\n"

    def read(self, size: int = -1) -> str:
        if self._before:
            first, self._before = self._before, ""
            return first
        return self._handle.read(size)

    def __iter__(self) -> Iterator[str]:
        return iter(self._handle)


def _stream(handle: TextIO, lines_before: int, separators: str) -> Any:
    """`_Readings` for the reader, whose type stubs ask for more methods than it calls."""
    return _Readings(handle, lines_before, separators)


def read_parts(plan: LogPlan, mended: Mended, problems: ProblemList) -> Iterator[LogPart]:
    """The log part by part; ends early with a problem when it cannot be read."""
    import pandas as pd

    found = find_header(plan, problems)
    if found is None:
        return
    header_line, cells = found
    width = len(cells)
    columns = {column: cells.index(header) for column, header in plan.headers.items()}
    times = [cells.index(header) for header in plan.time_headers]
    # One column more than the header has: a row with too many cells shows there and cannot pass unseen.
    used = sorted({*columns.values(), *times, width - 1, width})
    as_text = {i for i in times if not plan.time_is_number}
    if plan.thousands:
        as_text |= {*columns.values(), *times}
    next_line = header_line + 1
    options: dict[str, Any] = {
        "sep": plan.separator,
        "header": None,
        "names": list(range(width + 1)),
        "usecols": used,
        "index_col": False,
        "skip_blank_lines": False,
        "skipinitialspace": True,
        "dtype": dict.fromkeys(as_text, str),
        "decimal": plan.decimal,
        # In the last column only an absent cell counts as missing: `N/A` shows that the row is whole.
        "na_values": {width - 1: [""], **{index: _NOT_AVAILABLE for index in (*columns.values(), *times, width)}},
        "low_memory": False,  # one type a column and part, whatever its cells
        "keep_default_na": False,
        "chunksize": PART_ROWS,
        "engine": "c",
    }
    try:
        with (
            plan.path.open(encoding=open_encoding(plan), newline="") as handle,
            pd.read_csv(_stream(handle, header_line + 1, plan.separator * width), **options) as reader,
        ):
            for frame, is_last in _with_last(reader):
                lines = np.arange(next_line, next_line + len(frame), dtype=np.int64)
                next_line += len(frame)
                if lines[0] == header_line + 1:  # the empty row, in the header's place
                    frame, lines = frame.iloc[1:], lines[1:]
                if is_last and len(frame) and not _ends_with_newline(plan):
                    frame, lines = frame.iloc[:-1], lines[:-1]
                    mended.add("last line without a line end was left out")
                part = _part(plan, frame, lines, _Layout(cells, columns, times, width), mended, problems)
                if part is not None:
                    yield part
    except UnicodeDecodeError:
        problems.add(encoding_problem(plan))
    except pd.errors.EmptyDataError:
        problems.add(
            plan.problem("empty-file", header_line + 1, "no reading follows the header", "Export the log again.")
        )
    except (ValueError, OSError) as error:
        match = re.search(r"line ([0-9]+)", str(error))
        line = int(match[1]) if match else 1
        problems.add(
            plan.problem("bad-csv", line, f"the log cannot be read: {clip(str(error), 120)}", "Export it again.")
        )


@dataclass(frozen=True, slots=True)
class _Layout:
    cells: Sequence[str]
    columns: Mapping[str, int]
    times: Sequence[int]
    width: int


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


def _part(
    plan: LogPlan,
    frame: Frame,
    lines: NDArray[np.int64],
    layout: _Layout,
    mended: Mended,
    problems: ProblemList,
) -> LogPart | None:
    keep = _kept_rows(plan, frame, lines, layout, mended, problems)
    if keep is None:
        return None
    if not keep.all():
        frame, lines = frame[keep], lines[keep]
    values = {
        column: _numbers(plan, frame[index], lines, plan.headers[column], problems)
        for column, index in layout.columns.items()
    }
    empty = sum(int(np.isnan(value).sum()) for value in values.values())
    mended.add("empty or not-available cells count as missing readings", empty)
    if plan.time_is_number:
        time = _numbers(plan, frame[layout.times[0]], lines, plan.time_headers[0], problems)
        return LogPart(None, time, values, lines)
    texts = [frame[i].fillna("").str.strip() for i in layout.times]
    text = texts[0] if len(texts) == 1 else texts[0] + " " + texts[1]
    return LogPart(text, None, values, lines)


def _kept_rows(
    plan: LogPlan,
    frame: Frame,
    lines: NDArray[np.int64],
    layout: _Layout,
    mended: Mended,
    problems: ProblemList,
) -> NDArray[np.bool_] | None:
    """Rows that are readings; None when some rows have too many cells."""
    over = frame[layout.width].notna().to_numpy()
    if over.any():
        first = int(lines[int(np.argmax(over))])
        problems.add(
            plan.problem(
                "ragged-row",
                first,
                f"{int(over.sum())} rows have more cells than the header, the first here",
                "Check `separator` and `decimal`; a decimal comma needs another separator.",
            )
        )
        return None
    needed = sorted({*layout.columns.values(), *layout.times})
    blank = frame[needed].isna().all(axis=1).to_numpy()
    mended.add("blank lines were left out", int(blank.sum()))
    keep: NDArray[np.bool_] = ~blank
    repeated = np.ones(len(frame), dtype=bool)
    for index in needed:
        column = frame[index]
        if column.dtype.kind in "fiub":
            repeated[:] = False
            break
        repeated &= (column.astype(object).map(str).str.strip() == layout.cells[index]).to_numpy()
    mended.add("repeated header lines were left out", int(repeated.sum()))
    keep &= ~repeated
    last = _absent(frame[layout.width - 1]) & keep
    if last.any() and layout.width - 1 not in needed and last.sum() * 2 < keep.sum():
        mended.add("rows that break off before the last column were left out", int(last.sum()))
        keep &= ~last
    return keep


def _absent(column: Column) -> NDArray[np.bool_]:
    """Cells that are not there at all, or empty; `N/A` is there."""
    absent: NDArray[np.bool_] = column.isna().to_numpy(dtype=bool)
    return absent if column.dtype.kind in "fiub" else absent | (column == "").to_numpy(dtype=bool)


_PLAIN = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"


def _numbers(plan: LogPlan, column: Column, lines: NDArray[np.int64], header: str, problems: ProblemList) -> Floats:
    """Values of a column, NaN where missing; cells that are no number are told."""
    if column.dtype.kind in "fiu":
        values: Floats = column.to_numpy(dtype=np.float64)
        bad = np.isinf(values)
        if bad.any():
            _tell_bad(plan, ["inf"] * int(bad.sum()), lines[bad], header, problems)
            values = np.where(bad, np.nan, values)
        return values
    present = column.notna().to_numpy()
    text = column.astype(object).where(column.notna(), "").map(str).str.strip()
    if plan.thousands:
        sign = re.escape(plan.thousands)
        grouped = text.str.fullmatch(
            rf"[+-]?[1-9][0-9]{{0,2}}(?:{sign}[0-9]{{3}})+(?:{re.escape(plan.decimal)}[0-9]*)?"
        )
        text = text.where(~grouped, text.str.replace(plan.thousands, "", regex=False))
    if plan.decimal != ".":
        # A point would be a second meaning of the decimal sign: refused by the pattern below.
        text = text.str.replace(".", "?", regex=False).str.replace(plan.decimal, ".", regex=False)
    good = text.str.fullmatch(_PLAIN).to_numpy(dtype=bool)
    bad = present & ~good
    if bad.any():
        _tell_bad(plan, [str(cell) for cell in column[bad].head(_MOST_TOLD)], lines[bad], header, problems)
    out = np.full(len(column), np.nan)
    out[good] = text[good].astype(np.float64).to_numpy()
    return out


def _tell_bad(
    plan: LogPlan, cells: Sequence[str], lines: NDArray[np.int64], header: str, problems: ProblemList
) -> None:
    for cell, line in zip(cells[:_MOST_TOLD], lines, strict=False):
        problems.add(
            plan.problem(
                "bad-number",
                int(line),
                f"`{clip(header)}` is `{clip(cell)}`, which is no number with `{plan.decimal}` for decimals",
                "Check `decimal` and `thousands` under `logs`, or the line itself.",
            )
        )
    if len(lines) > _MOST_TOLD:
        problems.add(
            plan.problem(
                "bad-number",
                int(lines[_MOST_TOLD]),
                f"`{clip(header)}` has {len(lines) - _MOST_TOLD} more cells like that",
            )
        )
