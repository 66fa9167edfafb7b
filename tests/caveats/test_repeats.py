"""What the repeats show: each rule raised, and not raised just inside its limit."""

from dataclasses import replace

import numpy as np

from benchgalley.caveats.repeats import FENCE_REACH, GROUP_SHARES
from benchgalley.metrology.distribution_free import quartile_fences, two_groups

from .factory import TUNED, bench, caveats, good_runs, instrument, run, sequence, write_up


def with_tuned(count):
    """Nine stock runs and so many tuned ones."""
    stock = [t for t in good_runs() if t.settings["power_limit_pct"] == 100]
    tuned = [t for t in good_runs() if t.settings["power_limit_pct"] == 84][:count]
    return write_up([*stock, *tuned])


def test_one_run_is_single_two_are_few_three_are_neither():
    assert caveats(with_tuned(1))["single-run"].addresses == ("tuned/",)
    assert "few-runs" not in caveats(with_tuned(1))
    assert caveats(with_tuned(2))["few-runs"].missing == "Fewer than 3 completed runs: tuned 2\xa0runs."
    # t quantile at 97.5 % with one degree of freedom, table of Student's t: 12.706
    assert "12.7" in caveats(with_tuned(2))["few-runs"].effect
    assert not {"single-run", "few-runs"} & set(caveats(with_tuned(3)))


def test_single_runs_along_a_sweep_are_counted():
    def sweep(repeats):
        runs = [run(100 + i, {"power_limit_pct": p}, measured={"score": 7000.0}) for i, p in enumerate((60.0, 70.0))]
        runs += [run(200 + i, {"power_limit_pct": 70.0}, measured={"score": 7001.0}) for i in range(repeats)]
        return caveats(write_up([*good_runs(), *runs], sequences=[sequence("sweep", "sweep", "power_limit_pct")]))

    assert "2 of 4\xa0points of sweep" in sweep(0)["single-run"].missing
    assert "1 of 4\xa0points of sweep" in sweep(1)["single-run"].missing
    assert sweep(0)["single-run"].addresses == ("sweep/",)


def test_below_eight_runs_the_shape_is_untested():
    assert "fewest 7" in caveats(with_tuned(7))["shape-untested"].missing
    assert "median" not in caveats(with_tuned(6))["shape-untested"].effect
    assert "median" in caveats(with_tuned(5))["shape-untested"].effect
    assert "shape-untested" not in caveats(with_tuned(8))


def shaped(values):
    """The tuned runs with these scores."""
    given = iter(values)
    return write_up(
        [
            replace(t, measured={**t.measured, "score": next(given)}) if t.settings == {**t.settings, **TUNED} else t
            for t in good_runs()
        ]
    )


def test_two_groups_need_a_gap_over_six_tenths_of_the_range_of_eight():
    assert "4 runs about 7000" in (
        caveats(shaped([7000, 7001, 7002, 6999, 7100, 7101, 7099, 7102]))["two-groups"].missing.replace("\xa0", " ")
    )
    assert "two-groups" not in caveats(shaped([7000, 7010, 7015, 7020, 7080, 7085, 7090, 7100]))
    assert "two-groups" in caveats(shaped([7000, 7010, 7015, 7020, 7081, 7085, 7090, 7100]))


def of_ten(values):
    """Ten runs of one setting with these scores, and a baseline run."""
    low = {"power_limit_pct": 84.0}
    return caveats(write_up([run(0), *(run(1 + i, low, measured={"score": v}) for i, v in enumerate(values))]))


def test_from_ten_runs_half_the_range_is_enough():
    assert "two-groups" not in of_ten([0.0, 10.0, 15.0, 20.0, 25.0, 75.0, 80.0, 85.0, 90.0, 100.0])
    assert "two-groups" in of_ten([0.0, 10.0, 15.0, 20.0, 25.0, 75.1, 80.0, 85.0, 90.0, 100.0])


def test_readings_of_few_steps_are_no_groups():
    def read_in_steps(apart):
        values = iter([160.0] * 4 + [160.0 + apart] * 4)
        runs = [
            replace(t, measured={**t.measured, "board_power_w": next(values)})
            if t.settings["power_limit_pct"] == 84
            else t
            for t in good_runs()
        ]
        meter = instrument("meter", "board_power_w", resolution=1.0)
        return caveats(write_up(runs, bench=bench(instruments=(meter, bench().instruments[1]))))

    assert "two-groups" not in read_in_steps(3.0)
    assert "two-groups" in read_in_steps(4.0)


def test_one_value_apart_is_no_group_but_an_outlier():
    raised = caveats(shaped([7000, 7002, 7004, 7006, 7008, 7010, 7012, 7200]))
    assert "two-groups" not in raised
    assert "score at tuned, r15 of 8" in raised["outliers"].missing
    assert "tuned/score-per-watt/" in raised["outliers"].addresses


def test_a_value_at_the_fence_is_inside():
    # quartiles by linear interpolation 7 and 9 (places 2.75 and 6.25 of 8): outer fence 9 + 3 x 2 = 15
    ordered = [6.0, 7.0, 7.0, 8.0, 8.0, 9.0, 9.0]
    assert "outliers" not in caveats(shaped([*ordered, 15.0]))
    assert "outliers" in caveats(shaped([*ordered, 15.01]))


def test_seven_runs_have_no_fences():
    assert "outliers" not in caveats(with_tuned(0))
    seven = [*[t for t in shaped([7000, 7002, 7004, 7006, 7008, 7010, 7200, 0]).trials if t.measured["score"]]]
    assert "outliers" not in caveats(write_up(seven))


def test_repeats_nearly_all_equal_are_no_outliers():
    assert "outliers" not in caveats(shaped([7000.0] * 7 + [7001.0]))


def test_honest_runs_seldom_raise_either():
    """2000 sets of eight normal runs: a value beyond the outer fences in about 5 of 100, two groups in fewer than 1."""
    sets = np.random.default_rng(20260901).normal(size=(2000, 8))
    beyond = np.mean([bool(quartile_fences(s, FENCE_REACH).outside) for s in sets])
    split = np.mean([two_groups(s, least_share=dict(GROUP_SHARES)[8]) is not None for s in sets])
    assert 0.03 < beyond < 0.065
    assert split < 0.01
