"""The tables of rules, what every caveat and note must have, and the door on sites it did not make."""

import re

import pytest

from benchgalley.caveats import (
    channels,
    conditions,
    examine,
    hazards,
    logs,
    order,
    protocol,
    repeats,
    selection,
    settings,
    stability,
)
from benchgalley.caveats.examine import HAZARD_RULES, RULES
from benchgalley.derive import evaluate
from benchgalley.records.findings import SignalWord

from . import factory
from .factory import caveats, found, run, write_up

ORDER = (
    "single_sample", "single_session", "excluded_runs", "uneven_runs", "not_recorded",
    "single_run", "few_runs", "shape_untested", "split_runs", "outliers",
    "baseline_once", "baseline_not_bracketed", "drift", "drift_not_estimable", "order_confounded",
    "several_comparisons", "tied_optimum",
    "different_driver", "temperature_span", "ambient_absent", "different_bench", "different_load",
    "own_sensor", "own_sensors_compared", "accuracy_unknown", "mixed_channels", "logged_and_typed",
    "coarse_resolution",
    "averaging_unknown",
    "short_window", "coarse_log", "partial_window", "not_steady", "stale_readings", "counter_disagrees",
    "runs_too_short",
    "next_to_failed", "failures_present", "zero_failures", "unchecked_output",
    "outside_range", "interpolated", "above_power_limit", "implausible_saving",
)  # fmt: skip


def test_the_order_of_the_rules_is_pinned():
    assert tuple(rule.__name__ for rule in RULES) == ORDER
    assert tuple(rule.__name__ for rule in HAZARD_RULES) == (
        "mains_conductors", "connector_overload", "hot_surface", "connector_near_limit", "power_limit_raised",
        "voltage_or_clock", "wall_meter",
    )  # fmt: skip


def test_every_rule_of_every_family_is_in_the_table():
    families = (channels, conditions, logs, order, protocol, repeats, selection, settings, stability)
    for family in families:
        public = {
            name
            for name, thing in vars(family).items()
            if callable(thing) and getattr(thing, "__module__", "") == family.__name__ and name[0].islower()
            if not name.startswith("_")
        }
        assert public == {rule.__name__ for rule in family.RULES}
    assert {rule.__name__ for rule in hazards.RULES} == {code.replace("-", "_") for code in hazards.WORDS}


def test_every_rule_says_when_it_is_raised():
    for rule in RULES:
        assert rule.__doc__ and rule.__doc__.startswith("Raised "), rule.__name__


def test_a_session_without_fault_leaves_one_note():
    assert list(caveats(write_up())) == ["sample-of-several"]
    assert found(write_up()).hazards == ()


@pytest.mark.parametrize("spoil", ["nothing", "everything"])
def test_the_same_input_gives_the_same_words(spoil):
    own = write_up() if spoil == "nothing" else _spoiled()
    assert found(own) == found(own)


def _spoiled():
    """Nearly everything wrong at once."""
    tuned = {"power_limit_pct": 105.0, "voltage_offset_mv": -130.0}
    runs = [run(0, measured={"board_power_w": 214.3, "score": 8001.0}, driver="", started=None)]
    runs += [
        run(i, tuned, "crashed" if i == 3 else "completed", measured={"board_power_w": 190.0 + i, "score": 7900.0 + i})
        for i in range(1, 4)
    ]
    runs += [run(4, {**tuned, "voltage_offset_mv": -150.0}, "hung"), run(5, tuned, excluded="door open")]
    return write_up(
        runs,
        setpoints=(factory.setpoint("stock"), factory.setpoint("tuned", **tuned)),
        stopping_rule="",
        load=factory.load(output_checked=False),
        bench=factory.bench(facts={}, instruments=()),
        card=factory.card(connectors=("8-pin",)),
    )


def test_every_caveat_is_complete():
    raised = caveats(_spoiled(), ["tuned/board-power/saved"], others=())
    assert len(raised) >= 12
    for caveat in raised.values():
        for part in (caveat.title, caveat.missing, caveat.effect, caveat.remedy):
            assert part and part[0].isupper() | part[0].isdigit(), caveat
            assert "nan" not in part and "None" not in part and "inf" not in part.split(), caveat
        for part in (caveat.missing, caveat.effect, caveat.remedy):
            assert part.endswith("."), caveat
        assert caveat.standing or caveat.addresses, caveat
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", caveat.code)


def test_numbers_and_units_are_tied_and_minus_is_a_minus():
    warnings = found(_spoiled(), others=())
    texts = [t for c in warnings.caveats for t in (c.title, c.missing, c.effect, c.remedy)]
    texts += [t for h in warnings.hazards for t in (h.source, h.consequence, h.avoidance)]
    assert not [t for t in texts if re.search(r"\d (%|W|K|mV|°C|s|h|A)\b", t)]
    assert not [t for t in texts if re.search(r"(?<![\w-])-\d", t)]
    assert any("−130" in t for t in texts)


def test_signal_words_come_from_the_table_and_injury_words_name_an_injury():
    injuries = {"mains-conductors": "shock", "connector-overload": "fire", "hot-surface": "Burnt"}
    assert {c for c, w in hazards.WORDS.items() if w is not SignalWord.NOTICE} == set(injuries)
    for note in found(_spoiled(), others=()).hazards:
        assert note.word is hazards.WORDS[note.code]
        assert note.word is SignalWord.NOTICE or injuries[note.code] in note.consequence


@pytest.mark.parametrize("runs", [[], [run(0, outcome="crashed")], [run(0, {"power_limit_pct": 84.0}, measured={})]])
def test_hardly_any_runs_raise_no_exception(runs):
    assert caveats(write_up(runs), ["tuned/score/change", "nowhere/nothing", "other-sample:stock/score"])


def test_the_small_sample_site_is_examined(small_site):
    from benchgalley.intake import read_site

    site, _ = read_site(small_site)
    results = evaluate(site)
    for write_up_ in site.write_ups.values():
        warnings = examine(write_up_, site, results, ())
        codes = [c.code for c in warnings.caveats]
        assert "single-sample" in codes and len(codes) == len(set(codes))
