"""Hazard notes: only where they apply, with the word that belongs to them, in the order of ANSI Z535.6."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from benchgalley.caveats.hazards import CONTACT_LIMIT_A, connector_load
from benchgalley.records.bench import MeasuringPoint
from benchgalley.records.findings import SignalWord

from .factory import bench, card, good_runs, hazards, instrument, run, setpoint, write_up

PUBLISHED = json.loads((Path(__file__).parent / "reference" / "connectors.json").read_text("utf-8"))
NAMES = {"16-pin 12VHPWR": "16-contact", "6-pin (2x3)": "6-pin", "8-pin (2x4)": "8-pin"}


def drawing(power_w, *connectors, limit_pct=50.0, stock_w=100.0):
    """One run at this measured power on a card with these connectors."""
    runs = [run(0, {"power_limit_pct": limit_pct}, measured={"board_power_w": power_w})]
    return write_up(runs, card=card(connectors=connectors, stock_board_power_w=stock_w))


@pytest.mark.parametrize("case", [c for c in PUBLISHED["cases"] if c["id"].startswith("total_")], ids=lambda c: c["id"])
def test_the_sum_of_the_ratings(case):
    parts = tuple(p for p in case["inputs"]["parts"] if p != "slot")
    assert connector_load(drawing(100.0, *parts)).rated_w == case["recomputed"]["W"]


@pytest.mark.parametrize(
    "case", [c for c in PUBLISHED["cases"] if c["id"].startswith("connector_")], ids=lambda c: c["id"]
)
def test_each_connector_beside_the_slot(case):
    name = NAMES.get(case["inputs"]["connector"], case["inputs"]["connector"])
    assert connector_load(drawing(100.0, name)).rated_w == 75 + case["published"]["sustained_W"]


def test_beyond_the_rating_at_it_and_near_it():
    # slot and 8-pin: 225 W, nine tenths are 202.5 W
    over = hazards(drawing(225.1, "8-pin"))["connector-overload"]
    assert over.word is SignalWord.WARNING and "fire" in over.consequence
    at = hazards(drawing(225.0, "8-pin"))
    assert "connector-overload" not in at
    assert at["connector-near-limit"].word is SignalWord.NOTICE
    assert "connector-near-limit" in hazards(drawing(202.6, "8-pin"))
    assert not hazards(drawing(202.5, "8-pin"))


def test_the_configured_limit_counts_as_much_as_the_measured_power():
    own = drawing(150.0, "8-pin", limit_pct=110.0, stock_w=210.0)
    assert "trial r0, limit set" in hazards(own)["connector-overload"].source


def test_every_row_counts_also_a_failed_or_excluded_one():
    rows = [run(0, measured={"board_power_w": 100.0}), run(1, outcome="crashed", measured={"board_power_w": 230.0})]
    own = write_up(rows, card=card(connectors=("8-pin",), stock_board_power_w=100.0))
    assert "trial r1, measured" in hazards(own)["connector-overload"].source
    spoiled = [rows[0], replace(rows[1], excluded="typing error")]
    assert "connector-overload" in hazards(replace(own, trials=tuple(spoiled)))


def test_current_of_the_worst_contact_is_at_least_the_mean():
    """600 W at 12 V through six live contacts is 8.33 A, 91 % of 9.2 A (connector ratings; see reference)."""
    note = hazards(drawing(675.0, "16-contact", stock_w=600.0))["connector-near-limit"]
    assert "at least 8.33\xa0A" in note.source and "rated 9.2\xa0A" in note.source
    assert round(600 / 12 / 6, 2) == 8.33 and round(100 * 600 / 12 / 6 / CONTACT_LIMIT_A) == 91


def test_unknown_or_unrecorded_connectors_are_not_guessed():
    assert not hazards(drawing(400.0, "9-pin"))
    assert not hazards(drawing(400.0, stock_w=200.0))
    assert "connector-overload" in hazards(drawing(80.0, stock_w=70.0)), "a card fed by the slot alone"


def at(**settings):
    return hazards(
        write_up([*good_runs(), run(100, settings)], setpoints=(setpoint("stock"), setpoint("x", **settings)))
    )


@pytest.mark.parametrize(
    ("settings", "kind"),
    [
        ({"voltage_offset_mv": -1.0}, "lower voltage than stock"),
        ({"core_offset_mhz": 15.0}, "higher core clock than stock"),
        ({"memory_offset_mhz": 100.0}, "higher memory clock than stock"),
    ],
)
def test_lower_voltage_or_higher_clock(settings, kind):
    note = at(**settings)["voltage-or-clock"]
    assert note.word is SignalWord.NOTICE and kind in note.source
    assert note.consequence == "Crashes, silently wrong results and loss of data."
    assert "Keep backups" in note.avoidance and "Harbour scene only" in note.avoidance


@pytest.mark.parametrize(
    "settings", [{"voltage_offset_mv": 25.0}, {"core_offset_mhz": -50.0}, {"power_limit_pct": 60.0}]
)
def test_higher_voltage_lower_clock_or_lower_limit_are_no_hazard(settings):
    assert not at(**settings)


def test_a_raised_power_limit():
    assert "inside the maker's range" in at(power_limit_pct=101.0)["power-limit-raised"].source
    assert "inside the maker's range" in at(power_limit_pct=110.0)["power-limit-raised"].source
    beyond = at(power_limit_pct=111.0)["power-limit-raised"]
    assert "beyond the 110\xa0%" in beyond.source and beyond.word is SignalWord.NOTICE
    assert "power-limit-raised" not in at(power_limit_pct=100.0)


def test_a_meter_at_the_wall_that_was_used():
    plug = instrument("plug-in meter", "wall_power_w", at=MeasuringPoint.WALL)
    own = write_up(bench=bench(instruments=(*bench().instruments, plug)))
    assert "wall-meter" not in hazards(own), "no run has a reading of it"
    runs = [replace(t, measured={**t.measured, "wall_power_w": 250.0}) for t in good_runs()]
    note = hazards(replace(own, trials=tuple(runs)))["wall-meter"]
    assert note.word is SignalWord.NOTICE
    for needed in ("rated current", "Do not open mains", "qualified person", "local electrical code"):
        assert needed in note.avoidance


@pytest.mark.parametrize(
    ("name", "raised"),
    [
        ("clamp meter on the mains conductors", True),
        ("probe on a live wire", True),
        ("current probe, opened supply", True),
        ("clamp meter on the 12 V cable", False),
        ("plug-in meter, mains side", False),
    ],
)
def test_danger_only_where_mains_conductors_are_clamped_or_probed(name, raised):
    notes = hazards(write_up(bench=bench(instruments=(*bench().instruments, instrument(name, "sound_dba")))))
    assert ("mains-conductors" in notes) is raised
    if raised:
        note = notes["mains-conductors"]
        assert note.word is SignalWord.DANGER and "shock" in note.consequence
        assert "qualified person" in note.avoidance and "CAT II" in note.avoidance


@pytest.mark.parametrize(
    ("prose", "raised"),
    [
        ("I touched the back plate after the run.", True),
        ("With a finger on the shroud it felt warm.", True),
        ("I did not touch the card.", False),
        ("The fan curve was left untouched.", False),
        ("I touched the fan curve once.", False),
        ("The card touched its limit.", False),
    ],
)
def test_caution_only_where_touching_is_described(prose, raised):
    notes = hazards(write_up(prose=prose))
    assert ("hot-surface" in notes) is raised
    if raised:
        assert notes["hot-surface"].word is SignalWord.CAUTION


def test_the_gravest_note_comes_first():
    clamp = instrument("clamp on mains conductors", "wall_power_w", at=MeasuringPoint.WALL)
    rows = [
        run(
            0,
            {"power_limit_pct": 110.0, "voltage_offset_mv": -50.0},
            measured={"board_power_w": 300.0, "wall_power_w": 1.0},
        )
    ]
    own = write_up(
        rows, bench=bench(instruments=(clamp,)), card=card(connectors=("8-pin",)), prose="I touched the card."
    )
    words = [note.word for note in hazards(own).values()]
    assert words == sorted(words, key=list(SignalWord).index) and len(set(words)) == 4
