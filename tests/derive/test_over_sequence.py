"""Sweeps and walks: matching limit, matched power, best score per watt, points."""

import math

import pytest

from benchgalley.derive import evaluate
from benchgalley.derive.over_sequence import SWEEP_LINES

from .factory import Bencher, at, bench, instrument, load, sequence, setpoint, site, write_up

POINTS = (setpoint("stock"), setpoint("tuned", power_limit_pct=84.0, voltage_offset_mv=-130.0))
WALK = sequence("walk", "walk", "power_limit_pct", voltage_offset_mv=-130.0)
SWEEP = sequence("sweep", "sweep", "power_limit_pct")


def walked(scores, repeats=(-5.0, 0.0, 5.0), stock=10000.0, margins=None, watts_per_pct=2.3, **more):
    """Stock runs, then a walk of limits at -130 mV with known mean scores."""
    bencher = Bencher()
    for step in (-5.0, 0.0, 5.0):
        bencher.run(score=stock + step, board_power_w=230.0 + step / 50)
    for limit, score in scores.items():
        for step in repeats:
            bencher.run(
                set={"power_limit_pct": limit, "voltage_offset_mv": -130.0}, score=score + step,
                board_power_w=watts_per_pct * limit + step / 50,
            )  # fmt: skip
    return write_up(bencher.trials, setpoints=POINTS, sequences=(WALK,), margins=margins, **more)


def find(made, address):
    found = evaluate(site(made)).find(at(address))
    assert found is not None, address
    return found


STRAIGHT = {60.0: 9400.0, 70.0: 9600.0, 80.0: 9800.0, 90.0: 10000.0, 100.0: 10200.0}


def test_matching_limit_on_a_straight_line():
    """On a straight line the monotone curve is the line, so the match is where the line crosses."""
    found = find(walked(STRAIGHT, stock=9900.0), "walk/matching-power-limit")
    assert found.value == pytest.approx(85.0, abs=1e-6)
    assert found.unit.symbol == "%"
    assert found.interval.low < 85.0 < found.interval.high
    # spread 5 at n = 3 on both sides and on the line through two neighbours, 20 points a percent:
    # u = 5/√3 √(1 + 1/2) / 20, t between 2 and 6 degrees of freedom
    half = (found.interval.high - found.interval.low) / 2
    u = 5 / math.sqrt(3) * math.sqrt(1.5) / 20
    assert 2.0 * u < half < 4.4 * u
    assert "no margin is declared" in found.reason


def test_matching_limit_at_a_point_that_was_run():
    """Found where the score is back: -130 mV at 90 % equals stock."""
    found = find(walked(STRAIGHT), "walk/matching-power-limit")
    assert found.value == pytest.approx(90.0, abs=1e-6)


def test_margin_moves_the_match():
    made = walked(STRAIGHT, margins={"score": (1.0, True)})
    # 1 % of 10 000 is 100 points, five percent of limit on this line
    assert find(made, "walk/matching-power-limit").value == pytest.approx(85.0, abs=1e-6)
    watts = find(made, "walk/matching-power-limit-watts")
    assert watts.value == pytest.approx(85.0 * 2.3, abs=1e-5)
    assert watts.unit.symbol == "W"
    percent = find(made, "walk/matching-power-limit")
    assert watts.interval.low == pytest.approx(percent.interval.low * 2.3)


def test_never_beyond_the_range():
    above = find(walked(STRAIGHT, stock=12000.0), "walk/matching-power-limit")
    assert above.value is None and "no limit that was run reaches the score" in above.reason
    below = find(walked(STRAIGHT, stock=9000.0), "walk/matching-power-limit")
    assert below.value is None and "reaches the score already" in below.reason


def test_one_setting_is_no_sweep():
    found = find(walked({80.0: 9800.0}), "walk/matching-power-limit")
    assert found.value is None and found.reason


def test_single_runs_share_one_spread_and_say_so():
    bencher = Bencher()
    for step in (-5.0, 0.0, 5.0):
        bencher.run(score=9900.0 + step)
    for limit, score in STRAIGHT.items():
        for step in (-5.0, 5.0) if limit < 90 else (0.0,):
            bencher.run(set={"power_limit_pct": limit, "voltage_offset_mv": -130.0}, score=score + step)
    made = write_up(bencher.trials, setpoints=POINTS, sequences=(WALK,))
    found = find(made, "walk/matching-power-limit")
    assert found.value == pytest.approx(85.0, abs=1e-6)
    assert "2 of 5 settings were run once" in found.reason


def test_a_score_that_counts_down_is_matched_from_above():
    falling = {limit: 20000.0 - score for limit, score in STRAIGHT.items()}
    made = walked(falling, stock=10100.0, load_=load(higher_is_better=False, unit="s"))
    assert find(made, "walk/matching-power-limit").value == pytest.approx(85.0, abs=1e-6)
    assert find(made, "walk/best-score-per-watt").value is None


def test_score_at_matched_power_on_a_straight_line():
    """Stock draws 230 W; the walk draws 2.5 W a percent, so matched power lies at 92 %."""
    found = find(walked(STRAIGHT, watts_per_pct=2.5), "walk/score-at-matched-power")
    assert found.value == pytest.approx(9400 + (92 - 60) * 20, abs=1e-6)
    # slope 8 points a watt: power spread 0.1 W enters with 0.8 points, score spread with 5
    names = {c.name: c.standard_uncertainty for c in found.components}
    assert names["repeatability of board power at stock"] == pytest.approx(8 * 0.1 / math.sqrt(3), rel=1e-3)
    assert found.interval.low < found.value < found.interval.high


def test_matched_power_outside_the_range():
    found = find(walked(STRAIGHT, watts_per_pct=1.5), "walk/score-at-matched-power")
    assert found.value is None and "outside the range" in found.reason


def test_best_score_per_watt_and_who_else_may_be_it():
    made = walked({60.0: 8000.0, 70.0: 9600.0, 80.0: 10971.0, 90.0: 11000.0})
    found = find(made, "walk/best-score-per-watt")
    # 9600/161 = 59.627, 10971/184 = 59.625: not to be told apart at spreads of some 0.005
    assert found.value == pytest.approx(9600 / 161, rel=1e-12)
    assert "cannot be told from 80" in found.reason
    setting = find(made, "walk/best-score-per-watt-setting")
    assert setting.value == 70.0
    assert (setting.interval.low, setting.interval.high) == (70.0, 80.0)
    assert setting.printed.text == "70\u00a0%"
    alone = find(walked(STRAIGHT), "walk/best-score-per-watt-setting")
    assert alone.value == 60.0 and alone.interval is None


def test_a_setting_with_a_failed_run_is_not_called_best():
    made = walked(STRAIGHT)
    bencher = Bencher()
    bencher.trials = list(made.trials)
    bencher.run(outcome="hung", set={"power_limit_pct": 60.0, "voltage_offset_mv": -130.0})
    made = write_up(bencher.trials, setpoints=POINTS, sequences=(WALK,))
    found = find(made, "walk/best-score-per-watt-setting")
    assert found.value == 70.0
    assert "left out" in found.reason


def test_baseline_inside_the_sweep_is_the_target_itself():
    bencher = Bencher()
    for limit, score in STRAIGHT.items():
        for step in (-5.0, 0.0, 5.0):
            bencher.run(set={"power_limit_pct": limit}, score=score + step)
    made = write_up(bencher.trials, sequences=(SWEEP,), margins={"score": (200.0, False)})
    found = find(made, "sweep/matching-power-limit")
    assert found.value == pytest.approx(90.0, abs=1e-6)


def test_points_of_a_sweep():
    meter = bench(instrument("board_power_w", gain_error_pct=2.0))
    made = walked(STRAIGHT, bench_=meter)
    found = find(made, "walk/score-at-80")
    assert found.value == pytest.approx(9800.0)
    assert found.runs == (3,)
    assert found.interval.high - found.value == pytest.approx(4.302653 * 5 / math.sqrt(3), rel=1e-6)
    power = find(made, "walk/board-power-at-80")
    assert any(c.name.startswith("gain of meter") for c in power.components)
    results = evaluate(site(made))
    assert results.find(at("walk/score-at-85")) is None
    assert results.find(at("walk/nonsense-at-80")) is None
    listed = [a.quantity for a in results.addresses("quiet") if a.subject == "walk" and "-at-" in a.quantity]
    assert listed[:2] == ["score-at-matched-power", "score-at-60"]


def test_negative_settings_have_an_address():
    from .test_over_failures import ladder

    assert find(ladder(), "ladder/score-at-minus-110").value == pytest.approx(100.0)


def test_lines_in_table_order():
    assert [line.quantity.key for line in SWEEP_LINES] == [
        "lowest-setting", "highest-setting", "matching-power-limit", "matching-power-limit-watts",
        "score-at-matched-power", "best-score-per-watt", "best-score-per-watt-setting",
    ]  # fmt: skip


def test_ends_of_the_range():
    assert find(walked(STRAIGHT), "walk/lowest-setting").printed.text == "60\u00a0%"
    assert find(walked(STRAIGHT), "walk/highest-setting").printed.text == "100\u00a0%"
