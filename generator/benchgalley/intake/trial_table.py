"""trials.csv as columns of cells under canonical names; where a cell stands is worked out only for problems."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ..records.findings import Severity
from ..records.quantity import BY_COLUMN, SETTING_BY_COLUMN
from ..records.units import Unit, convert
from .column_rules import COLUMNS, ColumnRule
from .decimal_commas import split_number
from .number_text import decimals_of, number_fault, read_number
from .problem_list import ProblemList, SourceText, clip, nearest, offer
from .trial_rows import rows_of, typed_decimals

MOST_COLUMNS = 200
_DROP_NUMERIC = str.maketrans("", "", "0123456789.+-eE")
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""A spreadsheet would run a text cell that starts so."""


@dataclass(slots=True)
class TrialTable:
    """The cells of trials.csv."""

    source: SourceText
    problems: ProblemList
    columns: dict[str, int]
    """Canonical column → index."""
    units: dict[str, Unit]
    """Canonical column → unit it is written in, where that is not the canonical one."""
    header: list[str]
    rows: list[list[str]]
    lines: list[int]
    """Line on which each row starts."""
    _by_column: list[list[str]] | None = None
    """The rows turned by a right angle, once they are known to be of one length."""

    def cells(self, column: str) -> list[str] | None:
        """Every cell of a canonical column, in row order; None when the file has no such column."""
        index = self.columns.get(column)
        if index is None:
            return None
        if self._by_column is None:
            self._by_column = [list(cells) for cells in zip(*self.rows, strict=True)]
        return self._by_column[index]

    def complain(self, rule: str, row: int, column: str, message: str, mend: str = "") -> None:
        """A problem at a cell."""
        index = self.columns.get(column, 0)
        line, place, length = cell_place(self.source, self.lines[row], index)
        self.problems.add(self.source.problem(rule, line, place, message, mend, length=length))

    def numbers(
        self, column: str, *, empty_is: str = "", typed: bool = True
    ) -> tuple[list[float | None], list[int]] | None:
        """Values in the canonical unit and decimals as typed, None where a cell is empty.

        `empty_is`: what an empty cell is complained about; empty: an absent value is fine. `typed`: the decimals are
        wanted; else they are zeros.
        """
        cells = self.cells(column)
        if cells is None:
            return None
        shift, unit = self._conversion(column)
        joined = "".join(cells)
        if not joined.translate(_DROP_NUMERIC):
            try:
                return self._fast(cells, joined, shift, unit, empty_is, typed=typed)
            except ValueError:
                pass  # e.g. `1.2.3`: told cell by cell below
        values: list[float | None] = []
        decimals: list[int] = []
        for row, cell in enumerate(cells):
            text = cell.strip()
            value = self._cell(row, column, text, empty_is)
            values.append(None if value is None else self._converted(value, text, shift, unit, column))
            decimals.append(0 if value is None else max(0, decimals_of(text) - (shift or 0)))
        return values, decimals

    def _fast(
        self, cells: list[str], joined: str, shift: int | None, unit: Unit | None, empty_is: str, *, typed: bool
    ) -> tuple[list[float | None], list[int]]:
        unshiftable = unit is not None and shift is None
        if (empty_is and "" in cells) or "e" in joined or "E" in joined or unshiftable:
            raise ValueError
        if shift:
            exponent = f"e{shift}"
            values = [float(cell + exponent) if cell else None for cell in cells]
        elif "" in cells:
            values = [float(cell) if cell else None for cell in cells]
        else:
            values = list(map(float, cells))
        # A cell of very many digits is not finite: it is told cell by cell.
        if not math.isfinite(sum(filter(None, values))):
            raise ValueError
        if not typed or "." not in joined:
            return values, [0] * len(cells)
        decimals = typed_decimals(cells)
        return values, decimals if not shift else [max(0, d - shift) for d in decimals]

    def _cell(self, row: int, column: str, text: str, empty_is: str) -> float | None:
        if not text:
            if empty_is:
                self.complain("empty-cell", row, column, *self._empty(column, empty_is))
            return None
        value = read_number(text)
        if value is None:
            fault, mend = number_fault(text)
            self.complain(
                "bad-number", row, column, f"`{self.header_of(column)}` is `{clip(text)}`, which {fault}", mend
            )
        return value

    def _empty(self, column: str, empty_is: str) -> tuple[str, str]:
        return f"`{self.header_of(column)}` is empty", empty_is

    def header_of(self, column: str) -> str:
        """Header of a canonical column as it stands in the file."""
        index = self.columns.get(column)
        return column if index is None else clip(self.header[index])

    def _conversion(self, column: str) -> tuple[int | None, Unit | None]:
        """(power of ten to shift by, unit): a shift of the decimal point keeps the typed digits exact."""
        unit = self.units.get(column)
        if unit is None:
            return 0, None
        own = _own_unit(column)
        ratio = math.log10(unit.factor / own.factor)
        whole = unit.offset == own.offset and abs(ratio - round(ratio)) < 1e-12
        return (round(ratio) if whole else None), unit

    def _converted(self, value: float, text: str, shift: int | None, unit: Unit | None, column: str) -> float:
        if unit is None:
            return value
        if shift is not None and "e" not in text.lower():
            return float(f"{text}e{shift}")
        return convert(value, unit, _own_unit(column))


def _own_unit(column: str) -> Unit:
    if column in BY_COLUMN:
        return BY_COLUMN[column].unit
    unit = SETTING_BY_COLUMN[column].unit
    if unit is None:
        raise ValueError(f"{column} has no unit")
    return unit


def cell_place(source: SourceText, line: int, index: int) -> tuple[int, int, int]:
    """(line, column, length) of a cell: the record starts on `line`; quoted cells may run over lines."""
    number, text = line, source.lines[line - 1] if line <= len(source.lines) else ""
    cell = start = position = 0
    quoted = False
    first_line = number
    while True:
        if position >= len(text):
            if not quoted or number >= len(source.lines):
                break
            number += 1
            text, position = source.lines[number - 1], 0
            continue
        c = text[position]
        if c == '"':
            quoted = not quoted
        elif c == "," and not quoted:
            if cell == index:
                break
            cell, start, first_line = cell + 1, position + 1, number
        position += 1
    if cell != index:
        return line, 1, 1
    length = position - start if number == first_line else 1
    return first_line, start + 1, max(1, length)


def read_table(source: SourceText, mapped: Mapping[str, ColumnRule], problems: ProblemList) -> TrialTable | None:
    """Header and cells, shape-checked; None with problems."""
    before = problems.errors
    if not source.text.strip():
        problems.add(source.problem("empty-file", 1, 1, "the file is empty", "Write a header line and one line a run."))
        return None
    rows, lines = rows_of(source, problems)
    if not rows:
        return None
    header = [cell.strip() for cell in rows[0]]
    table = TrialTable(source, problems, {}, {}, header, rows[1:], lines[1:])
    _name_columns(table, mapped, lines[0])
    if problems.errors > before:
        return None
    if not table.rows:
        problems.add(source.problem("empty-file", lines[0], 1, "no run follows the header", "Write one line a run."))
    _check_shape(table)
    return None if problems.errors > before else table


def _name_columns(table: TrialTable, mapped: Mapping[str, ColumnRule], line: int) -> None:
    header, source, problems = table.header, table.source, table.problems
    if len(header) > MOST_COLUMNS:
        problems.add(
            source.problem("bad-header", line, 1, f"more than {MOST_COLUMNS} columns", "Remove the unused ones.")
        )
        return
    if len(header) == 1 and (found := next((s for s in (";", "\t", "|") if s in header[0]), "")):
        name = {"\t": "a tab"}.get(found, f"`{found}`")
        problems.add(
            source.problem(
                "bad-separator",
                line,
                1,
                f"the columns are separated by {name}; a comma was expected",
                "Save it with commas.",
            )
        )
        return
    by_header = {rule.header: column for column, rule in mapped.items()}
    for index, cell in enumerate(header):
        _name_column(table, by_header, mapped, line, index, cell)
    for column, rule in mapped.items():
        if rule.header not in header:
            close = nearest(rule.header, header)
            problems.add(
                source.problem(
                    "missing-column",
                    line,
                    1,
                    f"no column is headed `{clip(rule.header)}`, which `columns` names for `{column}`",
                    f"Did you mean `{clip(close)}`?" if close else "",
                )
            )
    for column in ("trial", "outcome"):
        if column not in table.columns and column not in mapped:
            problems.add(
                source.problem(
                    "missing-column", line, 1, f"the column `{column}` is missing", "Add it, one cell a run."
                )
            )


def _name_column(
    table: TrialTable, by_header: Mapping[str, str], mapped: Mapping[str, ColumnRule], line: int, index: int, cell: str
) -> None:
    def complain(rule: str, message: str, mend: str) -> None:
        place = cell_place(table.source, line, index)
        table.problems.add(table.source.problem(rule, place[0], place[1], message, mend, length=place[2]))

    column = by_header.get(cell, cell)
    if not cell:
        complain("bad-header", f"the header of column {index + 1} is empty", "Name the column or remove it.")
    elif column not in COLUMNS:
        mend = f"{offer(cell, COLUMNS, 'Columns')} Or map it under `columns` in write-up.md."
        complain("unknown-column", f"`{clip(cell)}` is no column of trials.csv", mend)
    elif column in table.columns:
        complain(
            "duplicate-column", f"`{clip(cell)}` stands a second time in the header", "Keep one column of each kind."
        )
    else:
        table.columns[column] = index
        if column in mapped and (unit := mapped[column].unit) is not None:
            table.units[column] = unit


def _check_shape(table: TrialTable) -> None:
    width = len(table.header)
    if set(map(len, table.rows)) <= {width}:
        return
    columns = sorted(table.columns, key=lambda column: table.columns[column])
    for row, cells in enumerate(table.rows):
        if len(cells) != width:
            message = f"this row has {len(cells)} cells; the header has {width}"
            mend = "Put a text that holds a comma between quotation marks, and a comma for each empty cell."
            if number := split_number(columns, cells):
                message += f"; with `{number}` as one number, written with a decimal comma, they agree"
                mend = f"Write a point for decimals: {number.replace(',', '.')}."
            table.problems.add(table.source.problem("ragged-row", table.lines[row], 1, message, mend))


def formula_cells(table: TrialTable, columns: Iterable[str]) -> None:
    """Complain about text cells that a spreadsheet would run as a formula."""
    for column in columns:
        cells = table.cells(column)
        if cells is None or {cell[:1] for cell in cells}.isdisjoint(FORMULA_STARTS):
            continue
        for row, cell in enumerate(cells):
            if cell.startswith(FORMULA_STARTS):
                table.complain(
                    "formula-cell",
                    row,
                    column,
                    f"`{table.header_of(column)}` starts with `{clip(cell[0])}`: spreadsheets run that as a formula",
                    "Start the text with a letter or a digit.",
                )


def warn(table: TrialTable, rule: str, row: int, message: str, mend: str) -> None:
    """A problem that is told but does not stop the build, at a row."""
    table.problems.add(table.source.problem(rule, table.lines[row], 1, message, mend, severity=Severity.WARNING))


def warn_at(table: TrialTable, rule: str, row: int, column: str, message: str, mend: str) -> None:
    """Like `warn`, at a cell."""
    place = cell_place(table.source, table.lines[row], table.columns.get(column, 0))
    line, column_at, length = place
    table.problems.add(
        table.source.problem(rule, line, column_at, message, mend, length=length, severity=Severity.WARNING)
    )


def and_more(runs: int) -> str:
    """Said behind the first of several runs that have one fault."""
    return f" (and {runs - 1} more)" if runs > 1 else ""
