"""How much work is done, told without a clock: machines are shared, and a test that fails on a busy one tells nothing.

Times are printed by `tests/benchmarks/`, as ratios to a floor of the same run.
"""

import sys
from collections import Counter
from collections.abc import Callable


def calls_of(work: Callable[[], object]) -> int:
    """Calls of Python functions and of built-in ones while the work is done: the same on a quick machine and a slow.

    What one call costs is not told: an array of a million values is summed in one.
    """
    counted: Counter[str] = Counter()

    def note(frame: object, event: str, argument: object) -> None:
        counted[event] += 1

    before = sys.getprofile()
    sys.setprofile(note)
    try:
        work()
    finally:
        sys.setprofile(before)
    return counted["call"] + counted["c_call"]
