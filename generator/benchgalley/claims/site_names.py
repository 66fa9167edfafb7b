"""What the files of a site are called: the same for all its write-ups, so it is worked out once for them."""

import re
from collections import Counter
from collections.abc import Callable
from functools import lru_cache
from typing import TypeVar, TypeVarTuple

from benchgalley.records.bench import Bench, Card, Load

_Asked = TypeVarTuple("_Asked")
_Found = TypeVar("_Found")


def _kept(work: Callable[[*_Asked], _Found]) -> Callable[[*_Asked], _Found]:
    """Keeps what it found last, for as long as it is asked about the same."""
    last: tuple[tuple[*_Asked], _Found] | None = None

    def asked(*about: *_Asked) -> _Found:
        nonlocal last
        if (known := last) is None or known[0] != about:
            last = known = (about, work(*about))
        return known[1]

    return asked


@_kept
def names_with_digits(
    cards: tuple[Card, ...], loads: tuple[Load, ...], benches: tuple[Bench, ...], slugs: tuple[str, ...]
) -> frozenset[str]:
    """Names of cards, their connectors and samples, of loads, benches, instruments and write-ups with digits in."""
    names = set(slugs)
    for card in cards:
        names |= {card.model, f"{card.maker} {card.model}", card.id, *card.connectors, *(s.id for s in card.samples)}
    for load in loads:
        names |= {load.name, load.preset, load.id, f"{load.name} {load.version}"}
    for bench in benches:
        names |= {bench.name, bench.id, *(i.name for i in bench.instruments)}
    return frozenset(filter(has_digits, names))


def has_digits(name: str) -> bool:
    """Whether a name holds both digits and letters."""
    return any(map(str.isdigit, name)) and any(map(str.isalpha, name))


Names = tuple[dict[str, str], re.Pattern[str] | None]
"""Name in lower case → what it is the name of; the pattern that finds them."""


@_kept
def card_names(cards: tuple[Card, ...]) -> Names:
    """Models, and their first words where only one card has them: "the Ternbank"."""
    whole = {card.model.lower(): card.id for card in cards}
    first = [(card.model.lower().split()[0], card.id) for card in cards if card.model.split()]
    count = Counter(word for word, _ in first)
    short = {word: card for word, card in first if count[word] == 1 and word.isalpha() and len(word) > 3}
    return pattern_of(short | whole)


def pattern_of(names: dict[str, str]) -> Names:
    """Some names with their pattern."""
    return names, _pattern(tuple(filter(None, names)))


@lru_cache(maxsize=64)
def _pattern(names: tuple[str, ...]) -> re.Pattern[str] | None:
    longest_first = sorted(names, key=lambda name: (-len(name), name))
    if not longest_first:
        return None
    return re.compile(r"(?<![\w-])(?:" + "|".join(map(re.escape, longest_first)) + r")(?![\w-])")
