"""Baseline, drift, order: each rule raised, and not raised just inside its limit."""

from dataclasses import replace

from benchgalley.metrology.drift import fit_drift, rank_correlation

from .factory import TUNED, caveats, good_runs, run, sequence, write_up


def in_order(pattern, values=None):
    """Runs in the order of a pattern: s stock, t tuned; start times left out."""
    made = [
        run(
            i,
            {} if letter == "s" else TUNED,
            started=None,
            measured={"score": (values or {}).get(i, 8000.0 + (i * 7) % 5)},
        )
        for i, letter in enumerate(pattern)
    ]
    return write_up(made)


def test_a_baseline_of_one_run():
    assert caveats(in_order("tstt"))["baseline-once"].addresses == ("tuned/",)
    assert "drift-not-estimable" not in caveats(in_order("tstt")), "said once is enough"
    assert "baseline-once" not in caveats(in_order("stts"))


def test_a_baseline_before_or_after_only_does_not_bracket():
    first = caveats(in_order("ssstttt"))
    assert first["baseline-not-bracketed"].missing == ("4 of 4\xa0compared runs were made after the last baseline run.")
    last = caveats(in_order("ttttsss"))
    assert "before the first baseline run" in last["baseline-not-bracketed"].missing
    half = caveats(in_order("ststtst"))
    assert half["baseline-not-bracketed"].missing == "1 of 4\xa0compared runs was made after the last baseline run."
    assert "baseline-not-bracketed" not in caveats(in_order("ststts"))


def test_time_counts_where_every_run_has_one():
    runs = list(good_runs())
    shuffled = [*runs[1:], runs[0]]
    reordered = [replace(t, order=i) for i, t in enumerate(shuffled)]
    assert "baseline-not-bracketed" not in caveats(write_up(reordered))
    untimed = [replace(t, started=None) for t in reordered]
    assert "baseline-not-bracketed" in caveats(write_up(untimed))


def test_drift_needs_three_baseline_runs_in_two_stretches():
    assert "only 2\xa0runs" in caveats(in_order("stts"))["drift-not-estimable"].missing
    assert "all made in one stretch" in caveats(in_order("tssst"))["drift-not-estimable"].missing
    assert "drift-not-estimable" not in caveats(in_order("ssttts"))


def test_drift_is_told_with_its_figure():
    falling = {i: 8000.0 - 10 * i + (1.0, -1.0, 0.5)[i % 3] for i in range(0, 13, 2)}
    raised = caveats(in_order("ststststststs", falling))["drift"]
    # a fall of 10 points a run over 12 runs is 120 points, 1.5 % of 7940
    assert "score by −120 ± " in raised.missing and "(−1.5\xa0%)" in raised.missing
    assert "tuned/score" in raised.addresses and "tuned/score-per-watt/" in raised.addresses


def test_the_limit_of_drift_is_its_own_interval():
    """Scaled just past and just short of its interval's half-width, by the room that owns the formula."""
    noise = (0.0, 3.0, -2.0, 1.0, -3.0, 2.0)
    places = [0, 2, 4, 6, 8, 10]
    flat = fit_drift(places, noise)
    half = (flat.high - flat.low) / 2
    for factor, raised in ((1.02, True), (0.98, False)):
        slope = factor * half - flat.slope
        values = {p: 8000.0 + n + slope * p for p, n in zip(places, noise, strict=True)}
        assert ("drift" in caveats(in_order("stststststs", values))) is raised


def test_a_fixed_order_is_confounded_with_the_setting():
    raised = caveats(in_order("ssstttt"))["order-confounded"]
    assert "power limit over the setpoints, rank correlation −0.87" in raised.missing
    assert "order-confounded" not in caveats(in_order("stststs"))


def test_three_runs_are_in_some_order_whatever_one_does():
    assert "order-confounded" in caveats(in_order("sstt"))
    assert "order-confounded" not in caveats(in_order("sst"))


def test_the_limit_of_rank_correlation():
    def sweep(limits):
        runs = [
            run(
                100 + i,
                {"power_limit_pct": p, "voltage_offset_mv": -50.0},
                measured={"score": 7000.0 + i},
                started=None,
            )
            for i, p in enumerate(limits)
        ]
        own = write_up(
            [*(replace(t, started=None) for t in good_runs()), *runs],
            sequences=[sequence("walk", "walk", "power_limit_pct", voltage_offset_mv=-50.0)],
        )
        return caveats(own)

    # Spearman by 1 - 6 sum d^2 / (n (n^2 - 1)): d^2 = 4 in 5 gives 0.8 exactly, d^2 = 2 gives 0.9
    assert rank_correlation([60, 80, 70, 100, 90], [1, 2, 3, 4, 5]) == 0.8
    assert "order-confounded" not in sweep((60.0, 80.0, 70.0, 100.0, 90.0))
    assert sweep((60.0, 70.0, 80.0, 100.0, 90.0))["order-confounded"].addresses == ("walk/",)
