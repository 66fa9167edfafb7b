"""From an empty folder to a page with one's own trials: the steps of README.md, done as they stand there."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
STEPS_AT_MOST = 6


def section() -> str:
    return re.search(r"^## A first write-up of your own\n(.*?)^## ", README, re.M | re.S)[1]


def steps() -> list[str]:
    """The numbered steps, each with its code."""
    return re.split(r"^\d\. ", section(), flags=re.M)[1:]


def block(step: str, language: str) -> str:
    lines = re.search(rf"```{language}\n(.*?)```", step, re.S)[1].splitlines()
    return "\n".join(line.removeprefix("   ") for line in lines).rstrip() + "\n"


def command(step: str) -> list[str]:
    words = re.match(r"`benchgalley ([^`]+)`", step)[1].split()
    return [sys.executable, "-m", "benchgalley", *words]


@pytest.fixture
def run(tmp_path):
    def do(step):
        done = subprocess.run(command(step), cwd=tmp_path, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    return do


def replace(path: Path, old: str, new: str) -> None:
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")


def test_six_steps_are_all_there_is():
    assert len(steps()) <= STEPS_AT_MOST


def test_the_steps_lead_to_a_page_with_ones_own_trials(tmp_path, run):
    begin, say, put, numbers, write, build = steps()
    site = tmp_path / "my-bench"

    run(begin)

    assert "`my-bench/content/`" in say
    card = site / "content" / "cards" / "example-card.yaml"
    replace(card, "maker: Example maker\nmodel: Example card", "maker: Wrenfold\nmodel: Sparrow 2")

    assert "`write-ups/first/trials.csv`" in put
    table = block(put, "csv")
    folder = site / "content" / "write-ups" / "first"
    (folder / "trials.csv").write_text(table, "utf-8")

    told = run(numbers)
    promised = block(numbers, "text").split()
    assert promised in [line.replace("\u00a0", " ").split() for line in told.splitlines()], (
        "README shows what is printed"
    )

    assert "`write-up.md`" in write
    front, _, _ = (folder / "write-up.md").read_text("utf-8").rpartition("---\n")
    front = re.sub(r"^title: .*$", "title: My first runs", front, flags=re.M)
    (folder / "write-up.md").write_text(f"{front}---\n\n{block(write, 'markdown')}", "utf-8")

    run(build)

    page = (site / "site" / "write-ups" / "first" / "index.html").read_text("utf-8").replace("\u00a0", " ")
    assert "Wrenfold Sparrow 2" in page and "My first runs" in page
    assert "42.2 W" in page
    published = (site / "site" / "write-ups" / "first" / "trials.csv").read_text("utf-8")
    assert all(row.split(",")[0] in published for row in table.splitlines())


def test_the_same_steps_with_a_wrong_number_stop_at_the_last(tmp_path, run):
    """The sixth step is a check, not a formality."""
    run(steps()[0])
    page = tmp_path / "my-bench" / "content" / "write-ups" / "first" / "write-up.md"
    replace(page, "[205 W](claim:stock/board-power)", "[240 W](claim:stock/board-power)")
    done = subprocess.run(command(steps()[-1]), cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 1 and "disagrees" in done.stdout
    assert not (tmp_path / "my-bench" / "site").exists()
