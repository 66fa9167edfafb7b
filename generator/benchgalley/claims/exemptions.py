"""Numbers that need no address, each by a rule the methods list: code, names, dates, versions, list numbers, counts."""

import re
from collections.abc import Iterable, Sequence
from functools import cached_property, lru_cache

from benchgalley.records import units
from benchgalley.records.bench import Setpoint, Trial
from benchgalley.records.membership import runs_along
from benchgalley.records.quantity import SETTING_BY_COLUMN, SETTINGS
from benchgalley.records.site import Site
from benchgalley.records.write_up import Text, WriteUp

from .mentions import NumberMention, TextReading
from .numerals import Numeral, Style
from .site_names import has_digits, names_with_digits
from .vocabulary import Vocabulary, words_of

_WORD_BEFORE = re.compile(r"([\w.'’-]+)[\s(:#]*$")
_WORD_AFTER = re.compile(r"^[\s,]*([\w'’-]+)")
_YEARS = range(1900, 2101)
_YEAR_LEADS = words_of("in since year during early late spring summer autumn winter mid published updated")
_JOINS = re.compile(r"^\s*(?:,|and|to|or|–|-|through|, and)\s*$")


def known_names(site: Site, write_up: WriteUp | None) -> re.Pattern[str] | None:
    """Pattern of every name with digits in it that the site's files give: cards, loads, benches, samples, setpoints."""
    shared = names_with_digits(
        tuple(site.cards.values()), tuple(site.loads.values()), tuple(site.benches.values()), site.numbered_slugs()
    )
    names: set[str] = set()
    if write_up is not None:
        for s in write_up.setpoints.values():
            names |= {s.name} | ({s.label} if not _states_a_number(s.label, _settings_of(s, write_up)) else set())
        for q in write_up.sequences.values():
            held = {abs(float(v)) for v in q.held.values() if isinstance(v, int | float)}
            names |= {q.name} | ({q.label} if not _states_a_number(q.label, held) else set())
        names |= {t.driver for t in write_up.trials}
    own = set(filter(has_digits, names)) - shared
    return _names_pattern(shared | own if own else shared)


_NUMBER_AND_WORD = re.compile(r"(\d+(?:[.,]\d+)?)[\s\u00a0\u202f]*([^\W\d]\w*|%|°C|‰)")
_UNIT_SPELLINGS = frozenset(
    s.lower() for u in units.UNITS if u not in (units.RUNS, units.RATIO) for s in (u.symbol, *u.spellings)
)


def _settings_of(setpoint: Setpoint, write_up: WriteUp) -> set[float]:
    values = {abs(float(v)) for v in setpoint.settings.values() if isinstance(v, int | float)}
    limit = setpoint.settings.get("power_limit_pct")
    if isinstance(limit, int | float):
        values.add(round(limit * write_up.card.stock_board_power_w / 100))
    return values


def _states_a_number(label: str, settings: set[float]) -> bool:
    """A label "84 % limit" names its setting; "Saves 41 W" states what the runs must show."""
    return any(
        word.lower() in _UNIT_SPELLINGS and float(number.replace(",", ".")) not in settings
        for number, word in _NUMBER_AND_WORD.findall(label)
    )


@lru_cache(maxsize=32)
def _names_pattern(names: frozenset[str]) -> re.Pattern[str] | None:
    if not names:
        return None
    longest_first = sorted(names, key=lambda n: (-len(n), n))
    return re.compile(r"(?<!\w)(?:" + "|".join(re.escape(n) for n in longest_first) + r")(?!\w)", re.IGNORECASE)


class ExemptionRules:
    """Says why a number outside a claim link needs no address."""

    def __init__(self, site: Site, write_up: WriteUp | None, words: Vocabulary) -> None:
        self.words = words
        self.site = site
        self.write_up = write_up

    @cached_property
    def pattern(self) -> re.Pattern[str] | None:
        """Names known to the site; asked for only where a number is bound to nothing."""
        return known_names(self.site, self.write_up)

    @cached_property
    def most(self) -> dict[str, int]:
        """First letters of a noun → how many of that there are in the site's files."""
        samples = max((len(card.samples) for card in self.site.cards.values()), default=0)
        return {"card": max(len(self.site.cards), samples), "samp": samples, "copy": samples, "copi": samples}

    @cached_property
    def settings_run(self) -> dict[str, frozenset[int]]:
        """Noun → how many such settings there are; asked for only where somebody counts them."""
        return _settings_run(self.write_up) if self.write_up is not None else {}

    def name_spans(self, text: str) -> list[tuple[int, int]]:
        """Stretches of a text that are names known to the site."""
        return [m.span() for m in self.pattern.finditer(text)] if self.pattern else []

    def rule_for(
        self,
        text: Text,
        mention: NumberMention,
        reading: TextReading,
        names: list[tuple[int, int]],
        done: list[int],
    ) -> str:
        """Key of the rule, or empty. `done` holds the ends of list numbers met before in this text."""
        low, high = mention.core
        if any(s <= low < e for s, e in text.code):
            return "code"
        if any(s <= low and high <= e for s, e in names):
            return "name"
        if mention.counted and self._a_known_count(mention):
            return "count"
        if text.place == "meta" and (mention.counted or _is_time(mention)):
            return "given"
        if mention.unit_text.lower() in self.words.lists["calendar"]:
            return "date"
        if mention.unit_text:
            return ""
        before = _last_word(text.text, mention.numerals[0].start)
        if self._is_date(text.text, mention, before):
            return "date"
        if before.lower() in self.words.lists["versions"]:
            return "version"
        if self._is_list_number(text.text, mention, before, done):
            done.append(high)
            return "list number"
        return ""

    def _a_known_count(self, mention: NumberMention) -> bool:
        """At most as many cards or samples, just as many settings as the files hold; runs and failures are claims."""
        if mention.bound or mention.unit != units.RUNS:
            return False
        if mention.counted in _SETTINGS:
            known = self.settings_run.get(mention.counted[:4], frozenset())
            return all(n.value in known for n in mention.numerals)
        if mention.counted not in _FILED:
            return False
        return all(0 < n.value <= self.most[mention.counted[:4]] for n in mention.numerals)

    def _is_date(self, text: str, mention: NumberMention, before: str) -> bool:
        numeral = mention.numerals[0]
        if numeral.style is not Style.DIGITS or numeral.decimals != 0:
            return False
        months = self.words.lists["months"]
        after_match = _WORD_AFTER.match(text[mention.core[1] :])
        after = after_match.group(1) if after_match else ""
        month_beside = any(w[:1].isupper() and w.rstrip(".").lower() in months for w in (before, after))
        if numeral.value in _YEARS and len(numeral.plain) == 4 and text[numeral.start : numeral.end].isdigit():
            return month_beside or before.lower() in _YEAR_LEADS
        return month_beside and 1 <= numeral.value <= 31

    def _is_list_number(self, text: str, mention: NumberMention, before: str, done: list[int]) -> bool:
        if mention.direction is not None or not all(_whole(n) for n in mention.numerals):
            return False
        if before.lower().rstrip(".") in self.words.lists["numbered"]:
            return True
        return bool(done) and bool(_JOINS.match(text[done[-1] : mention.numerals[0].start]))


_FILED = words_of("card cards sample samples copy copies")
_SETTINGS = words_of("setting settings setpoint setpoints limits offsets steps")


def _settings_run(write_up: WriteUp) -> dict[str, frozenset[int]]:
    """First letters of a noun → how many such settings one may count: with stock or without, all or a sequence's."""
    trials = [t for t in write_up.trials if not t.excluded]

    def counts(column: str, groups: Iterable[Sequence[Trial]]) -> set[int]:
        stock = SETTING_BY_COLUMN[column].default
        values = [{t.settings.get(column) for t in group} for group in groups]
        return {len(v) for v in values} | {len(v - {stock}) for v in values}

    along = {q.name: runs_along(q, trials) for q in write_up.sequences.values()}
    setpoints = len(write_up.setpoints)
    found: dict[str, set[int]] = {"setp": {setpoints, setpoints - 1}}
    found["sett"] = found["setp"] | set(range(2, setpoints))
    found["step"] = set()
    for column, noun in (("power_limit_pct", "limi"), ("voltage_offset_mv", "offs")):
        own = [along[q.name] for q in write_up.sequences.values() if q.setting == column]
        found[noun] = counts(column, [trials, *own])
        alone = [t for t in trials if all(
            t.settings.get(k.column, k.default) == k.default for k in SETTINGS if k.column != column)]  # fmt: skip
        found[noun] |= counts(column, [alone])
        found["step"] |= counts(column, own)
        found["sett"] |= counts(column, own)
    return {noun: frozenset(k for k in numbers if k > 0) for noun, numbers in found.items()}


def _is_time(mention: NumberMention) -> bool:
    return mention.unit is not None and mention.unit.dimension == "time"


def _whole(numeral: Numeral) -> bool:
    return numeral.style is Style.DIGITS and numeral.decimals == 0 and numeral.sign == ""


def _last_word(text: str, position: int) -> str:
    match = _WORD_BEFORE.search(text[max(0, position - 40) : position])
    return match.group(1) if match else ""
