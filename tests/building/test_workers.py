"""The same bytes from one process, from several and from a cluster."""

import subprocess
import sys
from pathlib import Path

import pytest

from benchgalley import crews, pipeline
from benchgalley.intake import Reductions
from tests.benchmarks.many_write_ups import make_site

from .editing import leave_at_once, replaced, tree

DEMO = Path(__file__).parents[2] / "content"


@pytest.fixture(scope="module")
def alone(tmp_path_factory):
    """A synthetic site, and what one process makes of it."""
    root = tmp_path_factory.mktemp("alone")
    make_site(root, 9)
    assert pipeline.build(root, root / "site", reductions=Reductions(workers=1)).passes
    return root


def test_two_processes_give_the_same_bytes(alone, tmp_path):
    built = pipeline.build(alone, tmp_path / "site", reductions=Reductions(workers=2))
    assert built.passes and len(built.made) == 9 + 3 + 7
    assert tree(tmp_path / "site") == tree(alone / "site")


def test_two_processes_make_what_changed_and_link_the_rest(alone, tmp_path):
    target = tmp_path / "site"
    assert pipeline.build(alone, target, reductions=Reductions(workers=2), kept_as="two").passes
    before = {p: p.stat().st_ino for p in target.rglob("*.html")}
    page, card = "write-ups/bench-day-aab/write-up.md", "cards/card-aaa.yaml"
    replaced(page, "Nothing else was changed", "Nothing at all was changed")(alone)
    replaced(card, "8 GB", "12 GB")(alone)
    built = pipeline.build(alone, target, reductions=Reductions(workers=2), kept_as="two")
    replaced(page, "Nothing at all was changed", "Nothing else was changed")(alone)
    replaced(card, "12 GB", "8 GB")(alone)
    assert built.passes
    changed = {p.relative_to(target).as_posix() for p, inode in before.items() if p.stat().st_ino != inode}
    # The card's file is in the dataset of each of its write-ups, whose checksum stands on the page.
    pages = {f"write-ups/bench-day-aa{letter}/index.html" for letter in "abcd"}
    assert changed == {*pages, "cards/card-aaa/index.html", "data.html"}


def test_problems_found_by_several_processes_are_those_of_one(alone, tmp_path):
    page = "write-ups/bench-day-aac/write-up.md"
    replaced(page, "It kept\n", "It always kept\n")(alone)
    two = pipeline.build(alone, tmp_path / "two", reductions=Reductions(workers=2))
    one = pipeline.build(alone, tmp_path / "one", reductions=Reductions(workers=1))
    replaced(page, "It always kept\n", "It kept\n")(alone)
    assert two.problems == one.problems != ()
    assert not list(tmp_path.iterdir())


def test_a_process_that_ends_early_is_told(alone, tmp_path, monkeypatch):
    monkeypatch.setattr(crews, "_enter", leave_at_once)
    with pytest.raises(crews.WorkersError, match="--workers 1"):
        pipeline.build(alone, tmp_path / "site", reductions=Reductions(workers=2))
    assert not list(tmp_path.iterdir())


CLUSTER = """
import sys
from pathlib import Path
from distributed import LocalCluster
from benchgalley import pipeline
from benchgalley.intake import Reductions

if __name__ == "__main__":
    root, target = map(Path, sys.argv[1:])
    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None,
                      host="127.0.0.1") as cluster:
        built = pipeline.build(root, target, reductions=Reductions(scheduler=cluster.scheduler_address))
        assert built.passes, built.problems
"""


@pytest.mark.parametrize("content", ["synthetic", "demo"])
def test_a_cluster_of_two_processes_gives_the_same_bytes(content, alone, demo_copy, tmp_path):
    """In an interpreter of its own: the cluster's threads and warnings are no part of the other tests."""
    pytest.importorskip("distributed")
    root = alone if content == "synthetic" else demo_copy
    script = tmp_path / "cluster.py"
    script.write_text(CLUSTER)
    done = subprocess.run(
        [sys.executable, str(script), str(root), str(tmp_path / "site")], capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 0, done.stderr[-3000:]
    assert tree(tmp_path / "site") == tree(root / "site")


@pytest.fixture(scope="module")
def demo_copy(tmp_path_factory):
    """A copy of the demo's content, built by one process."""
    import shutil

    root = tmp_path_factory.mktemp("demo")
    shutil.copytree(DEMO, root / "content")
    assert pipeline.build(root, root / "site", reductions=Reductions(workers=1)).passes
    return root


def test_two_processes_build_the_demo_to_the_same_bytes(demo_copy, tmp_path):
    assert pipeline.build(demo_copy, tmp_path / "site", reductions=Reductions(workers=2)).passes
    assert tree(tmp_path / "site") == tree(demo_copy / "site")
