"""Logs reduced from the command line: any number of workers and a cluster publish the same bytes, and only what changed
is reduced again."""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchgalley import pipeline
from benchgalley.intake import log_engines
from benchgalley.intake.log_tasks import LogOutcome, LogTask, reduce_log
from tests.intake.tree import PEBBLE, PEBBLE_LOG, PEBBLE_TRIALS, Tree

ROOT = Path(__file__).parents[2]
SECOND_LOG = PEBBLE_LOG.replace("evening", "later")
CLUSTER = """
import sys
from distributed import LocalCluster
if __name__ == "__main__":
    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None,
                      host="127.0.0.1") as cluster:
        print(cluster.scheduler_address, flush=True)
        sys.stdin.read()
"""


def environment(home: Path) -> dict[str, str]:
    return {"PYTHONPATH": f"{ROOT / 'generator'}:{ROOT}", "PATH": os.environ["PATH"], "HOME": str(home)}


def site_with_two_logs(folder: Path) -> Tree:
    """The small site, half of whose logged runs name a second log."""
    tree = Tree.copy(folder)
    tree.write(SECOND_LOG, (tree.root / PEBBLE_LOG).read_bytes())
    lines = tree.text(PEBBLE_TRIALS).splitlines(keepends=True)
    assert sum("logs/evening.csv" in line for line in lines) >= 4
    half = len(lines) // 2 + 1
    return tree.write(
        PEBBLE_TRIALS, "".join([*lines[:half], *(line.replace("evening", "later") for line in lines[half:])])
    )


def published(tree: Tree, *options: str) -> dict[str, bytes]:
    """Every file of the published site and every kept reduction, after a build from the command line."""
    done = subprocess.run(
        [sys.executable, "-m", "benchgalley", "build", str(tree.root), *options],
        env=environment(tree.root), cwd=tree.root, capture_output=True, text=True, check=False, timeout=180,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    kept = sorted((tree.root / ".benchgalley").glob("*.log"))
    assert len(kept) == 2
    pages = [path for path in sorted((tree.root / "site").rglob("*")) if path.is_file()]
    return {str(path.relative_to(tree.root)): path.read_bytes() for path in (*kept, *pages)}


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """What one worker publishes."""
    return published(site_with_two_logs(tmp_path_factory.mktemp("alone")), "--workers", "1")


def test_two_workers_publish_the_same_bytes(tmp_path: Path, alone: dict[str, bytes]) -> None:
    assert len(alone) > 10 and any(b"logs/later.csv" in data for data in alone.values())
    tree = site_with_two_logs(tmp_path)
    assert published(tree, "--workers", "2") == alone
    assert published(tree) == alone  # again, from what was kept


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[str]:
    """Address of a scheduler with two worker processes on this machine."""
    pytest.importorskip("distributed")
    script = tmp_path / "cluster.py"
    script.write_text(CLUSTER)
    with subprocess.Popen(
        [sys.executable, str(script)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        env=environment(tmp_path), cwd=tmp_path, text=True,
    ) as process:  # fmt: skip
        assert process.stdin is not None and process.stdout is not None
        yield process.stdout.readline().strip()
        process.stdin.close()
        process.wait(60)


def test_a_cluster_of_two_processes_publishes_the_same_bytes(
    tmp_path: Path, alone: dict[str, bytes], cluster: str
) -> None:
    assert cluster.startswith("tcp://")
    assert published(site_with_two_logs(tmp_path), "--scheduler", cluster) == alone


def test_a_scheduler_that_does_not_answer_stops_the_build(tmp_path: Path) -> None:
    pytest.importorskip("distributed")
    tree = site_with_two_logs(tmp_path)
    done = subprocess.run(
        [sys.executable, "-m", "benchgalley", "build", str(tree.root), "--scheduler", "tcp://127.0.0.1:9"],
        env=environment(tmp_path), capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 2 and "no scheduler answers at tcp://127.0.0.1:9" in done.stderr
    assert "Traceback" not in done.stderr and not (tree.root / "site").exists()


def test_only_a_log_that_changed_is_reduced_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    tree = site_with_two_logs(tmp_path)
    reduced: list[str] = []

    def counting(task: LogTask, *args: int) -> LogOutcome:
        reduced.append(task.log)
        return reduce_log(task, *args)

    monkeypatch.setattr(log_engines, "reduce_log", counting)

    def build() -> list[str]:
        reduced.clear()
        pipeline.build(tree.root, tree.root / "site")
        return sorted(reduced)

    assert build() == ["logs/evening.csv", "logs/later.csv"]
    assert build() == []
    tree.write(PEBBLE, tree.text(PEBBLE) + "\nOne more sentence.\n")
    assert build() == []
    data = (tree.root / SECOND_LOG).read_bytes()
    tree.write(SECOND_LOG, data + data.splitlines(keepends=True)[-1])
    assert build() == ["logs/later.csv"]
    tree.write(SECOND_LOG, data)  # what was kept before still holds
    assert build() == []
    tree.edit(PEBBLE, "skip_end_s: 1", "skip_end_s: 2")
    assert build() == ["logs/evening.csv", "logs/later.csv"]
