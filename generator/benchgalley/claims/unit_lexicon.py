"""Units as they stand behind a number in prose: every spelling of this site, found by dictionary."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from benchgalley.records import units
from benchgalley.records.site import Site
from benchgalley.records.units import Unit

from .tokens import Token, tokens_of
from .vocabulary import words_of

_MOST_TOKENS = 6

FOREIGN = words_of(
    "°F ℉ fps FPS bit bits byte bytes MB MiB KB TB GB/s MB/s GT/s Gbit/s Mbit/s nm mm cm inch inches ft "
    "kg g dBm sone sones Pa N m/s m³/h cfm CFM Ω ohm ohms ms µs us ns days day weeks week months month "
    "years year minutes € $ £ ¥ USD EUR GBP lux VA var pixels px ppm frames frame stops volts-per-hertz "
    "mAh F µF"
)
"""Look like units but are in no table: a number before one is a statement all the same."""

_WRONG_CASE = frozenset(u.symbol.lower() for u in units.UNITS if u.symbol.isalpha()) | frozenset(
    ["c", "k", "wh", "kwh", "rpm", "db"]
)

_SYMBOL_WORDS = {
    "s": ("second", "seconds"), "W": ("watt", "watts"), "J": ("joule", "joules"), "min": ("minute", "minutes"),
    "h": ("hour", "hours"), "kJ": ("kilojoule", "kilojoules"), "K": ("kelvin", "kelvins", "degree", "degrees"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class UnitFound:
    """A unit read in a text."""

    unit: Unit | None
    """None: a unit the site does not know."""
    start: int
    end: int
    after: int
    """Index of the token after it."""


class UnitLexicon:
    """Spelling → unit, for one site."""

    __slots__ = ("_exact", "_folded", "_longest", "_seconds")

    def __init__(self, extra: Sequence[Unit]) -> None:
        self._exact: dict[str, Unit | None] = dict.fromkeys(FOREIGN)
        self._folded: dict[str, Unit | None] = {}
        for unit in (*reversed(units.UNITS), *extra):
            for spelling in (unit.symbol, *unit.spellings, *_in_words(unit)):
                self._exact[spelling] = unit
                if len(spelling) > 3 and spelling.isascii():
                    self._folded[spelling.lower()] = unit
        self._exact["x"] = units.RATIO
        self._exact["deg C"] = units.CELSIUS
        self._exact |= dict.fromkeys(("times an hour", "times per hour", "times every hour"), units.PER_HOUR)
        # "settings", "runs" and so on are counted nouns, read by `reading` with their adjectives
        for word in (units.RUNS.symbol, *units.RUNS.spellings):
            self._exact.pop(word, None)
            self._folded.pop(word, None)

        self._seconds: dict[str, set[str]] = {}
        """First token → what may stand second."""
        self._longest: dict[str, int] = {}
        """First token of a spelling in lower case → most tokens a spelling with it has."""
        for spelling in (*self._exact, *self._folded):
            parts = tokens_of(spelling, decimal_comma=False)
            # a hyphen may stand for each space: "kilowatt-hours"
            most = len(parts) + spelling.count(" ")
            first = parts[0].lower
            self._longest[first] = max(most, self._longest.get(first, 0))
            if len(parts) > 1:
                self._seconds.setdefault(first, {"-"}).add(parts[1].lower)

    def named(self, spelling: str) -> Unit | None:
        """The unit of a spelling."""
        return self._exact.get(spelling)

    def may_begin(self, word: str) -> bool:
        """Whether any unit begins with a word in lower case."""
        return word in self._longest

    def looks_like_unit(self, word: str) -> bool:
        """Whether a word is a unit symbol in the wrong case, or a multiplier: `41w`, `1300Rpm`, `4k`."""
        return word.lower() in _WRONG_CASE

    def at(self, tokens: Sequence[Token], i: int, text: str) -> UnitFound | None:
        """The longest unit that begins at token `i`."""
        longest = self._longest.get(tokens[i].lower, 0) if i < len(tokens) else 0
        if longest > 1 and (i + 1 == len(tokens) or tokens[i + 1].lower not in self._seconds.get(tokens[i].lower, ())):
            longest = 1
        for last in range(min(len(tokens), i + longest, i + _MOST_TOKENS) - 1, i - 1, -1):
            written = text[tokens[i].start : tokens[last].end]
            spelling = " ".join(written.replace("-", " ").split()) if last > i else written
            for table, key in (
                (self._exact, spelling),
                (self._exact, written),
                (self._folded, spelling.lower()),
            ):
                if key in table:
                    return UnitFound(table[key], tokens[i].start, tokens[last].end, last + 1)
        return None


_JOINS = ("per", "a", "an", "for each", "for every")


def _in_words(unit: Unit) -> list[str]:
    """Spellings of a compound symbol in words: `frames/s` also as "frames per second"."""
    if "/" not in unit.symbol:
        return []
    top, _, bottom = unit.symbol.partition("/")
    tops = {top, re.sub(r"(?<=\w)s$", "", top), *_SYMBOL_WORDS.get(top, ())}
    bottoms = {bottom, *_SYMBOL_WORDS.get(bottom, ())}
    return (
        [f"{a} {join} {b}" for a in sorted(tops) for b in sorted(bottoms) for join in _JOINS]
        + [f"{a}{dot}{bottom}⁻¹" for a in sorted(tops) for dot in (" ", "·")]
        + [f"{a}/{b}" for a in sorted(tops) for b in sorted(bottoms)]
    )


@lru_cache(maxsize=8)
def _lexicon(scores: tuple[Unit, ...], currency: str) -> UnitLexicon:
    extra: list[Unit] = []
    for score in scores:
        energies = (
            units.per(units.JOULE, score),
            units.per(units.KILOJOULE, score),
            units.per(units.WATT_HOUR, score),
        )
        if units.told_in(score) is score:  # seconds stay seconds, whether of a score or of a run time
            extra.append(score)
        extra += [units.per(score, units.WATT), units.per(score, units.JOULE), *energies]
        extra += [units.per(score, units.KELVIN)]
    year = units.KILOWATT_HOUR_A_YEAR
    extra.append(Unit(symbol=year.symbol, ucum=year.ucum, dimension=year.dimension, spellings=_YEARLY_ENERGY))
    if currency:
        extra += [units.currency_unit(currency), units.currency_a_year(currency)]
    return UnitLexicon(tuple(extra))


_YEARLY_ENERGY = tuple(
    f"{unit}{join}{year}"
    for unit in ("kWh", "kW h", "kW·h", "kilowatt hours", "kilowatt hour")
    for join in (" a ", " per ", "/")
    for year in ("year", "yr")
)


def unit_lexicon(site: Site) -> UnitLexicon:
    """The lexicon of a site: fixed units, the score units of its loads, its currency."""
    scores = tuple(dict.fromkeys(load.score_unit for load in site.loads.values()))
    running = site.settings.running
    return _lexicon(scores, running.currency.symbol if running else "")
