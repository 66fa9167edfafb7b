"""`begin`: the starter site builds as it stands, says that it is an example, and never overwrites."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

LAYOUT = Path(__file__).parents[2] / "layouts" / "starter"


def run(*argv, cwd=None):
    return subprocess.run(
        [sys.executable, "-m", "benchgalley", *map(str, argv)], cwd=cwd, capture_output=True, text=True, check=False
    )


@pytest.fixture
def begun(tmp_path):
    done = run("begin", tmp_path / "my-bench")
    assert done.returncode == 0, done.stderr
    return tmp_path / "my-bench", done


def test_it_is_checked_without_a_problem_and_builds_at_once(begun):
    site, _ = begun
    checked = run("check", site)
    assert (checked.returncode, checked.stdout) == (0, "")
    built = run("build", site)
    assert built.returncode == 0, built.stdout + built.stderr
    assert "invented" in (site / "site" / "index.html").read_text("utf-8")
    assert (site / "site" / "write-ups" / "first" / "index.html").is_file()


def test_it_names_every_file_it_made(begun):
    site, done = begun
    made = {p.relative_to(site).as_posix() for p in site.rglob("*") if p.is_file()}
    assert made == {p.relative_to(LAYOUT).as_posix() for p in LAYOUT.rglob("*") if p.is_file()}
    assert {line.removeprefix(f"{site}/") for line in done.stdout.splitlines()} == made


def test_the_plan_and_the_example_runs_tell_the_same_session(begun):
    """Order, settings and brackets of plan.md are those of trials.csv: a newcomer copies a plan that works."""
    site, _ = begun
    planned = re.findall(r"\| (r\d+) \| (\d+) % \| (-?\d+) mV \|", (site / "plan.md").read_text("utf-8"))
    rows = (site / "content/write-ups/first/trials.csv").read_text("utf-8").splitlines()[1:]
    assert planned == [tuple(row.split(",")[:3]) for row in rows]
    stock = [at for at, (_, limit, offset) in enumerate(planned) if (limit, offset) == ("100", "0")]
    assert stock[0] == 0 and stock[-1] == len(planned) - 1, "stock runs bracket the session"
    middle = planned[6:-1]
    assert middle != sorted(middle, key=lambda row: row[1:]), "the middle is shuffled"


def test_a_folder_that_holds_something_is_left_alone(tmp_path):
    folder = tmp_path / "taken"
    folder.mkdir()
    (folder / "mine.txt").write_text("mine")
    done = run("begin", folder)
    assert done.returncode == 2
    assert "is not empty" in done.stderr and "Traceback" not in done.stderr
    assert [p.name for p in folder.iterdir()] == ["mine.txt"]


def test_an_empty_folder_and_the_current_one_will_do(tmp_path):
    assert run("begin", ".", cwd=tmp_path).returncode == 0
    assert (tmp_path / "content" / "site.yaml").is_file()


def test_a_file_in_its_place_is_refused(tmp_path):
    (tmp_path / "file").write_text("mine")
    done = run("begin", tmp_path / "file")
    assert done.returncode == 2 and "is not a folder" in done.stderr
    assert (tmp_path / "file").read_text() == "mine"
