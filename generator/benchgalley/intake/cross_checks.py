"""What only several files together can tell: runs against setpoints and sequences, settings against the card."""

from collections.abc import Callable, Iterable, Mapping
from itertools import pairwise

from ..records.bench import Card, Outcome, Sequence, SequenceKind, Trial
from ..records.findings import Location, Problem, Severity
from ..records.membership import in_setpoint, runs_along
from ..records.quantity import SETTING_BY_COLUMN
from .front_matter import FrontMatter
from .problem_list import ProblemList, clip
from .trial_table import TrialTable, and_more, warn, warn_at


def _shown(settings: Mapping[str, float | str]) -> str:
    parts = []
    for column, value in settings.items():
        kind = SETTING_BY_COLUMN[column]
        if value != kind.default:
            parts.append(f"{column} {value:g}" if isinstance(value, float) else f"{column} {value}")
    return ", ".join(parts) or "everything at stock"


def _problem(front: FrontMatter, rule: str, where: Location, message: str, mend: str) -> Problem:
    return Problem(rule=rule, where=where, message=message, mend=mend, source_line=front.source.line(where.line))


def _setpoints_have_runs(front: FrontMatter, table: TrialTable, trials: tuple[Trial, ...]) -> Iterable[Problem]:
    for setpoint in front.setpoints.values():
        if not any(in_setpoint(t, setpoint, front.sequences) for t in trials):
            yield _problem(
                front,
                "setting-without-runs",
                setpoint.where,
                f"no run in trials.csv has the settings of `{setpoint.name}` ({_shown(setpoint.settings)})",
                "Check the settings here and in trials.csv, or remove the setpoint.",
            )


def _sequences_have_runs(front: FrontMatter, table: TrialTable, trials: tuple[Trial, ...]) -> Iterable[Problem]:
    for sequence in front.sequences.values():
        if runs_along(sequence, trials):
            continue
        mend = (
            f"Write `{sequence.name}` in the column `sequence` of its runs."
            if sequence.kind is SequenceKind.SOAK
            else "Check what is held here and the settings in trials.csv, or remove the sequence."
        )
        yield _problem(
            front, "sequence-without-runs", sequence.where, f"no run in trials.csv belongs to `{sequence.name}`", mend
        )


def _marked_runs_fit(front: FrontMatter, table: TrialTable, trials: tuple[Trial, ...]) -> Iterable[Problem]:
    for sequence in front.sequences.values():
        marked = [(row, trial) for row, trial in enumerate(trials) if trial.sequence == sequence.name]
        held = sequence.held
        if sequence.kind is SequenceKind.SOAK:
            setpoint = front.setpoints.get(sequence.setpoint)
            held = setpoint.settings if setpoint else {}
        differing = [
            (row, trial, off)
            for row, trial in marked
            if (off := [c for c, value in held.items() if trial.settings.get(c) != value])
        ]
        if not differing:
            continue
        row, trial, off = differing[0]
        told = ", ".join(f"{c} is {_value(trial.settings[c])}, not {_value(held[c])}" for c in off)
        table.complain(
            "sequence-settings-differ",
            row,
            "sequence",
            f"the trial `{clip(trial.id)}`{and_more(len(differing))} is marked `{sequence.name}`, but {told}",
            _held_cure(sequence, [trial for _, trial in marked]) or "Correct the settings or the mark.",
        )
    return ()


def _held_cure(sequence: Sequence, marked: list[Trial]) -> str:
    """What to hold instead, when all runs marked with a sequence agree on it; else empty."""
    if sequence.kind is SequenceKind.SOAK:
        return ""
    first = marked[0].settings
    if any(trial.settings.get(c) != first.get(c) for trial in marked for c in sequence.held):
        return ""
    shared = [f"{c}: {_value(first[c])}" for c in sequence.held if first[c] != SETTING_BY_COLUMN[c].default]
    write = f"write `held: {{{', '.join(shared)}}}`" if shared else "leave `held` out"
    return f"Its marked runs all share that: {write} for `{sequence.name}`, or correct the settings or the mark."


def _every_run_has_a_place(front: FrontMatter, table: TrialTable, trials: tuple[Trial, ...]) -> Iterable[Problem]:
    placed = {trial.id for sequence in front.sequences.values() for trial in runs_along(sequence, trials)}
    for row, trial in enumerate(trials):
        if trial.excluded or any(in_setpoint(trial, s, front.sequences) for s in front.setpoints.values()):
            continue
        if trial.id not in placed:
            warn(
                table,
                "run-without-place",
                row,
                f"the trial `{clip(trial.id)}` ({_shown(trial.settings)}) belongs to no setpoint and no sequence",
                "Declare one for it in write-up.md, or give the reason in `excluded`.",
            )
    return ()


def _runs_do_not_overlap(front: FrontMatter, table: TrialTable, trials: tuple[Trial, ...]) -> Iterable[Problem]:
    timed = sorted(
        (
            (t.started, t.measured["duration_s"], row)
            for row, t in enumerate(trials)
            if t.started and "duration_s" in t.measured
        ),
        key=lambda item: (item[0].timestamp(), item[2]),
    )
    for (start, duration_s, before), (next_start, _, row) in pairwise(timed):
        overlap_s = duration_s - (next_start - start).total_seconds()
        # Start times are often noted to the second only.
        if overlap_s > 1.0:
            table.complain(
                "runs-overlap",
                row,
                "started",
                f"the trial `{clip(trials[row].id)}` starts {overlap_s:.0f} s before `{clip(trials[before].id)}` ends",
                "Correct `started` or `duration_s`.",
            )
    return ()


def _value(value: float | str) -> str:
    return f"{value:g}" if isinstance(value, float) else value


_Check = Callable[[FrontMatter, TrialTable, tuple[Trial, ...]], Iterable[Problem]]
CHECKS: tuple[_Check, ...] = (
    _setpoints_have_runs,
    _sequences_have_runs,
    _marked_runs_fit,
    _every_run_has_a_place,
    _runs_do_not_overlap,
)
"""In the order their problems are found; they are sorted by place before anyone sees them."""


def check_runs(front: FrontMatter, table: TrialTable, trials: tuple[Trial, ...], problems: ProblemList) -> None:
    """Every check of runs against the front matter."""
    for check in CHECKS:
        problems.extend(check(front, table, trials))


def check_limits(front: FrontMatter, card: Card, trials: tuple[Trial, ...] | None, problems: ProblemList) -> None:
    """Setpoints outside the maker's power limit range that nobody ran: a slip of the pen, most likely.

    Where runs exist the setting was evidently possible; that is a matter for the caveats.
    """
    low, high = card.power_limit_range_pct
    for setpoint in front.setpoints.values():
        limit = setpoint.settings["power_limit_pct"]
        if not isinstance(limit, float) or low <= limit <= high:
            continue
        if trials is not None and any(t.settings == setpoint.settings for t in trials):
            continue
        problems.add(
            Problem(
                rule="outside-power-limit-range",
                where=setpoint.where,
                message=f"`{setpoint.name}` sets a power limit of {limit:g} %, "
                f"but `{card.id}` allows {low:g} % to {high:g} %",
                mend="Correct the setpoint, or `power_limit_range_pct` in the card file.",
                source_line=front.source.line(setpoint.where.line),
                severity=Severity.ERROR,
            )
        )


MOST_BOARD_POWER = 3.0
"""Power at the card above so many times the maker's is taken for a slip: a wrong unit or a lost decimal point."""


def check_plausible(table: TrialTable, trials: tuple[Trial, ...], card: Card | None) -> None:
    """Figures that can hardly be right, and scores nobody uses: told once each, with the first run of the kind."""
    used = [(row, trial) for row, trial in enumerate(trials) if not trial.excluded]
    nothing = [(r, t) for r, t in used if t.outcome is Outcome.COMPLETED and t.measured.get("score") == 0]
    if nothing:
        row, trial = nothing[0]
        warn_at(
            table,
            "score-not-positive",
            row,
            "score",
            f"the score of trial `{clip(trial.id)}`{and_more(len(nothing))} is 0, although it completed",
            "Correct the score, or write another outcome.",
        )
    unused = [(r, t) for r, t in used if t.outcome is not Outcome.COMPLETED and "score" in t.measured]
    if unused:
        row, trial = unused[0]
        warn_at(
            table,
            "score-not-used",
            row,
            "score",
            f"the trial `{clip(trial.id)}`{and_more(len(unused))} has a score, but its outcome is "
            f"`{trial.outcome.value}`: only scores of completed runs are used",
            "Leave the cell empty, or correct the outcome.",
        )
    if card is None:
        return
    most_w = MOST_BOARD_POWER * card.stock_board_power_w
    beyond = [(r, t) for r, t in used if t.measured.get("board_power_w", 0.0) > most_w]
    if beyond:
        row, trial = beyond[0]
        warn_at(
            table,
            "power-beyond-plausible",
            row,
            "board_power_w" if "board_power_w" in table.columns else "log",
            f"the board power of trial `{clip(trial.id)}`{and_more(len(beyond))} is "
            f"{trial.measured['board_power_w']:.4g} W, more than {MOST_BOARD_POWER:g} times the "
            f"{card.stock_board_power_w:g} W of `{card.id}`",
            "Check the unit and the decimal point; power of the whole machine is `wall_power_w`.",
        )
