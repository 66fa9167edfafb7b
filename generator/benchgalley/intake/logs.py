"""Logged figures of the runs of a write-up: each log read once, each run cut and reduced, told values compared."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from ..records.bench import Trial, Window
from ..records.findings import Location, Problem, Severity
from ..records.quantity import BY_COLUMN
from ..records.units import find_unit
from ..records.write_up import LogRules
from .files import inside, relative
from .problem_list import ProblemList, clip
from .trial_table import TrialTable, warn
from .trials import NEVER_NEGATIVE

AGREEMENT_SHARE = 0.01
"""A typed value may differ from the logged one by its own rounding, or by this share of it."""


IDLE_SHARE = 0.5
"""Power below this share of a window's 95 % point looks like time without load."""
_LOADED = frozenset({"board_power_w", "wall_power_w"})


def reduce_logs(
    rules: LogRules | None,
    trials: tuple[Trial, ...],
    table: TrialTable,
    folder: Path,
    root: Path,
    problems: ProblemList,
) -> tuple[Trial, ...]:
    """The trials with every figure their logs give; completed runs that are not excluded only."""
    if rules is None or not rules.columns:
        return trials
    by_log: dict[str, list[int]] = {}
    for index, trial in enumerate(trials):
        if trial.log and trial.counts:
            by_log.setdefault(trial.log, []).append(index)
    updated = list(trials)
    for log, indices in sorted(by_log.items()):
        path = folder / log
        if not _is_there(path, root, log, table, indices, problems):
            continue
        for index, windows in _reduce(rules, log, path, root, trials, indices, table, problems).items():
            updated[index] = _joined(trials[index], windows, table, index, problems)
    return tuple(updated)


def _is_there(path: Path, root: Path, log: str, table: TrialTable, indices: list[int], problems: ProblemList) -> bool:
    if inside(path, root) and path.is_file():
        return True
    reason = "is not there" if inside(path, root) else "is a symbolic link to a place outside the site"
    table.complain(
        "missing-log", indices[0], "log", f"the log `{clip(log)}` {reason}", "Add the file, or correct the name."
    )
    return False


def _reduce(
    rules: LogRules,
    log: str,
    path: Path,
    root: Path,
    trials: tuple[Trial, ...],
    indices: list[int],
    table: TrialTable,
    problems: ProblemList,
) -> dict[int, dict[str, Window]]:
    # Reading a log needs pandas; a site without logs never pays for its import.
    from .log_cutting import Cut, cut_log
    from .log_file import Mended
    from .log_header import LogPlan
    from .log_times import Clock

    starts = {index: start for index in indices if (start := _start(rules, trials[index], index, indices, table))}
    if not starts:
        return {}
    first = min(starts.values())
    base = first.replace(microsecond=0)
    cuts = [
        Cut(index, (start - base).total_seconds(), trials[index].measured["duration_s"])
        for index, start in starts.items()
    ]
    origin_s = (_origin(rules, first) - base).total_seconds()
    settings = rules.settings
    plan = LogPlan(
        path=path,
        file=relative(path, root),
        headers={column: header for column, (header, _) in rules.columns.items()},
        time_headers=settings["time_header"],
        time_is_number=settings["time_format"] in ("unix_s", "unix_ms", "elapsed_s"),
        separator=settings["separator"],
        decimal=settings["decimal"],
        thousands=settings["thousands"],
        encoding=settings["encoding"],
    )
    clock = Clock(
        plan=plan,
        format=settings["time_format"],
        zone=settings["time_zone"],
        pattern=settings["time_pattern"],
        base_s=int(base.timestamp()),
        origin_s=origin_s,
        problems=problems,
    )
    mended = Mended()
    before = problems.errors
    cut_log(plan, clock, cuts, mended, problems)
    if problems.errors > before:
        return {}
    found = {cut.index: _windows(rules, log, cut, table) for cut in cuts}
    if mended.counts:
        problems.add(
            Problem(
                rule="log-mended",
                where=Location(file=plan.file),
                message=f"rules for faulty logs were applied: {mended.told()}",
                mend="Check that nothing else is wrong with the log.",
                severity=Severity.WARNING,
            )
        )
    return found


def _start(rules: LogRules, trial: Trial, index: int, indices: list[int], table: TrialTable) -> datetime | None:
    missing = [
        c
        for c, there in (("started", trial.started is not None), ("duration_s", "duration_s" in trial.measured))
        if not there
    ]
    if missing:
        table.complain(
            "log-needs-times",
            index,
            "log",
            f"the trial `{clip(trial.id)}` names a log but has no `{missing[0]}`: the run cannot be found in it",
            f"Add `{missing[0]}`.",
        )
        return None
    if rules.settings["time_format"] == "elapsed_s" and not rules.settings["time_starts"] and len(indices) > 1:
        if index == indices[0]:
            table.complain(
                "log-start-unknown",
                index,
                "log",
                "several runs share a log of elapsed times, and nothing says when it started",
                "Give `logs.time.starts` in write-up.md, as 2026-03-01T14:05:00+01:00.",
            )
        return None
    return trial.started


def _origin(rules: LogRules, first: datetime) -> datetime:
    """What elapsed seconds count from: as stated, else the start of the log's only run."""
    starts = rules.settings["time_starts"]
    return datetime.fromisoformat(starts) if starts else first


def _windows(rules: LogRules, log: str, cut: Any, table: TrialTable) -> dict[str, Window]:
    from .log_reduction import NotReducibleError, in_order, reduce_run

    found: dict[str, Window] = {}
    for column, (_, spelling) in rules.columns.items():
        unit, own = find_unit(spelling), BY_COLUMN[column].unit
        assert unit is not None
        time, raw = cut.readings(column)
        value = raw if unit == own else (raw * unit.factor + unit.offset - own.offset) / own.factor
        time, value = in_order(time, value)
        try:
            window = reduce_run(column, log, time, value, cut.duration_s, rules.settings["window"])
            if column in NEVER_NEGATIVE and window.minimum < 0:
                raise NotReducibleError(
                    "out-of-range",
                    f"the log gives {window.minimum:g} {own.symbol}; at least 0 was expected",
                    "Mend the log.",
                )
            found[column] = window
            if column in _LOADED and window.minimum < IDLE_SHARE * window.percentile_95:
                warn(
                    table,
                    "window-holds-idle",
                    cut.index,
                    f"`{column}` falls to {window.minimum:.4g} {own.symbol} inside the window, whose 95 % point is "
                    f"{window.percentile_95:.4g} {own.symbol}: part of the window may be idle time",
                    "Check `started`, `duration_s`, the clock of the log and the window.",
                )
        except NotReducibleError as reason:
            table.complain(reason.rule, cut.index, "log", f"`{column}`: {reason}", reason.mend)
    return found


def _joined(trial: Trial, windows: Mapping[str, Window], table: TrialTable, index: int, problems: ProblemList) -> Trial:
    measured, decimals = dict(trial.measured), dict(trial.decimals)
    for column, window in windows.items():
        typed = measured.get(column)
        if typed is not None:
            allowed = max(0.5 * 10.0 ** -decimals.get(column, 0) * (1 + 1e-9), AGREEMENT_SHARE * abs(window.mean))
            if abs(typed - window.mean) > allowed:
                table.complain(
                    "typed-and-logged-disagree",
                    index,
                    column,
                    f"`{table.header_of(column)}` of trial `{clip(trial.id)}` is typed as {typed:g}, "
                    f"but {window.log} gives {window.mean:.6g} {BY_COLUMN[column].unit.symbol}",
                    "Leave the cell empty, or find out which is right.",
                )
        measured[column] = window.mean
        decimals.pop(column, None)
    return replace(trial, measured=measured, decimals=decimals, windows=dict(windows))
