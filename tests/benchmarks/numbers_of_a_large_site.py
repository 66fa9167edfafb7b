"""How long all numbers of a site of 50 000 runs take, beside the grouped means and deviations alone.

Both are measured in one run, in CPU time, with the functions of `benchgalley.metrology`: the floor groups the runs
by their settings and takes mean and standard deviation of every measured column of every group. Three columns stand
beside it:

all numbers
    `Results.table` of every write-up and card, from the trials on: for each address of the site the value, standard
    uncertainty, degrees of freedom, both intervals and the signed contributions of every source, as arrays. Nothing
    is left for later but names: addresses are put into words when somebody asks which row is which.
as records, one by one
    The same site with `Results.find` at every address, a record each, with its intervals and its budget as records:
    what a page does with the few it prints. It does not use the table.
with every text
    That, and every name, working and printed form.

The cyclic garbage collector is off on both sides, as `timeit` has it: what it walks is the site's trials, not the
computing.

Run as `python -m tests.benchmarks.numbers_of_a_large_site` from the root of the repository.
"""

import gc
import random
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

from benchgalley.derive import evaluate
from benchgalley.metrology.repeatability import mean, standard_deviation
from benchgalley.records.quantity import SETTINGS
from benchgalley.records.results import Table
from benchgalley.records.site import Site
from tests.derive.factory import Bencher, bench, card, instrument, setpoint, site, write_up

COLUMNS = {
    "score": (10_000.0, 25.0), "board_power_w": (230.0, 1.4), "wall_power_w": (330.0, 2.0),
    "core_clock_mhz": (2310.0, 6.0), "core_temp_c": (63.0, 0.4), "hotspot_temp_c": (75.0, 0.6),
    "ambient_c": (21.5, 0.1), "fan_rpm": (1270.0, 9.0), "sound_dba": (35.0, 0.2), "duration_s": (60.0, 0.1),
}  # fmt: skip
"""Column → (value at stock, spread of runs)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Shape:
    """How the runs of a site are dealt out."""

    write_ups: int
    runs: int
    """Of each write-up."""
    setpoints: int
    """Of each write-up, the baseline among them."""

    def __str__(self) -> str:
        return f"{self.write_ups} × {self.runs} runs, {self.setpoints} setpoints each"


@dataclass(frozen=True, kw_only=True, slots=True)
class Timing:
    """One line of the table; seconds of CPU time."""

    shape: Shape
    floor_s: float
    numbers_s: float
    """All of them, in columns."""
    records_s: float
    """All of them, one by one."""
    texts_s: float
    numbers: int

    @property
    def ratio(self) -> float:
        """All numbers over the floor."""
        return self.numbers_s / self.floor_s

    @property
    def ratio_of_records(self) -> float:
        """All numbers as records over the floor."""
        return self.records_s / self.floor_s

    @property
    def ratio_with_texts(self) -> float:
        """All records with every text over the floor."""
        return (self.records_s + self.texts_s) / self.floor_s


SHAPES = (
    Shape(write_ups=2, runs=25_000, setpoints=2),
    Shape(write_ups=10, runs=5_000, setpoints=3),
    Shape(write_ups=100, runs=500, setpoints=2),
    Shape(write_ups=100, runs=500, setpoints=3),
    Shape(write_ups=100, runs=500, setpoints=5),
)


def large_site(shape: Shape) -> Site:
    """An invented site: setpoints run in turn, every column recorded, instruments with stated limits."""
    rig = bench(
        instrument("board_power_w", id="clamp", name="clamp", gain_error_pct=1.5, offset_error=0.5, resolution=0.1),
        instrument("wall_power_w", id="plug", name="plug meter", gain_error_pct=1.0, offset_error=0.3, resolution=0.1),
        instrument("core_temp_c", id="diode", name="diode", offset_error=1.0, resolution=0.1),
        instrument("hotspot_temp_c", id="spot", name="spot diode", offset_error=1.0, resolution=0.1),
        instrument("ambient_c", id="thermometer", name="thermometer", offset_error=0.2, resolution=0.1),
        instrument("core_clock_mhz", id="counter", name="counter"),
        instrument("fan_rpm", id="tacho", name="tachometer", gain_error_pct=0.2),
        instrument("sound_dba", id="ear", name="sound level meter", offset_error=1.0),
    )
    names = ("stock", *(f"step-{i}" for i in range(1, shape.setpoints)))
    limits_pct = tuple(100.0 - 4.0 * i for i in range(shape.setpoints))
    draw = random.Random(20261001)
    found = []
    for number in range(shape.write_ups):
        bencher = Bencher()
        for run in range(shape.runs):
            limit_pct = limits_pct[run % shape.setpoints]
            share = (limit_pct / 100) ** 0.5
            bencher.run(
                set={"power_limit_pct": limit_pct},
                **{column: round(draw.gauss(at * share, spread), 2) for column, (at, spread) in COLUMNS.items()},
            )
        found.append(
            write_up(
                bencher.trials, slug=f"write-up-{number:03d}", bench_=rig, margins={"score": (1.0, True)},
                card_=replace(card(samples=("a", "b", "c", "d")), id=f"card-{number // 4}"), sample="abcd"[number % 4],
                setpoints=tuple(
                    setpoint(name, power_limit_pct=limit) for name, limit in zip(names, limits_pct, strict=True)
                ),
            )
        )  # fmt: skip
    return site(*found, running=True)


def grouped_statistics(of: Site) -> int:
    """Mean and standard deviation of every measured column of every group of equal settings; how many groups."""
    settings = [setting.column for setting in SETTINGS]
    done = 0
    for found in of.write_ups.values():
        groups: dict[tuple[object, ...], list] = {}
        for trial in found.trials:
            if trial.counts:
                groups.setdefault(tuple(map(trial.settings.get, settings)), []).append(trial)
        for trials in groups.values():
            for column in COLUMNS:
                values = [trial.measured[column] for trial in trials if column in trial.measured]
                mean(values)
                standard_deviation(values)
                done += 1
    return done


def all_numbers(of: Site) -> Table:
    """Every number of the site with its intervals and budget, in columns."""
    found = evaluate(of).table([*of.write_ups, *of.cards])
    for column in (found.value, found.standard_uncertainty, found.degrees_of_freedom, found.low, found.high,
                   found.repeats_low, found.repeats_high, found.contributions):  # fmt: skip
        assert len(column) == len(found)
    return found


def all_records(of: Site) -> list:
    """Every number of the site with its intervals and budget, one by one."""
    results = evaluate(of)
    found = []
    for scope in (*of.write_ups, *of.cards):
        for address in results.addresses(scope):
            number = results.find(address)
            assert number is not None, address
            assert number.components is not None
            found.append((number, number.value, number.standard_uncertainty, number.interval))
            found[-1] += (number.repeatability_interval, number.degrees_of_freedom)
    return [entry[0] for entry in found]


def every_text(numbers: list) -> int:
    """Ask for every text of every number; how many characters there are."""
    return sum(
        len(n.name) + len(n.formula) + len(n.substitution) + len(n.reason) + len(n.printed.plus_minus) for n in numbers
    )


def timing(shape: Shape, rounds: int = 3) -> Timing:
    """Measure one shape: both sides in turn, the best of some rounds each."""
    made = large_site(shape)
    floors, tables, records, texts, count = [], [], [], [], 0
    for _ in range(rounds):
        gc.collect()
        gc.disable()
        try:
            floors.append(_seconds(lambda: grouped_statistics(made)))
            tables.append(_seconds(lambda: all_numbers(made)))
            start = time.process_time()
            numbers = all_records(made)
            records.append(time.process_time() - start)
            start = time.process_time()
            every_text(numbers)
            texts.append(time.process_time() - start)
            count = len(numbers)
            del numbers
        finally:
            gc.enable()
    return Timing(
        shape=shape, floor_s=min(floors), numbers_s=min(tables), records_s=min(records), texts_s=min(texts),
        numbers=count,
    )  # fmt: skip


def _seconds(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def table(timings: list[Timing]) -> str:
    """The timings as a table in Markdown."""
    lines = [
        "| site | numbers | grouped means and deviations | all numbers | ratio | as records, one by one | ratio "
        "| with every text | ratio |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for t in timings:
        lines.append(
            f"| {t.shape} | {t.numbers} | {t.floor_s:.3f} s | {t.numbers_s:.3f} s | {t.ratio:.2f} "
            f"| {t.records_s:.3f} s | {t.ratio_of_records:.2f} "
            f"| {t.records_s + t.texts_s:.3f} s | {t.ratio_with_texts:.2f} |"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    print(table([timing(shape) for shape in SHAPES]))
