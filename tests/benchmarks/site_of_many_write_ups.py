"""How long sites of 10, 100 and 1 000 write-ups take to build, beside the floors of the same run.

Run as `python -m tests.benchmarks.site_of_many_write_ups [WRITE-UPS ...]` from the root of the repository. All times
are CPU seconds of a process and its children, systems calls included; wall time stands beside the builds. Floors and
the script by hand are measured on at most 40 write-ups and scaled, and the table says so.

- draw: the chart library drawing the same specifications on all cores
- parse: reading the same files, csv, YAML and Markdown through the same libraries
- compute: every number of every write-up with its texts, by the site's own functions
- write: writing the same bytes into a new folder
- start-up: a fresh interpreter that imports what a build imports
"""

import csv
import io
import json
import os
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from multiprocessing import get_context
from pathlib import Path

from benchgalley.charts import draw, picture
from benchgalley.derive import evaluate
from benchgalley.intake import read_site
from benchgalley.records.address import Address

from . import by_hand
from .many_write_ups import make_site, slug_of

MOST_MEASURED = 40
"""Write-ups that a floor is measured on at most."""
SENTENCE = ("Nothing else was changed", "Nothing at all was changed")


@dataclass(kw_only=True)
class Table:
    """CPU seconds of one size of site."""

    write_ups: int
    measured: int
    """Write-ups the floors were measured on."""
    cpu: dict[str, float] = field(default_factory=dict)
    wall: dict[str, float] = field(default_factory=dict)

    def ratios(self) -> dict[str, float]:
        """What the project demands, as ratios."""
        c = self.cpu
        return {
            "clean / (draw + parse + write)": c["clean"] / (c["draw"] + c["parse"] + c["write"]),
            "cached / (parse + compute + write)": c["cached"] / (c["parse"] + c["compute"] + c["write"]),
            "by hand / cached": c["by hand"] / c["cached"],
            "sentence beyond start-up, s": c["sentence"] - c["start-up"],
            "clean a write-up, s": c["clean"] / self.write_ups,
            "cached a write-up, s": c["cached"] / self.write_ups,
        }

    def as_text(self) -> str:
        """The table, one line a figure."""
        scaled = f", floors and script measured on {self.measured}" if self.measured < self.write_ups else ""
        lines = [f"{self.write_ups} write-ups{scaled}", "| | CPU s | wall s |", "| :-- | --: | --: |"]
        lines += [f"| {name} | {s:.2f} | {self._wall(name)} |" for name, s in self.cpu.items()]
        lines += ["| ratio | | |", *(f"| {name} | {value:.2f} | |" for name, value in self.ratios().items())]
        return "\n".join(lines)

    def _wall(self, name: str) -> str:
        return f"{self.wall[name]:.2f}" if name in self.wall else ""


def timing(write_ups: int, workers: int | None = None) -> Table:
    """Make a site, build it in every way, and measure the floors beside it."""
    measured = min(write_ups, MOST_MEASURED)
    table = Table(write_ups=write_ups, measured=measured)
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        make_site(root, write_ups)
        _floors(root, table, write_ups / measured)
        _build(root, table, "clean", workers)
        for state in (root / ".benchgalley").glob("*.state.json"):
            state.unlink()
        _build(root, table, "cached", workers)
        _build(root, table, "unchanged", workers)
        page = root / "content" / "write-ups" / slug_of(write_ups // 2) / "write-up.md"
        for old, new in (SENTENCE, SENTENCE[::-1]):  # the second finds the folder of the printing before last
            page.write_text(page.read_text("utf-8").replace(old, new), "utf-8")
            _build(root, table, "sentence", workers)
        table.cpu["write"] = _writing(root, measured) * write_ups / measured
        table.cpu["start-up"] = _process(["-c", "import benchgalley.building, benchgalley.commands.command_line"])[0]
        table.cpu["by hand"] = _by_hand(root, measured) * write_ups / measured
    return table


def _floors(root: Path, table: Table, scale: float) -> None:
    slugs = [slug_of(number) for number in range(table.measured)]
    folders = [root / "content" / "write-ups" / slug for slug in slugs]
    table.cpu["parse"] = _best(lambda: [_parse(folder) for folder in folders]) * scale
    site, _ = read_site(root)
    assert site is not None
    table.cpu["compute"] = _best(lambda: _compute(site, slugs)) * scale
    specs = _specs(site, slugs)
    before = _cpu()
    with ProcessPoolExecutor(os.cpu_count(), mp_context=get_context("spawn")) as pool:
        assert all(pool.map(_drawn, specs, chunksize=max(1, len(specs) // 16)))
    table.cpu["draw"] = (_cpu() - before) * scale


def _parse(folder: Path) -> int:
    import yaml
    from markdown_it import MarkdownIt

    text = (folder / "write-up.md").read_bytes().decode()
    front = yaml.load(text.split("---\n", 2)[1], yaml.CSafeLoader)
    tokens = MarkdownIt().enable("table").parse(text.split("---\n", 2)[2])
    values = 0
    for row in csv.DictReader(io.StringIO((folder / "trials.csv").read_bytes().decode())):
        values += sum(float(row[c]) > -1e9 for c in ("score", "board_power_w", "core_clock_mhz", "core_temp_c"))
    assert front and tokens and values
    return values


def _compute(site, slugs: list[str]) -> int:
    results = evaluate(site)
    size = 0
    for slug in slugs:
        for address in results.addresses(slug):
            number = results.find(address)
            size += len(number.printed.text) + len(number.printed.interval) + len(number.components)
    return size


def _specs(site, slugs: list[str]) -> list[str]:
    """The specifications the site's own charts are drawn from."""
    found: list[str] = []
    real = picture._drawn

    def noting(spec):
        found.append(json.dumps(spec))
        return '<svg xmlns="http://www.w3.org/2000/svg"/>'

    picture._drawn = noting
    try:
        results = evaluate(site)
        for slug in slugs:
            draw(site.write_ups[slug], site, results)
    finally:
        picture._drawn = real
    assert len(found) == 5 * len(slugs)
    return found


def _drawn(spec: str) -> int:
    import vl_convert

    return len(vl_convert.vega_to_svg(json.loads(spec)))


def _writing(root: Path, measured: int) -> float:
    site = root / "site"
    slugs = {slug_of(number) for number in range(measured)}
    files = {
        p.relative_to(site): p.read_bytes()
        for p in (site / "write-ups").rglob("*") if p.is_file() and p.relative_to(site).parts[1] in slugs
    }  # fmt: skip

    def write() -> None:
        with tempfile.TemporaryDirectory() as folder:
            for path, content in files.items():
                (Path(folder) / path).parent.mkdir(parents=True, exist_ok=True)
                (Path(folder) / path).write_bytes(content)

    return _best(write)


def _by_hand(root: Path, measured: int) -> float:
    site, _ = read_site(root)
    results = evaluate(site)
    before = _cpu()
    with tempfile.TemporaryDirectory() as target:
        for number in range(measured):
            folder = root / "content" / "write-ups" / slug_of(number)
            assert by_hand.write_page(folder, Path(target) / folder.name) > 10_000
    took = _cpu() - before
    for number in range(measured):
        same_numbers(results, slug_of(number), root / "content" / "write-ups" / slug_of(number))
    return took


def same_numbers(results, slug: str, folder: Path) -> None:
    """The script's means, saving and share are those of the site."""
    wanted = {
        "stock/score": ("stock", "score", ""), "stock/board-power": ("stock", "board-power", ""),
        "tuned/board-power": ("tuned", "board-power", ""), "saved": ("tuned", "board-power", "saved"),
        "share": ("tuned", "score", "of-baseline"),
    }  # fmt: skip
    for name, value in by_hand.numbers(folder).items():
        subject, quantity, relation = wanted[name]
        number = results.find(Address(scope=slug, subject=subject, quantity=quantity, relation=relation))
        assert abs(number.value - value) <= 1e-9 * abs(value), (slug, name, number.value, value)


def _build(root: Path, table: Table, name: str, workers: int | None) -> None:
    wanted = [] if workers is None else ["--workers", str(workers)]
    table.cpu[name], table.wall[name] = _process(["-m", "benchgalley", "build", str(root), *wanted])


def _process(arguments: list[str]) -> tuple[float, float]:
    """(CPU, wall) seconds of a Python process and its children."""
    before, start = _cpu(), time.perf_counter()
    done = subprocess.run([sys.executable, *arguments], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    return _cpu() - before, time.perf_counter() - start


def _cpu() -> float:
    spent = os.times()
    return time.process_time() + spent.children_user + spent.children_system


def _best(work) -> float:
    """CPU seconds of the better of two rounds."""
    rounds = []
    for _ in range(2):
        before = _cpu()
        work()
        rounds.append(_cpu() - before)
    return min(rounds)


if __name__ == "__main__":
    for size in [int(text) for text in sys.argv[1:]] or [10, 100, 1000]:
        print(timing(size).as_text(), flush=True)
        print()
