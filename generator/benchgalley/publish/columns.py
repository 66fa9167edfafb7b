"""The one description of the dataset's columns, from which every descriptor is made.

A column can so never carry one unit in `datapackage.json` and another in the CSVW metadata or the JSON-LD.
"""

import csv
import io
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from benchgalley.records import units
from benchgalley.records.bench import Outcome, Trial
from benchgalley.records.membership import in_setpoint
from benchgalley.records.quantity import MEASURED, SETTINGS
from benchgalley.records.results import Interval, Number
from benchgalley.records.units import Unit
from benchgalley.records.write_up import WriteUp

Cell = str
"""As written: a text safe for spreadsheets, or the digits of a number. Empty: absent, never zero."""

_OF_ROW = Unit(symbol="unit of the row", ucum="{unit-of-row}", dimension="any")
"""For columns whose unit stands in the row's own `ucum` cell."""

_FORMULA_SIGNS = frozenset("=+-@\t\r\n")


@dataclass(frozen=True, kw_only=True, slots=True)
class Column:
    """One column of a published table."""

    name: str
    """Head of the column; the unit comes last: `board_power_w`."""
    title: str
    description: str
    kind: str
    """`string`, `number`, `integer`, `boolean` or `datetime`."""
    unit: Unit | None = None
    """Every column of numbers has one; a plain number has the unit one."""
    required: bool = False
    choices: tuple[str, ...] = ()

    @property
    def printed_unit(self) -> str:
        """The unit in words or signs; empty for a column of words."""
        return "" if self.unit is None else self.unit.symbol or "number"

    @property
    def ucum(self) -> str:
        """The unit's UCUM code; empty for a column of words."""
        return "" if self.unit is None else self.unit.ucum


@dataclass(frozen=True, kw_only=True, slots=True)
class Table:
    """A published table."""

    name: str
    title: str
    description: str
    key: str
    """The column that identifies a row."""
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]

    def as_csv(self) -> bytes:
        """UTF-8, comma, LF, one header row, decimal point; numbers read back to the identical value."""
        rows = (tuple(column.name for column in self.columns), *self.rows)
        lines = [",".join(cells) for cells in rows]
        whole = "\n".join((*lines, ""))
        # the library looks at each letter by itself, and hardly a row holds one that wants quotes
        if '"' in whole or "\r" in whole or whole.count("\n") > len(rows):
            whole = "\n".join((*map(_quoted, rows), ""))
        elif whole.count(",") > len(rows) * (len(self.columns) - 1):
            most = len(self.columns)
            quoted = (line if line.count(",") < most else _quoted(c) for line, c in zip(lines, rows, strict=True))
            whole = "\n".join((*quoted, ""))
        return whole.encode("utf-8")


def _quoted(cells: Iterable[Cell]) -> str:
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\r\n").writerow(cells)  # it quotes the signs of its own line ends only
    return text.getvalue().removesuffix("\r\n")


def trials_table(write_up: WriteUp) -> Table:
    """Every run in canonical columns and units, logged figures included."""
    present = {column for trial in write_up.trials for column in trial.measured}
    set_columns = [s for s in SETTINGS if any(s.column in t.settings for t in write_up.trials)]
    measured = [q for q in MEASURED if q.column in present]
    columns = (
        Column(name="trial", title="Run", description="Name of the run.", kind="string", required=True),
        Column(name="started", title="Started", description="Start of the run.", kind="datetime"),
        Column(
            name="setpoints", title="Setpoints", kind="string",
            description="Setpoints the run belongs to, separated by a space.",
        ),
        Column(name="sequence", title="Sequence", description="Sequence the run is marked with.", kind="string"),
        *(
            Column(
                name=s.column, title=s.name.capitalize(), description=f"Setting: {s.name}.",
                kind="string" if s.unit is None else "number", unit=s.unit,
            )
            for s in set_columns
        ),
        Column(
            name="outcome", title="Outcome", description="How the run ended; only completed runs enter a mean.",
            kind="string", required=True, choices=tuple(o.value for o in Outcome),
        ),
        Column(
            name="excluded", title="Excluded", kind="string",
            description="Why the run is left out of every figure; empty: it is not.",
        ),
        *(
            Column(
                name=q.column, title=q.name.capitalize(), kind="number", description=_measured_by(write_up, q.column),
                unit=write_up.load.score_unit if q.key == "score" else q.unit,
            )
            for q in measured
        ),
        Column(name="driver", title="Driver", description="Driver version.", kind="string"),
        Column(name="log", title="Log", description="Sensor log the run's figures were taken from.", kind="string"),
        Column(name="note", title="Note", description="Remark of the tester.", kind="string"),
    )  # fmt: skip
    trials = write_up.trials
    cells = (
        [_text(t.id) for t in trials],
        [t.started.isoformat() if t.started else "" for t in trials],
        [_setpoints_of(t, write_up) for t in trials],
        [_text(t.sequence) for t in trials],
        *([_as_read(t.settings.get(s.column, "")) for t in trials] for s in set_columns),
        [t.outcome.value for t in trials],
        [_text(t.excluded) for t in trials],
        *([_as_read(t.measured.get(q.column, "")) for t in trials] for q in measured),
        [_text(t.driver) for t in trials],
        [_text(t.log) for t in trials],
        [_text(t.note) for t in trials],
    )
    return Table(
        name="trials",
        title="Runs",
        description="One row a run, failed and excluded ones included.",
        key="trial",
        columns=columns,
        rows=tuple(zip(*cells, strict=True)),
    )


ADDRESS, VALUE = 0, 2
"""Places of two cells in a row of the table of results."""


def results_table(numbers: Sequence[Number]) -> Table:
    """Every number of a write-up by address."""
    text = "string"
    columns = (
        Column(name="address", title="Address", description="Permanent name of the number.", kind=text, required=True),
        Column(name="name", title="Name", description="What it is.", kind=text, required=True),
        Column(name="value", title="Value", description="Empty: not determined.", kind="number", unit=_OF_ROW),
        Column(name="unit", title="Unit", description="Unit as printed; empty for a plain number.", kind=text),
        Column(name="ucum", title="UCUM code", description="Unit for programs.", kind=text, required=True),
        Column(name="low", title="Low end", description="Low end of the interval.", kind="number", unit=_OF_ROW),
        Column(name="high", title="High end", description="High end of the interval.", kind="number", unit=_OF_ROW),
        Column(
            name="confidence_pct", title="Confidence", description="Confidence of the interval.", kind="number",
            unit=units.PERCENT,
        ),
        Column(
            name="standard_uncertainty", title="Standard uncertainty", kind="number", unit=_OF_ROW,
            description="Combined from repeats and the instrument's stated limits.",
        ),
        Column(
            name="degrees_of_freedom", title="Degrees of freedom", kind="number", unit=units.ONE,
            description="Effective (Welch-Satterthwaite); INF when nothing was estimated from repeats.",
        ),
        Column(name="runs", title="Runs", description="Runs of each setpoint or sequence.", kind=text),
        Column(name="method", title="Method", description="How the interval was made.", kind=text),
        Column(name="estimate", title="Estimate", description="A model's estimate, not measured.", kind="boolean"),
        Column(name="reason", title="Reason", description="Why it is not determined, or its limit.", kind=text),
    )  # fmt: skip
    return Table(
        name="results",
        title="Numbers",
        description="Every number the trials give, by address, to twelve digits, with its interval and its runs.",
        key="address",
        columns=columns,
        rows=tuple(zip(*_cells(numbers), strict=True)),
    )


def settled(value: float) -> str:
    """A computed value to twelve significant digits: what two processors may round differently is left out."""
    text = "%.12g" % value  # noqa: UP031 (quicker); most often what `repr` of that value says too
    if "." in text and "e" not in text:
        return text
    return repr(float(text)) if math.isfinite(value) else "INF" if value > 0 else "-INF"


def _setpoints_of(trial: Trial, write_up: WriteUp) -> str:
    at = [name for name, setpoint in write_up.setpoints.items() if in_setpoint(trial, setpoint, write_up.sequences)]
    return " ".join(at)


def _as_read(value: float | str) -> Cell:
    """What a run carries: its numbers are as they were read."""
    return _text(value) if isinstance(value, str) else str(value)


def _cells(numbers: Sequence[Number]) -> tuple[list[Cell], ...]:
    """Column by column."""
    intervals = [number.interval or _NONE for number in numbers]
    return (
        [number.address.local() for number in numbers],
        [_text(number.name) for number in numbers],
        _figures([number.value for number in numbers]),
        [_text(number.unit.symbol) for number in numbers],
        [number.unit.ucum for number in numbers],  # codes, names of setpoints and methods start no formula
        _figures([interval.low for interval in intervals]),
        _figures([interval.high for interval in intervals]),
        ["" if interval is _NONE else str(interval.confidence_pct) for interval in intervals],
        _figures([number.standard_uncertainty for number in numbers]),
        _figures([number.degrees_of_freedom for number in numbers]),
        [_counted(number.groups) for number in numbers],
        [interval.method for interval in intervals],
        ["true" if number.estimate else "false" for number in numbers],
        [_text(number.reason) for number in numbers],
    )


_NONE = Interval(None, None, 0.0, "")
"""Stands where a number has no interval."""


def _figures(values: Sequence[float | None]) -> list[Cell]:
    """A column as `settled` gives each: set by one call, they take half the time."""
    texts = ("%.12g\n" * len(values) % tuple([value or 0.0 for value in values])).split("\n")
    return [
        text if "." in text and "e" not in text else "" if value is None else settled(value)
        for value, text in zip(values, texts[:-1], strict=True)
    ]


@lru_cache(maxsize=1024)
def _counted(groups: tuple[tuple[str, tuple[str, ...]], ...]) -> Cell:
    return "; ".join([f"{group} {len(runs)}" for group, runs in groups])


def _text(text: str) -> str:
    """A text that starts no formula in a spreadsheet (OWASP)."""
    return f"'{text}" if text[:1] in _FORMULA_SIGNS else text


def _measured_by(write_up: WriteUp, column: str) -> str:
    if column == "score":
        return f"Score of {write_up.load.name} {write_up.load.version}, {write_up.load.preset}."
    instrument = write_up.bench.instrument_for(column)
    return f"Measured by: {instrument.name}." if instrument else "Instrument not recorded."
