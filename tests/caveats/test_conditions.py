"""Driver, room, bench, load: each rule raised, and not raised just inside its limit."""

from dataclasses import replace

import pytest

from .factory import OTHER_SAMPLE, TUNED, bench, card, caveats, good_runs, load, write_up


def changed(tuned_only=True, **fields):
    return [
        replace(t, **fields) if not tuned_only or t.settings["power_limit_pct"] == TUNED["power_limit_pct"] else t
        for t in good_runs()
    ]


def test_another_driver_at_a_compared_setpoint():
    raised = caveats(write_up(changed(driver="7.2")))["different-driver"]
    assert raised.missing == "The baseline was run with driver 7.1; tuned: 7.2."
    assert raised.addresses == ("tuned/",)
    assert "different-driver" not in caveats(write_up(changed(tuned_only=False, driver="7.2")))


def test_an_unrecorded_driver_is_not_a_different_one():
    assert "different-driver" not in caveats(write_up(changed(driver="")))


def test_another_driver_where_the_prose_points_elsewhere():
    other = replace(OTHER_SAMPLE, trials=tuple(changed(tuned_only=False, driver="6.0")))
    assert "different-driver" not in caveats(write_up(), others=(other,))
    raised = caveats(write_up(), ["other-sample:tuned/score"], others=(other,))["different-driver"]
    assert raised.addresses == ("other-sample:tuned/score",)


@pytest.mark.parametrize(("warmest", "raised"), [(25.0, False), (25.1, True)])
def test_the_room_may_span_three_kelvin(warmest, raised):
    runs = [replace(t, measured={**t.measured, "ambient_c": 22.0}) for t in good_runs()]
    runs[5] = replace(runs[5], measured={**runs[5].measured, "ambient_c": warmest})
    found = caveats(write_up(runs))
    assert ("temperature-span" in found) is raised
    if raised:
        assert "from 22.0 to 25.1\xa0°C" in found["temperature-span"].missing
        assert "tuned/core-temperature/" in found["temperature-span"].addresses


def test_decimals_that_do_not_subtract_evenly_stay_inside():
    runs = [replace(t, measured={**t.measured, "ambient_c": 15.1}) for t in good_runs()]
    runs[5] = replace(runs[5], measured={**runs[5].measured, "ambient_c": 18.1})
    assert 18.1 - 15.1 > 3, "the float difference is a little over three"
    assert "temperature-span" not in caveats(write_up(runs))


def test_one_run_without_room_temperature():
    runs = list(good_runs())
    runs[1] = replace(runs[1], measured={c: v for c, v in runs[1].measured.items() if c != "ambient_c"})
    raised = caveats(write_up(runs))["ambient-absent"]
    assert raised.missing == "1 of 17\xa0runs have no room temperature."
    assert "tuned/temperature-rise" in raised.addresses and not raised.standing
    none = [replace(t, measured={"board_power_w": 160.0}) for t in good_runs()]
    assert caveats(write_up(none))["ambient-absent"].missing == "No run has a room temperature."
    only_scores = [replace(t, measured={"score": 1.0}) for t in good_runs()]
    assert "ambient-absent" not in caveats(write_up(only_scores))
    assert "ambient-absent" not in caveats(write_up())


def test_data_from_another_bench_or_load():
    cases = {
        "different-bench": replace(OTHER_SAMPLE, bench=bench(id="attic", name="Attic bench")),
        "different-load": replace(OTHER_SAMPLE, load=load(preset="low")),
    }
    for code, other in cases.items():
        assert code not in caveats(write_up(), others=(other,)), "nothing is drawn from there"
        raised = caveats(write_up(), ["other-sample:stock/score"], others=(other,))
        assert raised[code].addresses == ("other-sample:stock/score",)
    same = caveats(write_up(), ["other-sample:stock/score"])
    assert not set(cases) & set(same)


def test_figures_pooled_over_a_card_draw_on_its_other_write_ups():
    other = replace(OTHER_SAMPLE, bench=bench(id="attic", name="Attic bench"))
    assert "different-bench" in caveats(write_up(), ["lantern:tuned/board-power"], others=(other,))
    foreign = replace(other, card=card(id="pebble"))
    assert "different-bench" not in caveats(write_up(), ["lantern:tuned/board-power"], others=(foreign,))
