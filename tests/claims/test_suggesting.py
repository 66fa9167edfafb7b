"""What `suggest` offers beside numbers of the runs: stated inputs, and nothing where a setting stands."""

import pytest

from benchgalley.claims import suggest

from .world import world


def offered(prose: str) -> list[str]:
    here = world()
    (found,) = suggest(here.with_prose(prose + "\n"), here.site, here.results)
    return [c.address for c in found.candidates]


@pytest.mark.parametrize(
    ("prose", "first"),
    [
        ("The maker rates it at 255 W.", "given:card"),
        ("It is specified for 255 W.", "given:card"),
        ("The two agree within 1 %.", "given:margin"),
        ("It has 8 GB of memory.", "given:card"),
        ("The host has 16 GB of memory.", "given:bench"),
    ],
)
def test_stated_inputs_are_offered_first(prose, first):
    assert offered(prose)[0] == first


@pytest.mark.parametrize("prose", ["It drew 255 W.", "It fell by 1 %.", "It made 8 runs."])
def test_other_numbers_get_no_stated_input_first(prose):
    assert not any(a.startswith("given:") for a in offered(prose)[:1])


def test_a_rating_the_card_does_not_have_is_not_offered():
    assert "given:card" not in offered("The maker rates it at 256 W.")


def test_a_setting_without_its_unit_gets_no_number_of_the_runs():
    assert offered("I settled on a power limit of 81.") == []
    assert offered("The matching limit was 81 %.")[0] == "power-walk/matching-power-limit"
