# ruff: noqa: E501 - rows of numbers
"""Cost of reading against its floor, in the same run: the csv module with plain float conversion; the log reader alone."""

import csv
import io
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from benchgalley.intake.column_rules import COLUMNS
from benchgalley.intake.problem_list import ProblemList, SourceText
from benchgalley.intake.trial_table import read_table
from benchgalley.intake.trials import TrialRules, read_trials

NUMERIC = (
    "power_limit_pct",
    "voltage_offset_mv",
    "score",
    "board_power_w",
    "core_clock_mhz",
    "core_temp_c",
    "duration_s",
)
HEADER = (*NUMERIC[:2], "trial", "outcome", *NUMERIC[2:])
RULES = TrialRules(sequences={}, time_zone="", has_logs=False)


def sheet(rows: int) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADER)
    for i in range(rows):
        writer.writerow([80, -110, f"r{i}", "completed", 8000 + i, 157.4, 2316, 54.0, 60.0])
    return out.getvalue()


def floor(text: str) -> list[dict[str, object]]:
    """What a tester's own script would do: no check, no place, no default."""
    rows = list(csv.reader(io.StringIO(text, newline="")))
    numeric = {i for i, name in enumerate(rows[0]) if name in NUMERIC}
    return [
        {name: float(cell) if i in numeric and cell else cell for i, (name, cell) in enumerate(zip(rows[0], row, strict=True))}
        for row in rows[1:]
    ]  # fmt: skip


def ours(text: str) -> object:
    problems = ProblemList()
    table = read_table(SourceText("trials.csv", text), {}, problems)
    assert table is not None
    return read_trials(table, RULES)


def fastest_s(work: Callable[[], object], times: int = 15) -> float:
    best = float("inf")
    for _ in range(times):
        start = time.process_time()
        for _ in range(20):
            work()
        best = min(best, (time.process_time() - start) / 20)
    return best


@pytest.mark.parametrize("rows", [30, 3000])
def test_trials_are_read_within_a_few_times_the_floor(rows: int) -> None:
    assert set(HEADER) <= set(COLUMNS)
    text = sheet(rows)
    repeats = 15 if rows == 30 else 2
    base, mine = fastest_s(lambda: floor(text), repeats), fastest_s(lambda: ours(text), repeats)
    print(f"{rows} rows: floor {base * 1e6:.0f} us, with every check {mine * 1e6:.0f} us, ratio {mine / base:.2f}")
    assert mine < 4 * base  # aim 2; the margin is for a busy machine and small files


@pytest.mark.slow
def test_a_long_log_is_reduced_near_the_speed_of_the_reader(tmp_path: Path) -> None:
    """2 million readings: against the same reader on the same columns and parts, with nothing done to them."""
    import pandas as pd

    from benchgalley.intake.log_tasks import reduce_log
    from tests.benchmarks.logs_reduction import task_of, write_log

    rows = 2_000_000
    path = tmp_path / "long.csv"
    write_log(path, rows)
    task = task_of(path, rows)

    def read_only() -> float:
        begin = time.process_time()
        with pd.read_csv(path, usecols=["t", "power"], chunksize=500_000) as reader:
            assert sum(len(part) for part in reader) == rows
        return time.process_time() - begin

    def reduce() -> float:
        begin = time.process_time()
        outcome = reduce_log(task)
        assert outcome.sound and len(outcome.runs) == len(task.runs)
        assert all(149 < run.windows["board_power_w"].mean < 151 for run in outcome.runs)
        return time.process_time() - begin

    base, mine = min(read_only() for _ in range(3)), min(reduce() for _ in range(3))
    print(f"2 million readings: reader alone {base:.2f} s, reduced {mine:.2f} s, ratio {mine / base:.2f}")
    assert mine < 2.5 * base  # aim 1.5; the margin is for a busy machine
