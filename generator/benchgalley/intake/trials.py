"""Rows of trials.csv as trials."""

import datetime
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from zoneinfo import ZoneInfo

from ..records.bench import Outcome, Sequence, Trial
from ..records.quantity import BY_COLUMN, SETTING_BY_COLUMN, SETTINGS
from .files import path_fault
from .problem_list import clip, offer
from .trial_table import TrialTable, formula_cells

TEXT_COLUMNS = ("trial", "outcome", "fan_mode", "driver", "note", "log", "sequence", "excluded", "started")
_NEVER_NEGATIVE = frozenset(
    {"board_power_w", "wall_power_w", "core_clock_mhz", "memory_clock_mhz", "core_voltage_mv", "fan_rpm", "score"}
)
_ABSOLUTE_ZERO_C = -273.15
_STARTED = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]{1,6})?)?(Z|[+-][0-9]{2}:?[0-9]{2})?"
)
_OUTCOMES = {outcome.value: outcome for outcome in Outcome}
_BAD_IN_ID = re.compile(r'[<>"`|]')
_NO_REASON = frozenset({"yes", "no", "true", "false", "x", "y", "n", "1", "0"})


@dataclass(frozen=True, kw_only=True, slots=True)
class TrialRules:
    """What the front matter says about the rows."""

    sequences: Mapping[str, Sequence]
    time_zone: str
    """Zone of start times written without one; empty: they need their own."""
    has_logs: bool
    """Whether the front matter says how logs are read."""


def read_trials(table: TrialTable, rules: TrialRules) -> tuple[Trial, ...]:
    """Every row as a trial; problems are noted in the table's list."""
    formula_cells(table, TEXT_COLUMNS)
    settings = _settings(table)
    measured, decimals, whole = _measured(table)
    ids = _ids(table)
    outcomes = _outcomes(table)
    started = _started(table, rules.time_zone)
    texts = {column: _texts(table, column) for column in ("driver", "note", "log", "sequence", "excluded")}
    _check_texts(table, texts, rules)
    columns = zip(ids, table.lines, settings, outcomes, measured, decimals, started, *texts.values(), strict=True)
    trials = tuple(
        Trial(
            id=name,
            line=line,
            order=row,
            settings=set_to,
            outcome=outcome,
            measured=values,
            decimals=places,
            started=start,
            driver=driver,
            note=note,
            log=log,
            sequence=sequence,
            excluded=excluded,
        )
        for row, (
            name, line, set_to, outcome, values, places, start, driver, note, log, sequence, excluded,
        ) in enumerate(columns)
    )  # fmt: skip
    if not (whole and "score" in table.columns):
        _check_scores(table, trials)
    return trials


def _texts(table: TrialTable, column: str) -> list[str]:
    cells = table.cells(column)
    if cells is None:
        return [""] * len(table.rows)
    joined = "".join(cells)
    if "".join(joined.split()) == joined:
        return cells  # no white space in any of them
    return [" ".join(cell.split()) for cell in cells]


def _words(table: TrialTable, column: str, default: str) -> list[float | str | None] | None:
    """A setting told by a word; None without the column."""
    if column not in table.columns:
        return None
    found = _texts(table, column)
    for row, word in enumerate(found):
        if not word:
            table.complain("empty-cell", row, column, f"`{table.header_of(column)}` is empty", f"Write `{default}`.")
    return [word or None for word in found]


def _amounts(table: TrialTable, column: str) -> list[float | str | None] | None:
    """A setting told by a number; None without the column."""
    stock = SETTING_BY_COLUMN[column].default
    found = table.numbers(column, empty_is=f"Write {stock:g} for the stock setting.", typed=False)
    return None if found is None else list(found[0])


def _settings(table: TrialTable) -> list[dict[str, float | str]]:
    columns: dict[str, list[float | str]] = {}
    defaults: dict[str, float | str] = {kind.column: kind.default for kind in SETTINGS}
    for kind in SETTINGS:
        values = _words(table, kind.column, str(kind.default)) if kind.unit is None else _amounts(table, kind.column)
        if values is not None:
            columns[kind.column] = [kind.default if v is None else v for v in values]
    if not columns:
        return [defaults] * len(table.rows)
    # Few combinations, many runs: runs of one combination share their mapping.
    known: dict[tuple[float | str, ...], dict[str, float | str]] = {}
    rows = []
    for row_values in zip(*columns.values(), strict=True):
        if (settings := known.get(row_values)) is None:
            settings = known[row_values] = {**defaults, **dict(zip(columns, row_values, strict=True))}
        rows.append(settings)
    if any(_is_no_limit(settings) for settings in known.values()):
        for row, settings in enumerate(rows):
            if _is_no_limit(settings):
                table.complain(
                    "out-of-range", row, "power_limit_pct",
                    f"`power_limit_pct` is {settings['power_limit_pct']:g}; a number above 0 was expected",
                )  # fmt: skip
    return rows


def _is_no_limit(settings: Mapping[str, float | str]) -> bool:
    limit = settings["power_limit_pct"]
    return isinstance(limit, float) and limit <= 0


def _measured(table: TrialTable) -> tuple[list[dict[str, float]], list[dict[str, int]], bool]:
    """Values and decimals of each row, and whether no value is missing."""
    there = [column for column in BY_COLUMN if column in table.columns]
    found = {column: numbers for column in there if (numbers := table.numbers(column)) is not None}
    if not found:
        return [{} for _ in table.rows], [{} for _ in table.rows], False
    for column, (values, _) in found.items():
        _check_range(table, column, values)
    names = list(found)
    typed = list(zip(*(typed for _, typed in found.values()), strict=True))
    rows = zip(*(values for values, _ in found.values()), strict=True)
    if not any(None in values for values, _ in found.values()):
        whole: list[dict[str, float]] = [dict(zip(names, row, strict=True)) for row in rows]
        shared = {places: dict(zip(names, places, strict=True)) for places in set(typed)}
        return whole, [shared[places] for places in typed], True
    measured = [{name: value for name, value in zip(names, row, strict=True) if value is not None} for row in rows]
    return measured, _decimals(names, measured, typed), False


def _decimals(names: list[str], measured: list[dict[str, float]], typed: list[tuple[int, ...]]) -> list[dict[str, int]]:
    """Decimals of the measured values of each row; rows typed alike share their mapping."""
    known: dict[tuple[tuple[int, ...], tuple[str, ...]], dict[str, int]] = {}
    rows = []
    for values, places in zip(measured, typed, strict=True):
        key = (places, tuple(values))
        if (decimals := known.get(key)) is None:
            decimals = known[key] = {n: d for n, d in zip(names, places, strict=True) if n in values}
        rows.append(decimals)
    return rows


def lowest(column: str) -> tuple[float, str]:
    """The least that a column can hold, in its canonical unit, and what was expected of a value below it."""
    if column in _NEVER_NEGATIVE:
        return 0.0, "at least 0"
    if column.endswith("_temp_c") or column == "ambient_c":
        return _ABSOLUTE_ZERO_C, "a temperature above absolute zero"
    if column == "duration_s":
        return 1e-9, "a time above 0"
    return float("-inf"), ""


def _check_range(table: TrialTable, column: str, values: list[float | None]) -> None:
    known = values if None not in values else [v for v in values if v is not None]
    if not known:
        return
    low, wanted = lowest(column)
    if min(known) >= low:  # type: ignore[type-var, operator]
        return
    for row, value in enumerate(values):
        if value is not None and value < low:
            table.complain(
                "out-of-range", row, column, f"`{table.header_of(column)}` is {value:g}; {wanted} was expected"
            )


def _ids(table: TrialTable) -> list[str]:
    ids = _texts(table, "trial")
    joined = "".join(ids)
    if len(set(ids)) == len(ids) and "" not in ids and not _BAD_IN_ID.search(joined) and max(map(len, ids)) <= 64:
        return ids
    first: dict[str, int] = {}
    for row, trial in enumerate(ids):
        if not trial:
            table.complain("empty-cell", row, "trial", "`trial` is empty", "Give every run a name of its own.")
        elif (earlier := first.setdefault(trial, row)) != row:
            table.complain(
                "duplicate-trial",
                row,
                "trial",
                f"the trial `{clip(trial)}` stands here a second time; the first is on line {table.lines[earlier]}",
                "Give every run a name of its own.",
            )
        if len(trial) > 64 or _BAD_IN_ID.search(trial):
            table.complain(
                "bad-name", row, "trial", f"`{clip(trial)}` is no name for a run", "Use letters, digits and hyphens."
            )
    return ids


def _outcomes(table: TrialTable) -> list[Outcome]:
    words = _texts(table, "outcome")
    if _OUTCOMES.keys() >= set(words):
        return [_OUTCOMES[word] for word in words]
    found: list[Outcome] = []
    for row, word in enumerate(words):
        outcome = _OUTCOMES.get(word)
        if outcome is None:
            message = f"the outcome is `{clip(word)}`" if word else "`outcome` is empty"
            table.complain("unknown-outcome", row, "outcome", message, offer(word, _OUTCOMES, "Outcomes"))
        found.append(outcome or Outcome.ABORTED)
    return found


@lru_cache(maxsize=32)
def zone_of(name: str) -> datetime.tzinfo:
    """The zone of an offset (`+01:00`, `Z`) or zone name, as `log_rules` let it pass."""
    if name == "Z":
        return datetime.UTC
    if name[0] in "+-":
        hours, minutes = int(name[1:3]), int(name[4:6])
        delta = datetime.timedelta(hours=hours, minutes=minutes)
        return datetime.timezone(-delta if name[0] == "-" else delta)
    return ZoneInfo(name)


def local_fault(moment: datetime.datetime) -> str:
    """Why a local time is not one moment: the clocks were set there; empty when it is."""
    earlier, later = moment.replace(fold=0), moment.replace(fold=1)
    if earlier.utcoffset() == later.utcoffset():
        return ""
    skipped = earlier.astimezone(datetime.UTC).astimezone(moment.tzinfo).replace(tzinfo=None) != moment.replace(
        tzinfo=None
    )
    return "did not happen: the clocks were put forward" if skipped else "happened twice: the clocks were put back"


def _started(table: TrialTable, time_zone: str) -> list[datetime.datetime | None]:
    if "started" not in table.columns:
        return [None] * len(table.rows)
    found: list[datetime.datetime | None] = []
    for row, text in enumerate(_texts(table, "started")):
        found.append(_moment(table, row, text, time_zone) if text else None)
    return found


def _moment(table: TrialTable, row: int, text: str, time_zone: str) -> datetime.datetime | None:
    match = _STARTED.fullmatch(text)
    try:
        moment = datetime.datetime.fromisoformat(text) if match else None
    except ValueError:
        moment = None
    if moment is None:
        table.complain(
            "bad-time", row, "started", f"`started` is `{clip(text)}`; a date and time was expected",
            "Write such as 2026-03-01T14:05:00+01:00.",
        )  # fmt: skip
        return None
    if moment.tzinfo is not None:
        return moment
    if not time_zone:
        table.complain(
            "time-without-zone", row, "started", f"`started` is `{text}`, a time without its zone",
            "Add the zone (+01:00), or give `logs: {time_zone: ...}` in write-up.md.",
        )  # fmt: skip
        return None
    moment = moment.replace(tzinfo=zone_of(time_zone))
    if fault := local_fault(moment):
        table.complain("bad-time", row, "started", f"`started` is `{text}`, which {fault}", "Add the offset (+01:00).")
        return None
    return moment


def _check_texts(table: TrialTable, texts: Mapping[str, list[str]], rules: TrialRules) -> None:
    if not {"sequence", "excluded", "log"} & table.columns.keys():
        return
    for row in range(len(table.rows)):
        if (name := texts["sequence"][row]) and name not in rules.sequences:
            table.complain(
                "unknown-sequence", row, "sequence", f"`{clip(name)}` is no sequence of this write-up",
                offer(name, rules.sequences, "Sequences"),
            )  # fmt: skip
        if texts["excluded"][row].lower() in _NO_REASON:
            table.complain(
                "excluded-without-reason", row, "excluded",
                f"`excluded` is `{texts['excluded'][row]}`; the reason was expected", "Write why the run is left out.",
            )  # fmt: skip
        if log := texts["log"][row]:
            _check_log(table, row, log, rules)


def _check_log(table: TrialTable, row: int, log: str, rules: TrialRules) -> None:
    if (fault := path_fault(log)) or not log.startswith("logs/"):
        table.complain(
            "bad-path", row, "log", f"`log` is `{clip(log)}`, which {fault or 'is not in logs/'}",
            "Write a path such as logs/evening.csv.",
        )  # fmt: skip
    elif not rules.has_logs:
        table.complain(
            "log-without-rules", row, "log", "a log is named, but write-up.md does not say how to read it",
            "Add `logs: {columns: ..., time: ...}` to the front matter.",
        )  # fmt: skip


def _check_scores(table: TrialTable, trials: tuple[Trial, ...]) -> None:
    for row, trial in enumerate(trials):
        if trial.outcome is Outcome.COMPLETED and "score" not in trial.measured and not trial.excluded:
            has_column = "score" in table.columns
            if has_column and table.rows[row][table.columns["score"]].strip():
                continue  # told already: it is there, but no number
            table.complain(
                "completed-without-score", row, "score" if has_column else "outcome",
                f"the trial `{clip(trial.id)}` completed but has no score",
                "Write the score, or another outcome.",
            )  # fmt: skip
