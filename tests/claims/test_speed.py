"""A coarse guard: the figures themselves are printed by `tests/benchmarks/check_of_a_write_up.py`."""

import time

from benchgalley.claims import judge
from tests.benchmarks.check_of_a_write_up import measured, ratios

from .world import world


def test_check_stays_near_parsing_and_computing(record_property):
    strict, whole = ratios(measured(5))
    record_property("ratios", f"strict {strict:.2f}, whole {whole:.2f}")
    assert whole < 4


def seconds_for(repeats: int) -> float:
    """CPU time of judging a text of so many sentences in one paragraph."""
    here = world()
    sentence = "It made [41 W](claim:saving) less than stock, EUR 11 and one in four, 255 → 214, at 84 % or so. "
    write_up = here.with_prose(sentence * repeats + "\n")
    start = time.process_time()
    judge(write_up, here.site, here.results)
    return time.process_time() - start


def test_time_grows_no_faster_than_the_text_by_much():
    seconds_for(20)
    short, long = min(seconds_for(40) for _ in range(3)), min(seconds_for(320) for _ in range(2))
    assert long < 8 * 5 * short
