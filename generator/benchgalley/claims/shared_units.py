"""Numbers that have their unit from the next one: "from 262 to 214 W"."""

from collections.abc import Sequence
from dataclasses import replace

from .mentions import NumberMention
from .vocabulary import words_of

_BORROW_ACROSS = words_of("and or to against versus vs vs. – - / , then instead of from up down") | {
    "instead of", "up to", "down to", "rather than", "not", "to about", "and about",
}  # fmt: skip


def borrow_units(text: str, mentions: Sequence[NumberMention]) -> list[NumberMention]:
    """ "from 262 to 214 W", "31 and 33 dB": a number without a unit has that of the next one joined to it."""
    done = list(mentions)
    for k in range(len(done) - 2, -1, -1):
        here, following = done[k], done[k + 1]
        if here.unit_text or not following.unit_text or following.counted:
            continue
        between = " ".join(text[here.end : following.numerals[0].start].lower().split())
        if between in _BORROW_ACROSS:
            done[k] = replace(here, unit=following.unit, unit_text=following.unit_text, unit_known=following.unit_known)
    return done
