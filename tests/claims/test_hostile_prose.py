"""Whatever stands in the prose, judging answers: no exception, every place inside the file."""

import random

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchgalley.claims import judge, restate, suggest, words_en

from .world import world

ADDRESSES = (
    "tuned/board-power", "tuned/board-power/saved", "soak/failure-rate/at-most", "saving", "stock/score", "x", "",
    "tuned/score/equivalent", "boosted/score/change", "offset-ladder/first-failed", "skiff-7:tuned/board-power",
)  # fmt: skip
PIECES = (
    *(w.text for w in words_en.CLAIM_WORDS), *words_en.NUMBER_WORDS, *words_en.FRACTIONS, *words_en.MULTIPLES,
    *(p for p, _ in words_en.HEDGES_BEFORE), *(p for p, _ in words_en.BOUNDS_BEFORE), "W", "%", "°C", "mV", "points",
    "41", "−130", "84 %", "6 249", "1e400", "9" * 400, "1.2×10³", "0.0", "±", "to", "from", "of", "(", ")", "–", "-",
    "+", ".", ",", ":", "¼", "½", "٤١", "４１", "Ⅳ", "²", "٪", "\u0301", "a", "an", "hundred", "thousand",
    "and", "point", "stock", "tuned", "limit", "offset", "margin", "interval", "1.2.3.4", "12:30", "2026-13-45", "e",
    "10^9", "10^999999",
)  # fmt: skip


def sound(prose: str) -> None:
    """Judge, restate and suggest without an exception, and point into the file only."""
    here = world()
    write_up = here.with_prose(prose)
    reading = judge(write_up, here.site, here.results)
    lines = write_up.source.split("\n")
    for problem in reading.problems:
        assert 1 <= problem.where.line <= len(lines) and problem.where.column >= 1
        assert problem.message
    restate(write_up, here.site, here.results)


def test_word_soup_never_breaks_the_reader():
    chance = random.Random(41)
    for _ in range(600):
        parts = []
        for _ in range(chance.randrange(1, 14)):
            piece = chance.choice(PIECES)
            parts.append(f"[{piece}](claim:{chance.choice(ADDRESSES)})" if chance.random() < 0.3 else piece)
        sound("X " + " ".join(parts) + "\n")


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.text(alphabet=st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"]), max_size=80))
def test_any_text_is_read(text):
    safe = text.translate({ord(c): " " for c in "!`<>&\\[]"})
    sound(f"X {safe} [{safe} 41 W](claim:tuned/board-power/saved)\n")


def test_suggesting_survives_word_soup():
    chance = random.Random(42)
    here = world()
    prose = " ".join(chance.choice(PIECES) for _ in range(60))
    suggest(here.with_prose(f"X {prose}\n"), here.site, here.results)
