"""Words that hedge, bound, turn or are themselves claims: the shape of a language's table.

The tables of a language are data in files of their own (`words_en.py`, `particles_en.py`); this module indexes them.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import TypeVar


def words_of(text: str) -> frozenset[str]:
    """A set of words written as one text: how the tables keep readable."""
    return frozenset(text.split())


class Hedge(StrEnum):
    """How a hedge loosens a number."""

    NONE = ""
    ABOUT = "about"
    """Either side."""
    BELOW = "below"
    """Value just under the figure: "nearly"."""
    ABOVE = "above"
    """Value just over the figure."""


class Bound(StrEnum):
    """What a bound says of the value."""

    NONE = ""
    AT_LEAST = "at least"
    AT_MOST = "at most"
    MORE_THAN = "more than"
    LESS_THAN = "less than"
    WITHIN = "within"
    """The magnitude is at most the figure."""


class Category(StrEnum):
    """What kind of claim a word makes."""

    DIRECTION = "direction"
    """The setpoint lies on one side of the baseline: cooler, less."""
    CHANGE = "change"
    """The same by verb or noun: saved, loss. Read with a number; a claim of its own only before a trade noun."""
    EQUALITY = "equality"
    STABILITY = "stability"
    INSTABILITY = "instability"
    NO_FAILURE = "no failure"
    """Nothing failed: judged by the outcomes of the runs it speaks of, bound or not."""
    SUPERLATIVE = "superlative"
    ABSOLUTE = "absolute"
    EVERY = "every"
    """Holds for all runs: true of the runs made, never of cards not tested."""
    AVERAGE = "average"
    SIGNIFICANCE = "significance"
    PROOF = "proof"


@dataclass(frozen=True, kw_only=True, slots=True)
class Word:
    """One word or phrase that claims something."""

    words: tuple[str, ...]
    """In lower case; a phrase has several."""
    category: Category
    sign: int = 0
    """+1 more, -1 less of the quantity; 0 none or "good news" (see `kind`)."""
    kind: str = "any"
    """Kind of quantity it speaks of, a key of `KINDS`; `good` and `bad` follow the quantity's welcome direction."""
    unless_next: frozenset[str] = frozenset()
    """Not a claim when one of these words follows."""
    unless_within: frozenset[str] = frozenset()
    """Not a claim when one of these words follows within three words: "a lower power limit"."""
    unless_before: frozenset[str] = frozenset()
    """Not a claim when one of these words stands before."""
    only_next: frozenset[str] = frozenset()
    """A claim only when one of these words follows within three words (unless bound)."""
    only_clause: frozenset[str] = frozenset()
    """A claim only when one of these words, or a bound claim, stands in the same clause (unless bound)."""
    strict: bool = True
    """Beside a number too, needs an interval of the difference that excludes zero: cooler does, less does not."""
    by_only: bool = False
    """Before a number it speaks of that number only when "by" joins them."""

    @property
    def text(self) -> str:
        """As printed in messages."""
        return " ".join(self.words).replace(" - ", "-")


TEMPERATURES = (
    "core-temperature", "hotspot-temperature", "memory-temperature", "ambient-temperature", "temperature-rise",
    "hotspot-rise",
)  # fmt: skip

KINDS: dict[str, dict[str, int]] = {
    "temperature": dict.fromkeys(TEMPERATURES, 1) | {"thermal-resistance": 1},
    "sound": {"sound-level": 1, "fan-speed": 1, "fan-sound-change": 1},
    "speed": {
        "score": 1, "score-at-matched-power": 1, "core-clock": 1, "memory-clock": 1, "fan-speed": 1, "run-time": -1,
    },
    "efficiency": {
        "score-per-watt": 1, "score-per-wall-watt": 1, "best-score-per-watt": 1, "energy-per-score": -1,
        "run-energy": -1,
    },
    "money": {"running-cost": 1},
    "power": {"board-power": 1, "wall-power": 1, "run-energy": 1, "running-energy": 1, "energy-per-score": 1},
}  # fmt: skip
"""Kind of word → quantity keys it may speak of, each with the sign that "more of the word" has there."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Vocabulary:
    """The indexed table of one language."""

    language: str
    decimal_comma: bool
    hedges_before: dict[str, tuple[tuple[tuple[str, ...], Hedge], ...]]
    """Last word of the phrase → phrases, longest first."""
    hedges_after: dict[str, tuple[tuple[tuple[str, ...], Hedge], ...]]
    """First word of the phrase → phrases, longest first."""
    bounds_before: dict[str, tuple[tuple[tuple[str, ...], Bound], ...]]
    bounds_after: dict[str, tuple[tuple[tuple[str, ...], Bound], ...]]
    claims: dict[str, tuple[Word, ...]]
    """First word → words and phrases, longest first."""
    seconds: dict[str, frozenset[str]]
    """First word that claims nothing alone → words that may follow it in a phrase."""
    units: dict[str, int]
    """Number words below a hundred."""
    scales: dict[str, int]
    """Hundred, thousand."""
    fractions: dict[str, tuple[int, int]]
    """Word of a fraction → numerator and denominator of one of it."""
    vague: dict[str, int]
    """Tens, dozens, hundreds → the least they stand for."""
    multiples: dict[str, tuple[int, int]]
    """Twice, double, halved → numerator and denominator."""
    number_starts: frozenset[str]
    """Words a number in words may begin with."""
    after_article: frozenset[str]
    """Words that make an article before them the beginning of a number: "a third", "a few"."""
    triggers: frozenset[str]
    """Words without one of which, or a word of place beside a quantity, a sentence without digits states nothing."""
    places: frozenset[str]
    """Up, down, off, below and their like: in every tenth sentence, and most tell of no quantity."""
    beside_a_place: frozenset[str]
    """Words without one of which a word of place claims nothing."""
    lists: dict[str, frozenset[str]]
    """Named word lists: `joins`, `skipped`, `levels`, `stops`, `counted`, `limit`, `offset`, `numbered` ..."""


_Effect = TypeVar("_Effect")


def _by_end(
    phrases: Iterable[tuple[str, _Effect]], last: bool
) -> dict[str, tuple[tuple[tuple[str, ...], _Effect], ...]]:
    index: dict[str, list[tuple[tuple[str, ...], _Effect]]] = {}
    for phrase, effect in phrases:
        words = tuple(phrase.split())
        index.setdefault(words[-1 if last else 0], []).append((words, effect))
    return {key: tuple(sorted(found, key=lambda p: -len(p[0]))) for key, found in index.items()}


def _telling(words: tuple[str, ...]) -> str:
    """The word of a phrase by which it is looked for: the longest that is not in every second sentence."""
    return max(words, key=lambda word: (word != "without", len(word)))


DECIMAL_COMMA = words_of(
    "bg ca cs da de el es et eu fi fr gl hr hu id is it lt lv nb nl nn no pl pt ro ru sk sl sr sv tr uk vi"
)
"""Languages whose decimal sign is a comma (CLDR 44, `decimal` of the default number system; from memory)."""


@lru_cache(maxsize=4)
def vocabulary(language: str) -> Vocabulary:
    """The vocabulary of a BCP 47 language tag. Words are English until a table for another language is written."""
    from . import particles_en as particles
    from . import words_en as table

    claims: dict[str, list[Word]] = {}
    for word in table.CLAIM_WORDS:
        claims.setdefault(word.words[0], []).append(word)
    return Vocabulary(
        language=language,
        decimal_comma=language.partition("-")[0].lower() in DECIMAL_COMMA,
        hedges_before=_by_end(table.HEDGES_BEFORE, last=True),
        hedges_after=_by_end(table.HEDGES_AFTER, last=False),
        bounds_before=_by_end(table.BOUNDS_BEFORE, last=True),
        bounds_after=_by_end(table.BOUNDS_AFTER, last=False),
        claims={first: tuple(sorted(ws, key=lambda w: -len(w.words))) for first, ws in claims.items()},
        seconds={
            first: frozenset(w.words[1] for w in ws)
            for first, ws in claims.items()
            if all(len(w.words) > 1 for w in ws)
        },
        units=table.NUMBER_WORDS,
        scales=table.SCALES,
        fractions=table.FRACTIONS,
        multiples=table.MULTIPLES,
        vague=table.VAGUE,
        number_starts=frozenset(
            {
                *table.LISTS["few"].split(),
                *table.NUMBER_WORDS,
                *table.VAGUE,
                *table.FRACTIONS,
                *table.MULTIPLES,
                "a",
                "an",
            }
        ),
        after_article=frozenset(
            {
                *table.SCALES,
                *table.FRACTIONS,
                *table.VAGUE,
                *table.MULTIPLES,
                *table.LISTS["few"].split(),
                "dozen",
                "couple",
            }
        ),
        triggers=frozenset(
            {*table.NUMBER_WORDS, *table.SCALES, *table.VAGUE, *table.FRACTIONS, *table.MULTIPLES, "couple"}
            | set(table.LISTS["few"].split())
            | {_telling(word.words) for word in table.CLAIM_WORDS if word.words[0] not in particles.HANDLED}
        ),
        places=frozenset(particles.HANDLED),
        beside_a_place=frozenset(
            {
                *table.LISTS["base"].split(),
                *table.LISTS["quantities"].split(),
                *particles.LISTS["moving"].split(),
                *particles.LISTS["compared"].split(),
                *particles.LISTS["told-in"].split(),
            }
            - {"it"}
        ),
        lists={
            **{name: words_of(words) for name, words in (table.LISTS | particles.LISTS).items()},
            **{f"handled-{place}": words_of(verbs) for place, verbs in particles.HANDLED.items()},
            "bases": particles.BASES,
        },
    )
