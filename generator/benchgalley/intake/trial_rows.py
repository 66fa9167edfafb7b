"""trials.csv taken apart into rows of cells, and the decimals of a column as typed."""

import csv
import io
from contextlib import suppress
from operator import itemgetter
from typing import Any

from .problem_list import ProblemList, SourceText


def _reader(source: SourceText) -> Any:
    return csv.reader(io.StringIO(source.text, newline=""), strict=True)


def rows_of(source: SourceText, problems: ProblemList) -> tuple[list[list[str]], list[int]]:
    """Rows that hold anything, and the line on which each starts; none with a problem."""
    # Without quotation marks a row is a line; with a fault or an empty row the lines are counted one by one.
    if '"' not in source.text:
        with suppress(csv.Error):
            whole = list(_reader(source))
            if all(map(any, whole)):
                return whole, list(range(1, len(whole) + 1))
    reader = _reader(source)
    rows: list[list[str]] = []
    lines: list[int] = []
    last = 0
    try:
        for row in reader:
            if any(row):
                rows.append(row)
                lines.append(last + 1)
            last = reader.line_num
    except csv.Error as error:
        problems.add(
            source.problem(
                "bad-csv",
                last + 1,
                1,
                f"this row cannot be read: {error}",
                'Put a text that holds a comma or a quotation mark between "..." and double the marks inside.',
            )
        )
        return [], []
    return rows, lines


def typed_decimals(cells: list[str]) -> list[int]:
    """Digits behind the point of each cell."""
    places = max(0, len(cells[0]) - 1 - cells[0].find(".")) if "." in cells[0] else 0
    # Most columns are typed to one place: then every point stands as far from the end as the first does.
    with suppress(IndexError):
        if places and set(map(itemgetter(-1 - places), cells)) == {"."}:
            return [places] * len(cells)
    # Position of the point from the end; -1 + 1 = 0 decimals without one.
    return [len(cell) - 1 - at if (at := cell.find(".")) >= 0 else 0 for cell in cells]
