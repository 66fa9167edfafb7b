"""Reduction of long sensor logs against its floor, measured in the same run.

    python -m tests.benchmarks.logs_reduction                # 1 and 10 million readings
    python -m tests.benchmarks.logs_reduction --up-to 100    # 1, 10, 20 and 100 million: some minutes, 5 GB of disk

Floor: the fastest of the ways in which the general-purpose reader this project depends on parses the same two columns
and does nothing else, of those that keep to 1 GiB; and `wc -l`. Every case runs in a child process of its own, after a
small log has loaded its libraries, so that peak memory is its own and imports are not counted. The reduction runs in
one process, and on all cores as a build has it; the reader of chosen columns uses one, whatever it is given. Times are
the best of several rounds, taken in turn, so that a busy machine hurts all cases alike. Both logs hold noise on a slow
course, so that no two windows are alike: in the even one every row is as long as the next, in the uneven one none is.
"""

import gc
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import click
import psutil

from benchgalley.commands import SEARCHES_FOR_CYCLES, THREADS_OF_LINEAR_ALGEBRA
from benchgalley.intake.log_tasks import LogTask, Run, reduce_log
from benchgalley.intake.processes import cores

RUN_EVERY_S, RUN_S, INTERVAL_S = 600.0, 500.0, 0.1
BASE_S = 1_700_000_000
COLUMNS = ("t", "power", "clock", "temp", "fan", "volt", "note")
CASES = (
    "wc -l", "reader, whole", "reader, 500k rows", "reader, all columns", "reduced, one process", "reduced, all cores"
)  # fmt: skip
CEILING_MIB = 1024.0
SIZES = (1, 10, 20, 100)
AS_THE_COMMANDS_DO = dict.fromkeys(THREADS_OF_LINEAR_ALGEBRA, "1")
"""Linear algebra in one thread: further processes then start as copies."""
LOOK_EVERY_S = 0.1
ONCE_FROM = 100
"""Millions of readings from which one round has to do."""


def write_log(path: Path, rows: int, *, uneven: bool = False) -> None:
    """Seven columns, ten readings a second."""
    import numpy as np

    rng = np.random.default_rng(20260912)
    step = np.arange(100_000)
    with path.open("w") as handle:
        handle.write(",".join(COLUMNS) + "\n")
        for start in range(0, rows, len(step)):
            count = min(len(step), rows - start)
            at = (BASE_S + (start + step[:count]) * INTERVAL_S).tolist()
            power = 5 * np.sin(step[:count] / 50) + rng.normal(0, 1, count)
            if not uneven:
                handle.writelines(
                    f"{a:.1f},{p:.2f},2316,54.0,1368,0.912,1\n" for a, p in zip(at, (150 + power).tolist(), strict=True)
                )
                continue
            clock, fan = rng.integers(2280, 2330, count).tolist(), rng.integers(980, 1020, count).tolist()
            temp, volt = (100 + power / 9).tolist(), (0.9 + power / 500).tolist()
            handle.writelines(
                f"{a:.1f},{p:.2f},{c},{k:.1f},{f},{v:.3f},1\n"
                for a, p, c, k, f, v in zip(at, (100 + power).tolist(), clock, temp, fan, volt, strict=True)
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


def reduce(path: Path, rows: int, processes: int = 1) -> int:
    """The project's own reduction."""
    task = task_of(path, rows)
    outcome = reduce_log(task, processes)
    assert outcome.sound and len(outcome.runs) == len(task.runs), (outcome.problems, outcome.remarks[:3])
    assert all(95 < run.windows["board_power_w"].mean < 155 for run in outcome.runs)
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


def read_everything(path: Path, rows: int) -> int:
    """Without a choice of columns the reader may use threads of its own."""
    import pandas as pd

    with pd.read_csv(path, chunksize=500_000) as reader:
        assert sum(len(part) for part in reader) == rows
    return rows


def count_lines(path: Path, rows: int) -> int:
    done = subprocess.run(["wc", "-l", str(path)], check=True, capture_output=True, text=True)
    assert int(done.stdout.split()[0]) == rows + 1
    return rows


def reduce_on_all_cores(path: Path, rows: int) -> int:
    """As a build does with a log of this length."""
    return reduce(path, rows, cores())


WORK = dict(
    zip(CASES, (count_lines, read_whole, read_chunks, read_everything, reduce, reduce_on_all_cores), strict=True)
)


def of_children() -> float:
    """Processor time of the processes that this one has run, seconds."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def measure(case: str, path: Path, rows: int, small: Path, small_rows: int) -> None:
    """In the child: run a case once and print what it took."""
    gc.set_threshold(*SEARCHES_FOR_CYCLES)  # as the commands do
    WORK[case](small, small_rows)
    wall, cpu = time.perf_counter(), time.process_time() + of_children()
    WORK[case](path, rows)
    took = {"wall_s": time.perf_counter() - wall, "cpu_s": time.process_time() + of_children() - cpu}
    took["peak_mib"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps(took))


def in_child(case: str, *where: object) -> dict[str, float]:
    """Run a case; of several processes the memory is that of all together, pages they share counted once."""
    command = [sys.executable, __file__, "--case", case, *map(str, where)]
    together = 0.0
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, text=True, env={**os.environ, **AS_THE_COMMANDS_DO}
    ) as child:
        while child.poll() is None:
            if case == CASES[-1]:
                together = max(together, together_mib(psutil.Process(child.pid)))
            time.sleep(LOOK_EVERY_S)
        assert child.returncode == 0 and child.stdout is not None
        took: dict[str, float] = json.load(child.stdout)
    return {**took, "peak_mib": max(took["peak_mib"], together)}


def together_mib(process: psutil.Process) -> float:
    """Memory of a process and of those it started, MiB; the system says on Linux only what they share."""
    try:
        family = [process, *process.children(recursive=True)]
        return float(sum(getattr(one.memory_full_info(), "pss", one.memory_info().rss) for one in family)) / 2**20
    except psutil.NoSuchProcess:  # one has just ended
        return 0.0


HEAD = f"{'':28} {'wall s':>8} {'to floor':>9} {'to wc -l':>9} {'cpu s':>8} {'to floor':>9} {'peak MiB':>9}"


def table(name: str, path: Path, rows: int, small: Path, small_rows: int, rounds: int) -> None:
    """Measure every case and print its lines."""
    taken: dict[str, list[dict[str, float]]] = {case: [] for case in CASES}
    for _ in range(rounds):
        for case in CASES:
            # The whole log at once is no floor once it needs more than the ceiling.
            if case != "reader, whole" or rows * 2 * 8 < CEILING_MIB * 2**20 / 2:
                taken[case].append(in_child(case, path, rows, small, small_rows))
    best = {
        case: {
            "wall_s": min(t["wall_s"] for t in times),
            "cpu_s": min(t["cpu_s"] for t in times),
            "peak_mib": max(t["peak_mib"] for t in times),
        }
        for case, times in taken.items()
        if times
    }
    readers = [b for case, b in best.items() if case.startswith("reader") and b["peak_mib"] <= CEILING_MIB]
    floor, floor_cpu = min(r["wall_s"] for r in readers), min(r["cpu_s"] for r in readers)
    lines = best["wc -l"]["wall_s"]
    print(f"{name}, {rows / 1e6:g} million readings, {path.stat().st_size / 1e6:.0f} MB, best of {rounds}")
    for case, b in best.items():
        print(
            f"  {case:26} {b['wall_s']:8.2f} {b['wall_s'] / floor:9.2f} {b['wall_s'] / lines:9.1f}"
            f" {b['cpu_s']:8.2f} {b['cpu_s'] / floor_cpu:9.2f} {b['peak_mib']:9.0f}",
            flush=True,
        )


@click.command()
@click.option("--up-to", type=click.Choice([str(size) for size in SIZES]), default="10", show_default=True)
@click.option("--only", type=click.Choice([str(size) for size in SIZES]), help="Just this many million readings.")
@click.option("--rounds", default=3, show_default=True)
@click.option("--case", type=click.Choice(CASES), hidden=True)
@click.argument("where", nargs=-1)
def main(up_to: str, only: str | None, rounds: int, case: str | None, where: tuple[str, ...]) -> None:
    """Print one table for all lengths of log, in millions of readings."""
    if case:
        measure(case, Path(where[0]), int(where[1]), Path(where[2]), int(where[3]))
        return
    print(HEAD)
    with tempfile.TemporaryDirectory() as folder:
        small, small_rows = Path(folder) / "small.csv", 20_000
        write_log(small, small_rows)
        for million in [size for size in SIZES if size == int(only or size) and (only or size <= int(up_to))]:
            for name in ("even rows", "uneven rows") if million < ONCE_FROM else ("even rows",):
                path, rows = Path(folder) / "long.csv", million * 1_000_000
                write_log(path, rows, uneven=name == "uneven rows")
                table(name, path, rows, small, small_rows, rounds if million < ONCE_FROM else 1)


if __name__ == "__main__":
    main()
