"""Windows and readings: each rule raised, and not raised just inside its limit."""

from dataclasses import replace

import pytest

from benchgalley.records.bench import MeasuringPoint

from .factory import TUNED, bench, caveats, good_runs, instrument, load, window, write_up


def logged(column="board_power_w", **changed):
    """Every run logged; the tuned ones with this window."""
    sound, spoiled = window(column), window(column, **changed)
    return caveats(
        write_up(
            [
                replace(
                    t, windows={column: spoiled if t.settings["power_limit_pct"] == TUNED["power_limit_pct"] else sound}
                )
                for t in good_runs()
            ]
        )
    )


def test_a_sound_window_raises_nothing():
    assert list(logged()) == ["sample-of-several"]


@pytest.mark.parametrize(
    ("code", "outside", "inside"),
    [
        ("short-window", {"end_s": 69.9}, {"end_s": 70.0}),
        ("coarse-log", {"readings": 9}, {"readings": 10}),
        ("coarse-log", {"largest_gap_s": 10.1}, {"largest_gap_s": 10.0}),
        ("partial-window", {"coverage_pct": 94.9}, {"coverage_pct": 95.0}),
        # 2 % of 163 W over 100 s: 3.26 W, 1.956 W a minute
        ("not-steady", {"slope_per_min": -1.957}, {"slope_per_min": 1.955}),
        ("stale-readings", {"repeated_pct": 50.1}, {"repeated_pct": 50.0}),
    ],
)
def test_each_limit_from_both_sides(code, outside, inside):
    raised = logged(**outside)
    assert code in raised
    assert "In 8 of 17\xa0logged runs" in raised[code].missing
    assert "tuned/board-power" in raised[code].addresses
    assert not [a for a in raised[code].addresses if a.startswith("stock/")]
    assert code not in logged(**inside)


def test_an_energy_counter_is_held_against_the_integral():
    # The window's integral is 16 300 J: 2 % of it are 326 J
    for counter_j in (16_300.0 - 327, 16_300.0 + 327):
        raised = logged(counter_j=counter_j)["counter-disagrees"]
        assert "differ by more than 2\xa0% (most 2.0\xa0%)" in raised.missing
        assert "tuned/board-power" in raised.addresses
    for counter_j in (16_300.0 - 325, 16_300.0 + 325, None):
        assert "counter-disagrees" not in logged(counter_j=counter_j)


def test_temperatures_settle_within_one_kelvin():
    # 1 K over 100 s: 0.6 K a minute
    assert "rises by 0.61\xa0K a minute" in logged("core_temp_c", slope_per_min=0.61)["not-steady"].missing
    assert "not-steady" not in logged("core_temp_c", slope_per_min=0.6)


def test_temperatures_may_repeat_their_readings():
    assert "stale-readings" not in logged("core_temp_c", repeated_pct=99.0)


def test_a_failed_run_may_have_a_short_window():
    runs = [replace(t, windows={"board_power_w": window()}) for t in good_runs()]
    from benchgalley.records.bench import Outcome

    runs[1] = replace(runs[1], outcome=Outcome.CRASHED, windows={"board_power_w": window(end_s=20.0)})
    assert "short-window" not in caveats(write_up(runs))


@pytest.mark.parametrize(
    ("point", "interval_s", "length_s", "raised"),
    [
        (MeasuringPoint.CARD_SENSOR, 0.02, 4.9, True),  # five seconds of work at least
        (MeasuringPoint.CARD_SENSOR, 0.02, 5.0, False),
        (MeasuringPoint.CARD_SENSOR, 1.0, 49.9, True),  # fifty of the sensor's periods
        (MeasuringPoint.CARD_SENSOR, 1.0, 50.0, False),
        (MeasuringPoint.SLOT_AND_CABLE, 1.0, 9.9, True),  # ten readings
        (MeasuringPoint.SLOT_AND_CABLE, 1.0, 10.0, False),
        (MeasuringPoint.SLOT_AND_CABLE, None, 0.5, False),
    ],
)
def test_runs_long_enough_for_the_sensor(point, interval_s, length_s, raised):
    runs = [replace(t, measured={**t.measured, "duration_s": length_s}) for t in good_runs()]
    meter = instrument("meter", "board_power_w", at=point, sampling_interval_s=interval_s)
    own = write_up(runs, bench=bench(instruments=(meter, bench().instruments[1])))
    assert ("runs-too-short" in caveats(own)) is raised


def test_the_loads_nominal_length_stands_in():
    runs = [replace(t, measured={"board_power_w": 160.0}) for t in good_runs()]
    meter = instrument("meter", "board_power_w", sampling_interval_s=1.0)
    for length_s, raised in ((9.0, True), (10.0, False)):
        own = write_up(runs, bench=bench(instruments=(meter,)), load=load(run_length_s=length_s))
        assert ("runs-too-short" in caveats(own)) is raised
