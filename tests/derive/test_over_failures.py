"""Ladders, soaks and counts: exact limits of tables and a ladder as testers climb it."""

import pytest

from benchgalley.derive import evaluate
from benchgalley.derive.over_failures import FAILURE_LINES

from .factory import Bencher, at, sequence, setpoint, site, write_up

STOCK = setpoint("stock")
LADDER = sequence("ladder", "ladder", "voltage_offset_mv")
SOAK = sequence("soak", "soak", setpoint="tuned")


def ladder(steps=((-50.0, 3, 0), (-110.0, 3, 0), (-150.0, 2, 1)), tuned=-130.0, runs_at_stock=3, **more):
    """(offset, runs, failed) a rung."""
    bencher = Bencher()
    for _ in range(runs_at_stock):
        bencher.run(score=100.0)
    for offset, count, failed in steps:
        for i in range(count):
            outcome = "crashed" if i < failed else "completed"
            bencher.run(set={"voltage_offset_mv": offset}, outcome=outcome, sequence="ladder", score=100.0)
    points = [STOCK]
    if tuned is not None:
        points.append(setpoint("tuned", power_limit_pct=84.0, voltage_offset_mv=tuned))
    return write_up(bencher.trials, setpoints=points, sequences=(LADDER,), **more)


def soak(runs, failed, minutes):
    bencher = Bencher()
    bencher.run(score=100.0)
    for i in range(runs):
        bencher.run(
            set={"power_limit_pct": 84.0}, sequence="soak", duration_s=60 * minutes, score=100.0,
            outcome="artefacts" if i < failed else "completed",
        )  # fmt: skip
    return write_up(bencher.trials, sequences=(SOAK,))


def find(made, address):
    found = evaluate(site(made)).find(at(address))
    assert found is not None, address
    return found


def test_a_ladder_as_testers_climb_it():
    """-50 and -110 mV completed, -150 mV failed, backed off to -130 mV (common practice, no published source)."""
    made = ladder()
    assert find(made, "ladder/deepest-completed").printed.text == "\u2212110\u00a0mV"
    assert find(made, "ladder/first-failed").printed.text == "\u2212150\u00a0mV"
    assert find(made, "ladder/headroom").printed.text == "20\u00a0mV"
    assert find(made, "ladder/completed-runs").value == 7  # marked runs only: stock ran before, unmarked
    assert find(made, "ladder/failed-runs").value == 1
    # 3 of 3 completed bound the share of failures at 1 - 0.05^(1/3) = 63 % (Hanley and Lippman-Hand 1983)
    assert "3 of 3 runs completed there" in find(made, "ladder/deepest-completed").reason
    assert "63\u00a0%" in find(made, "ladder/deepest-completed").reason


def test_a_failure_nearer_to_stock_ends_the_bracket():
    made = ladder(steps=((-50.0, 3, 1), (-110.0, 3, 0)), tuned=-40.0)
    assert find(made, "ladder/first-failed").value == -50.0
    deepest = find(made, "ladder/deepest-completed")
    assert deepest.value is None and "nearest to stock" in deepest.reason
    assert find(made, "ladder/headroom").value == 10.0


def test_a_ladder_that_fails_at_once():
    made = ladder(steps=((-50.0, 3, 1),), runs_at_stock=0)
    assert find(made, "ladder/deepest-completed").value is None


def test_a_ladder_without_a_failure_has_no_headroom():
    made = ladder(steps=((-50.0, 3, 0), (-110.0, 3, 0)))
    found = find(made, "ladder/first-failed")
    assert found.value is None
    assert found.reason == "no run of ladder failed; the furthest setting run was \u2212110\u00a0mV"
    assert find(made, "ladder/headroom").value is None


def test_a_setpoint_beyond_the_failure_has_negative_headroom():
    assert find(ladder(tuned=-170.0), "ladder/headroom").value == -20.0
    assert find(ladder(tuned=None), "ladder/headroom").value is None


def test_an_upward_ladder_counts_upwards():
    bencher = Bencher()
    for offset, failed in ((0.0, False), (100.0, False), (150.0, False), (200.0, True)):
        for _ in range(2):
            bencher.run(set={"core_offset_mhz": offset}, outcome="hung" if failed else "completed", score=1.0)
    made = write_up(
        bencher.trials, setpoints=(STOCK, setpoint("quick", core_offset_mhz=100.0)),
        sequences=(sequence("up", "ladder", "core_offset_mhz"),),
    )  # fmt: skip
    assert find(made, "up/deepest-completed").printed.text == "150\u00a0MHz"
    assert find(made, "up/first-failed").value == 200.0
    assert find(made, "up/headroom").value == 100.0


@pytest.mark.parametrize(("runs", "bound"), [(5, 45.1), (10, 25.9), (60, 4.9)])
def test_n_of_n_completed(runs, bound):
    """Upper 95 % limit 1 - 0.05^(1/n): 45.1, 25.9 and 4.9 % (open-standards R63; Clopper and Pearson 1934)."""
    found = find(soak(runs, 0, 1.0), "soak/failure-share/at-most")
    assert found.value == pytest.approx(bound, abs=0.05)
    assert found.interval.low is None


def test_exact_two_sided_share():
    """0 of 10: Clopper-Pearson 95 % interval 0 to 30.85 % (tables of the exact binomial)."""
    found = find(soak(10, 0, 1.0), "soak/failure-share")
    assert (found.value, found.interval.low) == (0.0, 0.0)
    assert found.interval.high == pytest.approx(30.85, abs=0.005)


def test_failure_rate_of_a_soak():
    """No failure in 5 h: at most 2.996/5 per hour with 95 % (Garwood 1936: -ln 0.05 = 2.996)."""
    made = soak(30, 0, 10.0)
    hours = find(made, "soak/hours")
    assert hours.value == pytest.approx(5.0)
    assert hours.printed.text == "5.00\u00a0h"
    assert find(made, "soak/failures").value == 0
    assert find(made, "soak/failure-rate").value == 0.0
    assert find(made, "soak/failure-rate/at-most").value == pytest.approx(2.9957 / 5, abs=1e-4)
    assert find(made, "soak/failure-rate/at-most").higher_is_better is False


def test_failure_rate_with_failures():
    """2 failures in 10 h: Garwood two-sided 95 % limits of a count of 2 are 0.2422 and 7.2247."""
    found = find(soak(60, 2, 10.0), "soak/failure-rate")
    assert found.value == pytest.approx(0.2)
    assert found.interval.low == pytest.approx(0.02422, abs=1e-5)
    assert found.interval.high == pytest.approx(0.72247, abs=1e-5)


def test_a_soak_without_times_uses_the_loads_length_and_says_so():
    bencher = Bencher()
    for outcome in ("completed", "completed", "crashed"):
        bencher.run(set={"power_limit_pct": 84.0}, sequence="soak", score=1.0, outcome=outcome)
    found = find(write_up(bencher.trials, sequences=(SOAK,)), "soak/hours")
    assert found.value == pytest.approx(120 / 3600)
    assert "2 runs without a recorded time" in found.reason and "1 runs" in found.reason


def test_a_soak_nobody_ran():
    made = write_up([], sequences=(SOAK,))
    for quantity in ("hours", "failure-rate", "failure-rate/at-most", "failure-share"):
        found = find(made, f"soak/{quantity}")
        assert found.value is None and found.reason, quantity


def test_excluded_runs_are_no_failures():
    bencher = Bencher()
    bencher.run(set={"voltage_offset_mv": -50.0}, score=1.0)
    bencher.run(set={"voltage_offset_mv": -50.0}, outcome="aborted", excluded="fuse of the house blew")
    made = write_up(bencher.trials, setpoints=(STOCK,), sequences=(LADDER,))
    assert find(made, "ladder/failed-runs").value == 0
    assert find(made, "ladder/runs").value == 1


def test_counts_at_a_setpoint():
    bencher = Bencher()
    for outcome in ("completed", "completed", "hung"):
        bencher.run(set={"power_limit_pct": 84.0}, score=1.0, outcome=outcome)
    made = write_up(bencher.trials)
    assert find(made, "tuned/runs").value == 3
    assert find(made, "tuned/completed-runs").value == 2
    assert find(made, "tuned/failed-runs").printed.text == "1\u00a0run"
    assert find(made, "tuned/failure-share").value == pytest.approx(100 / 3)
    assert find(made, "stock/failure-share").value is None


def test_kinds_do_not_mix():
    made = ladder()
    results = evaluate(site(made))
    assert results.find(at("ladder/hours")) is None
    assert results.find(at("ladder/matching-power-limit")) is None
    assert evaluate(site(soak(3, 0, 1.0))).find(at("soak/first-failed")) is None


def test_lines_in_table_order():
    assert [(line.quantity.key, line.relation) for line in FAILURE_LINES] == [
        ("runs", ""), ("completed-runs", ""), ("failed-runs", ""), ("failure-share", ""), ("failure-share", "at-most"),
        ("deepest-completed", ""), ("first-failed", ""), ("headroom", ""), ("hours", ""), ("failures", ""),
        ("failure-rate", ""), ("failure-rate", "at-most"),
    ]  # fmt: skip
