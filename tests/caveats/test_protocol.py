"""Samples, sessions, exclusions, numbers of runs, facts: each rule raised, and not raised just inside its limit."""

from dataclasses import replace
from datetime import timedelta

from .factory import (
    OTHER_SAMPLE,
    START,
    TUNED,
    bench,
    card,
    caveats,
    good_runs,
    load,
    run,
    setpoint,
    write_up,
)


def test_single_sample_is_raised_when_the_site_has_one():
    raised = caveats(write_up(), others=())
    assert raised["single-sample"].standing
    assert "Only sample a of the Quillmark Lantern 60" in raised["single-sample"].missing
    assert "sample-of-several" not in raised


def test_two_samples_are_enough_for_a_spread():
    raised = caveats(write_up(), others=(OTHER_SAMPLE,))
    assert "single-sample" not in raised
    assert "2\xa0samples" in raised["sample-of-several"].missing


def test_another_load_or_a_sample_without_completed_runs_does_not_count():
    for other in (
        replace(OTHER_SAMPLE, load=load(version="1.3")),
        replace(OTHER_SAMPLE, trials=(run(0, outcome="crashed"),)),
        replace(OTHER_SAMPLE, card=card(id="pebble")),
    ):
        assert "single-sample" in caveats(write_up(), others=(other,))


def test_sessions_are_parted_by_a_pause_of_more_than_six_hours():
    def with_pause(pause):
        runs = [run(0, measured={"duration_s": 100.0}), run(1, start=START + timedelta(seconds=100) + pause)]
        return caveats(write_up(runs))

    assert "single-session" in with_pause(timedelta(hours=6))
    assert "single-session" not in with_pause(timedelta(hours=6, seconds=1))


def test_without_start_times_all_runs_count_as_one_session():
    runs = (*good_runs()[:-1], replace(good_runs()[-1], started=None))
    assert "Not every run has a start time" in caveats(write_up(runs))["single-session"].missing


def test_excluded_runs_are_counted_and_their_reasons_told():
    runs = list(good_runs())
    runs[3] = replace(runs[3], excluded="door open")
    raised = caveats(write_up(runs))["excluded-runs"]
    assert raised.missing == "1 of 17\xa0runs is left out (5.9\xa0%): r3: door open."
    assert raised.addresses == ("tuned/",)
    assert "excluded-runs" not in caveats(write_up())


def test_uneven_numbers_of_runs_need_a_stopping_rule():
    eco = {"power_limit_pct": 70.0}
    points = (setpoint("stock"), setpoint("tuned", **TUNED), setpoint("eco", **eco))

    def with_eco(count, rule=""):
        runs = (*good_runs(), *(run(100 + i, eco, measured={"score": 7000.0 + i}) for i in range(count)))
        return caveats(write_up(runs, setpoints=points, stopping_rule=rule))

    assert "between 5 and 8\xa0runs" in with_eco(5)["uneven-runs"].missing
    assert "uneven-runs" not in with_eco(8), "the baseline may have more"
    assert "uneven-runs" not in with_eco(5, "Stop when the interval is below 1 %.")


def test_absent_facts_are_listed():
    assert "not-recorded" not in caveats(write_up())
    own = write_up(bench=bench(facts={"host": "x", "Supply": "unknown", "Case": "y"}), load=load(preset=""))
    assert caveats(own)["not-recorded"].missing == "Not recorded: supply, room and load preset."
    runs = [replace(t, driver="" if i < 2 else t.driver) for i, t in enumerate(good_runs())]
    assert caveats(write_up(runs))["not-recorded"].missing == "Not recorded: driver of 2 of 17\xa0runs."
    assert "auxiliary connectors" in caveats(write_up(card=card(connectors=())))["not-recorded"].missing
