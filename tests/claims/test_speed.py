"""How the work of judging grows with the text, in calls; times: `tests/benchmarks/check_of_a_write_up.py`."""

import pytest

from benchgalley.claims import judge
from tests.counted_calls import calls_of

from .world import world

SENTENCE = "It made [41 W](claim:saving) less than stock, EUR 11 and one in four, 255 → 214, at 84 % or so."


def calls_for(sentences: int, between: str) -> int:
    """Calls while a text of so many sentences, each with a claim, is judged."""
    here = world()
    write_up = here.with_prose(between.join([SENTENCE] * sentences) + "\n")
    return calls_of(lambda: judge(write_up, here.site, here.results))


@pytest.mark.parametrize(
    ("between", "most"),
    [
        ("\n\n", 3),  # paragraphs: near the length of the text; claims are also compared with one another
        (" ", 8),  # one paragraph of 30 000 letters: no faster than the square
    ],
)
def test_work_grows_no_faster_than_the_text_by_much(between: str, most: float) -> None:
    calls_for(20, between)
    short, long = calls_for(40, between), calls_for(320, between)
    assert short > 40 * 100  # the sentences are judged
    assert long < 8 * most * short
