"""How a sensor log is read, and its header line: found wherever it stands among the first lines."""

import codecs
import csv
import io
import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from ..records.findings import Location, Problem
from .problem_list import ProblemList, clip, nearest

_SEARCH_LINES = 64
_SEARCH_BYTES = 1 << 16
_NAMES = {",": "`,`, as it is when left out", ";": "`;`", "\t": "a tab", "|": "`|`"}
_SIGNS = tuple(_NAMES)
_TIMES = ("never", "once", "twice", "three times", "four times", "five times", "six times")


@dataclass(frozen=True, kw_only=True, slots=True)
class LogPlan:
    """How one log is read."""

    path: Path
    file: str
    """As printed."""
    headers: Mapping[str, str]
    """Canonical column → header."""
    time_headers: tuple[str, ...]
    time_is_number: bool
    separator: str
    decimal: str
    thousands: str
    encoding: str
    mark: str = ""
    """Header of the column that marks the runs; empty: none does."""

    def problem(self, rule: str, line: int, message: str, mend: str = "") -> Problem:
        """A problem at a line of the log."""
        return Problem(rule=rule, where=Location(file=self.file, line=line), message=message, mend=mend)


def open_encoding(plan: LogPlan) -> str:
    """Encoding to open a log with; a byte-order mark of UTF-8 is skipped."""
    return "utf-8-sig" if plan.encoding in ("utf-8", "utf-8-sig") else plan.encoding


class Header(NamedTuple):
    """The header line of a log."""

    line: int
    """Index from 0."""
    cells: list[str]
    first_row: int
    """Cells of the first row behind it; 0 where none follows soon."""


def find_header(plan: LogPlan, problems: ProblemList) -> Header | None:
    """The first line that holds every mapped header; None with a problem."""
    with plan.path.open("rb") as handle:
        start = handle.read(_SEARCH_BYTES)
    if not start.strip():
        problems.add(plan.problem("empty-file", 1, "the log is empty", "Export it again."))
        return None
    for bytes_mark, name in ((codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16")):
        if start.startswith(bytes_mark) and plan.encoding != name:
            problems.add(
                plan.problem("bad-encoding", 1, f"the log is UTF-16, not {plan.encoding}", "Say `encoding: utf-16`.")
            )
            return None
    try:
        decoder = codecs.getincrementaldecoder(open_encoding(plan))()
        text = decoder.decode(start)
    except UnicodeDecodeError:
        problems.add(encoding_problem(plan))
        return None
    wanted = {*plan.headers.values(), *plan.time_headers, *([plan.mark] if plan.mark else [])}
    seen: list[str] = []
    given = io.StringIO(text, newline="")
    for index, line in enumerate(itertools.islice(given, _SEARCH_LINES)):
        cells = _cells(line, plan.separator)
        if wanted <= set(cells):
            if plan.decimal == plan.separator:
                problems.add(_ambiguous(plan, index + 1))
                return None
            unique = _headers_unique(plan, cells, wanted, index, problems)
            return Header(index, cells, _first_width(plan, given, cells)) if unique else None
        seen.extend(cells)
        if (other := _other_separator(line, plan.separator, wanted)) != "":
            problems.add(_separator_problem(plan, index + 1, other, len(_cells(line, other)) - 1))
            return None
    for header in sorted(wanted - set(seen)) or sorted(wanted):
        close = nearest(header, [cell for cell in seen if cell])
        problems.add(
            plan.problem(
                "missing-column",
                1,
                f"no column of the log is headed `{clip(header)}`",
                f"Did you mean `{clip(close)}`?" if close else "Check `logs.columns`, `separator` and `encoding`.",
            )
        )
    return None


def _first_width(plan: LogPlan, lines: Iterable[str], header: list[str]) -> int:
    """Cells of the first whole line that is neither blank nor the header again."""
    found = (_cells(line, plan.separator) for line in lines if line.endswith(("\n", "\r")))
    return next((len(cells) for cells in found if any(cells) and cells != header), 0)


def _other_separator(line: str, separator: str, wanted: set[str]) -> str:
    """The sign that gives a header line more of the wanted headers than the stated one does; empty: none."""
    found = {sign: len(wanted & set(_cells(line, sign))) for sign in (separator, *_SIGNS)}
    best = max(found, key=lambda sign: found[sign])
    return best if found[best] > found[separator] else ""


def _ambiguous(plan: LogPlan, line: int) -> Problem:
    return plan.problem(
        "ambiguous-decimal",
        line,
        f"the columns of the log are separated by `{plan.separator}`, which is also its decimal sign",
        "Write `decimal: .`, or export the log with another separator.",
    )


def _separator_problem(plan: LogPlan, line: int, sign: str, count: int) -> Problem:
    shown = "a tab" if sign == "\t" else f"`{sign}`"
    times = _TIMES[count] if count < len(_TIMES) else f"{count} times"
    written = "tab" if sign == "\t" else f'"{sign}"'
    return plan.problem(
        "bad-separator",
        line,
        f"the header holds {shown} {times}, but `logs.separator` is {_NAMES[plan.separator]}",
        f"Write separator: {written} under `logs`.",
    )


def _cells(line: str, separator: str) -> list[str]:
    try:
        row = next(csv.reader(io.StringIO(line), delimiter=separator, skipinitialspace=True), [])
    except csv.Error:
        return []
    return [cell.strip() for cell in row]


def _headers_unique(plan: LogPlan, cells: list[str], wanted: set[str], index: int, problems: ProblemList) -> bool:
    twice = sorted(header for header in wanted if cells.count(header) > 1)
    for header in twice:
        problems.add(
            plan.problem(
                "duplicate-column",
                index + 1,
                f"two columns of the log are headed `{clip(header)}`",
                "Rename one of them.",
            )
        )
    return not twice


def encoding_problem(plan: LogPlan) -> Problem:
    """The log is not in the encoding it is said to be in."""
    return plan.problem(
        "bad-encoding", 1, f"the log is not {plan.encoding}", "Say its `encoding`: utf-8, utf-16 or latin-1."
    )
