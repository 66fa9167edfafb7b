# ruff: noqa: E501 - the messages are compared whole
"""Logged figures: every form of log gives the same numbers; faults are mended by a stated rule or told."""

import csv
import json
import math
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from benchgalley.records.findings import Severity
from tests.intake.log_site import LOCAL, RUNS, START, LogForm, expected_mean, readings, result, write
from tests.intake.tree import PEBBLE, PEBBLE_LOG, PEBBLE_TRIALS, Tree, told

REFERENCE = Path(__file__).parents[1] / "metrology" / "reference"


def at(second: float) -> datetime:
    return START + timedelta(seconds=second)


FORMS = {
    "unix seconds": LogForm(),
    "unix milliseconds": LogForm(time_rule="{header: Time, format: unix_ms}", time=lambda s: f"{(START.timestamp() + s) * 1000:.0f}"),
    "ISO in UTC": LogForm(time_rule="{header: Time, format: iso8601}", time=lambda s: at(s).strftime("%Y-%m-%dT%H:%M:%SZ")),
    "ISO with offset": LogForm(time_rule="{header: Time, format: iso8601}", time=lambda s: at(s).astimezone(LOCAL).isoformat()),
    "ISO without offset": LogForm(time_rule="{header: Time, format: iso8601}", time=lambda s: at(s).strftime("%Y-%m-%d %H:%M:%S.000"), zone="Z"),
    "local with offset": LogForm(time_rule="{header: Time, format: local}", time=lambda s: at(s).astimezone(LOCAL).strftime("%Y-%m-%d %H:%M:%S"), zone="+02:00"),
    "local with zone name": LogForm(
        time_rule="{header: Time, format: local}", zone="Europe/Berlin",
        time=lambda s: at(s).astimezone(ZoneInfo("Europe/Berlin")).strftime("%Y-%m-%d %H:%M:%S"),
    ),
    "day first, decimal comma": LogForm(
        time_rule='{header: Time, format: local, pattern: "%d.%m.%Y %H:%M:%S"}', zone="+02:00", separator=";", decimal=",",
        time=lambda s: at(s).astimezone(LOCAL).strftime("%d.%m.%Y %H:%M:%S"),
    ),
    "date and time apart": LogForm(
        time_rule='{header: [Date, Clock], format: local, pattern: "%d/%m/%Y %H:%M:%S"}', zone="+02:00", time_heads=("Date", "Clock"),
        time=lambda s: at(s).astimezone(LOCAL).strftime("%d/%m/%Y")
        + "\0"
        + at(s).astimezone(LOCAL).strftime("%H:%M:%S"),
    ),
    "elapsed": LogForm(time_rule=f"{{header: Time, format: elapsed_s, starts: {START.isoformat()}}}", time=lambda s: f"{s:g}"),
    "tabs": LogForm(separator="\t"),
    "UTF-16": LogForm(encoding="utf-16"),
    "UTF-8 with mark": LogForm(encoding="utf-8-sig"),
    "Latin-1": LogForm(encoding="latin-1", head=("Draw [mW]", "Core", "Note °")),
    "thousands point": LogForm(separator=";", decimal=",", thousands="."),
    "thousands blank": LogForm(separator=";", decimal=",", thousands=" "),
}  # fmt: skip


@pytest.mark.parametrize("name", FORMS)
def test_every_form_of_log_gives_the_same_numbers(tree: Tree, name: str) -> None:
    trials, problems = result(write(tree, FORMS[name]))
    assert told(problems) == [], name
    for trial, (start, _) in zip(trials, RUNS, strict=True):
        assert trial.measured["board_power_w"] == pytest.approx(expected_mean(start, 1), rel=1e-12)
        assert trial.measured["core_temp_c"] == pytest.approx(expected_mean(start, 2), rel=1e-12)
        assert "board_power_w" not in trial.decimals
        window = trial.windows["board_power_w"]
        assert (window.start_s, window.end_s, window.readings, window.log) == (10.0, 38.0, 29, "logs/evening.csv")
        assert window.integral == pytest.approx(28 * expected_mean(start, 1), rel=1e-12)
        assert window.coverage_pct == 70.0 and window.largest_gap_s == 1.0
        assert len(window.trace) == 41 and window.trace[0][0] == 0.0


def test_uneven_sampling_as_published(tree: Tree) -> None:
    """Chapra and Canale, Numerical Methods for Engineers, example 21.7: the plain mean of the samples would be wrong."""
    case = next(
        c
        for c in json.loads((REFERENCE / "numerics.json").read_text())["cases"]
        if c["id"] == "chapra_unequal_trapezoid"
    )
    rows = list(csv.reader((REFERENCE / "numerics_uneven.csv").read_text().splitlines()))[1:]
    tree.edit(PEBBLE, "format: local", "format: elapsed_s").edit(PEBBLE, "header: Time stamp", "header: x")
    tree.edit(PEBBLE, 'header: "Board draw [kW]", unit: kW', "header: f").edit(
        PEBBLE, '    core_temp_c: "Core [°C]"\n', ""
    )
    tree.edit(PEBBLE, "skip_start_s: 10, skip_end_s: 1", "skip_start_s: 0").edit(PEBBLE, '  decimal: ","\n', "")
    tree.write(PEBBLE_LOG, "x;f\n" + "".join(f"{x};{f}\n" for x, f in rows))
    tree.write(PEBBLE_TRIALS, "trial,power_limit_pct,outcome,score,duration_s,started,log\n"
               "p1,100,completed,1,0.8,2026-09-12T12:00:00Z,logs/evening.csv\np2,75,completed,1,,,\n")  # fmt: skip
    trials, problems = result(tree)
    assert [p.rule for p in problems] == ["window-holds-idle"]  # the made-up function starts low
    window = trials[0].windows["board_power_w"]
    assert window.integral == pytest.approx(case["published"]["trapezoid"], abs=case["atol"])
    assert window.mean == pytest.approx(case["recomputed"]["time_weighted_mean"], rel=1e-12)


def test_the_steady_window_begins_where_the_published_rule_cuts(tree: Tree) -> None:
    """MSER-5 (White, Simulation 69 (1997) 323): the made-up warm-up of steady_state.json, one reading a second."""
    case = next(
        c for c in json.loads((REFERENCE / "steady_state.json").read_text())["cases"] if c["id"] == "mser5_warmup"
    )
    values = [
        float(row[-1]) for row in list(csv.reader((REFERENCE / "steady_state_warmup.csv").read_text().splitlines()))[1:]
    ]
    form = LogForm(window="{rule: steady}")
    # One reading before and one after, so that the run itself holds exactly the published series.
    rows = [
        (-1.0, values[0], 40.0),
        *((float(i), v, 40.0 + 0.1 * (i % 2)) for i, v in enumerate(values)),
        (float(len(values)), values[-1], 40.0),
    ]
    write(tree, form, form.lines(rows))
    tree.write(PEBBLE_TRIALS, "trial,power_limit_pct,outcome,score,duration_s,started,log\n"
               f"p1,100,completed,1,{len(values) - 1},{START.isoformat()},logs/evening.csv\np2,75,completed,1,,,\n")  # fmt: skip
    trials, problems = result(tree)
    assert told(problems) == []
    window = trials[0].windows["board_power_w"]
    assert window.start_s == case["recomputed"]["d_samples"] and window.end_s == len(values) - 1
    assert window.mean == pytest.approx(case["recomputed"]["mean_after"], abs=0.02)
    assert window.mean == pytest.approx(
        math.fsum((a + b) / 2 for a, b in pairwise(values[50:])) / (len(values) - 51), abs=5e-4
    )


def mended(tree: Tree) -> str:
    """What the one warning says was mended; no error beside it."""
    trials, problems = result(tree)
    (warning,) = problems
    assert warning.severity is Severity.WARNING and warning.rule == "log-mended" and warning.where.file == PEBBLE_LOG
    assert [t.measured["board_power_w"] for t in trials] == pytest.approx(
        [expected_mean(a, 1) for a, _ in RUNS], rel=2e-3
    )
    return warning.message.removeprefix("rules for faulty logs were applied: ")


def test_stated_rules_for_faulty_logs(tree: Tree) -> None:
    form = LogForm()
    good = form.lines(readings())
    assert mended(write(tree, form, [*good[:30], good[0], *good[30:]])) == "1 repeated header lines were left out"
    assert mended(write(tree, form, [*good[:30], "", ",,,", *good[30:]])) == "2 blank lines were left out"
    assert mended(
        write(tree, form, [*good[:30], good[30].replace("114", "x", 1).split(",")[0] + ",N/A,,ok", *good[31:]])
    ) == ("2 empty or not-available cells count as missing readings")
    assert mended(write(tree, form, good, end="")) == "1 last line without a line end was left out"
    assert (
        mended(write(tree, form, [*good[:30], good[31], good[30], *good[32:]]))
        == "1 readings out of order were put in order"
    )
    assert (
        mended(write(tree, form, [*good[:31], *good[30:]]))
        == "1 readings repeat the time of the one before; readings of one instant were averaged"
    )
    assert (
        mended(write(tree, form, [*good[:30], good[30][:15], *good[31:]]))
        == "1 rows that break off before the last column were left out"
    )


def test_lines_before_the_header_do_no_harm(tree: Tree) -> None:
    form = LogForm()
    trials, problems = result(write(tree, form, ["Logger 3", "", "unit 4", *form.lines(readings())]))
    assert problems == () and trials[0].measured["board_power_w"] == pytest.approx(expected_mean(8, 1))


@pytest.mark.parametrize(
    ("spoil", "expected"),
    [
        (lambda g: [g[0].replace("Draw [mW]", "Draw [W]"), *g[1:]],
         f"{PEBBLE_LOG}:1:1: missing-column: no column of the log is headed `Draw [mW]` | Did you mean `Draw [W]`?"),
        (lambda g: [g[0].replace("Note", "Core"), *g[1:]],
         f"{PEBBLE_LOG}:1:1: duplicate-column: two columns of the log are headed `Core` | Rename one of them."),
        (lambda g: [*g[:30], g[30].replace(",ok", ",1,ok"), *g[31:]],
         f"{PEBBLE_LOG}:31:1: ragged-row: 1 rows have more cells than the header, the first here | Check `separator` and `decimal`; a decimal comma needs another separator."),
        (lambda g: [*g[:30], "1789214429,ERR,45.0,ok", *g[31:]],
         f"{PEBBLE_LOG}:31:1: bad-number: `Draw [mW]` is `ERR`, which is no number with `.` for decimals | Check `decimal` and `thousands` under `logs`, or the line itself."),
        (lambda g: [*g[:30], "1789214429,114 000,45.0,ok", *g[31:]],
         f"{PEBBLE_LOG}:31:1: bad-number: `Draw [mW]` is `114 000`, which is no number with `.` for decimals | Check `decimal` and `thousands` under `logs`, or the line itself."),
        (lambda g: [*g[:30], "1789214429,inf,45.0,ok", *g[31:]],
         f"{PEBBLE_LOG}:31:1: bad-number: `Draw [mW]` is `inf`, which is no number with `.` for decimals | Check `decimal` and `thousands` under `logs`, or the line itself."),
        (lambda g: [*g[:30], "1789214429000,114000,45.0,ok", *g[31:]],
         f"{PEBBLE_LOG}:31:1: bad-time: the time 1789214429000 is no date of our age as unix_s | Check `logs.time.format`: unix_s, unix_ms or elapsed_s."),
        (lambda g: [*g[:30], ",114000,45.0,ok", *g[31:]],
         f"{PEBBLE_LOG}:31:1: bad-time: 1 readings have no time, the first here | Remove or mend them."),
        (lambda g: [*g[:20], *g[40:]],
         f"{PEBBLE_TRIALS}:2:51: log-gap: `board_power_w`: the log has a gap of 21.0 s from 10.0 s of the run on; readings usually come every 1 s | Leave the run out with a reason, or choose a window without the gap."),
        (lambda g: g[:180],
         f"{PEBBLE_TRIALS}:5:51: log-does-not-cover-run: `board_power_w`: the log has readings from 0.0 s to 20.0 s of the run; 10.0 s to 38.0 s are needed | Check `started`, `duration_s`, `logs.time` and `logs.time_zone`."),
        (lambda g: g[:100],
         f"{PEBBLE_TRIALS}:4:50: log-does-not-cover-run: `board_power_w`: the log has 0 readings in the run; at least 3 are needed | Check `started`, `duration_s`, `logs.time` and `logs.time_zone`."),
        (lambda g: [*g[:30], *(f"{int(line.split(',')[0]) - 25},{line.split(',', 1)[1]}" for line in g[30:])],
         f"{PEBBLE_LOG}:31:1: clock-step: the clock goes back by 24 s here, and a run lies in that time | Say in which time the run was made: correct the log's times, or leave the run out with a reason."),
        (lambda g: [*g[:30], "1789214429,-5,45.0,ok", *g[31:]],
         f"{PEBBLE_TRIALS}:2:51: out-of-range: `board_power_w`: the log gives -0.005 W; at least 0 was expected | Mend the log."),
        (lambda g: [*g[:30], "1789214429,1e154,45.0,ok", *g[31:]],
         f"{PEBBLE_TRIALS}:2:51: out-of-range: `board_power_w`: the log gives a reading of 1e+151, too large to compute with | Mend the log."),
        (lambda g: g[:1],
         f"{PEBBLE_TRIALS}:2:51: log-does-not-cover-run: `board_power_w`: the log has 0 readings in the run; at least 3 are needed | Check `started`, `duration_s`, `logs.time` and `logs.time_zone`."),
    ],
)  # fmt: skip
def test_faults_that_are_told(tree: Tree, spoil, expected: str) -> None:  # type: ignore[no-untyped-def]
    form = LogForm()
    trials, problems = result(write(tree, form, spoil(form.lines(readings()))))
    errors = [p for p in problems if p.severity is Severity.ERROR]
    assert trials == () and expected in told(errors)


def test_wrong_rules_for_a_good_log_are_told(tree: Tree) -> None:
    form = LogForm(separator=";", decimal=",")
    good = form.lines(readings())
    write(tree, LogForm(separator=";", decimal="."), good)
    assert told(result(tree)[1])[0].startswith(f"{PEBBLE_LOG}:2:1: bad-number: `Core` is `45,0`")
    write(tree, LogForm(encoding="utf-8"), [line.replace("Note", "Größe") for line in LogForm().lines(readings())])
    tree.write(PEBBLE_LOG, (tree.root / PEBBLE_LOG).read_bytes().decode().encode("latin-1"))
    assert told(result(tree)[1]) == [
        f"{PEBBLE_LOG}:1:1: bad-encoding: the log is not utf-8 | Say its `encoding`: utf-8, utf-16 or latin-1."
    ]
    tree.write(PEBBLE_LOG, "\n".join(good).encode("utf-16"))
    assert told(result(tree)[1]) == [
        f"{PEBBLE_LOG}:1:1: bad-encoding: the log is UTF-16, not utf-8 | Say `encoding: utf-16`."
    ]
    tree.write(PEBBLE_LOG, b"")
    assert told(result(tree)[1]) == [f"{PEBBLE_LOG}:1:1: empty-file: the log is empty | Export it again."]


def test_a_wrong_time_zone_shows_as_a_log_that_does_not_cover_the_runs(tree: Tree) -> None:
    form = LogForm(time_rule="{header: Time, format: local}", zone="+03:00", time=FORMS["local with offset"].time)
    assert {p.rule for p in result(write(tree, form))[1]} == {"log-does-not-cover-run"}


def test_a_run_started_too_early_shows_as_idle_time_in_the_window(tree: Tree) -> None:
    write(tree, LogForm())
    tree.edit(PEBBLE_TRIALS, "2026-09-12T14:00:08+02:00", "2026-09-12T13:59:50+02:00")
    rules = [(p.rule, p.where.line) for p in result(tree)[1]]
    assert ("log-does-not-cover-run", 2) in rules or ("window-holds-idle", 2) in rules


def test_summer_time_ends_during_a_log(tree: Tree) -> None:
    """The hour that happens twice (25 October 2026 in Berlin, 01:00 UTC): the second pass is told by the clock going back."""
    zone = ZoneInfo("Europe/Berlin")
    begin = datetime(2026, 10, 25, 0, 58, 0, tzinfo=UTC)
    form = LogForm(
        time_rule="{header: Time, format: local}", zone="Europe/Berlin",
        time=lambda s: (begin + timedelta(seconds=s)).astimezone(zone).strftime("%Y-%m-%d %H:%M:%S"),
    )  # fmt: skip
    write(tree, form)
    tree.write(PEBBLE_TRIALS, "trial,power_limit_pct,outcome,score,duration_s,started,log\n" + "".join(
        f"p{i},{limit},completed,1,40,{(begin + timedelta(seconds=a)).isoformat()},logs/evening.csv\n" for i, (a, limit) in enumerate(RUNS)))  # fmt: skip
    trials, problems = result(tree)
    assert told(problems) == []
    assert [t.measured["board_power_w"] for t in trials] == pytest.approx(
        [expected_mean(a, 1) for a, _ in RUNS], rel=1e-12
    )


def test_an_hour_that_happened_twice_is_told_when_nothing_settles_it(tree: Tree) -> None:
    form = LogForm(time_rule="{header: Time, format: local}", zone="Europe/Berlin", time=lambda s: (datetime(2026, 10, 25, 2, 10) + timedelta(seconds=s)).strftime("%Y-%m-%d %H:%M:%S"))  # fmt: skip
    rules = {p.rule for p in result(write(tree, form))[1]}
    assert "ambiguous-time" in rules


def test_a_local_time_that_did_not_happen_is_told(tree: Tree) -> None:
    form = LogForm(time_rule="{header: Time, format: local}", zone="Europe/Berlin", time=lambda s: (datetime(2026, 3, 29, 2, 10) + timedelta(seconds=s)).strftime("%Y-%m-%d %H:%M:%S"))  # fmt: skip
    assert "bad-time" in {p.rule for p in result(write(tree, form))[1]}


@pytest.mark.parametrize(
    ("typed", "agrees"),
    [("114", True), ("114.0", True), ("113.2", True), ("112", False), ("116", False), ("88.5", False)],
)
def test_typed_and_logged_values_side_by_side(tree: Tree, typed: str, agrees: bool) -> None:
    write(tree, LogForm())
    text = tree.text(PEBBLE_TRIALS).replace("score,", "score,board_power_w,")
    lines = text.splitlines()
    lines[1] = lines[1].replace("completed,501,", f"completed,501,{typed},")
    lines[2:] = [line.replace(f"completed,{500 + i},", f"completed,{500 + i},,") for i, line in enumerate(lines[2:], 2)]
    trials, problems = result(tree.write(PEBBLE_TRIALS, "\n".join(lines) + "\n"))
    if agrees:
        assert problems == () and trials[0].measured["board_power_w"] == pytest.approx(expected_mean(8, 1))
    else:
        shown = f"{float(typed):g}"
        assert told(problems) == [
            f"{PEBBLE_TRIALS}:2:22: typed-and-logged-disagree: `board_power_w` of trial `p1` is typed as {shown}, but logs/evening.csv gives {expected_mean(8, 1):.6g} W | Leave the cell empty, or find out which is right."
        ]


def test_a_log_of_elapsed_times_needs_its_start_when_runs_share_it(tree: Tree) -> None:
    form = LogForm(time_rule="{header: Time, format: elapsed_s}", time=lambda s: f"{s:g}")
    assert told(result(write(tree, form))[1]) == [
        f"{PEBBLE_TRIALS}:2:51: log-start-unknown: several runs share a log of elapsed times, and nothing says when it started | Give `logs.time.starts` in write-up.md, as 2026-03-01T14:05:00+01:00."
    ]


@pytest.mark.parametrize("column", ["started", "duration_s"])
def test_a_run_with_a_log_needs_start_and_length(tree: Tree, column: str) -> None:
    write(tree, LogForm())
    old = "2026-09-12T14:00:08+02:00" if column == "started" else "completed,501,40"
    tree.edit(PEBBLE_TRIALS, old, "" if column == "started" else "completed,501,")
    (line,) = told(result(tree)[1])
    assert (
        f"log-needs-times: the trial `p1` names a log but has no `{column}`: the run cannot be found in it | Add `{column}`."
        in line
    )


def test_failed_and_excluded_runs_need_no_log_figures(tree: Tree) -> None:
    form = LogForm()
    write(tree, form, form.lines(readings())[:150])
    tree.edit(PEBBLE_TRIALS, "p4,100,completed,504", "p4,100,crashed,")
    trials, problems = result(tree)
    assert problems == () and trials[3].windows == {} and "board_power_w" not in trials[3].measured


def test_a_sensor_slower_than_its_log_and_its_step_are_seen(tree: Tree) -> None:
    form = LogForm()
    rows = [(t, float(round(100 + 3 * math.sin(int(t) // 4)) if p > 50 else 18), c) for t, p, c in readings()]
    trials, _ = result(write(tree, form, form.lines(rows)))
    window = trials[0].windows["board_power_w"]
    assert window.repeated_pct > 60 and window.step == 1.0
    assert 1.0 <= window.effective_readings < window.readings / 2


def test_a_run_that_never_settles_is_warned_of(tree: Tree) -> None:
    form = LogForm(window="{rule: steady}")
    rows = [(t, p + (0.5 * (t % 50) if p > 50 else 0), c) for t, p, c in readings()]
    trials, problems = result(write(tree, form, form.lines(rows)))
    assert len(trials) == 4
    assert (
        f"{PEBBLE_TRIALS}:2:1: log-not-settled: `board_power_w` has not settled by the middle of the run; the second half is taken | Run longer, or use a fixed window and say so."
        in told(problems)
    )
