"""A file a reader sends in: the worksheet's own, or the trials table alone."""

import csv
import hashlib
import io
import json
from dataclasses import dataclass
from pathlib import Path

from benchgalley.records.bench import Outcome
from benchgalley.records.findings import Location, Problem

COLUMNS = (
    "trial", "power_limit_pct", "voltage_offset_mv", "sequence", "outcome", "score", "board_power_w", "core_clock_mhz",
    "core_temp_c", "hotspot_temp_c", "ambient_c", "fan_rpm", "duration_s", "driver", "excluded", "note",
)  # fmt: skip
"""Columns of the worksheet's table. The worksheet's script holds the same list; a test compares them."""
NEEDED = ("trial", "power_limit_pct", "voltage_offset_mv", "outcome", "score")
SOAK = "soak"
LIMIT = 2_000_000
"""Bytes. A long session has some hundred rows of a hundred characters."""

Setting = tuple[float, float]
"""Power limit in percent of stock and voltage offset in millivolts."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One run as sent."""

    line: int
    """Line in the table, the header being line 1."""
    cells: dict[str, str]
    setting: Setting
    soak: bool
    completed: bool
    """Completed and not left out."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Received:
    """A file that could be read."""

    path: Path
    digest: str
    """SHA-256 of the file as it came, hexadecimal."""
    about: dict[str, str]
    """What the worksheet says beside the runs: card, load, alias, margin. Empty for a bare table."""
    rows: tuple[Row, ...]

    def problem(self, rule: str, message: str, mend: str, line: int = 1) -> Problem:
        """A problem in this file."""
        return _problem(self.path, rule, message, mend, line)


def _problem(path: Path, rule: str, message: str, mend: str, line: int = 1) -> Problem:
    return Problem(rule=rule, where=Location(file=path.as_posix(), line=line), message=message, mend=mend)


def read(path: Path) -> tuple[Received | None, tuple[Problem, ...]]:
    """Read a file; None with every problem found when it is none of ours."""
    try:
        data = path.read_bytes() if path.stat().st_size <= LIMIT else None
        text = None if data is None else data.decode("utf-8-sig")
    except OSError as error:
        return None, (_problem(path, "unreadable-file", f"it cannot be read: {error.strerror}", "Check the path."),)
    except UnicodeDecodeError:
        return None, (_problem(path, "bad-encoding", "it is not UTF-8 text", "Ask for the download as it is."),)
    if data is None or text is None:
        return None, (_problem(path, "file-too-large", "it is larger than any worksheet", "Ask for the download."),)
    about: dict[str, str] = {}
    if text.lstrip().startswith("{"):
        opened = _open(text)
        if isinstance(opened, str):
            return None, (_problem(path, "no-worksheet", opened, "Send the file from “Download everything”."),)
        about, text = opened
    rows, problems = _rows(path, text)
    if problems:
        return None, tuple(problems)
    return Received(path=path, digest=hashlib.sha256(data).hexdigest(), about=about, rows=tuple(rows)), ()


def _open(text: str) -> tuple[dict[str, str], str] | str:
    """(about, table) of a worksheet file, or what is wrong with it."""
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        return "it starts like a worksheet but is broken"
    table = found.get("trials_csv") if isinstance(found, dict) else None
    about = found.get("about") if isinstance(found, dict) else None
    if not isinstance(table, str) or not isinstance(about, dict) or found.get("worksheet") != 1:
        return "it is no file of this worksheet"
    return {str(k): v for k, v in about.items() if isinstance(v, str)}, table


def _rows(path: Path, text: str) -> tuple[list[Row], list[Problem]]:
    try:
        table = [row for row in csv.reader(io.StringIO(text, newline=""), strict=True) if row]
    except csv.Error as error:
        return [], [_problem(path, "bad-csv", f"the table cannot be read: {error}", "Ask for the download as it is.")]
    header = table[0] if table else []
    if missing := [c for c in NEEDED if c not in header]:
        return [], [_problem(path, "no-worksheet", f"it has no column {missing[0]}", "Send a file of the worksheet.")]
    if unknown := [c for c in header if c not in COLUMNS]:
        message = f"the worksheet has no column `{unknown[0][:40]}`"
        return [], [_problem(path, "unknown-column", message, f"Columns: {', '.join(COLUMNS)}.")]
    if len(set(header)) < len(header):
        return [], [_problem(path, "duplicate-column", "a column stands there twice", "Keep one of each.")]
    rows: list[Row] = []
    problems: list[Problem] = []
    for line, cells in enumerate(table[1:], 2):
        row = _row(line, dict(zip(header, cells, strict=False))) if len(cells) == len(header) else None
        if row is None:
            problems.append(
                _problem(path, "bad-row", f"row {line - 1} is no run", "Numbers as numbers, a known outcome.", line)
            )
        else:
            rows.append(row)
    if not rows and not problems:
        problems.append(_problem(path, "empty-file", "it holds no run", "Ask the sender to enter the runs first."))
    return rows, problems


def _row(line: int, cells: dict[str, str]) -> Row | None:
    try:
        setting = (float(cells["power_limit_pct"]) + 0.0, float(cells["voltage_offset_mv"]) + 0.0)
        outcome = Outcome(cells["outcome"])
    except ValueError:
        return None
    if any(abs(value) == float("inf") or value != value for value in setting):
        return None
    if cells.get("sequence", "") not in ("", SOAK):
        return None
    return Row(
        line=line,
        cells=cells,
        setting=setting,
        soak=cells.get("sequence", "") == SOAK,
        completed=outcome is Outcome.COMPLETED and not cells.get("excluded"),
    )
