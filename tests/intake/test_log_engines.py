"""Reduced logs are kept by content, and any number of workers gives the same bytes."""

import subprocess
import sys
from pathlib import Path

import pytest

from benchgalley.intake import Reductions, SchedulerError, log_engines
from benchgalley.intake.log_engines import key_of, reduce_all
from benchgalley.intake.log_outcomes import as_bytes, from_bytes
from benchgalley.intake.log_tasks import LogTask
from benchgalley.records.sealed import sealed
from tests.intake.log_site import LogForm, readings
from tests.intake.test_log_blocks import task_of


def tasks(folder: Path, number: int = 4) -> list[LogTask]:
    """Logs that differ, one of them spoilt but mendable."""
    found = []
    for i in range(number):
        rows = [(t, round(p + i * 0.37, 2), c) for t, p, c in readings()]
        lines = LogForm().lines(rows)
        if i == 1:
            lines[100] = lines[100].split(",")[0] + ",N/A,N/A,ok"
        path = folder / f"log{i}.csv"
        path.write_text("\n".join(lines) + "\n")
        found.append(task_of(path))
    return found


def keeping(folder: Path) -> Reductions:
    folder.mkdir(exist_ok=True)

    def keep(name: str, figures: bytes) -> None:
        (folder / name).write_bytes(sealed(figures, name))

    return Reductions(kept_in=folder, keep=keep)


def test_an_outcome_keeps_every_digit_as_bytes(tmp_path: Path) -> None:
    for outcome in reduce_all(tasks(tmp_path), Reductions()):
        assert outcome.runs[0].windows["board_power_w"].trace
        again = from_bytes(as_bytes(outcome))
        assert again == outcome
        assert again is not None and as_bytes(again) == as_bytes(outcome)


def test_kept_outcomes_are_not_made_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    work, how = tasks(tmp_path), keeping(tmp_path / "kept")
    first = reduce_all(work, how)
    made: list[str] = []
    reduce = log_engines.reduce_log

    def counting(task: LogTask, threads: int = 1) -> object:
        made.append(task.path)
        return reduce(task, threads)

    monkeypatch.setattr(log_engines, "reduce_log", counting)
    assert reduce_all(work, how) == first and made == []
    # One changed byte: that log alone is read again.
    changed = Path(work[2].path)
    changed.write_text(changed.read_text().replace("114", "115", 1))
    assert reduce_all(work, how) != first and made == [work[2].path]


def test_a_kept_outcome_that_is_spoilt_is_made_again(tmp_path: Path) -> None:
    work, how = tasks(tmp_path), keeping(tmp_path / "kept")
    first = reduce_all(work, how)
    for i, file in enumerate(sorted((tmp_path / "kept").iterdir())):
        file.write_bytes((b"", b"{}", file.read_bytes()[:200], b"\xff")[i])
    assert reduce_all(work, how) == first


def test_what_was_kept_of_another_log_is_not_taken(tmp_path: Path) -> None:
    work, how = tasks(tmp_path), keeping(tmp_path / "kept")
    first = reduce_all(work, how)
    kept = sorted((tmp_path / "kept").iterdir())
    for file, content in zip(kept, [other.read_bytes() for other in (*kept[1:], kept[0])], strict=True):
        file.write_bytes(content)
    assert reduce_all(work, how) == first


def test_a_log_that_is_written_while_it_is_read_is_not_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its hash was taken of other bytes: once they are back, what it gave in between must not be."""
    work, how = tasks(tmp_path)[:1], keeping(tmp_path / "kept")
    path, reduce = Path(work[0].path), log_engines.reduce_log
    right = reduce_all(work, Reductions())

    def written(task: LogTask, threads: int = 1) -> object:
        before = path.read_text()
        path.write_text(before.replace("114", "115"))
        found = reduce(task, threads)
        path.write_text(before)
        return found

    with monkeypatch.context() as patched:
        patched.setattr(log_engines, "reduce_log", written)
        assert reduce_all(work, how) != right
    assert not list((tmp_path / "kept").iterdir()) and reduce_all(work, how) == right


def test_problems_are_told_again_in_every_build(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    lines = LogForm().lines(readings())
    lines[30] = lines[30].split(",")[0] + ",ERR,45,ok"
    path.write_text("\n".join(lines) + "\n")
    how = keeping(tmp_path / "kept")
    for _ in range(2):
        (outcome,) = reduce_all([task_of(path)], how)
        assert [p.rule for p in outcome.problems] == ["bad-number"]
    assert not list((tmp_path / "kept").iterdir())


def test_the_key_holds_everything_that_is_asked(tmp_path: Path) -> None:
    (task,) = tasks(tmp_path, 1)
    keys = {
        key_of(task),
        key_of(task_of(Path(task.path), window={"rule": "fixed", "skip_start_s": 1.0, "skip_end_s": 0.0})),
        key_of(task_of(Path(task.path), decimal=",")),
        key_of(task_of(Path(task.path), cut="load")),
    }
    assert len(keys) == 4
    assert key_of(task) == key_of(task_of(Path(task.path)))


def test_two_processes_give_the_same_bytes(tmp_path: Path) -> None:
    work = tasks(tmp_path)
    one = [as_bytes(outcome) for outcome in reduce_all(work, Reductions(workers=1))]
    assert [as_bytes(outcome) for outcome in reduce_all(work, Reductions(workers=2))] == one


def test_a_cluster_of_two_processes_gives_the_same_bytes(tmp_path: Path) -> None:
    """In an interpreter of its own: the cluster's threads and warnings are no part of the other tests."""
    pytest.importorskip("distributed")
    tasks(tmp_path)
    script = tmp_path / "cluster.py"
    script.write_text(
        "import sys\n"
        "from pathlib import Path\n"
        "from distributed import LocalCluster\n"
        "from benchgalley.intake import Reductions\n"
        "from benchgalley.intake.log_engines import reduce_all\n"
        "from benchgalley.intake.log_outcomes import as_bytes\n"
        "from tests.intake.test_log_engines import tasks\n"
        "if __name__ == '__main__':\n"
        "    work = tasks(Path(sys.argv[1]))\n"
        "    alone = [as_bytes(o) for o in reduce_all(work, Reductions(workers=1))]\n"
        "    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None,\n"
        "                      host='127.0.0.1') as cluster:\n"
        "        how = Reductions(scheduler=cluster.scheduler_address)\n"
        "        spread = [as_bytes(o) for o in reduce_all(work, how)]\n"
        "    print('same' if spread == alone and all(alone) else 'different', len(spread))\n"
    )
    root = Path(__file__).parents[2]
    done = subprocess.run(
        [sys.executable, str(script), str(tmp_path)],
        env={"PYTHONPATH": f"{root / 'generator'}:{root}", "PATH": "/usr/bin:/bin", "HOME": str(tmp_path)},
        cwd=tmp_path, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.stdout.strip().splitlines()[-1:] == ["same 4"], done.stdout + done.stderr[-3000:]


def test_a_site_is_the_same_bytes_with_and_without_what_was_kept(tmp_path: Path) -> None:
    from benchgalley import pipeline
    from tests.intake.log_site import write
    from tests.intake.tree import Tree

    tree = write(Tree.copy(tmp_path), LogForm())
    printings = []
    for number, workers in enumerate((1, 1, 2)):
        checked = pipeline.check(tree.root, reductions=Reductions(workers=workers), keeps=number == 0)
        assert checked.results is not None and checked.site is not None
        trials = checked.site.write_ups["pebble-by-log"].trials
        printings.append(repr((trials, checked.problems)))
        assert len(list((tree.root / ".benchgalley").glob("*.log"))) == 1
    assert len(set(printings)) == 1


def test_a_scheduler_that_does_not_answer_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import importlib

    def absent(name: str) -> None:
        raise ImportError(name)

    monkeypatch.setattr(importlib, "import_module", absent)
    with pytest.raises(SchedulerError, match=r"needs the extra `cluster`"):
        reduce_all(tasks(tmp_path, 1), Reductions(scheduler="tcp://127.0.0.1:1"))
