"""Words for the place a quantity is taken at: board or wall, core or hotspot."""

import re
from itertools import pairwise

GROUPS = (
    {"board-power": "board", "wall-power": "wall"},
    {"core-temperature": "core", "hotspot-temperature": "hotspot", "memory-temperature": "memory"},
    {"core-clock": "core", "memory-clock": "memory"},
)
PLACES = {quantity: place for group in GROUPS for quantity, place in group.items()} | {
    "core-voltage": "core", "fan-speed": "fan",
}  # fmt: skip
"""Quantity → place of the card or machine it is taken at."""
_PLACE_WORDS = {
    "board": "board sensor clamp slot cable cables", "wall": "wall socket mains outlet", "core": "core die chip",
    "hotspot": "hotspot hottest", "memory": "memory", "fan": "fan fans",
}  # fmt: skip
_WORDS_OF_PLACE = {place: frozenset(words.split()) for place, words in _PLACE_WORDS.items()}
_PLACE_OF_WORD = {word: place for place, words in _WORDS_OF_PLACE.items() for word in words}
_NO_PLACE = frozenset({"offset", "offsets", "limit", "clock's"})
"""Behind a place word: then it is a setting, "a memory offset"."""

_LETTERS = re.compile(r"[a-z']+")


def places_in(lower: str) -> set[str]:
    words = _LETTERS.findall(lower.replace("hot spot", "hotspot") if "hot spot" in lower else lower)
    if _PLACE_OF_WORD.keys().isdisjoint(words):
        return set()
    return {
        _PLACE_OF_WORD[word]
        for word, behind in pairwise([*words, ""])
        if word in _PLACE_OF_WORD and behind not in _NO_PLACE
    }
