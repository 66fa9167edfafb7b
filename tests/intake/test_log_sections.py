"""A log read section by section gives what it gives when it is read as one, or is read as one."""

import multiprocessing
import os
import random
import weakref
from collections import Counter
from concurrent.futures import Future
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from benchgalley.intake import log_blocks, log_cutting_apart, log_engines, log_locating, log_marks, log_sections
from benchgalley.intake.log_blocks import NotInSectionsError, blocks
from benchgalley.intake.log_engines import Reductions, reduce_all
from benchgalley.intake.log_outcomes import as_bytes
from benchgalley.intake.log_tasks import Run, reduce_log
from tests.intake.log_site import START, LogForm, damage, readings, result, write
from tests.intake.test_log_blocks import small_blocks, task_of
from tests.intake.test_log_cutting import BARE, marked
from tests.intake.test_logs import FORMS
from tests.intake.tree import PEBBLE_TRIALS, Tree


class NoHelp:
    """What other processes would do is done in this one."""

    def __init__(self, processes: int, enter: Any, *what: object) -> None:
        enter(*what)

    def __enter__(self) -> "NoHelp":
        return self

    def __exit__(self, *_: object) -> None: ...

    def submit(self, work: Any, *what: object) -> Future[Any]:
        future: Future[Any] = Future()
        future.set_result(work(*what))
        return future

    def shutdown(self, **_: object) -> None: ...


def in_sections_of(monkeypatch: pytest.MonkeyPatch, blocks_each: int, size: int) -> Counter[str]:
    """Have every log read in sections; counts those that were, and those that had to be read as one."""
    tally: Counter[str] = Counter()

    def counted(*what: Any) -> Any:
        number = 0
        try:
            for section in log_sections.in_sections(*what):
                number += 1
                yield section
        except NotInSectionsError:
            tally["as one"] += 1
            raise
        tally["in sections" if number > 1 else "too short"] += 1

    small_blocks(monkeypatch, size)
    monkeypatch.setattr(log_sections, "SECTION_BLOCKS", blocks_each)
    monkeypatch.setattr(log_sections, "pool", NoHelp)
    for module in (log_cutting_apart, log_locating, log_marks):
        monkeypatch.setattr(module, "in_sections", counted)
    monkeypatch.setattr(log_engines, "reduce_log", lambda task, processes=1: reduce_log(task, 2))
    return tally


@pytest.mark.parametrize("size", [1, 7, 40, 333])
@pytest.mark.parametrize("end", ["", "\n", "\r\n"])
def test_blocks_hold_every_line_once_wherever_one_begins(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: int, end: str
) -> None:
    rng = random.Random(size)
    lines = ["x" * rng.randrange(30) for _ in range(60)]
    data = ((end or "\n").join(lines) + end).encode()
    (tmp_path / "log").write_bytes(data)
    monkeypatch.setattr(log_blocks, "BLOCK_BYTES", max(size, 33))  # no line is longer than a block
    many = -(-len(data) // log_blocks.BLOCK_BYTES)
    for offset in (0, len(data) // 3):
        whole = list(blocks(tmp_path / "log", offset))
        assert b"".join(block.data for block in whole) == data[offset : data.rfind(b"\n") + 1]
        for cut in range(many + 1):
            apart = [*blocks(tmp_path / "log", offset, (0, cut)), *blocks(tmp_path / "log", offset, (cut, many))]
            assert [(b.offset, b.data) for b in apart if b.data] == [(b.offset, b.data) for b in whole if b.data]


@pytest.mark.parametrize("name", FORMS)
def test_every_form_of_log_gives_the_same_bits(tree: Tree, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    write(tree, FORMS[name])
    whole = result(tree)
    tally = in_sections_of(monkeypatch, 3, 400)
    assert result(tree) == whole
    apart = name not in ("UTF-16", "thousands point", "thousands blank")
    assert tally == {"in sections" if apart else "as one": 1}


@pytest.mark.parametrize("blocks_each", [1, 4])
def test_mended_logs_are_read_in_sections_and_tell_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, blocks_each: int
) -> None:
    lines = LogForm().lines(readings())
    lines[60] = lines[60].replace(",ok", ",N/A")
    lines[70] = lines[70].split(",")[0] + ",N/A,N/A,ok"
    lines[90:90] = ["", lines[0], lines[90]]
    del lines[131:133]
    (tmp_path / "evening.csv").write_text("\n".join([*lines, lines[-1][:14]]))
    task = task_of(tmp_path / "evening.csv")
    small_blocks(monkeypatch, 300)
    one = reduce_log(task)
    assert one.runs and [p.rule for p in one.problems] == ["log-mended"]
    assert one.problems[0].message.count(";") == 5, one.problems
    tally = in_sections_of(monkeypatch, blocks_each, 300)
    assert reduce_log(task, 2) == one
    assert tally == {"in sections": 1}


def test_what_only_the_whole_log_tells_is_read_as_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "evening.csv"
    good = LogForm().lines(readings())
    late, worded, quoted = [*good], [*good], [*good]
    late[150], late[151] = late[151], late[150]
    worded[180] = worded[180].split(",")[0] + ",ERR,45.0,ok"
    quoted[100] = quoted[100].replace(",ok", ',"' + "o\n" * 200 + '"')  # blocks end within the cell
    small_blocks(monkeypatch, 300)
    for lines, rules in ((late, ["log-mended"]), (worded, ["bad-number"]), (quoted, [])):
        path.write_text("\n".join(lines) + "\n")
        one = reduce_log(task_of(path))
        assert [p.rule for p in one.problems] == rules
        with monkeypatch.context() as patched:
            tally = in_sections_of(patched, 2, 300)
            assert reduce_log(task_of(path), 2) == one
        assert tally == {"as one": 1}


def test_an_hour_that_happens_twice_is_read_as_one(tree: Tree, monkeypatch: pytest.MonkeyPatch) -> None:
    """Europe/Berlin, 25 October 2026: 02:00 to 03:00 came twice (from the time zone database); the log runs into it."""
    zone = ZoneInfo("Europe/Berlin")
    moved = timedelta(days=42, hours=12, minutes=-2)  # the log begins at 01:58 summer time

    def written(second: float) -> str:
        return (START + moved + timedelta(seconds=second)).astimezone(zone).strftime("%Y-%m-%d %H:%M:%S")

    form = LogForm(time_rule="{header: Time, format: local}", zone="Europe/Berlin", time=written)
    write(tree, form)
    table = tree.text(PEBBLE_TRIALS)
    for at in (8, 58, 108, 158):
        then = (START + timedelta(seconds=at)).astimezone(zone).isoformat()
        table = table.replace(then, (START + moved + timedelta(seconds=at)).astimezone(zone).isoformat())
    tree.write(PEBBLE_TRIALS, table)
    whole = result(tree)
    assert len(whole[0]) == 4, whole[1]
    tally = in_sections_of(monkeypatch, 2, 400)
    assert result(tree) == whole
    assert tally == {"as one": 1}


@pytest.mark.parametrize(
    ("rule", "mark"),
    [
        ("  cut: marks\n  mark: {header: Run, means: trial}\n", lambda run: f"p{run}" if run else ""),
        ("  cut: marks\n  mark: {header: Run, means: toggle}\n", lambda run: "on" if run else "off"),
        ("  cut: load\n", lambda run: run),
    ],
)
def test_runs_are_found_in_sections_as_in_one(
    tree: Tree, monkeypatch: pytest.MonkeyPatch, rule: str, mark: object
) -> None:
    marked(tree, rule, mark)
    assert tree.text(PEBBLE_TRIALS) == BARE
    whole = result(tree)
    assert len(whole[0]) == 4 and not [p for p in whole[1] if p.severity.value == "error"]
    tally = in_sections_of(monkeypatch, 2, 400)
    assert result(tree) == whole
    assert tally == {"in sections": 2}  # once to find the runs, once to cut them


def test_damaged_logs_give_the_same_in_sections(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    good = LogForm().lines(readings())
    path = tmp_path / "evening.csv"
    small_blocks(monkeypatch, 300)
    cases = [damage(good, random.Random(seed))[1] for seed in range(9400, 9520)]
    alone = []
    for data in cases:
        path.write_bytes(data)
        alone.append(reduce_log(task_of(path)))
    tally = in_sections_of(monkeypatch, 3, 300)
    for data, one in zip(cases, alone, strict=True):
        path.write_bytes(data)
        assert reduce_log(task_of(path), 2) == one
    assert tally["in sections"] > 30 and tally["as one"] > 20, tally


def test_a_run_longer_than_a_section(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "evening.csv"
    path.write_text("\n".join(LogForm().lines(readings())) + "\n")
    small_blocks(monkeypatch, 300)
    one = reduce_log(task_of(path))
    tally = in_sections_of(monkeypatch, 1, 300)
    assert reduce_log(task_of(path), 3) == one and len(one.runs) == 4
    assert tally == {"in sections": 1}


@pytest.mark.parametrize("processes", [2, 3])
def test_further_processes_change_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, processes: int) -> None:
    """With the true length of blocks and sections, and processes that may start without what was set here."""
    path = tmp_path / "evening.csv"
    form = LogForm()
    rows = [(float(s), 18.0 + 80 * (s % 400 < 200) + s % 7, 40.0) for s in range(140_000)]
    path.write_text("\n".join(form.lines(rows)) + "\n")
    assert path.stat().st_size > 3 * log_blocks.BLOCK_BYTES
    monkeypatch.setattr(log_sections, "SECTION_BLOCKS", 1)
    assert reduce_log(task_of(path), processes) == reduce_log(task_of(path))


def test_a_log_longer_than_its_share_is_shared(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One log of three is as long as the others together: it is read by all processes, they by one each."""
    tasks = []
    for name, rows in (("a", readings()[:120]), ("b", readings()), ("c", readings()[:90])):
        (tmp_path / f"{name}.csv").write_text("\n".join(LogForm().lines(rows)) + "\n")
        tasks.append(task_of(tmp_path / f"{name}.csv"))
    alone = [as_bytes(outcome) for outcome in reduce_all(tasks, Reductions(workers=1))]
    monkeypatch.setattr(log_engines, "PAYING_BYTES", 3000)
    asked: list[tuple[str, int]] = []

    def noting(task: Any, processes: int = 1) -> Any:
        asked.append((Path(task.path).stem, processes))
        return reduce_log(task, processes)

    monkeypatch.setattr(log_engines, "reduce_log", noting)
    monkeypatch.setattr(log_engines, "_by_processes", lambda tasks, sizes, workers: [noting(t, 0) for t in tasks])
    assert [as_bytes(outcome) for outcome in reduce_all(tasks, Reductions(workers=2))] == alone
    assert asked == [("b", 2), ("a", 0), ("c", 0)]


def leave_unless_first(task: Any, *_: object) -> Any:
    return reduce_log(task) if multiprocessing.parent_process() is None else os._exit(1)


@pytest.mark.parametrize("helper", ["one", "all but one"])
def test_a_log_whose_helpers_are_gone_is_read_here(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, helper: str
) -> None:
    """The system ends a process for want of memory."""
    tasks = []
    for name, rows in (("a", readings()[:120]), ("b", readings())):
        (tmp_path / f"{name}.csv").write_text("\n".join(LogForm().lines(rows)) + "\n")
        tasks.append(task_of(tmp_path / f"{name}.csv"))
    small_blocks(monkeypatch, 300)
    alone = [as_bytes(outcome) for outcome in reduce_all(tasks, Reductions(workers=1))]
    if helper == "one":  # of those that share a log
        monkeypatch.setattr(log_sections, "SECTION_BLOCKS", 2)
        monkeypatch.setattr(log_sections, "_ready", leave_unless_first)
        assert [as_bytes(reduce_log(task, 2)) for task in tasks] == alone
    else:  # of those that have a log each
        monkeypatch.setattr(log_engines, "reduce_log", leave_unless_first)
        assert [as_bytes(outcome) for outcome in reduce_all(tasks, Reductions(workers=2))] == alone


def test_few_sections_are_in_memory_at_a_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each of the runs is longer than a section; what was read of one is let go of when the log has passed it."""
    path = tmp_path / "evening.csv"
    rows = [(float(s), 18.0 + 80 * (s % 400 < 200), 40.0) for s in range(20_000)]
    path.write_text("\n".join(LogForm().lines(rows)) + "\n")
    runs = tuple(Run(id=str(i), counts=True, start_s=400.0 * i + 1, duration_s=190.0) for i in range(50))
    task = replace(task_of(path), runs=runs)
    small_blocks(monkeypatch, 1000)
    one = reduce_log(task)
    kept: list[Any] = []
    alive: list[int] = []

    def watched(*what: Any) -> Any:
        for section in log_sections.in_sections(*what):
            kept.extend(weakref.ref(times) for piece in section.pieces for times in piece.times)
            yield section
            del section
            alive.append(sum(ref() is not None for ref in kept))
        assert len(alive) > 100

    in_sections_of(monkeypatch, 3, 1000)
    monkeypatch.setattr(log_cutting_apart, "in_sections", watched)
    assert reduce_log(task, 2) == one and one.sound and len(one.runs) == 50
    assert len(kept) > 300 and max(alive) < 80, (len(kept), max(alive))
