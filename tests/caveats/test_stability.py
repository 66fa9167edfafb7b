"""Failed and completed runs: each rule raised, and not raised just inside its limit."""

from dataclasses import replace

import pytest

from .factory import caveats, good_runs, load, run, sequence, setpoint, write_up

LOW = {"power_limit_pct": 84.0, "voltage_offset_mv": -130.0}


def undervolted(ladder=(), **more):
    """Tuned at -130 mV, backed off from a ladder of (offset, outcome)."""
    rungs = [run(100 + i, {"voltage_offset_mv": v}, outcome) for i, (v, outcome) in enumerate(ladder)]
    return write_up(
        [*good_runs(tuned=LOW), *rungs, *more.pop("extra", ())],
        setpoints=(setpoint("stock"), setpoint("tuned", **LOW)),
        **more,
    )


TRADE_LADDER = ((-50.0, "completed"), (-110.0, "completed"), (-150.0, "crashed"))
"""Offsets that completed and failed, backed off to -130 mV: common practice, no published source."""


def test_the_next_rung_failed():
    raised = caveats(undervolted(TRADE_LADDER))["next-to-failed"]
    assert raised.missing == (
        "Tuned: voltage offset −130\xa0mV, next to −150\xa0mV, "
        "where 1 of 1\xa0run failed (1 crashed); 20\xa0mV of headroom."
    )
    assert raised.addresses == ("tuned/",)


@pytest.mark.parametrize(
    "ladder",
    [
        ((-140.0, "completed"), (-150.0, "hung")),  # a completed rung between
        ((-150.0, "aborted"),),  # stopped by hand, says nothing
        ((-150.0, "completed"),),
        ((-110.0, "crashed"),),  # on the safe side: no neighbour beyond
    ],
)
def test_no_failed_neighbour_beyond(ladder):
    assert "next-to-failed" not in caveats(undervolted(ladder))


def test_a_failure_with_another_memory_offset_is_another_road():
    other = run(100, {"voltage_offset_mv": -150.0, "memory_offset_mhz": 400.0}, "crashed")
    assert "next-to-failed" not in caveats(undervolted(extra=[other]))


def test_failures_at_a_setpoint_are_counted_by_kind():
    extra = [run(100, LOW, "hung"), run(101, LOW, "aborted")]
    raised = caveats(undervolted(extra=extra))["failures-present"]
    assert raised.missing == "Did not complete: tuned in 2 of 10\xa0runs (1 hung and 1 aborted)."
    assert raised.addresses == ("tuned/",)


def test_a_ladder_is_run_until_it_fails():
    ladder = sequence("offset-ladder", "ladder", "voltage_offset_mv")
    assert "failures-present" not in caveats(undervolted(TRADE_LADDER, sequences=[ladder]))
    walk = sequence("offset-walk", "walk", "voltage_offset_mv")
    raised = caveats(undervolted(TRADE_LADDER, sequences=[walk]))["failures-present"]
    assert raised.addresses == ("offset-walk/",)


@pytest.mark.parametrize(("runs", "bound"), [(5, "45.1"), (10, "25.9"), (60, "4.87")])
def test_no_failure_bounds_the_share(runs, bound):
    """1 - 0.05^(1/n): 45.1 % at 5, 25.9 % at 10, 4.9 % at 60 runs (Clopper and Pearson 1934, zero failures)."""
    own = write_up(
        [run(0), *(run(1 + i, LOW, measured={"score": 1.0}) for i in range(runs))],
        setpoints=(setpoint("stock"), setpoint("tuned", **LOW)),
    )
    assert f"failed in 0 of {runs}\xa0runs: up to {bound}\xa0%" in caveats(own)["zero-failures"].missing


def test_one_failure_is_no_zero_and_stock_is_not_asked():
    assert "zero-failures" not in caveats(undervolted(extra=[run(100, LOW, "hung")]))
    assert "zero-failures" not in caveats(undervolted(extra=[run(100, LOW, "aborted")])), "nobody knows"
    assert "zero-failures" not in caveats(write_up()), "a power limit alone does not make a card fail"


def soaked(outcome="completed", hours=3.0):
    soak = run(100, LOW, outcome, sequence="soak", measured={"duration_s": hours * 3600})
    return undervolted(sequences=[sequence("soak", "soak", setpoint="tuned")], extra=[soak])


def test_a_soak_without_failure_bounds_the_rate():
    """Poisson, zero events: -ln 0.05 = 2.996 over the hours (Garwood 1936), 1.0 an hour for three hours."""
    raised = caveats(soaked())["zero-failures"]
    assert "soak failed 0 times in 3.00\xa0h: up to 1.0\xa0failures an hour, one in 1.0\xa0h" in raised.missing
    assert raised.addresses == ("soak/",)
    assert "soak failed 0" not in caveats(soaked("hung"))["zero-failures"].missing


def test_soak_runs_stay_out_of_the_setpoint():
    assert "failures-present" in caveats(soaked("hung"))
    assert caveats(soaked("hung"))["failures-present"].addresses == ("soak/",)


def test_unchecked_output_matters_off_stock_only():
    blind = load(output_checked=False)
    raised = caveats(replace(undervolted(), load=blind))["unchecked-output"]
    assert raised.addresses == ("tuned/",) and "Harbour scene does not check" in raised.missing
    assert "unchecked-output" not in caveats(undervolted())
    assert "unchecked-output" not in caveats(write_up(load=blind))
