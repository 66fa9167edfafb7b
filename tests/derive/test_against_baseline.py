"""Relations to the baseline, against published examples and figures worked by hand."""

import csv
import json
import math
from pathlib import Path

import pytest
from scipy import stats

from benchgalley.derive import evaluate
from benchgalley.derive.against_baseline import RELATIONS
from benchgalley.records.results import Equivalence

from .factory import (
    STOCK_SCORE,
    STOCK_W,
    TUNED_SCORE,
    TUNED_W,
    Bencher,
    at,
    bench,
    instrument,
    setpoint,
    site,
    two_setpoints,
    write_up,
)

REFERENCE = Path(__file__).parent / "reference"
CASES = json.loads((REFERENCE / "cases.json").read_text(encoding="utf-8"))


def case(table, name):
    return next(c for c in CASES[table]["cases"] if c["id"] == name)


def sets_of_runs(baseline, *others, margins=None):
    """Baseline runs first, then each set of runs at a setpoint of its own: nothing is bracketed."""
    bencher = Bencher()
    for value in baseline:
        bencher.run(score=value)
    points = [setpoint("stock")]
    for i, values in enumerate(others):
        points.append(setpoint(f"point-{i}", power_limit_pct=90.0 - i))
        for value in values:
            bencher.run(set={"power_limit_pct": 90.0 - i}, score=value)
    return evaluate(site(write_up(bencher.trials, setpoints=points, margins=margins)))


def clinic(variable):
    groups = {"1": [], "2": []}
    with open(REFERENCE / "tost_clinic.csv", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            groups[row["group"]].append(float(row[variable]))
    return groups["1"], groups["2"]


def half_width(confidence, a, b):
    """Of a difference, by scipy: Welch with degrees of freedom rounded down (JCGM 100:2008, G.4.1) where those of the
    sides lie within a factor of two, else each side with its own t (Banerjee, Sankhya 22 (1960) 357-358)."""
    p, parts = (1 + confidence) / 2, [(stats.sem(x), len(x) - 1) for x in (a, b)]
    if max(nu for _, nu in parts) > 2 * min(nu for _, nu in parts):
        return math.hypot(*(stats.t.ppf(p, nu) * u for u, nu in parts))
    nu = stats.ttest_ind(a, b, equal_var=False).df
    return stats.t.ppf(p, math.floor(nu)) * math.hypot(*(u for u, _ in parts))


def test_difference_of_sleep_data():
    """'Student' (1908) sleep data, Welch; see reference/cases.json. Degrees of freedom of the interval rounded down."""
    known = case("two_sample", "sleep_welch")
    found = sets_of_runs(known["inputs"]["x2"], known["inputs"]["x1"]).find(at("point-0/score/change"))
    assert found.value == pytest.approx(0.75 - 2.33)
    assert found.degrees_of_freedom == pytest.approx(known["published"]["df"], abs=5.1e-4)
    published = (known["published"]["ci_upper"] - known["published"]["ci_lower"]) / 2
    wider = stats.t.ppf(0.975, 17) / stats.t.ppf(0.975, known["published"]["df"])
    assert found.interval.high - found.value == pytest.approx(published * wider, rel=1e-5)
    assert found.value - found.interval.low == pytest.approx(published * wider, rel=1e-5)


def test_difference_of_clinic_data():
    """R t.test output quoted in the statsmodels test-suite; see reference/cases.json."""
    known = case("two_sample", "clinic_var1_welch")["published"]
    first, second = clinic("var1")
    found = sets_of_runs(second, first).find(at("point-0/score/change"))
    assert found.degrees_of_freedom == pytest.approx(known["df"], rel=1e-12)
    assert found.interval.low < known["ci_lower"] < known["ci_upper"] < found.interval.high
    assert found.interval.high - found.value == pytest.approx(half_width(0.95, first, second), rel=1e-12)


def test_ratio_of_two_samples_of_five():
    """Fieller limits of the R package mratios; see reference/cases.json."""
    known = case("ratio_of_means", "fieller_two_samples_of_five")
    results = sets_of_runs(known["inputs"]["y"], known["inputs"]["x"])
    found = results.find(at("point-0/score/ratio"))
    assert found.value == pytest.approx(known["published"]["ratio"], abs=2e-7)
    # the published limits stand at unrounded degrees of freedom
    assert 0.9 * found.interval.high < known["published"]["upper"] < found.interval.high
    assert found.interval.low < known["published"]["lower"] < 1.1 * found.interval.low
    x, y = known["inputs"]["x"], known["inputs"]["y"]
    part_x, part_y = stats.sem(x) ** 2, (found.value * stats.sem(y)) ** 2
    nu = (part_x + part_y) ** 2 / (part_x**2 / (len(x) - 1) + part_y**2 / (len(y) - 1))
    t = stats.t.ppf(0.975, math.floor(nu))
    for end in (found.interval.low, found.interval.high):
        away = abs(sum(x) / len(x) - end * sum(y) / len(y))
        assert away == pytest.approx(t * math.hypot(stats.sem(x), end * stats.sem(y)), rel=1e-9)
    percent = results.find(at("point-0/score/of-baseline"))
    saved = results.find(at("point-0/score/saved-percent"))
    assert percent.interval.low == pytest.approx(100 * found.interval.low)
    assert saved.interval.low == pytest.approx(100 - percent.interval.high)
    assert saved.value == pytest.approx(100 - percent.value)


@pytest.mark.parametrize(("variable", "finding"), [("var1", Equivalence.SHOWN), ("var2", Equivalence.NOT_SETTLED)])
def test_equivalence_of_clinic_data(variable, finding):
    """R package equivalence, quoted in the statsmodels test-suite; see reference/cases.json."""
    known = case("tost", f"clinic_{variable}_welch")["published"]
    first, second = clinic(variable)
    results = sets_of_runs(second, first, margins={"score": (0.6, False)})
    found = results.find(at("point-0/score/equivalent"))
    assert found.finding is finding
    assert found.value == pytest.approx(known["mean_diff"], rel=1e-10)
    assert found.interval.low < known["ci_lower"] < known["ci_upper"] < found.interval.high
    assert found.interval.high - found.value == pytest.approx(half_width(0.9, first, second), rel=1e-10)
    assert float(found.substitution.partition("p = ")[2]) == pytest.approx(known["p_value"], rel=0.1)


def test_equivalence_refuted_and_undeclared():
    made = two_setpoints(margins={"board-power": (2.0, False), "score": (1.0, True)})
    results = evaluate(site(made))
    assert results.find(at("tuned/board-power/equivalent")).finding is Equivalence.REFUTED
    found = results.find(at("tuned/score/equivalent"))
    assert found.finding is Equivalence.SHOWN
    assert found.unit.symbol == "%"
    assert found.value == pytest.approx(-0.6294, abs=1e-4)
    undeclared = results.find(at("tuned/run-time/equivalent"))
    assert undeclared.value is None and undeclared.reason == "no margin declared for run time"
    assert at("tuned/run-time/equivalent") not in results.addresses("quiet")


@pytest.mark.parametrize("name", [c["id"] for c in CASES["multiple_comparison"]["cases"]])
def test_several_setpoints_get_dunnetts_interval(name):
    """Dunnett 1955 and others; see reference/cases.json. Published limits carry the noise of their integral."""
    known = case("multiple_comparison", name)
    given, wanted = known["inputs"], known["published"]
    results = sets_of_runs(given["control"], *given["treatments"])
    for i, (low, high) in enumerate(zip(wanted["ci_lower"], wanted["ci_upper"], strict=True)):
        found = results.find(at(f"point-{i}/score/change"))
        assert found.adjusted == f"Dunnett, {len(given['treatments'])} settings against stock"
        assert found.repeatability_interval.low == pytest.approx(low, abs=0.003)
        assert found.repeatability_interval.high == pytest.approx(high, abs=0.003)
        # the stated interval stays that of the one comparison, with its own spreads
        assert found.interval.method.startswith("Student t")


def test_unequal_spreads_are_not_pooled():
    results = sets_of_runs([10.0, 10.1, 9.9, 10.05], [12.0, 14.0, 10.0, 13.0], [9.0, 9.1, 9.2, 9.0])
    found = results.find(at("point-0/score/change"))
    assert found.adjusted.startswith("Bonferroni, 2 settings")
    assert found.repeatability_interval.high > found.interval.high


def test_one_comparison_needs_no_adjustment():
    assert evaluate(site(two_setpoints())).find(at("tuned/score/change")).adjusted == ""


METER = dict(gain_error_pct=5.0, offset_error=2.0, resolution=0.1)


def test_gain_cancels_in_ratios_and_scales_differences():
    """A gain error common to both readings leaves their ratio alone; in watts saved it scales the saving.

    open-standards 7.4, after JCGM 100:2008, F.1.2.3.
    """
    plain = evaluate(site(two_setpoints(bench_=bench(instrument("board_power_w")))))
    gained = evaluate(site(two_setpoints(bench_=bench(instrument("board_power_w", gain_error_pct=5.0)))))
    for relation in ("ratio", "of-baseline", "change-percent", "saved-percent"):
        for quantity in ("board-power", "score-per-watt", "running-cost"):
            address = at(f"tuned/{quantity}/{relation}")
            a, b = plain.find(address), gained.find(address)
            if a.value is None:
                continue
            assert b.interval.low == pytest.approx(a.interval.low, rel=1e-12), address
            assert b.interval.high == pytest.approx(a.interval.high, rel=1e-12), address
            gain = next(c for c in b.components if c.name.startswith("gain"))
            assert gain.standard_uncertainty == 0.0
    saved = gained.find(at("tuned/board-power/saved"))
    gain = next(c for c in saved.components if c.name.startswith("gain"))
    assert gain.standard_uncertainty == pytest.approx(37.0 * 0.05 / math.sqrt(3), rel=1e-9)


def test_offset_cancels_in_differences_and_not_in_ratios():
    made = two_setpoints(bench_=bench(instrument("board_power_w", offset_error=2.0)))
    results = evaluate(site(made))
    saved = results.find(at("tuned/board-power/saved"))
    assert next(c for c in saved.components if c.name.startswith("offset")).standard_uncertainty == 0.0
    ratio = results.find(at("tuned/board-power/ratio"))
    u = 2.0 / math.sqrt(3)
    a, b = 193.1, 230.1
    part = next(c for c in ratio.components if c.name.startswith("offset")).standard_uncertainty
    assert part == pytest.approx(abs(u / b - u * a / b**2), rel=1e-9)
    plain = evaluate(site(two_setpoints())).find(at("tuned/board-power/ratio"))
    assert ratio.interval.high - ratio.interval.low > plain.interval.high - plain.interval.low


def test_full_ratio_interval_agrees_with_linear_propagation():
    """Far from zero Fieller's set and first-order propagation meet (JCGM 100:2008, 5.2.2)."""
    results = evaluate(site(two_setpoints(bench_=bench(instrument("board_power_w", **METER)))))
    found = results.find(at("tuned/board-power/of-baseline"))
    u = math.sqrt(sum(c.standard_uncertainty**2 for c in found.components))
    assert found.standard_uncertainty == pytest.approx(u, rel=1e-12)
    half = (found.interval.high - found.interval.low) / 2
    assert half / u == pytest.approx(2.0, abs=0.45)  # a coverage factor between normal and a few degrees of freedom


def test_baseline_near_zero_is_said_to_be_unbounded():
    found = sets_of_runs([-1.0, 2.0, 0.4], [5.0, 5.5, 6.0]).find(at("point-0/score/ratio"))
    assert found.interval.low is None and found.interval.high is None
    assert "unbounded" in found.reason and "unbounded" in found.interval.method
    assert found.printed.interval == ""


def test_baseline_of_zero_is_not_determined():
    results = sets_of_runs([0.0, 0.0, 0.0], [5.0, 5.5, 6.0])
    assert results.find(at("point-0/score/ratio")).value is None
    assert results.find(at("point-0/score/change")).value == pytest.approx(5.5)


def test_bounds_by_a_table():
    # one-sided t quantile 2.132 for 4 degrees of freedom: NIST/SEMATECH e-Handbook 1.3.6.7.2
    results = evaluate(site(two_setpoints()))
    mean = sum(TUNED_SCORE) / 5
    s = math.sqrt(sum((v - mean) ** 2 for v in TUNED_SCORE) / 4)
    found = results.find(at("tuned/score/at-least"))
    assert found.value == pytest.approx(mean - 2.131847 * s / math.sqrt(5), abs=1e-4)
    assert (found.interval.low, found.interval.high) == (found.value, None)
    upper = results.find(at("tuned/score/at-most"))
    assert upper.value - mean == pytest.approx(mean - found.value)


def test_spread_and_runs():
    results = evaluate(site(two_setpoints()))
    mean = sum(STOCK_SCORE) / 5
    s = math.sqrt(sum((v - mean) ** 2 for v in STOCK_SCORE) / 4)
    found = results.find(at("stock/score/spread"))
    # factors 0.599 and 2.874 for 4 degrees of freedom, from chi-square 11.143 and 0.484
    # (NIST/SEMATECH e-Handbook 1.3.6.7.4)
    assert found.value == pytest.approx(s)
    assert found.interval.low == pytest.approx(s * math.sqrt(4 / 11.143287), rel=1e-6)
    assert found.interval.high == pytest.approx(s * math.sqrt(4 / 0.48441856), rel=1e-6)
    runs = results.find(at("stock/score/runs"))
    assert (runs.value, runs.exact, runs.printed.text) == (5.0, True, "5\u00a0runs")


def test_trade_facts():
    """84 % of 230 W is 193 W to the watt, 37 W less (common practice, no published source)."""
    results = evaluate(site(two_setpoints()))
    limit = results.find(at("tuned/power-limit-watts"))
    assert limit.exact and round(limit.value) == 193
    assert limit.printed.text == "193.2\u00a0W"
    assert round(results.find(at("tuned/power-limit-watts/saved")).value) == 37
    assert results.find(at("tuned/power-limit")).printed.text == "84\u00a0%"
    assert results.find(at("tuned/power-limit/saved")).printed.text == "16\u00a0percentage points"
    assert results.find(at("tuned/board-power/saved")).value == pytest.approx(37.0)


def test_cooler_and_slower_fan():
    """Tuned 1 °C cooler, the fan 200 r/min lower, at 1000 r/min (common practice, no published source)."""
    made = two_setpoints(
        columns={
            "fan_rpm": {"stock": (1199, 1201, 1200, 1200, 1200), "tuned": (1000, 999, 1001, 1000, 1000)},
            "core_temp_c": {"stock": (64.0, 64.1, 63.9, 64.0, 64.0), "tuned": (63.0, 63.1, 62.9, 63.0, 63.0)},
        }
    )
    results = evaluate(site(made))
    change = results.find(at("tuned/core-temperature/change"))
    assert change.value == pytest.approx(-1.0)
    assert change.unit.symbol == "K" and change.interval.high < 0
    assert change.higher_is_better is False
    assert results.find(at("tuned/fan-speed/change")).value == pytest.approx(-200.0)
    assert results.find(at("tuned/fan-speed")).value == pytest.approx(1000.0)
    sound = results.find(at("tuned/fan-sound-change"))
    # 50 log10(N2/N1): fan sound law (ASHRAE, AMCA literature); 1000 against 1200 is -3.96 dB
    assert sound.value == pytest.approx(50 * math.log10(1000 / 1200), abs=1e-9)
    assert sound.estimate and "estimate" in sound.reason
    assert sound.interval.low < sound.value < sound.interval.high
    assert results.find(at("stock/fan-sound-change")) is None
    assert results.find(at("tuned/fan-sound-change/ratio")) is None


def test_share_of_score_at_two_limits():
    """90 % of stock power keeps about 96 % of the score on one card, 82 % on another
    (common practice, no published source)."""
    for limit, power in ((90.0, 207.0), (82.0, 188.6)):
        bencher = Bencher()
        for wobble in (-1.0, 0.0, 1.0):
            bencher.run(score=10000 + wobble, board_power_w=230.0 + wobble / 10)
        for wobble in (-1.0, 0.0, 1.0):
            bencher.run(set={"power_limit_pct": limit}, score=9600 + wobble, board_power_w=power + wobble / 10)
        made = write_up(bencher.trials, setpoints=(setpoint("stock"), setpoint("tuned", power_limit_pct=limit)))
        results = evaluate(site(made))
        assert results.find(at("tuned/score/of-baseline")).printed.value.startswith("96.0")
        assert results.find(at("tuned/board-power/of-baseline")).value == pytest.approx(limit)


def drifting(order):
    """Runs of a bench that drifts by 1 W a run: s for stock, t for tuned."""
    bencher = Bencher()
    wobble = (0.05, -0.03, 0.01, -0.04, 0.02, 0.03, -0.02, -0.01)
    for i, letter in enumerate(order):
        base = 230.0 if letter == "s" else 193.0
        change = {} if letter == "s" else {"power_limit_pct": 84.0}
        bencher.run(set=change, board_power_w=base + i + wobble[i % 8])
    return evaluate(site(write_up(bencher.trials))).find(at("tuned/board-power/saved"))


def test_drift_is_estimated_when_baselines_bracket():
    late = drifting("sssttttss")
    drift = next(c for c in late.components if c.name.startswith("drift"))
    # slope 1 W a run; stock runs lie at 0, 1, 2, 7, 8 (mean 3.6), tuned at 4.5: half-width 0.9 W, rectangular
    assert drift.standard_uncertainty == pytest.approx(0.9 / math.sqrt(3), rel=0.05)
    assert drift.degrees_of_freedom == 3
    # what is left of drift in the difference lies inside the interval
    assert late.interval.contains(37.0)
    balanced = drifting("sttsttstts")
    part = next(c for c in balanced.components if c.name.startswith("drift")).standard_uncertainty
    assert part < drift.standard_uncertainty / 2


def test_drift_that_cannot_be_estimated_is_said():
    before_only = drifting("sssstttt")
    assert "no baseline runs on both sides of tuned" in before_only.reason
    assert not any(c.name.startswith("drift") for c in before_only.components)
    once = drifting("sts")
    assert "fewer than three times" in once.reason


def test_relations_in_table_order():
    assert [relation.key for relation in RELATIONS] == [
        "", "of-baseline", "change", "change-percent", "saved", "saved-percent", "ratio", "spread", "runs", "at-most",
        "at-least", "equivalent",
    ]  # fmt: skip


def test_saved_and_change_mirror_each_other():
    results = evaluate(site(two_setpoints()))
    change, saved = results.find(at("tuned/board-power/change")), results.find(at("tuned/board-power/saved"))
    assert saved.value == -change.value
    assert (saved.interval.low, saved.interval.high) == (-change.interval.high, -change.interval.low)
    assert saved.higher_is_better is True and change.higher_is_better is False
    assert saved.name == "board power saved by tuned against stock"
    assert saved.substitution == "230.1\u00a0W \u2212 193.1\u00a0W"
    assert saved.runs == (5, 5)
    assert (STOCK_W[0], TUNED_W[0]) == (229.4, 193.1)
