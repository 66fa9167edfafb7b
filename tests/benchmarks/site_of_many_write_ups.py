"""How long sites of 10, 100 and 1 000 write-ups take to build, beside the floors of the same run.

Run as `python -m tests.benchmarks.site_of_many_write_ups [WRITE-UPS ...]` from the root of the repository. A build
uses all cores, and so does every floor, in processes of its own: cores that share their parts make each other slow,
and both sides must bear it. CPU seconds are those of a process and its children, system calls included; a floor's are
without the start of its processes, a build's with it. Builds and floors run in turn, `ROUNDS` times, each in
processes of its own, and so do edits and starts, four times; the quickest counts. Parsing, computing and writing are
measured on the whole site, because of a short piece of work the quickest moment of the machine counts and of a long
one the average; drawing and the script by hand, which would take hours, and what is no floor of a demand, are
measured on at most `MOST_MEASURED` write-ups and scaled, and the table says so.

- clean: nothing is kept of an earlier build; cached: its charts and pictures are, while every number and every page
  is made again; unchanged: nothing is left to do; sentence: one sentence was edited
- draw: the chart library drawing the same charts with the same data, as its own `save` does (Vega-Lite to SVG)
- draw compiled: the same from specifications that are compiled already, as the site's own charts are
- parse: reading the same files, csv, YAML and Markdown through the same libraries
- compute: every number of every write-up and card with all its texts, by the site's own functions
- check: judging every claim and finding every caveat, with all numbers at hand
- chart: finding what every chart shows, points, curves, ends of axes and places of labels, with all numbers at hand
- write: writing the same bytes into a new folder
- by hand: `page_by_hand`, one page after the other in one process, as a tester runs a script
- start-up: a fresh interpreter that imports what every build imports
- late start-up: the same with the libraries that a build imports when it computes the first number of a sweep
"""

import cProfile
import os
import pstats
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from multiprocessing import get_context
from pathlib import Path

from benchgalley import pipeline
from benchgalley.derive import evaluate
from benchgalley.intake import Reductions, read_site
from benchgalley.records.address import Address

from . import by_hand
from .floors import floor_of
from .many_write_ups import make_site, slug_of

MOST_MEASURED = 40
"""Write-ups that drawing and the script by hand are measured on at most."""
ON_ALL = frozenset({"parse", "compute", "write"})
"""Floors that are measured on the whole site."""
ROUNDS = 2
"""Of each build and floor the quickest counts: other work on the machine only adds."""
IMPORTS = "import benchgalley.building, benchgalley.commands.command_line"
SENTENCE = ("Nothing else was changed", "Nothing at all was changed")


@dataclass(kw_only=True)
class Table:
    """Seconds of one size of site."""

    write_ups: int
    measured: int
    """Write-ups that floors other than those of `ON_ALL`, and the script, were measured on."""
    cpu: dict[str, float] = field(default_factory=dict)
    wall: dict[str, float] = field(default_factory=dict)
    rooms: dict[str, float] = field(default_factory=dict)
    """Room or library → share of the time of a build with kept charts, in one process under the profiler."""

    def ratios(self) -> dict[str, tuple[float, float]]:
        """What the project demands, as ratios of CPU and of wall time."""

        def over(name: str, *floors: str) -> tuple[float, float]:
            return tuple(s[name] / sum(s[floor] for floor in floors) for s in (self.cpu, self.wall))

        return {
            "clean / (draw + parse + write)": over("clean", "draw", "parse", "write"),
            "clean / (draw compiled + parse + write)": over("clean", "draw compiled", "parse", "write"),
            "cached / (parse + compute + write)": over("cached", "parse", "compute", "write"),
            "cached / (the same + check)": over("cached", "parse", "compute", "write", "check"),
            "cached / (the same + check + chart)": over("cached", "parse", "compute", "write", "check", "chart"),
            "by hand / cached": over("by hand", "cached"),
            "sentence less start-up, s": tuple(s["sentence"] - s["start-up"] for s in (self.cpu, self.wall)),
            "sentence less late start-up, s": tuple(s["sentence"] - s["late start-up"] for s in (self.cpu, self.wall)),
            "clean a write-up, s": tuple(s["clean"] / self.write_ups for s in (self.cpu, self.wall)),
            "cached a write-up, s": tuple(s["cached"] / self.write_ups for s in (self.cpu, self.wall)),
        }

    def as_text(self) -> str:
        """The table, one line a figure."""
        scaled = (
            f", drawing, check, chart and script measured on {self.measured}" if self.measured < self.write_ups else ""
        )
        lines = [f"{self.write_ups} write-ups{scaled}", "", "| | CPU s | wall s |", "| :-- | --: | --: |"]
        lines += [f"| {name} | {s:.2f} | {self.wall[name]:.2f} |" for name, s in self.cpu.items()]
        lines += ["", "| ratio | CPU | wall |", "| :-- | --: | --: |"]
        lines += [f"| {name} | {cpu:.3g} | {wall:.3g} |" for name, (cpu, wall) in self.ratios().items()]
        lines += ["", "| where the time goes, charts kept | share |", "| :-- | --: |"]
        lines += [f"| {name} | {100 * share:.0f} % |" for name, share in self.rooms.items()]
        return "\n".join(lines)


def timing(write_ups: int, workers: int | None = None, rounds: int = ROUNDS) -> Table:
    """Make a site, build it in every way, and measure the floors beside it."""
    measured = min(write_ups, MOST_MEASURED)
    table = Table(write_ups=write_ups, measured=measured)
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        make_site(root, write_ups)
        for _ in range(rounds):  # builds and floors in turn: a machine that grows slow must do so to both
            shutil.rmtree(root / ".benchgalley", ignore_errors=True)
            _build(root, table, "clean", workers)
            _floors(root, table, "draw", "draw compiled")
            for state in (root / ".benchgalley").glob("*.state"):
                state.unlink()
            _build(root, table, "cached", workers)
            _floors(root, table, "parse", "compute", "check", "chart", "write")
        _build(root, table, "unchanged", workers)
        page = root / "content" / "write-ups" / slug_of(write_ups // 2) / "write-up.md"
        for old, new in (SENTENCE, SENTENCE[::-1]) * rounds:  # the second finds the folder of the printing before last
            page.write_text(page.read_text("utf-8").replace(old, new), "utf-8")
            _build(root, table, "sentence", workers)
            _run(table, "start-up", ["-c", IMPORTS])
            _run(table, "late start-up", ["-c", f"{IMPORTS}, scipy.interpolate, scipy.optimize"])
        _by_hand(root, table)
        table.rooms = _rooms(root / "profiled", measured)
    return table


def _build(root: Path, table: Table, name: str, workers: int | None) -> None:
    wanted = [] if workers is None else ["--workers", str(workers)]
    _run(table, name, ["-m", "benchgalley", "build", str(root), *wanted])


def _run(table: Table, name: str, arguments: list[str]) -> None:
    """A Python process and its children."""
    before, start = _cpu(), time.perf_counter()
    done = subprocess.run([sys.executable, *arguments], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    _note(table, name, _cpu() - before, time.perf_counter() - start)


def _take(table: Table, name: str, measured: int, cpu: float, wall: float) -> None:
    """Seconds on so many write-ups, scaled to all."""
    scale = table.write_ups / measured
    _note(table, name, cpu * scale, wall * scale)


def _note(table: Table, name: str, cpu: float, wall: float) -> None:
    """Of several rounds the quickest counts: other work on the machine only adds."""
    table.cpu[name], table.wall[name] = min(cpu, table.cpu.get(name, cpu)), min(wall, table.wall.get(name, wall))


def _floors(root: Path, table: Table, *names: str) -> None:
    warm = slug_of(table.write_ups - 1)  # where there are more it is the last of those measured, or not among them
    for name in names:
        measured = table.write_ups if name in ON_ALL else table.measured
        slugs = [slug_of(number) for number in range(measured)]
        _take(table, name, measured, *floor_of(root, name, slugs, warm))


def _cpu() -> float:
    spent = os.times()
    return time.process_time() + spent.children_user + spent.children_system


# The script by hand, and where the time goes


def _by_hand(root: Path, table: Table) -> None:
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        cpu, wall = pool.submit(_scripted, root, table.measured).result()
    _take(table, "by hand", table.measured, cpu, wall)
    site, _ = read_site(root)
    same_numbers(site, [slug_of(number) for number in range(table.measured)], root / "content")


def _scripted(root: Path, measured: int) -> tuple[float, float]:
    from . import page_by_hand

    folders = [root / "content" / "write-ups" / slug_of(number) for number in range(measured)]
    with tempfile.TemporaryDirectory() as target:
        page_by_hand.write_page(folders[0], Path(target) / "first")
        before, start = time.process_time(), time.perf_counter()
        page_by_hand.write_site(folders, Path(target))
        return time.process_time() - before, time.perf_counter() - start


def same_numbers(site, slugs: list[str], content: Path) -> dict[str, int]:
    """Every number of the script, its uncertainty and its interval are those of the site; how many of each scope."""
    results, samples, counts = evaluate(site), {}, {}
    for slug in slugs:
        front, _, runs = by_hand.read(content / "write-ups" / slug)
        used = by_hand.instruments(content, front)
        means = by_hand.means_of(front, runs, used)
        table = by_hand.numbers(front, runs, used, means)
        counts[slug] = _same(results, slug, table)
        samples.setdefault(front["card"], []).append((means, table))
    whole = {card: of_card for card, of_card in samples.items() if 1 < len(of_card) == len(site.of_card(card))}
    return counts | {card: _same(results, card, by_hand.card_numbers(of_card)) for card, of_card in whole.items()}


def _same(results, scope: str, table) -> int:
    for row in table.itertuples():
        number = results.find(Address.parse(row.address, scope))
        ends = (number.interval.low, number.interval.high) if number.interval else (None, None)
        wanted = [number.value, number.standard_uncertainty, *ends]
        if row.inner_low == row.inner_low:
            wanted += [number.repeatability_interval.low, number.repeatability_interval.high]
        for ours, theirs in zip(wanted, row[2 : 2 + len(wanted)], strict=True):
            scale = max(abs(number.value), abs(ours or 0.0))
            same = theirs != theirs if ours is None else abs(ours - theirs) <= 1e-9 * scale + by_hand.ROUNDING
            assert same, (scope, row.address, ours, theirs)
    return len(table)


def _rooms(root: Path, write_ups: int) -> dict[str, float]:
    """Share of the time each room and library takes itself, in a build with kept charts in this process."""
    root.mkdir()
    make_site(root, write_ups)
    assert pipeline.build(root, root / "first", kept_as="first").passes
    profile = cProfile.Profile()
    profile.enable()
    assert pipeline.build(root, root / "site", reductions=Reductions(workers=1)).passes
    profile.disable()
    spent: Counter[str] = Counter()
    for (file, _, name), (_, _, own, *_) in pstats.Stats(profile).stats.items():
        spent[_room(file, name)] += own
    whole = sum(spent.values())
    return {room: own / whole for room, own in spent.most_common(14)}


def _room(file: str, name: str) -> str:
    if own := re.search(r"/benchgalley/(\w+?)(?:\.py)?(?:/|$)", file):
        return f"benchgalley: {own[1]}"
    if library := re.search(r"/site-packages/(\w+)|/(layouts)/", file):
        return library[1] or "templates"
    return "built-in functions" if file == "~" else "standard library"


if __name__ == "__main__":
    for size in [int(text) for text in sys.argv[1:]] or [10, 100, 1000]:
        print(timing(size).as_text(), flush=True)
        print()
