"""Clean blocks read in bulk give exactly what the slower rules give, wherever the log is taken apart."""

import random
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from benchgalley.intake import log_blocks, log_file, log_sections
from benchgalley.intake.log_blocks import Block, Layout, parser
from benchgalley.intake.log_header import LogPlan
from benchgalley.intake.log_stamps import plain_stamps
from benchgalley.intake.log_tasks import LogOutcome, LogTask, Run, reduce_log
from tests.intake.log_site import RUNS, START, LogForm, damage, readings, result, write
from tests.intake.test_damaged_logs import run as run_damaged
from tests.intake.test_logs import FORMS
from tests.intake.tree import PEBBLE_LOG, Tree

PLAN = LogPlan(
    path=Path("x"), file="x", headers={"board_power_w": "p"}, time_headers=("t",), time_is_number=True,
    separator=",", decimal=".", thousands="", encoding="utf-8",
)  # fmt: skip
LAYOUT = Layout(cells=["t", "p", "note"], columns={"board_power_w": 1}, times=[0])


def task_of(path: Path, **settings: object) -> LogTask:
    usual = {
        "time_zone": "", "time_header": ("Time",), "time_format": "unix_s", "time_pattern": "", "time_starts": "",
        "separator": ",", "decimal": ".", "thousands": "", "encoding": "utf-8", "window": {"rule": "steady"},
    }  # fmt: skip
    return LogTask(
        path=str(path),
        file="evening.csv",
        log="logs/evening.csv",
        columns=(("board_power_w", "Draw [mW]", "mW"), ("core_temp_c", "Core", "°C")),
        settings={**usual, **settings},
        runs=tuple(Run(id=f"p{i}", counts=True, start_s=float(at), duration_s=40.0) for i, (at, _) in enumerate(RUNS)),
        base_s=int(START.timestamp()),
        origin_s=0.0,
    )


def small_blocks(monkeypatch: pytest.MonkeyPatch, size: int) -> None:
    monkeypatch.setattr(log_blocks, "BLOCK_BYTES", size)
    monkeypatch.setattr(log_sections, "BLOCK_BYTES", size)


def without_bulk(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(log_file, "parser", lambda plan, layout: lambda block: None)


@pytest.mark.parametrize("name", FORMS)
@pytest.mark.parametrize("size", [40, 1000])
def test_every_form_of_log_gives_the_same_bits_in_bulk_and_by_the_slower_rules(
    tree: Tree, monkeypatch: pytest.MonkeyPatch, name: str, size: int
) -> None:
    write(tree, FORMS[name])
    whole, problems = result(tree)
    assert problems == ()
    small_blocks(monkeypatch, size)
    assert result(tree) == (whole, ())
    without_bulk(monkeypatch)
    assert result(tree) == (whole, ())


def test_a_plain_log_takes_the_way_in_bulk(tree: Tree, monkeypatch: pytest.MonkeyPatch) -> None:
    """So that the tests above do compare two ways, and a long log is not slow without anyone noticing."""
    taken: Counter[bool] = Counter()

    def counting(plan: LogPlan, layout: Layout) -> object:
        parse = parser(plan, layout)

        def counted(block: Block) -> object:
            parsed = parse(block)
            taken[parsed is not None] += 1
            return parsed

        return counted

    monkeypatch.setattr(log_file, "parser", counting)
    small_blocks(monkeypatch, 500)
    for name in ("unix seconds", "ISO with offset", "local with zone name", "tabs", "UTF-8 with mark", "Latin-1"):
        write(tree, FORMS[name])
        result(tree)
    assert taken[True] > 50 and not taken[False], taken


@pytest.mark.parametrize(("size", "processes"), [(300, 1), (300, 3), (2000, 2)])
def test_the_number_of_processes_changes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: int, processes: int
) -> None:
    path = tmp_path / "evening.csv"
    lines = LogForm().lines(readings())
    lines[60] = lines[60].replace(",ok", ",N/A")
    lines[70] = lines[70].split(",")[0] + ",N/A,N/A,ok"
    lines[150], lines[151] = lines[151], lines[150]
    path.write_text("\n".join(lines) + "\n")
    one = reduce_log(task_of(path))
    assert one.runs and [p.rule for p in one.problems] == ["log-mended"]
    small_blocks(monkeypatch, size)
    assert reduce_log(task_of(path), processes) == one


@pytest.mark.parametrize("size", [64, 700])
def test_damaged_logs_in_small_blocks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: int) -> None:
    small_blocks(monkeypatch, size)
    tally = run_damaged(range(9000, 9080), tmp_path)
    assert sum(count for what, count in tally.items() if what.endswith("right")) > 15
    assert sum(count for what, count in tally.items() if what.endswith("told")) > 15


def test_where_a_damaged_log_is_taken_apart_changes_no_number(tree: Tree, monkeypatch: pytest.MonkeyPatch) -> None:
    form = LogForm()
    write(tree, form)
    good = form.lines(readings())
    for seed in range(9200, 9240):
        tree.write(PEBBLE_LOG, damage(good, random.Random(seed))[1])
        monkeypatch.undo()
        whole, whole_problems = result(tree)
        small_blocks(monkeypatch, 300)
        parts, parts_problems = result(tree)
        assert parts == whole, seed
        assert {p.rule for p in parts_problems} == {p.rule for p in whole_problems}


@pytest.mark.parametrize(
    ("text", "clean"),
    [
        ("1,2,x\n3,4,y\n", True),
        ("1,2,x\r\n3,4,y\r\n", True),
        (" 1, 2 ,x\n3,4,y\n", True),
        ("1,2,\n3,4,\n", True),  # every row ends with a separator: so does the header
        ("1,2,x\n3,4,\n5,6,z\n", True),  # the last cell of one row is empty
        ("1,2,x\n3,4\n", False),
        ("1,2,x,5\n3,4\n", False),  # as many separators as two whole rows have
        ("1,2,x\r\n3,4,y\n", False),
        ("1,2,x\n\n3,4,y\n", False),
        ('1,2,"x"\n3,4,y\n', False),
        ("1,,x\n3,4,y\n", False),
        ("1,N/A,x\n3,4,y\n", False),
        ("1,inf,x\n3,4,y\n", False),
        ("1,1e999,x\n3,4,y\n", False),
        ("1,nan,x\n3,4,y\n", False),
        ("1,2\x00,x\n3,4,y\n", False),
        ("1,0x1F,x\n3,4,y\n", False),
        ("1,2.3.4,x\n3,4,y\n", False),
        ("1,1_0,x\n3,4,y\n", False),
        ("1,2,é\n3,4,y\n", True),
    ],
)
def test_what_counts_as_clean(text: str, clean: bool) -> None:
    assert (parser(PLAN, LAYOUT)(Block(text.encode(), 0)) is not None) == clean


def test_bytes_that_are_no_text_are_not_clean() -> None:
    data = b"1,2,\xff\n3,4,y\n"
    assert parser(PLAN, LAYOUT)(Block(data, 0)) is None
    assert parser(replace(PLAN, encoding="latin-1"), LAYOUT)(Block(data, 0)) is not None


def test_stamps_agree_with_the_standard_library() -> None:
    rng = random.Random(3)
    for form in ("%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S.%f"):
        for suffix in ("", "Z", "+02:00", "-11:30"):
            moments = [datetime(1999, 12, 30) + timedelta(microseconds=rng.randrange(10**15)) for _ in range(300)]
            moments.sort()
            texts = [moment.strftime(form) + suffix for moment in moments]
            found = plain_stamps(np.array([text.encode() for text in texts], dtype="S40"))
            assert found is not None and found.suffix == suffix
            for text, micro in zip(texts, found.microseconds.tolist(), strict=True):
                moment = datetime.fromisoformat(text)
                utc = moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment
                assert micro / 1e6 - found.offset_s == utc.timestamp()


@pytest.mark.parametrize(
    "odd",
    ["2026-09-12T12:00:60", "2026-09-12T24:00:00", "2026-02-30T12:00:00", "2026-13-01T12:00:00", "2026-09-12T12:61:00",
     "2026-09-12 12:00:00", "2026-09-12T12:00:0", "2026-09-12T12:00:00Z", "2026-9-12T12:00:00", "12:00:00", ""],
)  # fmt: skip
def test_a_stamp_written_otherwise_is_left_to_the_slower_rules(odd: str) -> None:
    plain = b"2026-09-12T12:00:00"
    assert plain_stamps(np.array([plain, plain], dtype="S40")) is not None
    assert plain_stamps(np.array([plain, odd.encode()], dtype="S40")) is None


def test_a_run_is_forgotten_once_the_log_has_passed_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Memory holds the open runs only: the readings kept never exceed those of a run and its surroundings."""
    from benchgalley.intake.log_cutting import Cut

    path = tmp_path / "evening.csv"
    rows = [(float(s), 18.0 + 80 * (s % 400 < 200), 40.0) for s in range(20_000)]
    path.write_text("\n".join(LogForm().lines(rows)) + "\n")
    runs = tuple(Run(id=str(i), counts=True, start_s=400.0 * i + 1, duration_s=190.0) for i in range(50))
    task = replace(task_of(path), runs=runs)
    small_blocks(monkeypatch, 2000)
    known: dict[int, Cut] = {}
    most = 0
    take = Cut.take

    def taking(cut: Cut, *args: object, **more: object) -> None:
        nonlocal most
        known[cut.index] = cut
        take(cut, *args, **more)  # type: ignore[arg-type]
        most = max(most, sum(bool(one.times or one.values) for one in known.values()))

    monkeypatch.setattr(Cut, "take", taking)
    outcome: LogOutcome = reduce_log(task)
    assert len(outcome.runs) == len(known) == 50 and outcome.sound
    assert 1 <= most <= 2 and not any(one.times or one.values for one in known.values())
