"""Logs whose cells look right and are not: the right number, or it is told. Never a wrong number without a word."""

import io
import random
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd
import pytest

from benchgalley.intake.log_row_widths import CountedRows
from benchgalley.intake.log_tasks import LogOutcome, Run, reduce_log
from tests.intake.test_log_blocks import small_blocks, task_of

BASE = datetime(2026, 9, 12, 12, tzinfo=UTC)
SECONDS = range(60)
Told = tuple[set[str], set[str]]
NOTHING: Told = (set(), set())


FORMS: dict[str, Callable[[float], str]] = {
    "iso8601": lambda s: (BASE + timedelta(seconds=s)).isoformat(timespec="milliseconds").replace("+00:00", "Z"),
    "unix_ms": lambda s: f"{(BASE.timestamp() + s) * 1000:.0f}",
    "unix_s": lambda s: f"{BASE.timestamp() + s:.3f}",
    "elapsed_s": lambda s: f"{s:.3f}",
}


def reduced(
    path: Path,
    lines: list[str],
    runs: tuple[tuple[float, float], ...] = ((8, 40),),
    base: datetime = BASE,
    **settings: object,
) -> LogOutcome:
    """What a log gives for its runs, with a window that leaves nothing out."""
    path.write_text("".join(line + "\n" for line in lines))
    window = {"rule": "fixed", "skip_start_s": 0.0, "skip_end_s": 0.0}
    task = replace(
        task_of(path, **{"window": window, **settings}),
        columns=(("board_power_w", "Draw", "W"), ("core_temp_c", "Core", "°C")),
        runs=tuple(Run(id=f"p{i}", counts=True, start_s=a, duration_s=d) for i, (a, d) in enumerate(runs)),
        base_s=int(base.timestamp()),
    )
    return reduce_log(task)


def told(outcome: LogOutcome) -> Told:
    """Rules of the problems of the log, and of the remarks on its runs."""
    return {p.rule for p in outcome.problems}, {r.rule for r in outcome.remarks}


def means(outcome: LogOutcome) -> list[tuple[float, float]]:
    return [(round(r.windows["board_power_w"].mean, 3), round(r.windows["core_temp_c"].mean, 3)) for r in outcome.runs]


def lines(header: str, cells: Callable[[int], str], form: Callable[[int], str] | None = None) -> list[str]:
    time = form or (lambda s: f"{BASE.timestamp() + s:.0f}")
    return [header, *(f"{time(s)}{cells(s)}" for s in SECONDS)]


@pytest.mark.parametrize(
    ("header", "cells"),
    [
        ("Time,Draw,Core,", ",114,5,45,"),  # a decimal comma in a log that commas separate
        ("Time,Draw,Core,Limit", ",114,5,45,-"),
        ("Time,Draw,Core", ",114,5,45,"),
    ],
)
def test_a_decimal_comma_taken_for_a_separator_is_told(tmp_path: Path, header: str, cells: str) -> None:
    assert told(reduced(tmp_path / "x.csv", lines(header, lambda s: cells))) == ({"ragged-row"}, set())
    only_here = lines(header, lambda s: cells if s == 20 else ",114,45" + "," * (header.count(",") - 2))
    assert told(reduced(tmp_path / "x.csv", only_here)) == ({"ragged-row"}, set())


@pytest.mark.parametrize(
    ("header", "whole", "cut"),
    [
        ("Time,Draw,Core,", ",114,45,", ",114,4"),
        ("Time,Draw,Core", ",114,45", ",1"),
        ("Time,Draw,Core,Note", ",114,45,ok", ",114,4"),
        ("Time,Draw,Core,,", ",114,45,,", ",114,4,"),
        ('Time,Draw,Core,"A, b"', ',114,45,"a, b"', ",114,4"),
    ],
)
def test_a_row_that_breaks_off_is_left_out(tmp_path: Path, header: str, whole: str, cut: str) -> None:
    found = reduced(tmp_path / "x.csv", lines(header, lambda s: cut if s == 20 else whole))
    assert told(found) == ({"log-mended"}, set()) and means(found) == [(114, 45)]
    assert "1 rows that break off before the last column were left out" in found.problems[0].message
    assert found.runs[0].windows["core_temp_c"].minimum == 45 and found.runs[0].windows["core_temp_c"].readings == 40


@pytest.mark.parametrize(
    ("header", "cells", "what"),
    [
        ("Time,Draw,Core,", ",114,45", ""),  # only the header ends with a separator
        ("Time,Draw,Core,,", ",114,45,", ""),
        ("Time,Draw,Core", ",114,45,", "empty cells behind the last column"),  # only the rows do
        ("Time,Draw,Core,Limit", ",114,45,", ""),  # a sensor that says nothing
        ('Time, "Draw", Core', ", 114, 45", ""),
    ],
)
def test_sound_logs_with_empty_ends_are_read(tmp_path: Path, header: str, cells: str, what: str) -> None:
    found = reduced(tmp_path / "x.csv", lines(header, lambda s: cells))
    assert means(found) == [(114, 45)] and found.runs[0].windows["core_temp_c"].readings == 41
    assert [what in p.message for p in found.problems] == [True] * bool(what)


@pytest.mark.parametrize(
    ("header", "cells"),
    [("Time,Draw,Core,", ",114,5,45"), ("Time,Core,Draw,,", ",45,5,114,5"), ("Time,Draw,Core,,", ",114,45,,x")],
)
def test_what_stands_under_no_name_is_told(tmp_path: Path, header: str, cells: str) -> None:
    assert told(reduced(tmp_path / "x.csv", lines(header, lambda s: cells))) == ({"ragged-row"}, set())
    whole = ",114,45" + "," * (header.count(",") - 2)
    found = reduced(tmp_path / "x.csv", lines(header, lambda s: cells if s == 20 else whole))
    assert told(found) == ({"ragged-row"}, set())


@pytest.mark.parametrize("size", [1 << 20, 200, 20])
@pytest.mark.parametrize(
    ("header", "whole", "cut"),
    [("Time,Draw,Core,", ",114,45,", ",114,4"), ("Time,Draw,Core", ",114,45,", ",114,4"),
     ("Time,Draw,Core,", ",114,45", ",11"), ("Time,Draw,Core", ",114,45", ",11")],
)  # fmt: skip
def test_how_many_cells_a_row_has_is_a_matter_of_the_whole_log(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: int, header: str, whole: str, cut: str
) -> None:
    """Rows that break off, the last ones of a log or of a block, are not measured by one another."""
    small_blocks(monkeypatch, size)
    found = reduced(tmp_path / "x.csv", lines(header, lambda s: cut if 25 <= s < 27 or s > 47 else whole))
    assert told(found) == ({"log-mended"}, set()) and means(found) == [(114, 45)]
    assert "14 rows that break off before the last column were left out" in found.problems[0].message


def test_a_separator_more_than_the_header_has_is_no_other_row(tmp_path: Path) -> None:
    found = reduced(tmp_path / "x.csv", lines("Time,Draw,Core,", lambda s: ",114,45," if s == 20 else ",114,45"))
    assert told(found) == NOTHING and found.runs[0].windows["core_temp_c"].readings == 41


@pytest.mark.parametrize("gap_at", range(20, 100, 7))
@pytest.mark.parametrize(("missing", "rules"), [(2, set()), (3, {"log-gap"})])
def test_a_gap_of_three_intervals_is_one_however_it_is_rounded(
    tmp_path: Path, gap_at: int, missing: int, rules: set[str]
) -> None:
    rows = [f"{FORMS['elapsed_s'](i / 5)},{100 + i % 2},45" for i in range(120) if not gap_at < i <= gap_at + missing]
    found = reduced(tmp_path / "x.csv", ["Time,Draw,Core", *rows], runs=((4, 12),), time_format="elapsed_s")
    inside = 20 <= gap_at <= 76
    assert told(found)[1] == (rules if inside else set())


@pytest.mark.parametrize("some", [2, 3])
def test_an_empty_last_cell_is_no_row_that_breaks_off(tmp_path: Path, some: int) -> None:
    cells = lines("Time,Draw,Core,Limit", lambda s: ",100,45," if s % 5 < some else ",60,45,PWR")
    found = reduced(tmp_path / "x.csv", cells)
    assert told(found) == NOTHING and found.runs[0].windows["board_power_w"].readings == 41


def test_rows_that_are_all_short_give_nothing(tmp_path: Path) -> None:
    """One sensor was left out and the others moved up: the header fits no row."""
    found = reduced(tmp_path / "x.csv", lines("Time,Draw,Core,Fan", lambda s: ",45,1200"))
    assert not found.sound and told(found) == ({"log-mended"}, {"log-does-not-cover-run"})


@pytest.mark.parametrize(
    ("cells", "rule"),
    [(",true,45", "bad-number"), (",FALSE,45", "bad-number"), (",0x10,45", "bad-number"), (",1_0,45", "bad-number")],
)
def test_words_are_no_numbers(tmp_path: Path, cells: str, rule: str) -> None:
    assert told(reduced(tmp_path / "x.csv", lines("Time,Draw,Core", lambda s: cells))) == ({rule}, set())


def test_ones_and_zeros_are_numbers(tmp_path: Path) -> None:
    found = reduced(tmp_path / "x.csv", lines("Time,Draw,Core,Note", lambda s: f",{'1e0' if s % 2 else 1},1.00,b"))
    assert means(found) == [(1, 1)]


def test_no_temperature_is_below_absolute_zero(tmp_path: Path) -> None:
    found = reduced(tmp_path / "x.csv", lines("Time,Draw,Core", lambda s: ",114,-300"))
    assert told(found) == (set(), {"out-of-range"}) and not found.sound


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(
    ("start_s", "duration_s", "step_s"), [(8.3, 40.0, 1.0), (78.8, 50.5, 0.5), (0.7, 33.1, 0.1), (1000.1, 60.2, 0.1)]
)
def test_readings_on_the_edges_of_a_run_are_in_it(
    tmp_path: Path, form: str, start_s: float, duration_s: float, step_s: float
) -> None:
    """Whatever the times are rounded to in the machine."""
    count = round(duration_s / step_s) + 1
    rows = ["Time,Draw,Core"]
    for k in range(-20, count + 20):
        inside = 0 <= k < count
        edge = k in (0, count - 1)
        rows.append(f"{FORMS[form](start_s + k * step_s)},{50 if edge else 100 if inside else 20},45")
    found = reduced(tmp_path / "x.csv", rows, runs=((start_s, duration_s),), time_format=form)
    window = found.runs[0].windows["board_power_w"]
    assert (window.readings, window.start_s, window.end_s) == (count, 0, duration_s)
    assert window.mean == pytest.approx(100 - 50 * step_s / duration_s, rel=1e-6)


def test_a_gap_is_one_beside_the_readings_of_its_run(tmp_path: Path) -> None:
    """Not beside a logger that is slow between runs."""
    rows, at = ["Time,Draw,Core"], 0
    for count, step_s, watts in ((1500, 20, 100), (300, 1, 100), (1, 48, 100), (1652, 1, 200), (1500, 20, 100)):
        for _ in range(count):
            rows.append(f"{BASE.timestamp() + at:.0f},{watts},45")
            at += step_s
    found = reduced(tmp_path / "x.csv", rows, runs=((30_000, 2_000),))
    assert told(found)[0] == {"log-mended"}
    assert "1 gaps inside a run were bridged by a straight line" in found.problems[0].message


@pytest.mark.parametrize("size", [1 << 20, 2_000, 500])
@pytest.mark.parametrize("back_s", [3, 7, 20, 80])
def test_a_clock_that_is_set_back_is_told_wherever_the_log_is_taken_apart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: int, back_s: int
) -> None:
    small_blocks(monkeypatch, size)
    for set_at in range(195, 215):
        rows = ["Time,Draw,Core"]
        rows += [f"{BASE.timestamp() + s:.0f},100,45" for s in range(set_at)]
        rows += [f"{BASE.timestamp() + s:.0f},150,45" for s in range(set_at - back_s, set_at + 200)]
        found = reduced(tmp_path / "x.csv", rows, runs=((100, 200),))
        assert told(found)[0] == {"log-mended" if back_s <= 5 else "clock-step"}


@pytest.mark.parametrize(
    ("time", "settings", "rule"),
    [
        ("12.09.2026 12:00:61", {"time_pattern": "%d.%m.%Y %H:%M:%S"}, "bad-time"),
        ("12.09.2026 12:00:60", {"time_pattern": "%d.%m.%Y %H:%M:%S"}, "bad-time"),
        ("2026-09-12T12:00:2", {"time_pattern": ""}, "bad-time"),
        ("2026-09-12T12", {"time_pattern": ""}, "bad-time"),
        ("2026-09-12", {"time_pattern": ""}, "bad-time"),
    ],
)
def test_a_time_that_is_none_is_told(tmp_path: Path, time: str, settings: dict[str, str], rule: str) -> None:
    def form(s: int) -> str:
        moment = BASE + timedelta(seconds=s)
        return moment.strftime(settings["time_pattern"] or "%Y-%m-%dT%H:%M:%S")

    rows = lines("Time,Draw,Core", lambda s: ",114,45", form)
    whole = {**settings, "time_format": "local", "time_zone": "+00:00"}
    sound = reduced(tmp_path / "x.csv", rows, **whole)
    assert told(sound) == NOTHING and means(sound) == [(114, 45)]
    rows.insert(40, f"{time},500,45")
    assert told(reduced(tmp_path / "x.csv", rows, **whole)) == ({rule}, set())


@pytest.mark.parametrize(
    ("zone", "at"),
    [
        ("Australia/Lord_Howe", datetime(2026, 4, 4, 14, tzinfo=UTC)),  # half an hour is put back
        ("Europe/Berlin", datetime(2026, 10, 25, 0, tzinfo=UTC)),
    ],
)
def test_the_time_that_happens_twice_is_told_apart_however_long_it_is(tmp_path: Path, zone: str, at: datetime) -> None:
    local = [(at + timedelta(seconds=s)).astimezone(ZoneInfo(zone)) for s in range(7200)]
    assert local[0].utcoffset() != local[-1].utcoffset()
    rows = ["Time,Draw,Core", *(f"{moment:%Y-%m-%d %H:%M:%S},{s % 100},45" for s, moment in enumerate(local))]
    found = reduced(
        tmp_path / "x.csv", rows, runs=((1900, 40), (3700, 40), (5500, 40)), base=at, time_format="local",
        time_zone=zone,
    )  # fmt: skip
    assert told(found)[0] == set()
    assert means(found) == [(20, 45)] * 3


def test_offsets_of_hours_alone_may_change(tmp_path: Path) -> None:
    start = datetime(2026, 10, 25, 0, 59, 30, tzinfo=UTC)
    moments = [(start + timedelta(seconds=s)).astimezone(ZoneInfo("Europe/Berlin")) for s in SECONDS]
    rows = ["Time,Draw,Core", *(f"{m:%Y-%m-%dT%H:%M:%S}{m:%z},114,45".replace("00,114", ",114") for m in moments)]
    assert rows[1].split(",")[0].endswith("+02") and rows[-1].split(",")[0].endswith("+01")
    found = reduced(tmp_path / "x.csv", rows, base=start, time_format="iso8601")
    assert told(found) == NOTHING and means(found) == [(114, 45)]


@pytest.mark.parametrize("seed", range(60))
def test_rows_are_told_apart_as_the_reader_of_tables_does(seed: int) -> None:
    """Its rows and ours are the same ones: a cell of each says how many there are."""
    draw = random.Random(seed)
    separator = draw.choice([",", ";", "\t", "|"])
    ends = draw.choice([["\n"], ["\r\n"], ["\r"], ["\n", "\r\n", "\r"]])
    rows = []
    for _ in range(draw.randint(1, 3000)):
        cells = draw.randint(1, 6)
        plain = [draw.choice(["1", "22", "a b", " x", "é", 'a"b', "-"]) for _ in range(cells - 1)]
        quoted = ['"a' + separator + '""b\n\rc"' if seed % 2 and draw.random() < 0.05 else cell for cell in plain]
        rows.append(separator.join([str(cells), *quoted]) + draw.choice(ends))
    text = "".join(rows)
    counted = CountedRows(io.StringIO(text, newline=""), separator, 6)
    frame = pd.read_csv(
        counted, sep=separator, header=None, names=range(7), usecols=[0], index_col=False, skip_blank_lines=False,
        skipinitialspace=True, engine="c", dtype=str, keep_default_na=False,
    )  # fmt: skip
    assert len(frame) == len(rows) + 1
    assert counted.widths(len(frame)).tolist()[1:] == frame[0].iloc[1:].astype(int).tolist()
