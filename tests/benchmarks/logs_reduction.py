"""Reduction of long sensor logs against its floor, measured in the same run.

    python tests/benchmarks/logs_reduction.py                 # 1 and 10 million readings
    python tests/benchmarks/logs_reduction.py --millions 20   # or 100

Floors: the general-purpose reader this project depends on, parsing the same two columns and doing nothing else,
whole and in chunks (only what keeps to 1 GiB counts); and `wc -l`. Every case runs in a child process of its own,
after a small log has loaded its libraries, so that peak memory is its own and imports are not counted. Times are
the best of several rounds, taken in turn, so that a busy machine hurts all cases alike.
"""

import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import click

from benchgalley.intake.log_tasks import LogTask, Run, reduce_log

RUN_EVERY_S, RUN_S, INTERVAL_S = 600.0, 500.0, 0.1
BASE_S = 1_700_000_000
COLUMNS = ("t", "power", "clock", "temp", "fan", "volt", "note")
CASES = ("wc -l", "reader, whole", "reader, chunks of 500k", "reduced, 1 thread", "reduced, 2 threads")
CEILING_MIB = 1024.0


def write_log(path: Path, rows: int) -> None:
    """Seven columns, ten readings a second; noise and a slow course, so that no two windows are alike."""
    import numpy as np

    rng = np.random.default_rng(20260912)
    step = np.arange(100_000)
    with path.open("w") as handle:
        handle.write(",".join(COLUMNS) + "\n")
        for start in range(0, rows, len(step)):
            count = min(len(step), rows - start)
            at = BASE_S + (start + step[:count]) * INTERVAL_S
            power = 150 + 5 * np.sin(step[:count] / 50) + rng.normal(0, 1, count)
            handle.writelines(
                f"{a:.1f},{p:.2f},2316,54.0,1368,0.912,1\n" for a, p in zip(at.tolist(), power.tolist(), strict=True)
            )


def task_of(path: Path, rows: int) -> LogTask:
    """Every run's steady window with all its diagnostics: five sixths of the readings lie in a run."""

    settings = {
        "time_zone": "", "time_header": ("t",), "time_format": "unix_s", "time_pattern": "", "time_starts": "",
        "separator": ",", "decimal": ".", "thousands": "", "encoding": "utf-8", "window": {"rule": "steady"},
        "cut": "started", "mark": None, "counter": None,
    }  # fmt: skip
    runs = int(rows * INTERVAL_S / RUN_EVERY_S)
    return LogTask(
        path=str(path),
        file="long.csv",
        log="logs/long.csv",
        columns=(("board_power_w", "power", "W"),),
        settings=settings,
        runs=tuple(Run(id=str(i), counts=True, start_s=RUN_EVERY_S * i, duration_s=RUN_S) for i in range(runs)),
        base_s=BASE_S,
        origin_s=0.0,
    )


def reduce(path: Path, rows: int, threads: int) -> int:
    """The project's own reduction."""
    task = task_of(path, rows)
    outcome = reduce_log(task, threads)
    assert outcome.sound and len(outcome.runs) == len(task.runs), (outcome.problems, outcome.remarks[:3])
    assert all(145 < run.windows["board_power_w"].mean < 155 for run in outcome.runs)
    return len(outcome.runs)


def read_whole(path: Path, rows: int) -> int:
    import pandas as pd

    frame = pd.read_csv(path, usecols=["t", "power"])
    assert len(frame) == rows
    return rows


def read_chunks(path: Path, rows: int) -> int:
    import pandas as pd

    with pd.read_csv(path, usecols=["t", "power"], chunksize=500_000) as reader:
        assert sum(len(part) for part in reader) == rows
    return rows


def count_lines(path: Path, rows: int) -> int:
    done = subprocess.run(["wc", "-l", str(path)], check=True, capture_output=True, text=True)
    assert int(done.stdout.split()[0]) == rows + 1
    return rows


WORK = {
    "wc -l": count_lines,
    "reader, whole": read_whole,
    "reader, chunks of 500k": read_chunks,
    "reduced, 1 thread": lambda path, rows: reduce(path, rows, 1),
    "reduced, 2 threads": lambda path, rows: reduce(path, rows, 2),
}


def measure(case: str, path: Path, rows: int, small: Path, small_rows: int) -> None:
    """In the child: run a case once and print what it took."""
    WORK[case](small, small_rows)
    wall, cpu = time.perf_counter(), time.process_time()
    WORK[case](path, rows)
    took = {"wall_s": time.perf_counter() - wall, "cpu_s": time.process_time() - cpu}
    took["peak_mib"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps(took))


def in_child(case: str, *where: object) -> dict[str, float]:
    command = [sys.executable, __file__, "--case", case, *map(str, where)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    return json.loads(done.stdout)


def table(path: Path, rows: int, small: Path, small_rows: int, rounds: int) -> dict[str, dict[str, float]]:
    taken: dict[str, list[dict[str, float]]] = {case: [] for case in CASES}
    for _ in range(rounds):
        for case in CASES:
            taken[case].append(in_child(case, path, rows, small, small_rows))
    best = {
        case: {
            "wall_s": min(t["wall_s"] for t in times),
            "cpu_s": min(t["cpu_s"] for t in times),
            "peak_mib": max(t["peak_mib"] for t in times),
        }
        for case, times in taken.items()
    }
    readers = [best[case] for case in CASES if case.startswith("reader") and best[case]["peak_mib"] <= CEILING_MIB]
    floor, floor_cpu = min(r["wall_s"] for r in readers), min(r["cpu_s"] for r in readers)
    lines = best["wc -l"]["wall_s"]
    print(f"{rows / 1e6:g} million readings, {path.stat().st_size / 1e6:.0f} MB, best of {rounds}")
    print(f"{'':24} {'wall s':>8} {'to floor':>9} {'cpu s':>8} {'to floor':>9} {'to wc -l':>9} {'peak MiB':>9}")
    for case, b in best.items():
        print(
            f"{case:24} {b['wall_s']:8.2f} {b['wall_s'] / floor:9.2f} {b['cpu_s']:8.2f} {b['cpu_s'] / floor_cpu:9.2f}"
            f" {b['wall_s'] / lines:9.1f} {b['peak_mib']:9.0f}"
        )
    return best


@click.command()
@click.option("--millions", multiple=True, type=float, default=(1.0, 10.0), help="Readings, in millions.")
@click.option("--rounds", default=3, show_default=True)
@click.option("--case", type=click.Choice(CASES), hidden=True)
@click.argument("where", nargs=-1)
def main(millions: tuple[float, ...], rounds: int, case: str | None, where: tuple[str, ...]) -> None:
    """Print a table for each length of log."""
    if case:
        measure(case, Path(where[0]), int(where[1]), Path(where[2]), int(where[3]))
        return
    with tempfile.TemporaryDirectory() as folder:
        small, small_rows = Path(folder) / "small.csv", 20_000
        write_log(small, small_rows)
        for million in millions:
            path, rows = Path(folder) / "long.csv", int(million * 1e6)
            write_log(path, rows)
            table(path, rows, small, small_rows, rounds)


if __name__ == "__main__":
    main()
