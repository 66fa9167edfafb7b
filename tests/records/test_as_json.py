"""Records written as JSON text and read back are the same records."""

import json
import math
from dataclasses import replace
from datetime import UTC, datetime
from types import MappingProxyType

import pytest

from benchgalley.parts import PARTS
from benchgalley.records import units
from benchgalley.records.address import Address
from benchgalley.records.as_json import as_text, plain, restored
from benchgalley.records.results import Component, Equivalence, Interval, Number, Printed

NUMBER = Number(
    address=Address(scope="one", subject="tuned", quantity="board-power"),
    name="board power at Tuned",
    value=181.25,
    unit=units.WATT,
    printed=Printed(value="181.3", text="181.3 W", interval="", plus_minus="181.3 W ± 0.4 W", decimals=1),
    components=(Component("repeatability of tuned", "A", 0.1, 4.0, "5 runs at tuned"),),
    degrees_of_freedom=4.0,
    interval=Interval(None, 181.7, 95.0, "Student t"),
    groups=(("tuned", ("r1", "r2")),),
    finding=Equivalence.SHOWN,
)


def test_a_number_comes_back_as_it_was():
    found = restored(PARTS["compared"], json.loads(as_text((NUMBER,))))
    assert found == (NUMBER,)
    assert isinstance(found[0].interval, Interval) and isinstance(found[0].components[0], Component)
    assert found[0].finding is Equivalence.SHOWN


def test_what_json_has_no_form_of_is_opened_wherever_it_stands():
    moment = datetime(2031, 3, 9, 8, 30, tzinfo=UTC)
    value = {"a": [(moment, Equivalence.REFUTED)], "b": MappingProxyType({1: NUMBER.address})}
    assert plain(value) == {
        "a": [["2031-03-09T08:30:00+00:00", "refuted"]],
        "b": {"1": ["one", "tuned", "board-power", ""]},
    }


@pytest.mark.parametrize("figure", [math.nan, math.inf, -math.inf])
def test_a_figure_json_has_no_form_of_is_never_taken_for_another(figure):
    text = as_text((replace(NUMBER, components=(Component("gain of clamp", "B", figure, 4.0, ""),)),))
    with pytest.raises(ValueError, match="not finite"):
        restored(PARTS["compared"], json.loads(text))


@pytest.mark.parametrize("value", [object(), {1, 2}, [b"bytes"], 1j])
def test_what_cannot_be_written_is_told(value):
    with pytest.raises(TypeError, match="has no plain form"):
        as_text(value)
