"""Instruments: each rule raised, and not raised just inside its limit."""

from dataclasses import replace

import pytest

from benchgalley.records.bench import MeasuringPoint

from .factory import OTHER_SAMPLE, bench, card, caveats, good_runs, instrument, window, write_up

AIR = instrument("thermometer", "ambient_c", "core_temp_c", at=MeasuringPoint.AIR)
SENSOR = instrument("card sensor", "board_power_w", at=MeasuringPoint.CARD_SENSOR, calibrated="no")


def on(*instruments, **more):
    return write_up(bench=bench(instruments=instruments), **more)


def test_the_cards_own_sensor_unless_calibrated():
    raised = caveats(on(SENSOR, AIR))["own-sensor"]
    assert raised.standing and "tuned/board-power/saved" in raised.addresses
    assert "off by about 5\xa0% either way" in raised.effect
    assert "tuned/board-power/ratio" not in raised.addresses, "a gain error cancels there"
    assert "own-sensor" not in caveats(on(replace(SENSOR, calibrated="2026-01-05"), AIR))
    assert "own-sensor" not in caveats(write_up())


@pytest.mark.parametrize(("there_w", "raised"), [(195.0 * 1.069, True), (195.0 * 1.071, False)])
def test_own_sensors_of_two_cards_within_seven_percent(there_w, raised):
    runs = good_runs(stock_w=there_w, tuned_w=100.0)
    other = write_up(runs, slug="other", sample="b", card=card(id="pebble"), bench=bench(instruments=(SENSOR, AIR)))
    found = caveats(on(SENSOR, AIR), ["other:stock/board-power"], others=(other,))
    assert ("own-sensors-compared" in found) is raised
    with_meter = caveats(write_up(), ["other:stock/board-power"], others=(other,))
    assert "own-sensors-compared" not in with_meter


def test_unknown_accuracy_names_what_is_lacking():
    vague = instrument("meter", "board_power_w", gain_error_pct=None)
    assert caveats(on(vague, AIR))["accuracy-unknown"].missing == "Not known: Board power (the meter, gain error)."
    assert "no instrument named" in caveats(on(AIR))["accuracy-unknown"].missing
    assert "accuracy-unknown" not in caveats(write_up())


def test_a_counted_column_needs_no_accuracy():
    runs = [replace(t, measured={**t.measured, "core_clock_mhz": 2000.0}) for t in good_runs()]
    assert "accuracy-unknown" not in caveats(write_up(runs))


def test_two_measuring_points_for_one_column():
    meter, wall = instrument("meter", "board_power_w"), instrument("plug", "board_power_w", at=MeasuringPoint.WALL)
    assert "slot and cable and wall" in caveats(on(meter, wall, AIR))["mixed-channels"].missing
    assert "mixed-channels" not in caveats(on(meter, instrument("spare", "board_power_w"), AIR))


def test_logged_and_typed_in_one_comparison():
    runs = [replace(t, windows={"board_power_w": window()}) for t in good_runs()]
    assert "mixed-channels" not in caveats(write_up(runs))
    runs[1] = replace(runs[1], windows={})
    found = caveats(write_up(runs))
    assert "typed figure in others" in found["logged-and-typed"].missing
    assert "mixed-channels" not in found


def test_watts_from_elsewhere_taken_at_another_point():
    other = replace(OTHER_SAMPLE, bench=bench(instruments=(SENSOR, AIR)))
    raised = caveats(write_up(), ["other-sample:stock/board-power"], others=(other,))["mixed-channels"]
    assert raised.addresses == ("other-sample:stock/board-power",)
    assert "mixed-channels" not in caveats(write_up(), ["other-sample:stock/score"], others=(other,))
    assert "mixed-channels" not in caveats(write_up(), ["other-sample:stock/board-power"])


@pytest.mark.parametrize(("step", "raised"), [(50.0, False), (50.1, True)])
def test_a_step_of_a_tenth_of_the_value(step, raised):
    runs = [replace(t, measured={**t.measured, "fan_rpm": 500.0}) for t in good_runs()]
    tachometer = instrument("tachometer", "fan_rpm", resolution=step)
    found = caveats(write_up(runs, bench=bench(instruments=(*bench().instruments, tachometer))))
    assert ("coarse-resolution" in found) is raised


def test_a_claimed_difference_smaller_than_one_step():
    coarse = replace(AIR, resolution=10.0)
    meter = bench().instruments[0]
    # tuned runs 6 K cooler
    claimed = caveats(on(meter, coarse), ["tuned/core-temperature/change"])
    assert claimed["coarse-resolution"].addresses == ("tuned/core-temperature/change",)
    assert "coarse-resolution" not in caveats(on(meter, coarse)), "degrees Celsius have no natural zero"
    assert "coarse-resolution" not in caveats(
        on(meter, replace(AIR, resolution=5.5)), ["tuned/core-temperature/change"]
    )


def test_averages_or_instants():
    runs = [replace(t, windows={"board_power_w": window()}) for t in good_runs()]
    vague = instrument("meter", "board_power_w", reading="unknown")
    assert "averaging-unknown" in caveats(on(vague, AIR, runs=runs))
    assert "averaging-unknown" not in caveats(on(vague, AIR)), "nothing is logged"
    assert "averaging-unknown" not in caveats(write_up(runs))
