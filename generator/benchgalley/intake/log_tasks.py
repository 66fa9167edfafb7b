"""One log as one piece of work: what is wanted of it, and what it gives. Both travel between processes."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..records.bench import Window
from ..records.findings import Location, Problem, Severity
from ..records.quantity import BY_COLUMN
from ..records.units import find_unit
from .problem_list import ProblemList
from .trials import lowest

IDLE_SHARE = 0.5
"""Power below this share of a window's 95 % point looks like time without load."""
LOADED = ("board_power_w", "wall_power_w")
"""Columns that tell idle from busy, the first choice first."""
COUNTER = "energy_counter"
"""Name under which a logged energy counter is read beside the columns."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Run:
    """One run to be found in a log."""

    id: str
    """Of the trial."""
    counts: bool
    """Whether its figures are wanted; the others are only told apart."""
    start_s: float | None
    """Seconds after the base of the task; None: not given."""
    duration_s: float | None
    """As given; None: not given."""


@dataclass(frozen=True, kw_only=True, slots=True)
class LogTask:
    """What is wanted of one log."""

    path: str
    """Of the log on this machine."""
    file: str
    """The same as printed."""
    log: str
    """The same as named in trials.csv."""
    columns: tuple[tuple[str, str, str], ...]
    """(canonical column, header, unit spelling) of every figure wanted."""
    settings: Mapping[str, Any]
    """`LogRules.settings`."""
    runs: tuple[Run, ...]
    """In the order of trials.csv."""
    base_s: int
    """Whole seconds since 1970 that times are counted from, near the runs."""
    origin_s: float
    """What elapsed times count from, seconds after the base."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Remark:
    """Why a run or one of its figures cannot be had, or is doubtful."""

    run: int
    """Position in the task."""
    rule: str
    message: str
    mend: str
    stops: bool
    """Whether the build stops."""


@dataclass(frozen=True, kw_only=True, slots=True)
class RunFigures:
    """What a log gives for one run."""

    run: int
    """Position in the task."""
    start_s: float
    """Seconds after the base of the task."""
    duration_s: float
    windows: Mapping[str, Window]


@dataclass(frozen=True, kw_only=True, slots=True)
class LogOutcome:
    """What one log gives."""

    runs: tuple[RunFigures, ...] = ()
    remarks: tuple[Remark, ...] = ()
    problems: tuple[Problem, ...] = ()
    """In the log itself."""

    @property
    def sound(self) -> bool:
        """Nothing stops the build."""
        return not any(r.stops for r in self.remarks) and all(p.severity is Severity.WARNING for p in self.problems)


def reduce_log(task: LogTask, processes: int = 1) -> LogOutcome:
    """Find every run of a task in its log and reduce it: the same outcome from any number of processes."""
    # Reading a log needs pandas; a site without logs never pays for its import.
    from .log_cutting import cut_log, cutting_of, runs_of
    from .log_cutting_apart import cut_in_sections
    from .log_locating import locate
    from .log_rows import Mended

    problems, mended = ProblemList(), Mended()
    gathered = Gathered(task, mended)
    places = locate(task, problems, gathered.remark, processes)
    if places is None:
        return LogOutcome(remarks=tuple(gathered.remarks), problems=problems.sorted())
    runs = runs_of(task, places)
    if not cut_in_sections(task, runs, processes, gathered, mended):
        cutting = cutting_of(task, runs, gathered.take, mended, problems)
        cut_log(cutting)
        for cut in cutting.not_reached():
            gathered.take(cut)
    if problems.errors:
        return LogOutcome(problems=problems.sorted())
    if mended.counts:
        problems.add(
            Problem(
                rule="log-mended",
                where=Location(file=task.file),
                message=f"rules for faulty logs were applied: {mended.told()}",
                mend="Check that nothing else is wrong with the log.",
                severity=Severity.WARNING,
            )
        )
    return LogOutcome(
        runs=tuple(sorted(gathered.runs, key=lambda figures: figures.run)),
        remarks=tuple(sorted(gathered.remarks, key=lambda remark: remark.run)),
        problems=problems.sorted(),
    )


def plan_of(task: LogTask, columns: tuple[str, ...] | None = None) -> Any:
    """How the log of a task is read; `columns`: only these."""
    from .log_header import LogPlan

    settings = task.settings
    headers = {column: header for column, header, _ in task.columns}
    if counter := settings.get("counter"):
        headers[COUNTER] = counter["header"]
    return LogPlan(
        path=Path(task.path),
        file=task.file,
        headers={c: h for c, h in headers.items() if columns is None or c in columns},
        time_headers=settings["time_header"],
        time_is_number=settings["time_format"] in ("unix_s", "unix_ms", "elapsed_s"),
        separator=settings["separator"],
        decimal=settings["decimal"],
        thousands=settings["thousands"],
        encoding=settings["encoding"],
        mark=settings["mark"]["header"] if settings.get("mark") else "",
    )


def clock_of(task: LogTask, plan: Any, problems: ProblemList) -> Any:
    """What turns the times of a task's log into seconds after its base."""
    from .log_times import Clock

    settings = task.settings
    return Clock(
        plan=plan,
        format=settings["time_format"],
        zone=settings["time_zone"],
        pattern=settings["time_pattern"],
        base_s=task.base_s,
        origin_s=task.origin_s,
        problems=problems,
    )


class Gathered:
    """Figures and remarks of one task while its log streams by."""

    def __init__(self, task: LogTask, mended: Any) -> None:
        from .log_reduction import points_of_trace

        self._task, self._mended = task, mended
        self._trace_points = points_of_trace(len(task.runs) * len(task.columns))
        self.runs: list[RunFigures] = []
        self.remarks: list[Remark] = []

    def remark(self, run: int, rule: str, message: str, mend: str, *, stops: bool = True) -> None:
        """Take one remark in."""
        self.remarks.append(Remark(run=run, rule=rule, message=message, mend=mend, stops=stops))

    def take(self, cut: Any) -> None:
        """Reduce one run."""
        from .log_reduction import NotReducibleError

        windows: dict[str, Window] = {}
        gaps = [0]
        for column, _, spelling in self._task.columns:
            try:
                windows[column], bridged = self._window(cut, column, spelling)
                gaps.append(bridged)
            except NotReducibleError as reason:
                self.remark(cut.index, reason.rule, f"`{column}`: {reason}", reason.mend)
        self._mended.add("gaps inside a run were bridged by a straight line", max(gaps))
        figures = RunFigures(run=cut.index, start_s=cut.start_s, duration_s=cut.duration_s, windows=windows)
        self.runs.append(figures)

    def _window(self, cut: Any, column: str, spelling: str) -> tuple[Window, int]:
        """The window of one column, and how many gaps in it were bridged."""
        import numpy as np

        from .log_reduction import NotReducibleError, counted_energy, in_order, reduce_run

        unit, own = find_unit(spelling), BY_COLUMN[column].unit
        assert unit is not None
        time, raw = cut.readings(column)
        with np.errstate(over="ignore"):  # what becomes infinite is refused below
            value = raw if unit == own else (raw * unit.factor + unit.offset - own.offset) / own.factor
        settings = self._task.settings
        time, value = in_order(time, value)
        window, settled, bridged = reduce_run(
            column, self._task.log, time, value, cut.duration_s, settings["window"], self._trace_points
        )
        low, wanted = lowest(column)
        if window.minimum < low:
            raise NotReducibleError(
                "out-of-range", f"the log gives {window.minimum:g} {own.symbol}; {wanted} was expected", "Mend the log."
            )
        if not settled:
            self.remark(
                cut.index,
                "log-not-settled",
                f"`{column}` has not settled by the middle of the run; the second half is taken",
                "Run longer, or use a fixed window and say so.",
                stops=False,
            )
        if column in LOADED and window.minimum < IDLE_SHARE * window.percentile_95:
            self.remark(
                cut.index,
                "window-holds-idle",
                f"`{column}` falls to {window.minimum:.4g} {own.symbol} inside the window, whose 95 % point is "
                f"{window.percentile_95:.4g} {own.symbol}: part of the window may be idle time",
                "Check `started`, `duration_s`, the clock of the log and the window.",
                stops=False,
            )
        counter = settings.get("counter")
        if counter and counter["of"] == column:
            window = counted_energy(window, *in_order(*cut.readings(COUNTER)), counter["unit"])
        return window, bridged
