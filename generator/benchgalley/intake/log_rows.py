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
    time_stamps: tuple[NDArray[np.bytes_], ...] = ()
    """Times of a clean block as bytes, one array a time column; then `time_text` is None."""
    marks: NDArray[np.str_] | None = None
    """Cells of the column that marks the runs."""
    whole: bool = False
    """No time and no value is missing."""


def part_of(
    plan: LogPlan,
    frame: Frame,
    lines: NDArray[np.int64],
    layout: Layout,
    mended: Mended,
    problems: ProblemList,
) -> LogPart | None:
    """The needed cells of some rows; None when they cannot be told apart, with a problem."""
    keep = _kept_rows(plan, frame, lines, layout, mended, problems)
    if keep is None:
        return None
    if not keep.all():
        frame, lines = frame[keep], lines[keep]
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


def _kept_rows(
    plan: LogPlan,
    frame: Frame,
    lines: NDArray[np.int64],
    layout: Layout,
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
    needed = layout.needed
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
    exempt = layout.last_may_be_empty or layout.width - 1 in needed
    if last.any() and not exempt and last.sum() * 2 < keep.sum():
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
