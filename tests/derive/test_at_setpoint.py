"""Means, budgets and derived quantities, against figures worked by hand."""

import math

import pytest

from benchgalley.derive import evaluate
from benchgalley.derive.at_setpoint import DERIVED
from benchgalley.records.quantity import MEASURED

from .factory import (
    STOCK_SCORE,
    STOCK_W,
    TUNED_SCORE,
    TUNED_W,
    Bencher,
    at,
    bench,
    instrument,
    load,
    setpoint,
    site,
    two_setpoints,
    write_up,
)


def number(write_up_, address, **more):
    found = evaluate(site(write_up_, **more)).find(at(address))
    assert found is not None, address
    return found


def mean(values):
    return math.fsum(values) / len(values)


def spread(values):
    centre = mean(values)
    return math.sqrt(math.fsum((v - centre) ** 2 for v in values) / (len(values) - 1))


def test_mean_with_the_t_interval_of_a_table():
    # t quantile 2.776 for 4 degrees of freedom: NIST/SEMATECH e-Handbook 1.3.6.7.2
    found = number(two_setpoints(), "tuned/board-power")
    half = 2.776445 * spread(TUNED_W) / math.sqrt(5)
    assert found.value == pytest.approx(193.1)
    assert found.interval.low == pytest.approx(193.1 - half, abs=1e-6)
    assert found.interval.high == pytest.approx(193.1 + half, abs=1e-6)
    assert found.degrees_of_freedom == 4
    assert found.groups == (("tuned", ("t02", "t04", "t06", "t08", "t10")),)
    assert found.printed.plus_minus == "193.10\u00a0W ± 0.61\u00a0W"


def test_budget_adds_up_as_the_gum_says():
    """Root sum of squares and Welch-Satterthwaite, by hand (JCGM 100:2008, 5.1.2, 4.3.7, F.2.2.1, G.4.1)."""
    meter = bench(instrument("board_power_w", gain_error_pct=1.5, offset_error=0.5, resolution=0.1))
    found = number(two_setpoints(bench_=meter), "tuned/board-power")
    repeat = spread(TUNED_W) / math.sqrt(5)
    parts = {
        "repeatability": repeat,
        "gain": 193.1 * 0.015 / math.sqrt(3),
        "offset": 0.5 / math.sqrt(3),
        "resolution": 0.1 / math.sqrt(12),
    }
    got = {c.name.split(" of ")[0]: c for c in found.components}
    assert set(got) == set(parts)
    for name, part in parts.items():
        assert got[name].standard_uncertainty == pytest.approx(part, rel=1e-12), name
    assert [got[n].evaluation for n in parts] == ["A", "B", "B", "B"]
    u = math.sqrt(sum(part**2 for part in parts.values()))
    assert found.standard_uncertainty == pytest.approx(u, rel=1e-12)
    assert found.degrees_of_freedom == pytest.approx(4 * (u / repeat) ** 4, rel=1e-9)
    assert found.repeatability_interval.high - found.repeatability_interval.low < (
        found.interval.high - found.interval.low
    )


def test_score_per_watt_is_a_ratio_of_means_not_a_mean_of_ratios():
    # Hoefler and Belli, SC '15, rule 3
    found = number(two_setpoints(), "tuned/score-per-watt")
    assert found.value == pytest.approx(mean(TUNED_SCORE) / mean(TUNED_W), rel=1e-15)
    assert found.value != mean([s / w for s, w in zip(TUNED_SCORE, TUNED_W, strict=True)])
    assert found.substitution == "9947\u00a0points / 193.1\u00a0W"


def test_ratio_of_totals_of_the_paper():
    """Hoefler and Belli, SC '15, section 3: 100 units in 10, 100 and 40 s are 2.0 a second, not 4.5."""
    bencher = Bencher()
    for power in (10.0, 100.0, 40.0):
        bencher.run(score=100.0, board_power_w=power)
    assert number(write_up(bencher.trials), "stock/score-per-watt").value == pytest.approx(2.0)


def test_repeatability_of_a_derived_quantity_follows_the_runs():
    """Readings of one run move together: perfect proportion leaves no spread in their ratio."""
    bencher = Bencher()
    for power in (190.0, 200.0, 210.0):
        bencher.run(score=50 * power, board_power_w=power)
    found = number(write_up(bencher.trials), "stock/score-per-watt/spread")
    assert found.value == pytest.approx(0.0, abs=1e-9)
    apart = number(write_up(bencher.trials), "stock/board-power/spread")
    assert apart.value == pytest.approx(10.0)


def test_repeatability_of_a_product_by_hand():
    """First order: d(P t) = t dP + P dt, run by run (JCGM 100:2008, 5.1.2)."""
    bencher = Bencher()
    rows = ((190.0, 60.0), (194.0, 61.0), (201.0, 59.5), (199.0, 60.5))
    for power, time in rows:
        bencher.run(board_power_w=power, duration_s=time)
    p, t = mean([r[0] for r in rows]), mean([r[1] for r in rows])
    linear = [p * t + t * (r[0] - p) + p * (r[1] - t) for r in rows]
    found = number(write_up(bencher.trials), "stock/run-energy")
    assert found.value == pytest.approx(p * t / 1000)
    assert found.standard_uncertainty == pytest.approx(spread(linear) / 1000 / 2, rel=1e-12)


DERIVED_BY_HAND = {
    "score-per-watt": 10000 / 250,
    "score-per-wall-watt": 10000 / 350,
    "run-energy": 250 * 80 / 1000,
    "energy-per-score": 250 * 80 / 10000,
    "temperature-rise": 62.0 - 22.0,
    "hotspot-rise": 75.0 - 22.0,
    "thermal-resistance": 40.0 / 250,
    "running-energy": 250 * 1000 / 1000,
    "running-cost": 250 * 1000 / 1000 * 0.3,
}


@pytest.mark.parametrize("key", DERIVED_BY_HAND)
def test_derived_quantities_by_hand(key):
    bencher = Bencher()
    for step in (-1, 0, 1):
        bencher.run(
            score=10000 + 5 * step, board_power_w=250 + step, wall_power_w=350 + step, duration_s=80 + step,
            core_temp_c=62 + step, hotspot_temp_c=75 + step, ambient_c=22.0 - step,
        )  # fmt: skip
    found = number(write_up(bencher.trials), f"stock/{key}", running=True)
    assert found.value == pytest.approx(DERIVED_BY_HAND[key], rel=1e-12)
    assert found.formula and found.source and found.substitution
    assert found.interval is not None


def test_every_derivation_has_its_hand_worked_value():
    assert [d.quantity.key for d in DERIVED] == list(DERIVED_BY_HAND)


def test_sensitivities_reach_the_budget():
    """Thermal resistance: u of the offset of the core sensor is u / P, of the power gain R g (5.1.3 of the GUM)."""
    meters = bench(
        instrument("board_power_w", id="w", name="watts", gain_error_pct=2.0),
        instrument("core_temp_c", id="t", name="core", offset_error=1.0),
        instrument("ambient_c", id="a", name="room"),
    )
    bencher = Bencher()
    for step in (-1, 0, 1):
        bencher.run(board_power_w=250 + step, core_temp_c=62 + step, ambient_c=22.0)
    found = number(write_up(bencher.trials, bench_=meters), "stock/thermal-resistance")
    got = {c.name: c.standard_uncertainty for c in found.components}
    assert got["offset of core for core temperature"] == pytest.approx(1 / math.sqrt(3) / 250, rel=1e-12)
    assert got["gain of watts for board power"] == pytest.approx(0.16 * 0.02 / math.sqrt(3), rel=1e-12)


def test_one_run_has_a_value_but_no_interval():
    found = number(two_setpoints(tuned_w=(193.1,)), "tuned/board-power")
    assert found.value == 193.1
    assert found.interval is None and found.repeatability_interval is None
    assert "one run at tuned" in found.reason
    assert found.printed.text == "193.10\u00a0W"
    assert number(two_setpoints(tuned_w=(193.1,)), "tuned/board-power/spread").value is None


def test_two_runs_have_a_wide_interval():
    # t of one degree of freedom is 12.706 (NIST/SEMATECH e-Handbook 1.3.6.7.2)
    found = number(two_setpoints(tuned_w=(193.0, 194.0)), "tuned/board-power")
    assert found.interval.high - found.value == pytest.approx(12.706205 * 0.5, rel=1e-6)


def test_no_run_and_all_failed_say_why():
    empty = two_setpoints(tuned_w=())
    found = number(empty, "tuned/board-power")
    assert (found.value, found.printed.text) == (None, "not determined")
    assert found.reason == "no run was made at tuned"
    bencher = Bencher()
    bencher.run(score=1.0)
    for _ in range(2):
        bencher.run(outcome="hung", set={"power_limit_pct": 84.0})
    assert "none of the 2 runs at tuned completed" in number(write_up(bencher.trials), "tuned/score").reason


def test_a_failed_or_excluded_run_never_enters_a_mean():
    bencher = Bencher()
    for value in (100.0, 102.0):
        bencher.run(score=value)
    bencher.run(score=900.0, outcome="artefacts")
    bencher.run(score=900.0, excluded="window was open")
    found = number(write_up(bencher.trials), "stock/score")
    assert found.value == 101.0
    assert found.runs == (2,)


def test_soak_runs_stay_out_of_the_setpoint():
    from .factory import sequence

    bencher = Bencher()
    for value in (100.0, 102.0):
        bencher.run(score=value)
    bencher.run(score=500.0, sequence="long")
    made = write_up(bencher.trials, sequences=(sequence("long", "soak", setpoint="stock"),))
    assert number(made, "stock/score").value == 101.0


def test_zero_spread_leaves_the_rounding_of_the_file():
    """Five equal typed values: the interval is that of rounding to 0.1, q/√12 (JCGM 100:2008, F.2.2.1)."""
    bencher = Bencher()
    for _ in range(5):
        bencher.run(score=100.0, decimals=1)
    found = number(write_up(bencher.trials), "stock/score")
    assert found.standard_uncertainty == pytest.approx(0.1 / math.sqrt(12))
    assert found.repeatability_interval is None


def test_absent_columns_are_said_and_not_listed():
    made = two_setpoints()
    results = evaluate(site(made))
    assert all(a.quantity != "fan-speed" for a in results.addresses("quiet"))
    found = results.find(at("tuned/fan-speed"))
    assert found.value is None
    assert found.reason == "no run of this write-up recorded fan speed"


def test_a_quantity_absent_in_some_runs_uses_the_others():
    bencher = Bencher()
    bencher.run(score=100.0, board_power_w=50.0)
    bencher.run(score=110.0)
    bencher.run(score=120.0, board_power_w=60.0)
    made = write_up(bencher.trials)
    assert number(made, "stock/score").runs == (3,)
    assert number(made, "stock/score-per-watt").value == pytest.approx(110 / 55)
    assert number(made, "stock/score-per-watt").runs == (2,)


def test_unknown_limits_are_said():
    made = two_setpoints(bench_=bench(instrument("board_power_w", name="clamp", gain_error_pct=None)))
    found = number(made, "tuned/board-power")
    assert "the gain error of clamp (board power) is not known" in found.reason
    # an unknown gain is harmless in a ratio, an unknown offset in a difference
    assert "gain" not in number(made, "tuned/board-power/ratio").reason
    assert "gain" in number(made, "tuned/board-power/saved").reason
    assert "no instrument is named for board power" in number(two_setpoints(), "tuned/board-power").reason


def test_a_load_whose_score_counts_down_has_no_score_per_watt():
    made = two_setpoints(load_=load(higher_is_better=False, unit="s"))
    found = number(made, "tuned/score-per-watt")
    assert found.value is None and "a lower score is better" in found.reason
    assert number(made, "tuned/score").higher_is_better is False
    assert number(made, "tuned/score/saved").higher_is_better is True


def test_huge_and_tiny_values_stay_finite():
    bencher = Bencher()
    for value in (1e308, 1.1e308, 0.9e308):
        bencher.run(score=value, board_power_w=1e-300, duration_s=1e200)
    results = evaluate(site(write_up(bencher.trials)))
    for address in results.addresses("quiet"):
        found = results.find(address)
        assert found.value is None or math.isfinite(found.value), address
        assert "nan" not in found.printed.text and "inf" not in found.printed.text
        assert found.value is not None or found.reason


def test_catastrophic_cancellation_keeps_the_digits():
    """Means near 10^7 with spread 0.1, as NIST StRD NumAcc4 tests it: s is 0.1."""
    bencher = Bencher()
    for i in range(1001):
        bencher.run(score=10000000.2 + (0.1 if i % 2 else -0.1) * (i > 0))
    found = number(write_up(bencher.trials), "stock/score/spread")
    # the decimals themselves are only good to 1e-9 as binary numbers of this size
    assert found.value == pytest.approx(0.1, rel=2e-8)


def test_duplicate_settings_give_both_setpoints_the_runs():
    bencher = Bencher()
    for value in (100.0, 101.0, 103.0):
        bencher.run(score=value)
    made = write_up(bencher.trials, setpoints=(setpoint("stock"), setpoint("again")))
    assert number(made, "again/score").value == number(made, "stock/score").value
    # the same runs on both sides: nothing can differ
    assert number(made, "again/score/change").value == 0.0


def test_stock_values_used_by_the_tests_are_what_they_seem():
    assert mean(STOCK_W) == pytest.approx(230.1) and mean(STOCK_SCORE) == pytest.approx(10010.0)
    assert {q.key for q in MEASURED} >= {"score", "board-power"}
