"""Do the intervals hold the truth as often as they say? Synthetic sessions from a known truth.

The default run takes fewer sessions. The full run (`-m slow`, 20 000 sessions a row) also writes the
table when the environment names a file: BENCHGALLEY_COVERAGE_TABLE=COVERAGE.md.
"""

import os
from pathlib import Path

import pytest

from .coverage import judged, markdown
from .coverage_table import TABLE, run

FULL = 20_000
COSTLY = ("matching",)


def _few(condition):
    return 250 if any(word in condition.name for word in COSTLY) else 2_000


@pytest.mark.parametrize("condition", [pytest.param(c, id=c.name) for c in TABLE])
def test_small(condition):
    sessions = _few(condition)
    found = run(condition, sessions)
    if condition.kind == "short":
        # few sessions cannot tell a point from noise: only the full run holds the shortfall itself
        assert found < condition.claim
        return
    assert judged(condition, found, sessions), f"{condition.name}: {found:.4f} of {sessions} sessions"


def test_a_wrong_interval_is_noticed():
    """The judgement itself can fail: coverage of 90 % is not taken for 95 %."""
    for condition in TABLE[:2]:
        assert not judged(condition, 0.90, 2_000)
    assert not judged(next(c for c in TABLE if c.kind == "most"), 0.08, 2_000)


@pytest.mark.slow
def test_full():
    results = [(condition, run(condition, FULL)) for condition in TABLE]
    target = os.environ.get("BENCHGALLEY_COVERAGE_TABLE")
    if target:
        Path(target).write_text(markdown(results, FULL), encoding="utf-8")
    wrong = [f"{c.name}: {found:.4f}" for c, found in results if not judged(c, found, FULL)]
    assert not wrong, "\n".join(wrong)
