"""Which sentences of a text are worth taking apart."""

import re
from collections.abc import Sequence

from .places import sentences
from .vocabulary import Vocabulary

_WORDS = re.compile(r"\w+")
_DIGIT = re.compile(r"[\d⁰¹²³⁴-⁹₀-₉①-⑨⓪¼-¾⅐-⅞]")


def telling(text: str, links: Sequence[tuple[int, int]], words: Vocabulary) -> list[tuple[int, int]]:
    """Stretches of whole sentences that hold a digit, a link or a word that may tell something.

    Most of a page is prose that states nothing; it is passed over before it is taken apart.
    """
    kept: list[tuple[int, int]] = []
    for low, high in sentences(text) if len(text) >= _SHORT else ((0, len(text)),):
        piece = text[low:high]
        if (
            any(s < high and low <= e for s, e in links)
            or _DIGIT.search(piece)
            or _may_claim(_WORDS.findall(piece.lower()), words)
        ):
            if kept and kept[-1][1] == low:
                kept[-1] = (kept[-1][0], high)
            else:
                kept.append((low, high))
    return kept


def _may_claim(found: Sequence[str], words: Vocabulary) -> bool:
    if not words.triggers.isdisjoint(found):
        return True
    return not words.places.isdisjoint(found) and not words.beside_a_place.isdisjoint(found)


_SHORT = 120
"""Characters below which a text is not worth parting: it costs more than reading the rest."""
