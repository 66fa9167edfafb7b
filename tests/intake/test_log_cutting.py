# ruff: noqa: E501 - the messages are compared whole
"""Runs found in the log itself, by marks or by load; a logged energy counter beside the integral."""

import math
import random
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from benchgalley.intake.log_locating import otsu_threshold
from benchgalley.records.bench import Trial
from tests.intake.log_site import RUNS, START, LogForm, expected_mean, readings, result, write
from tests.intake.tree import PEBBLE_LOG, PEBBLE_TRIALS, Tree, told

BARE = "trial,power_limit_pct,outcome,score,log\n" + "".join(
    f"p{i},{limit},completed,{500 + i},logs/evening.csv\n" for i, (_, limit) in enumerate(RUNS, 1)
)
"""Trials that say neither when they started nor how long they took."""


def run_at(second: float) -> int:
    """Number of the run at a second of the log, from 1; 0 between runs."""
    return next((i for i, (at, _) in enumerate(RUNS, 1) if at <= second < at + 40), 0)


def marked(tree: Tree, rule: str, mark: object, *, end: int = 220) -> Tree:
    """The log with one more column; `mark` gives its cell from the number of the run."""
    form = LogForm(more=rule)
    rows = readings()[:end]
    lines = form.lines(rows)
    lines = [lines[0] + ",Run", *(f"{line},{mark(run_at(row[0]))}" for line, row in zip(lines[1:], rows, strict=True))]  # type: ignore[operator]
    write(tree, form, lines)
    return tree.write(PEBBLE_TRIALS, BARE)


def check(trials: tuple[Trial, ...], *, length_s: float, within: float) -> None:
    assert len(trials) == 4
    for trial, (at, _) in zip(trials, RUNS, strict=True):
        assert trial.started == START + timedelta(seconds=at)
        assert trial.measured["duration_s"] == length_s and "duration_s" not in trial.decimals
        window = trial.windows["board_power_w"]
        assert (window.start_s, window.end_s) == (10.0, length_s - 2)
        skip_end_s = 40 - window.end_s
        assert trial.measured["board_power_w"] == pytest.approx(expected_mean(at, 1, 10, int(skip_end_s)), rel=within)


@pytest.mark.parametrize("idle", ["", "0", "idle", "N/A"])
def test_a_column_that_names_the_trial_cuts_the_runs(tree: Tree, idle: str) -> None:
    rule = "  cut: marks\n  mark: {header: Run, means: trial}\n"
    trials, problems = result(marked(tree, rule, lambda run: f"p{run}" if run else idle))
    assert told(problems) == []
    check(trials, length_s=39.0, within=1e-12)  # from the first marked reading to the last


@pytest.mark.parametrize(("off", "on"), [("0", "1"), ("", "x"), ("False", "True"), ("off", "on")])
def test_a_column_that_is_on_and_off_cuts_the_runs(tree: Tree, off: str, on: str) -> None:
    rule = "  cut: marks\n  mark: {header: Run, means: toggle}\n"
    trials, problems = result(marked(tree, rule, lambda run: on if run else off))
    assert told(problems) == []
    check(trials, length_s=39.0, within=1e-12)


def test_runs_told_by_load_without_any_mark(tree: Tree) -> None:
    form = LogForm(more="  cut: load\n")
    trials, problems = result(write(tree, form).write(PEBBLE_TRIALS, BARE))
    assert told(problems) == []
    check(trials, length_s=40.0, within=1e-12)


def test_load_with_ramps_dips_and_bursts(tree: Tree) -> None:
    """Dips shorter than a pause, bursts shorter than a run, slow edges and noise: the same four runs."""
    rng = random.Random(7)
    rows = []
    for second, power_w, core_c in readings():
        run = run_at(second)
        if run == 2 and int(second) in (80, 81):
            power_w = 20.0  # a loading screen
        if int(second) in (51, 52, 53) or second == 205:
            power_w = 95.0  # a menu
        at = RUNS[run - 1][0] if run else -1
        if run and second == at:
            power_w = 60.0  # the first second is half idle
        rows.append((second, max(0.0, round(power_w + rng.gauss(0, 1.5), 2)), core_c))
    form = LogForm(more="  cut: load\n")
    trials, problems = result(write(tree, form, form.lines(rows)).write(PEBBLE_TRIALS, BARE))
    # The dip lies inside the second run's window, and that is told.
    assert [(p.rule, p.where.line) for p in problems] == [("window-holds-idle", 3)]
    for trial, (at, _) in zip(trials, RUNS, strict=True):
        assert trial.started is not None
        assert abs((trial.started - START).total_seconds() - at) <= 1
        assert abs(trial.measured["duration_s"] - 40) <= 1


def test_as_many_stretches_as_trials_failed_ones_among_them(tree: Tree) -> None:
    form = LogForm(more="  cut: load\n")
    write(tree, form)
    tree.write(PEBBLE_TRIALS, BARE.replace("p3,75,completed,503", "p3,75,crashed,"))
    trials, problems = result(tree)
    assert told(problems) == [] and trials[2].windows == {}
    assert trials[3].measured["board_power_w"] == pytest.approx(expected_mean(RUNS[3][0], 1), rel=1e-12)
    tree.write(PEBBLE_TRIALS, "\n".join(BARE.splitlines()[:4]) + "\n")
    assert told(result(tree)[1]) == [
        f"{PEBBLE_LOG}:1:1: runs-and-log-differ: the log has 4 busy stretches; trials.csv has 3 trials with this log | Each run, failed ones too, needs a row and a stretch of the log; or cut by `started`."
    ]


def test_a_log_without_idle_time_is_not_cut_by_load(tree: Tree) -> None:
    form = LogForm(more="  cut: load\n")
    rows = [(t, 100.0 + (i % 7), c) for i, (t, _, c) in enumerate(readings())]
    assert [p.rule for p in result(write(tree, form, form.lines(rows)).write(PEBBLE_TRIALS, BARE))[1]] == [
        "no-idle-in-log"
    ]


MARK = "  cut: marks\n  mark: {header: Run}\n"
TOGGLE = "  cut: marks\n  mark: {header: Run, means: toggle}\n"


@pytest.mark.parametrize(
    ("rule", "mark", "expected"),
    [
        (MARK, lambda run: f"p{run}" if run in (1, 2, 4) else "", f"{PEBBLE_TRIALS}:4:21: mark-missing: the log marks no reading `p3` | Check `logs.mark`."),
        (MARK, lambda run: f"p{run % 4}" if run else "", f"{PEBBLE_TRIALS}:5:22: mark-missing: the log marks no reading `p4` | Check `logs.mark`."),
        (MARK, lambda run: {1: "p1", 2: "p2", 3: "p3", 4: "p1"}.get(run, ""), f"{PEBBLE_TRIALS}:2:22: mark-twice: the log marks `p1` in 2 separate stretches | Give every run a mark of its own."),
        (TOGGLE, lambda run: run, f"{PEBBLE_LOG}:1:1: not-a-mark: `Run` has more than one value for a run: 1, 2, 3 | Say `means: trial` if it names the trials."),
        (TOGGLE, lambda run: int(0 < run < 4), f"{PEBBLE_LOG}:1:1: runs-and-log-differ: the log has 3 marked stretches; trials.csv has 4 trials with this log | Each run, failed ones too, needs a row and a stretch of the log; or cut by `started`."),
        (MARK.replace("Run", "Lap"), lambda run: run, f"{PEBBLE_LOG}:1:1: missing-column: no column of the log is headed `Lap` | Check `logs.columns`, `separator` and `encoding`."),
    ],
)  # fmt: skip
def test_marks_that_do_not_fit_the_trials_are_told(tree: Tree, rule: str, mark: object, expected: str) -> None:
    assert expected in told(result(marked(tree, rule, mark))[1])


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ("  cut: marks\n", "missing-key"),
        ("  cut: lamps\n", "unknown-word"),
        ("  mark: {header: Run}\n", "unused-key"),
        ("  cut: marks\n  mark: {header: Run, means: both}\n", "unknown-word"),
        ("  energy_counter: {header: E, unit: W}\n", "wrong-unit"),
        ("  energy_counter: {header: E, of: wall_power_w}\n", "unknown-word"),
        ("  energy_counter: {unit: J}\n", "missing-key"),
    ],
)
def test_rules_of_cutting_are_checked(tree: Tree, more: str, expected: str) -> None:
    rules = {p.rule for p in result(write(tree, LogForm(more=more)))[1]}
    assert expected in rules, rules


def test_typed_times_are_held_against_those_found(tree: Tree) -> None:
    marked(tree, MARK, lambda run: f"p{run}" if run else "")
    table = BARE.replace("score,log", "score,duration_s,started,log").splitlines()
    for i, (at, _) in enumerate(RUNS, 1):
        typed = (START + timedelta(seconds=at + (90 if i == 2 else 20))).isoformat()
        table[i] = table[i].replace(",logs", f",{45 if i == 3 else 40},{typed},logs")
    tree.write(PEBBLE_TRIALS, "\n".join(table) + "\n")
    found = [line for line in told(result(tree)[1]) if "typed-and-logged" in line]
    assert found == [
        f"{PEBBLE_TRIALS}:3:24: typed-and-logged-disagree: `started` of trial `p2` is typed, but in the log the run starts 90 s before that | Leave the cell empty, or find out which is right.",
        f"{PEBBLE_TRIALS}:4:21: typed-and-logged-disagree: `duration_s` of trial `p3` is typed as 45 s, but the log shows 39 s | Leave the cell empty, or find out which is right.",
    ]


def test_the_threshold_is_otsus() -> None:
    """Against the definition itself (Otsu 1979, equation 14: least variance within the two classes), by brute force."""
    rng = np.random.default_rng(11)
    for _ in range(40):
        values = np.concatenate(
            [rng.normal(20, 4, rng.integers(2, 60)), rng.normal(150, 30, rng.integers(2, 60))]
        ).round(1)
        levels = np.unique(values)
        within = [
            values[values <= t].var() * (values <= t).sum() + values[values > t].var() * (values > t).sum()
            for t in (levels[:-1] + levels[1:]) / 2
        ]
        best = (levels[:-1] + levels[1:])[int(np.argmin(within))] / 2
        assert otsu_threshold(values) == pytest.approx(best)
    assert otsu_threshold(np.array([5.0, 5.0])) == math.inf


@pytest.mark.parametrize(("unit", "factor"), [("J", 1.0), ("Wh", 3600.0), ("kJ", 1000.0)])
def test_a_logged_energy_counter_stands_beside_the_integral(tree: Tree, unit: str, factor: float) -> None:
    form = LogForm(more=f"  energy_counter: {{header: Energy, unit: {unit}}}\n")
    rows, energy = readings(), 0.0
    lines = [form.lines(rows)[0] + ",Energy"]
    for i, line in enumerate(form.lines(rows)[1:]):
        if i:
            energy += (rows[i][1] + rows[i - 1][1]) / 2
        lines.append(f"{line},{energy * 1.01 / factor:.6f}")
    trials, problems = result(write(tree, form, lines))
    assert told(problems) == []
    for trial in trials:
        window = trial.windows["board_power_w"]
        assert window.counter_j == pytest.approx(1.01 * window.integral, rel=1e-4)
        assert trial.windows["core_temp_c"].counter_j is None


def test_a_counter_that_was_reset_or_hardly_moves_says_nothing(tree: Tree) -> None:
    form = LogForm(more="  energy_counter: {header: Energy, unit: kJ}\n")
    rows = readings()
    lines = form.lines(rows)
    coarse = [lines[0] + ",Energy", *(f"{line},{i // 40}" for i, line in enumerate(lines[1:]))]
    assert result(write(tree, form, coarse))[0][0].windows["board_power_w"].counter_j is None
    reset = [lines[0] + ",Energy", *(f"{line},{i % 30}" for i, line in enumerate(lines[1:]))]
    assert result(write(tree, form, reset))[0][0].windows["board_power_w"].counter_j is None


def test_marks_in_a_log_of_elapsed_times_need_no_clock(tree: Tree) -> None:
    form = replace(LogForm(more=MARK), time_rule="{header: Time, format: elapsed_s}", time=lambda s: f"{s:g}")
    rows = readings()
    lines = form.lines(rows)
    lines = [lines[0] + ",Run", *(f"{line},p{run_at(row[0])}" for line, row in zip(lines[1:], rows, strict=True))]
    trials, problems = result(write(tree, form, lines).write(PEBBLE_TRIALS, BARE))
    assert [p.rule for p in problems] == ["unknown-mark"]  # p0, between the runs
    assert [t.started for t in trials] == [None] * 4
    assert trials[1].measured["board_power_w"] == pytest.approx(expected_mean(RUNS[1][0], 1, 10, 3), rel=1e-12)
