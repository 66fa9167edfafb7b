"""Logged figures of the runs of a write-up: what is wanted of each log, and what becomes of what it gives."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from ..records.bench import Trial, Window
from ..records.quantity import BY_COLUMN
from ..records.write_up import LogRules
from .files import inside, relative
from .log_tasks import LogOutcome, LogTask, Run, RunFigures
from .problem_list import ProblemList, clip
from .trial_table import TrialTable, warn

AGREEMENT_SHARE = 0.01
"""A typed value may differ from the logged one by its own rounding, or by this share of it."""
LENGTH_SHARE, LENGTH_S, START_S = 0.05, 2.0, 60.0
"""A typed length may differ from the one found in the log by this share or so many seconds, whichever is more; a
typed start by a minute, the usual coarseness of a hand-kept time. Our choice; the log's own figures are used."""


@dataclass(frozen=True, kw_only=True, slots=True)
class PlannedLog:
    """A task, and which trials its runs are."""

    task: LogTask
    indices: tuple[int, ...]


def plan_logs(
    rules: LogRules | None,
    trials: tuple[Trial, ...],
    table: TrialTable,
    folder: Path,
    root: Path,
) -> tuple[PlannedLog, ...]:
    """What is wanted of every log: figures of completed runs that are not excluded. Problems go to the table's list."""
    if rules is None or not rules.columns:
        return ()
    found_in_log = rules.settings.get("cut", "started") != "started"
    by_log: dict[str, list[int]] = {}
    for index, trial in enumerate(trials):
        # Where runs are found by marks or load, those that failed must be told apart too.
        if trial.log and (trial.counts or found_in_log):
            by_log.setdefault(trial.log, []).append(index)
    planned = []
    for log, indices in sorted(by_log.items()):
        if not any(trials[index].counts for index in indices):
            continue
        if _is_there(folder / log, root, log, table, indices):
            plan = _found(rules, log, folder, root, trials, indices) if found_in_log else None
            plan = plan or _started(rules, log, folder, root, trials, indices, table)
            planned += [plan] if plan else []
    return tuple(planned)


def take_outcomes(
    trials: tuple[Trial, ...],
    outcomes: Iterable[tuple[PlannedLog, LogOutcome]],
    table: TrialTable,
    problems: ProblemList,
) -> tuple[Trial, ...]:
    """The trials with every figure their logs give; typed values are held against logged ones."""
    updated = list(trials)
    for planned, outcome in outcomes:
        problems.extend(outcome.problems)
        for remark in outcome.remarks:
            index = planned.indices[remark.run]
            if remark.stops:
                table.complain(remark.rule, index, "log", remark.message, remark.mend)
            else:
                warn(table, remark.rule, index, remark.message, remark.mend)
        for figures in outcome.runs:
            index = planned.indices[figures.run]
            updated[index] = _joined(trials[index], figures, planned.task, table, index)
    return tuple(updated)


def _is_there(path: Path, root: Path, log: str, table: TrialTable, indices: list[int]) -> bool:
    if inside(path, root) and path.is_file():
        return True
    reason = "is not there" if inside(path, root) else "is a symbolic link to a place outside the site"
    table.complain(
        "missing-log", indices[0], "log", f"the log `{clip(log)}` {reason}", "Add the file, or correct the name."
    )
    return False


def _started(
    rules: LogRules,
    log: str,
    folder: Path,
    root: Path,
    trials: tuple[Trial, ...],
    indices: list[int],
    table: TrialTable,
) -> PlannedLog | None:
    """The task of a log whose runs are found by `started` and `duration_s`."""
    usable = [index for index in indices if _has_times(rules, trials[index], index, indices, table)]
    starts = {index: trials[index].started for index in usable}
    known = [start for start in starts.values() if start is not None]
    return _planned(rules, log, folder, root, trials, usable, min(known)) if known else None


def _found(
    rules: LogRules, log: str, folder: Path, root: Path, trials: tuple[Trial, ...], indices: list[int]
) -> PlannedLog:
    """The task of a log in which the runs are to be found."""
    starts = [start for index in indices if (start := trials[index].started) is not None]
    stated = rules.settings["time_starts"]
    first = datetime.fromisoformat(stated) if stated else min(starts, default=datetime.fromtimestamp(0, UTC))
    return _planned(rules, log, folder, root, trials, indices, first)


def _planned(
    rules: LogRules, log: str, folder: Path, root: Path, trials: tuple[Trial, ...], indices: list[int], first: datetime
) -> PlannedLog:
    base = first.replace(microsecond=0)
    stated = rules.settings["time_starts"]
    # What elapsed seconds count from: as stated, else the start of the log's only run.
    origin = datetime.fromisoformat(stated) if stated else first
    task = LogTask(
        path=str(folder / log),
        file=relative(folder / log, root),
        log=log,
        columns=tuple((column, header, spelling) for column, (header, spelling) in rules.columns.items()),
        settings=rules.settings,
        runs=tuple(_run(trials[index], base) for index in indices),
        base_s=int(base.timestamp()),
        origin_s=(origin - base).total_seconds(),
    )
    return PlannedLog(task=task, indices=tuple(indices))


def _run(trial: Trial, base: datetime) -> Run:
    return Run(
        id=trial.id,
        counts=trial.counts,
        start_s=None if trial.started is None else (trial.started - base).total_seconds(),
        duration_s=trial.measured.get("duration_s"),
    )


def _has_times(rules: LogRules, trial: Trial, index: int, indices: list[int], table: TrialTable) -> bool:
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
        return False
    if rules.settings["time_format"] == "elapsed_s" and not rules.settings["time_starts"] and len(indices) > 1:
        if index == indices[0]:
            table.complain(
                "log-start-unknown",
                index,
                "log",
                "several runs share a log of elapsed times, and nothing says when it started",
                "Give `logs.time.starts` in write-up.md, as 2026-03-01T14:05:00+01:00.",
            )
        return False
    return True


def _joined(trial: Trial, figures: RunFigures, task: LogTask, table: TrialTable, index: int) -> Trial:
    measured, decimals = dict(trial.measured), dict(trial.decimals)
    for column, window in figures.windows.items():
        _hold_against(trial, column, window, table, index)
        measured[column] = window.mean
        decimals.pop(column, None)
    started = trial.started
    if task.settings.get("cut", "started") != "started":
        _hold_times_against(trial, figures, task, table, index)
        measured["duration_s"] = figures.duration_s
        decimals.pop("duration_s", None)
        if started is None and _clock_is_known(task):
            started = datetime.fromtimestamp(task.base_s, UTC) + timedelta(seconds=figures.start_s)
    return replace(trial, measured=measured, decimals=decimals, windows=dict(figures.windows), started=started)


def _clock_is_known(task: LogTask) -> bool:
    return task.settings["time_format"] != "elapsed_s" or bool(task.settings["time_starts"])


def _hold_against(trial: Trial, column: str, window: Window, table: TrialTable, index: int) -> None:
    typed = trial.measured.get(column)
    if typed is None:
        return
    allowed = max(0.5 * 10.0 ** -trial.decimals.get(column, 0) * (1 + 1e-9), AGREEMENT_SHARE * abs(window.mean))
    if abs(typed - window.mean) > allowed:
        table.complain(
            "typed-and-logged-disagree",
            index,
            column,
            f"`{table.header_of(column)}` of trial `{clip(trial.id)}` is typed as {typed:g}, "
            f"but {window.log} gives {window.mean:.6g} {BY_COLUMN[column].unit.symbol}",
            "Leave the cell empty, or find out which is right.",
        )


def _hold_times_against(trial: Trial, figures: RunFigures, task: LogTask, table: TrialTable, index: int) -> None:
    run = task.runs[figures.run]
    found: dict[str, str] = {}
    if run.duration_s is not None:
        off_s = figures.duration_s - run.duration_s
        if abs(off_s) > max(LENGTH_SHARE * figures.duration_s, LENGTH_S):
            found["duration_s"] = f"typed as {run.duration_s:g} s, but the log shows {figures.duration_s:.6g} s"
    if run.start_s is not None and _clock_is_known(task):
        off_s = figures.start_s - run.start_s
        if abs(off_s) > START_S:
            way = "after" if off_s > 0 else "before"
            found["started"] = f"typed, but in the log the run starts {abs(off_s):.0f} s {way} that"
    for column, message in found.items():
        table.complain(
            "typed-and-logged-disagree",
            index,
            column,
            f"`{table.header_of(column)}` of trial `{clip(trial.id)}` is {message}",
            "Leave the cell empty, or find out which is right.",
        )
