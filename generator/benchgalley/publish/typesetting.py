"""Spaces and signs of quantities in running text, as the SI Brochure sets them.

Only how a text looks changes, never what it states: the checker reads a no-break space and a true minus alike.
"""

import re
from functools import lru_cache

from markupsafe import escape

from benchgalley.records.units import UNITS

_SYMBOLS = sorted({u.symbol for u in UNITS if u.symbol and " " not in u.symbol} | {"rpm"}, key=len, reverse=True)
_BEGINNINGS = "".join(sorted({re.escape(symbol[0]) for symbol in _SYMBOLS}))
# Both begin with the sign they replace: such a pattern is looked for at the speed of a plain text. Few spaces stand
# before a letter with which a unit begins, so that is asked first.
_BEFORE_UNIT = re.compile(rf" (?=[{_BEGINNINGS}])(?<=\d )(?=(?:{'|'.join(map(re.escape, _SYMBOLS))})(?![\w%]))")
_BREAK = "\n"
_MINUS = re.compile(r"-(?<![\w.,)\]%-]-)(?=\d)")


def typeset_once(text: str) -> str:
    """A no-break space between number and unit (SI Brochure 5.4.3), U+2212 for minus (ISO 80000-2)."""
    spaced = _BEFORE_UNIT.sub("\u00a0", text)
    return _MINUS.sub("\u2212", spaced) if "-" in spaced else spaced


@lru_cache(maxsize=4096)
def typeset(text: str) -> str:
    """The same, kept for texts that come again and again."""
    return typeset_once(text)


def escaped(text: str) -> str:
    """As it may stand on a page; most figures hold no sign that means something there."""
    if "&" in text or "<" in text or ">" in text or '"' in text or "'" in text:
        return str(escape(text))
    return text


def all_escaped(texts: list[str]) -> list[str]:
    """The same for a whole column: seldom does a single text of it hold such a sign."""
    whole = _BREAK.join(texts)
    return texts if escaped(whole) is whole else [escaped(text) for text in texts]


def all_typeset(texts: list[str]) -> list[str]:
    """A whole column as `typeset_once` sets each: no rule of it reaches beyond a line break."""
    found = typeset_once(_BREAK.join(texts)).split(_BREAK)
    return found if len(found) == len(texts) else [typeset_once(text) for text in texts]


@lru_cache(maxsize=8192)
def safe(text: str) -> str:
    """`escaped`, kept for texts that come again and again."""
    return escaped(text)


@lru_cache(maxsize=8192)
def typeset_safe(text: str) -> str:
    """`safe` with the spaces and signs of running text."""
    return escaped(typeset_once(text))
