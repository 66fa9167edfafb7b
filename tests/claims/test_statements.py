"""Generated prose: of the true statements none is refused, of the false ones none passes.

The rules of truth are worked out by the generator itself (`statements.py`), not by the room under test.
"""

from collections import Counter

import pytest

from benchgalley.claims import judge

from .statements import FALSEHOODS, Writer, text_of
from .world import world

SIZES = [pytest.param(500, id="500"), pytest.param(10_000, id="10000", marks=pytest.mark.slow)]


def table(title: str, counts: Counter[str], missed: Counter[str]) -> str:
    """Counts by form as text."""
    lines = [f"{title}: {sum(counts.values())} made, {sum(missed.values())} misjudged"]
    return "\n".join(lines + [f"  {name:<20} {counts[name]:>6} {missed[name]:>4}" for name in sorted(counts)])


@pytest.mark.parametrize("size", SIZES)
def test_no_true_statement_is_refused(size, capsys):
    here = world()
    writer = Writer(here, seed=20_261_002)
    made, refused, told = Counter(), Counter(), []
    for _ in range(size):
        statement = writer.true()
        made[statement.form] += 1
        reading = judge(here.with_prose(text_of(statement)), here.site, here.results)
        if reading.problems or len(reading.claims) != 1:
            refused[statement.form] += 1
            told.append(text_of(statement) + "  " + "; ".join(p.message for p in reading.problems))
    with capsys.disabled():
        print("\n" + table("true statements", made, refused))
    assert not told, "\n".join(told[:20])
    assert len(made) >= 10


@pytest.mark.parametrize("size", SIZES)
def test_no_false_statement_passes(size, capsys):
    here = world()
    writer = Writer(here, seed=20_261_003)
    made, passed, told = Counter(), Counter(), []
    for _ in range(size):
        statement, falsehood = writer.false()
        made[falsehood] += 1
        reading = judge(here.with_prose(text_of(statement)), here.site, here.results)
        if not reading.problems:
            passed[falsehood] += 1
            told.append(f"{falsehood}: {text_of(statement)}")
    with capsys.disabled():
        print("\n" + table("false statements", made, passed))
    assert not told, "\n".join(told[:20])
    assert set(made) == {name for name, _ in FALSEHOODS}
