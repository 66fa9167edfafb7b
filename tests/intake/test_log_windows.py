# ruff: noqa: E501 - the messages are compared whole
"""The stretch of a run that its figures describe: its edges, its gaps, and what stands before and after it."""

import math
from datetime import timedelta

import pytest

from tests.intake.log_site import LOCAL, RUNS, START, LogForm, expected_mean, readings, result, write
from tests.intake.tree import PEBBLE, PEBBLE_LOG, PEBBLE_TRIALS, Tree, told


@pytest.mark.parametrize("spoilt", [False, True])
def test_a_window_is_never_interpolated_towards_a_reading_outside_the_run(tree: Tree, spoilt: bool) -> None:
    """A run of 39.5 s, read each second: the last readings inside are those at 0 s and 39 s, idle before and after.

    Expected values are the trapezoid rule (Chapra and Canale, 21.3) worked out from the readings inside. `spoilt`: a
    header line in the middle leaves the log to the slower rules.
    """
    form = LogForm(window="{rule: fixed}")
    good = form.lines(readings())
    write(tree, form, [*good[:50], good[0], *good[50:]] if spoilt else good)
    tree.write(PEBBLE_TRIALS, tree.text(PEBBLE_TRIALS).replace(",40,2026", ",39.5,2026"))
    trials, problems = result(tree)
    assert [p.rule for p in problems] == ["log-mended"] * spoilt
    for trial, (start, _) in zip(trials, RUNS, strict=True):
        window = trial.windows["board_power_w"]
        inside = [power_w for second, power_w, _ in readings() if start <= second <= start + 39]
        assert (window.start_s, window.end_s, window.readings) == (0.0, 39.0, 40)
        assert window.coverage_pct == pytest.approx(100 * 39 / 39.5)
        assert (window.minimum, window.maximum) == pytest.approx((min(inside), max(inside)), rel=1e-12)
        assert window.mean == pytest.approx(expected_mean(start, 1, 0, 1), rel=1e-12)
        assert trial.measured["board_power_w"] == window.mean


def test_an_edge_between_two_readings_of_the_run_is_interpolated(tree: Tree) -> None:
    write(tree, LogForm(window="{rule: fixed, skip_start_s: 10.5, skip_end_s: 2}"))
    trials, problems = result(tree)
    assert told(problems) == []
    at = RUNS[0][0]
    value = {second - at: power_w for second, power_w, _ in readings()}
    half = 0.5 * ((value[10] + value[11]) / 2 + value[11]) / 2
    rest = math.fsum((value[s] + value[s + 1]) / 2 for s in range(11, 38))
    window = trials[0].windows["board_power_w"]
    assert (window.start_s, window.end_s, window.readings) == (10.5, 38.0, 28)
    assert window.integral == pytest.approx(half + rest, rel=1e-12)


def test_a_logger_that_pauses_between_runs_is_no_gap_in_them(tree: Tree) -> None:
    form = LogForm(window="{rule: fixed}")
    good = form.lines(readings())
    write(tree, form, [line for line in good if line == good[0] or _in_a_run(float(line.split(",")[0]))])
    tree.write(PEBBLE_TRIALS, tree.text(PEBBLE_TRIALS).replace(",40,2026", ",39.5,2026"))
    trials, problems = result(tree)
    assert told(problems) == []
    assert [t.measured["board_power_w"] for t in trials] == pytest.approx(
        [expected_mean(start, 1, 0, 1) for start, _ in RUNS], rel=1e-12
    )


def _in_a_run(time_s: float) -> bool:
    return any(start <= time_s - START.timestamp() < start + 40 for start, _ in RUNS)


def test_a_gap_inside_a_run_that_is_bridged_is_told(tree: Tree) -> None:
    """Ten readings a second; one of a second and a half is missing where 5 % of the window are two."""
    form = LogForm(time_rule="{header: Time, format: unix_s}", time=lambda s: f"{START.timestamp() + s:.1f}")
    rows = [(second + tenth / 10, power_w, core_c) for second, power_w, core_c in readings() for tenth in range(10)]
    rows = [row for row in rows if not 20 <= row[0] < 21 and not 50 <= row[0] < 56]
    form.window = "{rule: fixed}"
    trials, problems = result(write(tree, form, form.lines(rows)))
    assert len(trials) == 4
    assert (
        f"{PEBBLE_LOG}:1:1: log-mended: rules for faulty logs were applied: 1 gaps inside a run were bridged by a straight line | Check that nothing else is wrong with the log."
        in told(problems)
    )


@pytest.mark.parametrize("window", ["{rule: fixed}", "{rule: steady}"])
@pytest.mark.parametrize("reading", ["1e300", "-1e300"])
def test_a_reading_too_large_to_compute_with_is_told_by_either_rule(tree: Tree, window: str, reading: str) -> None:
    good = (form := LogForm(window=window)).lines(readings())
    time = good[30].split(",")[0]
    trials, problems = result(write(tree, form, [*good[:30], f"{time},{reading},45.0,ok", *good[31:]]))
    wanted = f"the log gives a reading of {float(reading) / 1000:g}, too large to compute with | Mend the log."
    assert trials == ()
    assert f"{PEBBLE_TRIALS}:2:51: out-of-range: `board_power_w`: {wanted}" in told(problems)


def test_a_reading_that_its_unit_makes_infinite_is_told_outside_the_window_too(tree: Tree) -> None:
    form = LogForm(window="{rule: fixed, skip_start_s: 10}")
    good = form.lines(readings())
    good[0] = good[0].replace("mW", "kW")
    rows = [*good[:11], f"{good[11].split(',')[0]},1e308,45.0,ok", *good[12:]]
    write(tree, form, rows)
    tree.edit(PEBBLE, "Draw [mW]', unit: mW", "Draw [kW]', unit: kW")
    trials, problems = result(tree)
    assert trials == ()
    assert any("out-of-range: `board_power_w`: the log gives a reading of inf" in line for line in told(problems))


def test_times_with_an_offset_are_the_same_bits_in_bulk_and_one_by_one(tree: Tree) -> None:
    """A quoted cell leaves its block to the slower rules; a time of 60.0 s must not become 59.99999999999968 there."""
    form = LogForm(
        time_rule="{header: Time, format: iso8601}",
        time=lambda s: (START + timedelta(seconds=s + 0.177)).astimezone(LOCAL).isoformat(timespec="milliseconds"),
        window="{rule: steady}",
    )
    lines = form.lines(readings())
    bulk = result(write(tree, form, lines))
    slow = result(write(tree, form, [lines[0], lines[1].replace(",ok", ',"ok"'), *lines[2:]]))
    assert bulk == slow and len(bulk[0]) == 4
