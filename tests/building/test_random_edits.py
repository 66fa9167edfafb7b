"""Edits drawn at random, one after the other: each build says and gives what a build from nothing says and gives."""

import csv
import io
import random
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from benchgalley import pipeline

from .editing import Site, tree

SMALL = Path(__file__).parents[1] / "fixtures" / "small_site"
EDITS_OF_A_SERIES = 6


def a_cell(draw: random.Random, content: Path) -> str:
    """Another digit, nothing or a word in a cell of a table of runs."""
    path = draw.choice(sorted(content.glob("write-ups/*/trials.csv")))
    rows = list(csv.reader(io.StringIO(path.read_text("utf-8"))))
    row, column = draw.randrange(1, len(rows)), draw.randrange(len(rows[0]))
    cell = rows[row][column]
    digits = [place for place, sign in enumerate(cell) if sign.isdigit()]
    if digits and draw.random() < 0.8:
        place = draw.choice(digits)
        cell = cell[:place] + str((int(cell[place]) + draw.randint(1, 9)) % 10) + cell[place + 1 :]
    else:
        cell = draw.choice(("", "word", "0", "1e400"))
    rows[row][column] = cell
    _write_rows(path, rows)
    return f"{path.parent.name}: row {row}, column {column} is now {cell!r}"


def a_run(draw: random.Random, content: Path) -> str:
    """A run left out, run twice under another name, or moved."""
    path = draw.choice(sorted(content.glob("write-ups/*/trials.csv")))
    rows = list(csv.reader(io.StringIO(path.read_text("utf-8"))))
    row = rows.pop(draw.randrange(1, len(rows)))
    how = draw.choice(("left out", "twice", "moved"))
    if how != "left out":
        rows.insert(draw.randrange(1, len(rows) + 1), row)
    if how == "twice":
        rows.append([f"{row[0]}-again", *row[1:]])
    _write_rows(path, rows)
    return f"{path.parent.name}: run {row[0]} {how}"


def a_line(draw: random.Random, content: Path) -> str:
    """A word, digit or whole line of a text or of a record of the bench changed."""
    paths = [*content.glob("*.yaml"), *content.glob("*/*.yaml"), *content.glob("write-ups/*/write-up.md")]
    path = draw.choice(sorted(paths))
    lines = path.read_text("utf-8").splitlines(keepends=True)
    place = draw.randrange(len(lines))
    words = [m.span() for m in re.finditer(r"\w+", lines[place])]
    if words and draw.random() < 0.85:
        start, end = draw.choice(words)
        word = lines[place][start:end]
        new = str(int(word) + draw.choice((-1, 1))) if word.isdecimal() else f"{word}{draw.choice('aeiou')}"
        lines[place] = lines[place][:start] + new + lines[place][end:]
    else:
        lines.insert(draw.randrange(len(lines)), lines.pop(place))
    path.write_text("".join(lines), "utf-8")
    return f"{path.name}: line {place + 1} is now {lines[place]!r}"


def a_log(draw: random.Random, content: Path) -> str:
    """A digit of a sensor log."""
    logs = sorted(content.glob("write-ups/*/logs/*"))
    if not logs:
        return "no log is left"
    path = draw.choice(logs)
    text = bytearray(path.read_bytes())
    place = draw.choice([n for n, sign in enumerate(text) if chr(sign).isdigit()])
    text[place] = ord(draw.choice("0123456789"))
    path.write_bytes(bytes(text))
    return f"{path.name}: byte {place}"


def a_folder(draw: random.Random, content: Path) -> str:
    """A write-up renamed, left out or written once more."""
    folder = draw.choice(sorted((content / "write-ups").iterdir()))
    other = folder.with_name(f"{folder.name}-{draw.choice('abc')}")
    if other.exists():
        shutil.rmtree(other)
        return f"{other.name} left out"
    if draw.random() < 0.5:
        folder.rename(other)
        return f"{folder.name} is now {other.name}"
    shutil.copytree(folder, other)
    return f"{folder.name} once more as {other.name}"


def as_before(draw: random.Random, content: Path) -> str:
    """Everything as it was at first."""
    shutil.rmtree(content)
    shutil.copytree(SMALL / "content", content)
    return "all as at first"


def kept_file(draw: random.Random, content: Path) -> str:
    """One of the files an earlier build left is lost or cut short."""
    path = draw.choice(sorted((content.parent / ".benchgalley").iterdir()))
    if path.is_dir():
        shutil.rmtree(path)
    elif draw.random() < 0.5:
        path.unlink()
    else:
        path.write_bytes(path.read_bytes()[: draw.randrange(1 + path.stat().st_size)])
    return f"kept {path.name} damaged"


EDITS: tuple[tuple[Callable[[random.Random, Path], str], int], ...] = (
    (a_cell, 4), (a_run, 3), (a_line, 8), (a_log, 2), (a_folder, 2), (as_before, 4), (kept_file, 2),
)  # fmt: skip
"""Kind of edit and how often, relatively, it is drawn."""


@pytest.mark.parametrize("seed", range(4))
def test_a_series_of_edits(seed, tmp_path):
    series(seed, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 160))
def test_many_series_of_edits(seed, tmp_path):
    series(seed, tmp_path)


def series(seed: int, folder: Path) -> None:
    """Edit after edit without a build in between now and then; every build is held against one from nothing."""
    draw = random.Random(seed)
    site = Site(SMALL / "content", folder)
    site.build()
    told = []
    for _ in range(EDITS_OF_A_SERIES):
        for _ in range(draw.choice((1, 1, 2))):
            edit = draw.choices([kind for kind, _ in EDITS], [often for _, often in EDITS])[0]
            told.append(edit(draw, site.root / "content"))
        site.builds += 1
        target = folder / f"build-{site.builds}"
        built = pipeline.build(site.root, target, kept_as="test")
        fresh, files = site.outcome_from_nothing()
        assert (built.passes, built.problems) == (fresh.passes, fresh.problems), told
        assert built.passes == target.exists(), told
        if built.passes:
            assert tree(target) == files, told


def _write_rows(path: Path, rows: list[list[str]]) -> None:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    path.write_text(text.getvalue(), "utf-8")
