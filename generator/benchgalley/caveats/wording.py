"""How figures and lists are written inside caveats and hazard notes.

Printed results have their one form in `Number.printed`; these are facts about the runs (counts, spans,
settings) and are written short.
"""

import re
from collections.abc import Iterable, Sequence

from ..metrology.rounding import round_significant, round_to_place

NO_BREAK = "\u00a0"
MINUS = "\u2212"
THIN = "\u202f"
MOST_NAMED = 6

_BEFORE_UNIT = re.compile(
    r"(?<=\d) (?=(?:%|°C|mV|V|MHz|GHz|W|kW|K|A|s|h|J|dB|r/min|runs?|points?|setpoints?|failures)(?![\w/]))"
)


def tied(text: str) -> str:
    """A no-break space between every number and its unit."""
    return _BEFORE_UNIT.sub(NO_BREAK, text)


def figure(value: float, digits: int = 2) -> str:
    """Number to `digits` significant digits, never cutting whole digits, with a true minus.

    >>> figure(12.34), figure(1234.5), figure(-0.0456), figure(0)
    ('12', '1234', '−0.046', '0')
    """
    if abs(value) >= 10**digits:
        text = round_to_place(value, 0)
    else:
        text = round_significant(value, digits) if value else "0"
    whole, point, rest = text.removeprefix("-").partition(".")
    grouped = f"{int(whole):,}".replace(",", THIN) if len(whole) > 4 else whole
    return (MINUS if text.startswith("-") else "") + grouped + point + rest


def exact(value: float) -> str:
    """A setting as it was typed, with a true minus: `−130`, `84`, `0.5`."""
    text = f"{value:g}" if abs(value) < 1e6 else repr(value)
    return MINUS + text[1:] if text.startswith("-") else text


def amount(value: float, unit: str, digits: int = 2) -> str:
    """Number and unit with a no-break space between; without a unit, the number alone."""
    return f"{figure(value, digits)}{NO_BREAK}{unit}" if unit else figure(value, digits)


def counted(count: int, noun: str = "run") -> str:
    """A count with its noun: `1 run`, `5 runs`."""
    return f"{count}{NO_BREAK}{noun}" if count == 1 else f"{count}{NO_BREAK}{noun}s"


def agree(count: int, one: str, several: str) -> str:
    """The verb form that goes with a count."""
    return one if count == 1 else several


def listed(words: Iterable[str]) -> str:
    """`a`, `a and b`, `a, b and c`; long lists are cut and the rest counted."""
    kept = list(words)
    if len(kept) > MOST_NAMED:
        kept = [*kept[: MOST_NAMED - 1], f"{len(kept) - MOST_NAMED + 1} more"]
    if len(kept) < 2:
        return "".join(kept)
    return f"{', '.join(kept[:-1])} and {kept[-1]}"


def sentence(text: str) -> str:
    """First letter in upper case."""
    return text[:1].upper() + text[1:]


def unique(words: Iterable[str]) -> tuple[str, ...]:
    """Each word once, in the order first met."""
    return tuple(dict.fromkeys(words))


def joined(parts: Sequence[str]) -> str:
    """Details one after another: `tuned 2 runs; eco 1 run`."""
    if len(parts) > MOST_NAMED:
        parts = [*parts[: MOST_NAMED - 1], f"{len(parts) - MOST_NAMED + 1} more"]
    return "; ".join(parts)
