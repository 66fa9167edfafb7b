"""Rows of a log as arrays, by every rule for faulty rows; what was mended is counted, what cannot be is told."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .log_blocks import Layout
from .log_header import LogPlan
from .problem_list import ProblemList, clip

Column = Any
Frame = Any
"""A pandas series and frame; pandas is heavy and imported only inside the functions that read logs."""

Floats = NDArray[np.float64]
_MOST_TOLD = 3
"""Bad cells told one by one for each column of a log; the rest are counted."""


@dataclass(slots=True)
class Mended:
    """How often each stated rule was applied."""

    counts: dict[str, int] = field(default_factory=dict)

    def add(self, what: str, number: int = 1) -> None:
        """Count one more application."""
        if number:
            self.counts[what] = self.counts.get(what, 0) + int(number)

    def include(self, other: "Mended") -> None:
        """Count what was applied elsewhere too."""
        for what, number in other.counts.items():
            self.add(what, number)

    def told(self) -> str:
        """One sentence part: `2 repeated header lines were left out; ...`, in one order however the log was read."""
        return "; ".join(f"{number} {what}" for what, number in sorted(self.counts.items()))


@dataclass(slots=True)
class LogPart:
    """Some rows of a log: raw times and values, missing ones NaN."""

    time_text: Column | None
    """Times as text, for the formats that are no number."""
    time_number: Floats | None
    values: dict[str, Floats]
    lines: NDArray[np.int64]
    time_stamps: tuple[NDArray[np.bytes_], ...] = ()
    """Times of a clean block as bytes, one array a time column; then `time_text` is None."""
    marks: NDArray[np.str_] | None = None
    """Cells of the column that marks the runs."""
    whole: bool = False
    """No time and no value is missing."""


@dataclass(slots=True)
class Rows:
    """Some rows as the reader of tables gives them."""

    frame: Frame
    """The needed columns, and whatever stands behind the last one, by index."""
    lines: NDArray[np.int64]
    widths: NDArray[np.int64]
    """Number of cells of each row."""

    def kept(self, keep: NDArray[np.bool_]) -> "Rows":
        """Some of them."""
        return self if keep.all() else Rows(self.frame[keep], self.lines[keep], self.widths[keep])


def part_of(plan: LogPlan, rows: Rows, layout: Layout, mended: Mended, problems: ProblemList) -> LogPart | None:
    """The needed cells of some rows; None when they cannot be told apart, with a problem."""
    rows = _whole_rows(_no_headers(rows, layout, mended), layout, mended)
    if (first := _first_too_long(rows, layout, mended)) is not None:
        line, count = first
        problems.add(
            plan.problem(
                "ragged-row",
                line,
                f"{count} rows have more cells than the header, the first here",
                "Check `separator` and `decimal`; a decimal comma needs another separator.",
            )
        )
        return None
    frame, lines = rows.frame, rows.lines
    values = {
        column: _numbers(plan, frame[index], lines, plan.headers[column], problems)
        for column, index in layout.columns.items()
    }
    marks = _texts(frame[layout.marks[0]]).to_numpy(dtype=np.str_) if layout.marks else None
    empty = sum(int(np.isnan(value).sum()) for value in values.values())
    mended.add("empty or not-available cells count as missing readings", empty)
    if plan.time_is_number:
        time = _numbers(plan, frame[layout.times[0]], lines, plan.time_headers[0], problems)
        return LogPart(None, time, values, lines, marks=marks)
    texts = [_texts(frame[i]) for i in layout.times]
    text = texts[0] if len(texts) == 1 else texts[0] + " " + texts[1]
    return LogPart(text, None, values, lines, marks=marks)


def _texts(column: Column) -> Column:
    return column.fillna("").str.strip()


def _no_headers(rows: Rows, layout: Layout, mended: Mended) -> Rows:
    """Without blank lines, and lines that repeat the header."""
    frame, needed = rows.frame, layout.needed
    blank = frame[needed].isna().all(axis=1).to_numpy()
    mended.add("blank lines were left out", int(blank.sum()))
    repeated = np.ones(len(frame), dtype=bool)
    for index in needed:
        column = frame[index]
        if column.dtype.kind in "fiub":
            repeated[:] = False
            break
        repeated &= (column.astype(object).map(str).str.strip() == layout.cells[index]).to_numpy()
    mended.add("repeated header lines were left out", int(repeated.sum()))
    return rows.kept(~blank & ~repeated)


def _whole_rows(rows: Rows, layout: Layout, mended: Mended) -> Rows:
    """Without rows that broke off: a cell cut in two reads as another number."""
    broken = rows.widths < layout.cells_a_row
    mended.add("rows that break off before the last column were left out", int(broken.sum()))
    return rows.kept(~broken)


def _first_too_long(rows: Rows, layout: Layout, mended: Mended) -> tuple[int, int] | None:
    """Line of the first row with more cells than the header names, and how many there are.

    An empty cell behind the last one is none where every row has it. Anything else may be a decimal comma that was
    taken for a separator.
    """
    closed = layout.cells_a_row > layout.width
    long = rows.widths > max(layout.cells_a_row, layout.width)
    for index in (*layout.unnamed, layout.width):
        long |= rows.frame[index].notna().to_numpy()
    if long.any():
        return int(rows.lines[int(np.argmax(long))]), int(long.sum())
    if closed:
        mended.add("empty cells behind the last column were left out", len(long))
    return None


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
