"""What a sentence or a table speaks of beside a link: setpoint, setting, card, measuring place.

"At stock the card drew [165 W](claim:tuned/board-power)" holds a right number of another setting. The words near
the link are held against its address; a contradiction is found only where they name another thing and nothing
in the sentence names the address's own.
"""

import re
from collections.abc import Iterator, Sequence

from benchgalley.records.address import Address
from benchgalley.records.bench import Setpoint
from benchgalley.records.quantity import SETTING_BY_COLUMN
from benchgalley.records.write_up import Text, TextLink, Verdict, WriteUp

from .case import DIFFERENCES
from .desk import Desk
from .judgement import NO_BREAK, Judgement
from .measuring_places import GROUPS, PLACES, places_in
from .mentions import TextReading
from .places import sentence_span
from .references_en import BEHIND, CLAUSE_START, LEAD, LEADS_A_REFERENCE, NEW_CLAUSE, REFERENCE
from .settings import DeclaredSettings, surroundings
from .site_names import Names, card_names, pattern_of
from .tables import row_and_head
from .vocabulary import vocabulary

_AGAINST_BASELINE = DIFFERENCES | {"of-baseline", "ratio", "equivalent"}


class SpokenOf:
    """Names and settings of one write-up, looked for beside its links."""

    def __init__(self, desk: Desk, settings: DeclaredSettings | None) -> None:
        self.desk = desk
        self.settings = settings
        names: dict[str, str] = {}
        for name, setpoint in (desk.write_up.setpoints if desk.write_up is not None else {}).items():
            names |= dict.fromkeys((name, name.replace("-", " "), setpoint.label.lower()), name)
        self.names = pattern_of(names)
        """Of setpoints."""
        baseline = desk.write_up.baseline if desk.write_up is not None else ""
        self.base_names = {name for name, what in names.items() if what == baseline and name}
        self.cards = card_names(tuple(desk.site.cards.values())) if len(desk.site.cards) > 1 else pattern_of({})
        """Of cards; none where the site has one card."""
        self.base_words = vocabulary(desk.site.settings.language).lists["base"]
        self._stated: tuple[int, list[tuple[int, str, float]]] = (-1, [])
        self._lower: tuple[int, str] = (-1, "")

    def contradiction(
        self, text: Text, index: int, link: TextLink, address: Address, reading: TextReading
    ) -> Judgement | None:
        """What beside a link speaks of something else than its address; None where nothing does."""
        if self.desk.write_up is None:
            return None
        if text.place == "table":
            found = self._in_table(index, address)
        else:
            low, high = sentence_span(text.text, link.start, link.end)
            here = _Sentence(self, text, index, link, low, high)
            found = here.other_place(address) or here.other_card(address)
            if not found and address.scope == self.desk.scope:
                found = (
                    here.turned_round(address) or here.other_setpoint(address) or here.other_setting(address, reading)
                )
        if not found:
            return None
        spoken, own = found
        return Judgement(
            verdict=Verdict.DISAGREES,
            message=f"{address.within(self.desk.scope)}: the {'table' if text.place == 'table' else 'sentence'} speaks "
            f"of {spoken}, the address of {own}",
            mend=f"Bind it to the number of {spoken}, or name {own} beside it.",
        )

    def lower(self, text: Text, index: int) -> str:
        """A text in lower case: its links are asked about one after the other."""
        if self._lower[0] != index:
            self._lower = index, text.text.lower()
        return self._lower[1]

    def label(self, setpoint: str) -> str:
        """A setpoint as printed."""
        assert self.desk.write_up is not None
        return self.desk.write_up.setpoints[setpoint].label or setpoint

    def named_in(self, lower: str) -> set[str]:
        """Setpoints named in a text in lower case."""
        names, pattern = self.names
        return {names[m.group()] for m in pattern.finditer(lower)} if pattern else set()

    def _in_table(self, index: int, address: Address) -> tuple[str, str] | None:
        row, head = row_and_head(self.desk.texts, index, self.desk.lines)
        place = PLACES.get(address.quantity)
        spoken = places_in(head.lower()) or places_in(row.lower())
        if place and spoken and place not in spoken:
            return f"the {sorted(spoken)[0]}", f"the {place}"
        named = self.named_in(row.lower()) | self.named_in(head.lower())
        if address.scope != self.desk.scope or address.subject not in self.names[0].values():
            return None
        if not named or address.subject in named:
            return None
        return self.label(sorted(named)[0]), self.label(address.subject)

    def stated_settings(self, text: Text, index: int, reading: TextReading) -> list[tuple[int, str, float]]:
        """(position, settings column, value) of every setting stated in a text outside its links."""
        if self._stated[0] != index and self.settings is not None:
            self._stated = index, list(_settings_in(text, reading, self.settings))
        return self._stated[1]


def _settings_in(text: Text, reading: TextReading, settings: DeclaredSettings) -> Iterator[tuple[int, str, float]]:
    for mention in reading.numbers:
        start, end = mention.core
        if any(link.start < end and start < link.end for link in text.links):
            continue
        near = surroundings(text.text, mention, *sentence_span(text.text, start, end))
        found = settings.find(mention, near)
        if found is not None and found.kind is not None and len(mention.numerals) == 1:
            yield start, found.kind.column, float(mention.value)


class _Sentence:
    """The sentence round one link."""

    def __init__(self, spoken: SpokenOf, text: Text, index: int, link: TextLink, low: int, high: int) -> None:
        self.spoken, self.text, self.index, self.link = spoken, text, index, link
        self.low, self.high = low, high
        self.lower = spoken.lower(text, index)

    @property
    def is_reference(self) -> bool:
        """Whether the link is what something else is set against: "than [165 W](...)"."""
        return bool(LEADS_A_REFERENCE.search(self.lower[self.low : self.link.start]))

    def _addresses(self, start: int, end: int) -> list[Address]:
        """Addresses of the links between two places."""
        found = []
        for link in self.text.links:
            if start <= link.start and link.end <= end and link is not self.link:
                address = self.spoken.desk.resolve(link.destination)[0] if "claim:" in link.destination else None
                if address is not None:
                    found.append(address)
        return found

    def _subject_names(self, known: Names) -> list[tuple[int, int, str]]:
        """(start, end, what) of each name in the sentence."""
        names, pattern = known
        if pattern is None:
            return []
        return [(m.start(), m.end(), names[m.group()]) for m in pattern.finditer(self.lower, self.low, self.high)]

    def _spoken_near(self, found: Sequence[tuple[int, int, str]]) -> tuple[int, int, str] | None:
        """The nearest name the clause of the link speaks of."""
        for start, end, what in found:
            if start >= self.link.end and BEHIND.match(self.lower[self.link.end : start]):
                return start, end, what
        for start, end, what in reversed(found):
            if end > self.link.start:
                continue
            if NEW_CLAUSE.search(self.lower[end : self.link.start]):
                return None
            if not REFERENCE.search(self.lower[self.low : start]):
                return start, end, what
        return None

    def other_setpoint(self, address: Address) -> tuple[str, str] | None:
        """Another setpoint named nearest, and the address's own nowhere."""
        write_up = self.spoken.desk.write_up
        if write_up is None or address.subject not in write_up.setpoints:
            return None
        found = self._subject_names(self.spoken.names)
        if (
            not found
            or any(what == address.subject for _, _, what in found)
            or self._own_by_settings(write_up, address)
            or self.is_reference
        ):
            return None
        near = self._spoken_near(found)
        if near is None or (near[2] == write_up.baseline and address.relation in _AGAINST_BASELINE):
            return None
        between = self._addresses(near[1], self.link.start)
        if any(a.subject == near[2] or near[2] == write_up.baseline for a in between):
            return None
        return self.spoken.label(near[2]), self.spoken.label(address.subject)

    def turned_round(self, address: Address) -> tuple[str, str] | None:
        """ "Stock draws [41 W](claim:tuned/board-power/saved) less than tuned": the two have changed places."""
        write_up = self.spoken.desk.write_up
        if write_up is None or address.subject not in write_up.setpoints or address.relation not in _AGAINST_BASELINE:
            return None
        before = self.lower[self.low : self.link.start]
        if not any(name in before for name in self.spoken.base_names):
            return None
        clause = CLAUSE_START.split(before)[-1]
        lead = LEAD.match(clause)
        if lead is None or lead.group(1) not in self.spoken.base_names or address.subject == write_up.baseline:
            return None
        own, stock = self.spoken.label(address.subject), self.spoken.label(write_up.baseline)
        return f"{stock} against {own}", f"{own} against {stock}"

    def _own_by_settings(self, write_up: WriteUp, address: Address) -> bool:
        """Whether the sentence names the setpoint by one of its settings, or the baseline by a word for it."""
        sentence = self.lower[self.low : self.high]
        own = write_up.setpoints[address.subject]
        if address.subject == write_up.baseline and not self.spoken.base_words.isdisjoint(
            re.findall(r"[a-z]+", sentence)
        ):
            return True
        return any(
            re.search(rf"(?<![\d.]){abs(value):g}(?![\d.])", sentence)
            for column, value in own.settings.items()
            if isinstance(value, (int, float)) and value != SETTING_BY_COLUMN[column].default
        )

    def other_setting(self, address: Address, reading: TextReading) -> tuple[str, str] | None:
        """Another value of a setting stated nearest, and the address's own nowhere in the sentence."""
        write_up = self.spoken.desk.write_up
        stated = [
            s for s in self.spoken.stated_settings(self.text, self.index, reading) if self.low <= s[0] < self.high
        ]
        if write_up is None or not stated or self.is_reference:
            return None
        own = _own_settings(write_up, address)
        sentence = self.lower[self.low : self.high]
        if address.subject in self.spoken.named_in(sentence):
            return None
        base = write_up.setpoints[write_up.baseline]
        for column, value in own.items():
            here = [(at, v) for at, c, v in stated if c == column]
            before = [(at, v) for at, v in here if at < self.link.start]
            if not before or any(v == value for _, v in here):
                continue
            at, other = before[-1]
            if NEW_CLAUSE.search(self.lower[at : self.link.start]) or self._only_a_reference(at):
                continue
            if other == _value(base, column) and address.relation in _AGAINST_BASELINE:
                continue
            if any(_own_settings(write_up, a).get(column) == other for a in self._addresses(at, self.link.start)):
                continue
            kind = SETTING_BY_COLUMN[column]
            unit = kind.unit.symbol if kind.unit else ""
            return tuple(f"a {kind.name} of {v:g}{NO_BREAK}{unit}" for v in (other, value))  # type: ignore[return-value]
        return None

    def _only_a_reference(self, at: int) -> bool:
        """ "lowered from 100 %", "below a limit of 90 %"."""
        before = self.lower[self.low : at].rstrip("-\u2212+ ") + " "
        return bool(
            re.search(r"\b(?:from|than|between|below|above|under|over|down to|up to|not|until|before|after)\s+"
                      r"(?:the\s+|a\s+|an\s+)?(?:(?:power\s+|voltage\s+)?(?:limit|offset)\s+of\s+)?$", before)
        )  # fmt: skip

    def other_card(self, address: Address) -> tuple[str, str] | None:
        """Another card's model named nearest, and the address's own nowhere."""
        site = self.spoken.desk.site
        home = site.write_ups.get(address.scope)
        own = home.card.id if home is not None else address.scope
        found = self._subject_names(self.spoken.cards)
        if own not in site.cards or not found or any(what == own for _, _, what in found):
            return None
        near = self._spoken_near(found)
        if near is None:
            return None
        for other in self._addresses(near[1], self.link.start):
            write_up = site.write_ups.get(other.scope)
            if near[2] == (write_up.card.id if write_up is not None else other.scope):
                return None
        return f"the {site.cards[near[2]].model}", f"the {site.cards[own].model}"

    def other_place(self, address: Address) -> tuple[str, str] | None:
        """Power at the wall bound to the board's, the hotspot's temperature to the core's, and so on."""
        group = next((g for g in GROUPS if address.quantity in g), None)
        if group is None:
            return None
        own = group[address.quantity]
        everywhere = places_in(self.lower[self.low : self.high])
        if not everywhere or own in everywhere:
            return None
        near = (places_in(self._round()) & set(group.values())) - {own}
        if not near:
            return None
        return f"the {sorted(near)[0]}", f"the {own}"

    def _round(self) -> str:
        """The words round the link up to the next link or the end of the clause."""
        links = [k for k in self.text.links if k is not self.link and "claim:" in k.destination]
        low = max([self.low, *(k.end for k in links if k.end <= self.link.start)])
        high = min([self.high, *(k.start for k in links if k.start >= self.link.end)])
        before = re.split(r"[;:,]|\b(?:but|and|while|where|which)\b", self.lower[low : self.link.start])[-1]
        behind = re.split(r"[;:,.]|\b(?:but|and|while|where|which|than)\b", self.lower[self.link.end : high])[0]
        return f"{before} {behind}"


def _value(setpoint: Setpoint, column: str) -> float | str:
    return setpoint.settings.get(column, SETTING_BY_COLUMN[column].default)


def _own_settings(write_up: WriteUp, address: Address) -> dict[str, float]:
    """Settings an address stands for: all of a setpoint's, or that of one step of a sequence."""
    setpoint = write_up.setpoints.get(address.subject)
    if setpoint is not None:
        values = {column: _value(setpoint, column) for column in SETTING_BY_COLUMN}
        return {column: float(v) for column, v in values.items() if isinstance(v, (int, float))}
    sequence = write_up.sequences.get(address.subject)
    step = address.quantity.partition("-at-")[2]
    match = re.fullmatch(r"(minus-)?(\d+(?:-\d+)?)", step)
    if sequence is None or not sequence.setting or match is None:
        return {}
    value = float(match.group(2).replace("-", "."))
    return {sequence.setting: -value if match.group(1) else value}
