"""How long reading a sheet of trials takes, beside the csv module with plain float conversion of the same cells.

Ours checks every cell, knows its place in the file and makes a record of each run; the floor is what a tester's own
script would do. CPU time, both in turn in one process, the best of some rounds.

Run as `python -m tests.benchmarks.reading_of_trials` from the root of the repository.
"""

import csv
import io
import time
from collections.abc import Callable, Sequence

from benchgalley.intake.problem_list import ProblemList, SourceText
from benchgalley.intake.trial_table import read_table
from benchgalley.intake.trials import TrialRules, read_trials
from benchgalley.records.bench import Trial

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
LENGTHS = (30, 300, 3000)
ROUNDS = 15


def sheet(rows: int) -> str:
    """A table of so many runs."""
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
        {
            name: float(cell) if i in numeric and cell else cell
            for i, (name, cell) in enumerate(zip(rows[0], row, strict=True))
        }
        for row in rows[1:]
    ]


def ours(text: str) -> Sequence[Trial]:
    """The trials of the sheet, every cell checked; the sheet is sound."""
    problems = ProblemList()
    table = read_table(SourceText("trials.csv", text), {}, problems)
    assert table is not None
    return read_trials(table, RULES)


def _fastest_s(work: Callable[[], object], times: int) -> float:
    best = float("inf")
    for _ in range(times):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


def main() -> None:
    """Measure and print."""
    print("| runs | csv and float, ms | read with every check, ms | ratio |\n| --: | --: | --: | --: |")
    for rows in LENGTHS:
        text = sheet(rows)
        floor_s, ours_s = _fastest_s(lambda: floor(text), ROUNDS), _fastest_s(lambda: ours(text), ROUNDS)  # noqa: B023 - called at once
        print(f"| {rows} | {floor_s * 1e3:.2f} | {ours_s * 1e3:.2f} | {ours_s / floor_s:.2f} |")


if __name__ == "__main__":
    main()
