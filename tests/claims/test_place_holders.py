"""Noughts that the printing rule puts in the place of digits the uncertainty does not carry.

Rounding of a value to the place of its uncertainty: JCGM 100:2008, 7.2.6. That such noughts are not read back as
digits is this project's rule; no published source.
"""

from dataclasses import replace

import pytest

from benchgalley.claims import judge
from benchgalley.records.address import Address
from benchgalley.records.results import Number, Results

from .world import SLUG, world

SCORE = Address(scope=SLUG, subject="tuned", quantity="score")


def results_in_tens() -> Results:
    """The numbers of the world, the tuned score among them 5856.3 points known to tens only."""
    known = world().results

    def compute(address: Address) -> Number | None:
        number = known.find(address)
        if address != SCORE or number is None:
            return number
        printed = number.printed._replace(
            value="5860", text="5860\u00a0points", interval="5740 points to 5970 points",
            plus_minus="5860 points ± 120 points", decimals=-1,
        )  # fmt: skip
        return replace(number, value=5856.3, printed=printed)

    return Results(compute=compute, list_addresses=known.addresses, rival_groups=known.rivals)


@pytest.mark.parametrize(
    ("stated", "verdict"),
    [
        ("5860 points", "agrees"),
        ("5\u202f860 points", "agrees"),
        ("5,860", "agrees"),
        ("5856 points", "agrees"),
        ("5850 points", "disagrees"),
        ("5870 points", "disagrees"),
        ("5900 points", "disagrees"),
        ("5861 points", "disagrees"),
        ("5860.0 points", "disagrees"),
    ],
)
def test_a_number_takes_its_own_printed_form(stated, verdict):
    here = world()
    prose = f"Tuned made [{stated}](claim:tuned/score).\n"
    (claim,) = judge(here.with_prose(prose), here.site, results_in_tens()).claims
    assert claim.verdict.value == verdict, claim.message
