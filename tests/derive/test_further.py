"""Medians, planning, borrowed spreads, drift inside a sweep: relations that are found and not listed."""

import math

import pytest
from scipy import stats

from benchgalley.derive import evaluate
from benchgalley.derive.further import FURTHER

from .factory import STOCK_SCORE, TUNED_SCORE, Bencher, at, sequence, setpoint, site, two_setpoints, write_up

TUNED = {"power_limit_pct": 84.0}


def scores(stock, tuned, **more):
    bencher = Bencher()
    for i in range(max(len(stock), len(tuned))):
        for values, change in ((stock, {}), (tuned, TUNED)):
            if i < len(values):
                bencher.run(set=change, score=values[i])
    return write_up(bencher.trials, **more)


def find(write_up_, address):
    return evaluate(site(write_up_)).find(at(address))


TEN = (11.0, 19.0, 12.0, 18.0, 13.0, 17.0, 14.0, 16.0, 15.0, 40.0)


def test_median_with_exact_rank_interval():
    """Ranks 2 and 9 of 10 at 97.85 %: table of Le Boudec, Performance Evaluation (2010), appendix A."""
    found = find(scores((1.0, 2.0), TEN), "tuned/score/median")
    assert (found.value, found.interval.low, found.interval.high) == (15.5, 12.0, 19.0)
    reached = 1 - 2 * stats.binom.cdf(1, 10, 0.5)
    assert f"{100 * reached:.4g}" in found.interval.method
    assert "order statistics 2 and 9 of 10" in found.interval.method
    assert "skewed" in found.reason


@pytest.mark.parametrize("count", [1, 2, 5])
def test_median_of_few_runs_has_no_interval(count):
    found = find(scores((1.0, 2.0), TEN[:count]), "tuned/score/median")
    assert found.value == sorted(TEN[:count])[count // 2] if count % 2 else found.value == 15.0
    assert found.interval is None and found.reason


def test_two_groups_are_detected_and_said_beside_mean_and_median():
    split = (100.0, 110.1, 100.2, 110.3, 100.4, 110.5, 100.6, 110.7)
    write_up_ = scores((100.0, 101.0, 102.0), split)
    for address in ("tuned/score", "tuned/score/median"):
        assert "two groups, 4 about 100.30 and 4 about 110.40" in find(write_up_, address).reason
    assert "two groups" not in find(write_up_, "stock/score").reason


def test_neighbouring_readings_of_a_coarse_sensor_are_no_groups():
    bencher = Bencher()
    for watts in (60.0, 61.0, 60.0, 61.0, 60.0, 61.0, 60.0, 61.0):
        bencher.run(decimals=0, core_temp_c=watts)
    assert "groups" not in find(write_up(bencher.trials), "stock/core-temperature").reason


def test_no_median_of_figures_made_from_means():
    found = find(two_setpoints(), "tuned/score-per-watt/median")
    assert found.value is None and "readings" in found.reason


def test_runs_needed_by_hand():
    """A difference of 1 at a spread of 1 on both sides: nine runs a side, t(16) sqrt(2/9) = 0.9993 < 1."""
    assert stats.t.ppf(0.975, 16) * math.sqrt(2 / 9) < 1 < stats.t.ppf(0.975, 14) * math.sqrt(2 / 8)
    found = find(scores((9.0, 10.0, 11.0), (10.0, 11.0, 12.0)), "tuned/score/runs-needed")
    assert found.value == 9 - 3
    assert found.unit.symbol == "runs" and "9 runs on each side" in found.reason


def test_no_run_is_needed_where_the_difference_is_shown():
    found = find(two_setpoints(), "tuned/score/runs-needed")
    assert found.value == 0 and "already" in found.reason


@pytest.mark.parametrize(
    ("stock", "tuned", "why"),
    [
        ((1.0, 2.0, 3.0), (1.0, 2.0, 3.0), "no difference was found"),
        ((1.0, 1.0, 1.0), (2.0, 2.0, 2.0), "spread cannot be estimated"),
        ((1.0,), (2.0,), "one run"),
    ],
)
def test_what_cannot_be_planned_says_why(stock, tuned, why):
    found = find(scores(stock, tuned, margins={"score": (5.0, True)}), "tuned/score/runs-needed")
    # typed decimals stand for the spread of runs that never differ, so a plan may exist there
    assert (found.value is None and why in found.reason) or (stock == (1.0,) * 3 and found.value == 0)


def test_more_runs_as_planned_settle_equivalence():
    """The plan is carried out: as many runs at that spread and difference, and the finding is settled."""
    stock, tuned = (100.0, 103.0, 97.0), (100.5, 103.5, 97.5)
    margins = {"score": (2.0, False)}
    plan = find(scores(stock, tuned, margins=margins), "tuned/score/runs-needed-for-equivalence")
    assert plan.value > 0
    need = 3 + int(plan.value)
    # the same standard deviation (3) with so many runs: half of them up, half down
    for runs, settled in ((need, True), (need - 2, False)):
        up = 3.0 * math.sqrt((runs - 1) / runs)
        wave = [up if i % 2 else -up for i in range(runs)] if runs % 2 == 0 else None
        if wave is None:
            up = 3.0
            wave = [up if i % 2 else -up for i in range(runs - 1)] + [0.0]
        found = find(
            scores([100.0 + w for w in wave], [100.5 + w for w in wave], margins=margins), "tuned/score/equivalent"
        )
        assert (found.finding.value == "shown") is settled, runs
    again = find(scores((100.0, 100.1, 99.9), (100.0, 100.1, 99.9), margins=margins), "tuned/score/equivalent")
    assert again.finding.value == "shown"
    done = scores((100.0, 100.1, 99.9), (100.0, 100.1, 99.9), margins=margins)
    assert find(done, "tuned/score/runs-needed-for-equivalence").value == 0


def soak(failed=0, runs=4):
    bencher = Bencher().run(score=1.0, duration_s=60.0)
    for i in range(runs):
        bencher.run(
            set=TUNED, sequence="soak", outcome="crashed" if i < failed else "completed", score=1.0, duration_s=3600.0
        )
    return write_up(bencher.trials, sequences=(sequence("soak", "soak", setpoint="tuned"),))


def test_hours_needed_for_a_bound():
    """-ln(0.05) / 0.1 = 29.96 h without a failure (NUREG/CR-6823, 6.2.1); 4 h are done."""
    found = find(soak(), "soak/failure-rate/hours-needed-for-0-1")
    assert found.value == pytest.approx(-math.log(0.05) / 0.1 - 4)
    assert found.unit.symbol == "h" and "0.1 per hour" in found.reason
    with_failure = find(soak(1), "soak/failure-rate/hours-needed-for-0-1")
    assert with_failure.value == pytest.approx(stats.chi2.ppf(0.95, 4) / 2 / 0.1 - 4)


def test_without_a_bound_asked_for_todays_is_halved():
    assert find(soak(), "soak/failure-rate/hours-needed").value == pytest.approx(4.0)


def test_runs_needed_for_a_share():
    """59 runs without a failure bound the share at 5 % (rule behind Wilks' 59)."""
    assert find(soak(), "soak/failure-share/runs-needed-for-5").value == 59 - 4
    assert find(two_setpoints(), "tuned/failure-share/runs-needed-for-5").value == 59 - 5
    assert find(soak(), "soak/failure-rate/runs-needed") is None
    assert find(soak(), "soak/score/hours-needed") is None


def test_planning_is_found_and_not_listed():
    results = evaluate(site(two_setpoints()))
    keys = {relation.key for relation in FURTHER}
    assert keys == {"median", "runs-needed", "runs-needed-for-equivalence"}
    assert not [a for a in results.addresses("quiet") if a.relation in keys]


def three(single=(9900.0,), other=None):
    bencher = Bencher()
    for i in range(5):
        bencher.run(score=STOCK_SCORE[i])
        bencher.run(set=TUNED, score=(other or TUNED_SCORE)[i])
        if i < len(single):
            bencher.run(set={"power_limit_pct": 70.0}, score=single[i])
    points = (setpoint("stock"), setpoint("tuned", **TUNED), setpoint("low", power_limit_pct=70.0))
    return write_up(bencher.trials, setpoints=points)


def test_planning_for_a_setpoint_run_once_borrows_the_spread_of_the_others_and_says_so():
    import numpy as np

    pooled = math.sqrt((np.var(STOCK_SCORE, ddof=1) + np.var(TUNED_SCORE, ddof=1)) / 2)
    plan = find(three(single=(9985.0,)), "low/score/runs-needed")
    assert "taken to spread as the others do" in plan.reason
    needed = int(plan.value) + 1
    spreads = math.hypot(pooled, np.std(STOCK_SCORE, ddof=1))
    difference = abs(9985.0 - np.mean(STOCK_SCORE))
    # Welch's degrees of freedom lie between n - 1 and 2 (n - 1)
    assert stats.t.ppf(0.975, 2 * (needed - 1)) * spreads / math.sqrt(needed) <= difference
    assert stats.t.ppf(0.975, needed - 2) * spreads / math.sqrt(needed - 1) > difference


def test_one_run_supports_no_interval_even_where_others_agree():
    for address in ("low/score", "low/score/change", "low/score/ratio"):
        found = find(three(), address)
        assert found.interval is None and "cannot be determined" in found.reason


@pytest.mark.parametrize("other", [(9000.0, 9400.0, 9900.0, 10400.0, 10900.0), (1.0, 1.0, 1.0, 1.0, 1.0)])
def test_spreads_that_differ_are_not_lent(other):
    assert find(three(other=other), "low/score/runs-needed").value is None


def test_one_other_setpoint_cannot_show_that_spreads_agree():
    found = find(scores(STOCK_SCORE, (9900.0,)), "tuned/score/runs-needed")
    assert found.value is None and "cannot be determined" in found.reason


def drifting_sweep(slope):
    """Baseline before and after; the sweep in between; the score drifts by `slope` a run."""
    bencher = Bencher()
    wobble = (0.6, -0.9, 0.2, 1.1, -0.4, -1.2, 0.8, 0.3)

    def go(limit, count):
        for _ in range(count):
            order = len(bencher.trials)
            level = 10000 * (limit / 100) ** 0.3 + slope * order + 4 * wobble[order % 8]
            bencher.run(set={"power_limit_pct": limit, "voltage_offset_mv": -80.0 if limit < 200 else 0.0}, score=level)

    def stock(count):
        for _ in range(count):
            order = len(bencher.trials)
            bencher.run(score=9700.0 + slope * order + 4 * wobble[order % 8])

    stock(3)
    for limit in (70.0, 80.0, 90.0, 100.0):
        go(limit, 3)
    stock(3)
    return write_up(
        bencher.trials, sequences=(sequence("walk", "walk", "power_limit_pct", voltage_offset_mv=-80.0),),
        margins={"score": (0.5, True)},
    )  # fmt: skip


def test_drift_inside_a_sweep_widens_the_matching_limit():
    calm, drifting = (find(drifting_sweep(slope), "walk/matching-power-limit") for slope in (0.0, 25.0))
    widths = [found.interval.high - found.interval.low for found in (calm, drifting)]
    assert widths[1] > 1.5 * widths[0]
    assert "drift" not in calm.reason


def test_a_sweep_outside_the_baseline_runs_says_that_drift_is_unknown():
    bencher = Bencher()
    for i in range(4):
        bencher.run(score=9700.0 + i)
    for limit in (70.0, 80.0, 90.0, 100.0):
        for i in range(3):
            bencher.run(set={"power_limit_pct": limit, "voltage_offset_mv": -80.0}, score=100 * limit + 5 * i)
    walk = sequence("walk", "walk", "power_limit_pct", voltage_offset_mv=-80.0)
    found = find(write_up(bencher.trials, sequences=(walk,)), "walk/matching-power-limit")
    assert "drift since the baseline cannot be estimated at 4 settings" in found.reason
