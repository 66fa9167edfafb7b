"""Numbers the build binds itself: settings of declared setpoints, and the site's confidence level."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from benchgalley.records import units
from benchgalley.records.address import Address
from benchgalley.records.quantity import SETTINGS, SettingKind
from benchgalley.records.write_up import WriteUp

from .agreement import agrees, magnitude_interval
from .mentions import NumberMention
from .numerals import Numeral, Style
from .vocabulary import Hedge, Vocabulary

_AT = re.compile(r"\b(?:at|to)\s+\0(?!\s*(?:\w+\s+)?of\b)", re.IGNORECASE)
"""A percentage behind "at" that is a declared power limit, with no "of" behind it."""
_AS_NAME = re.compile(r"\0\s*(?:%|percent|per cent)?\s+(?:setting|setpoint|step|runs?|end)\b", re.IGNORECASE)
""" "The 84 % setting"."""
_BY_FULL_NAME = {kind.name: kind for kind in SETTINGS if kind.unit is not None}
_BARE = re.compile(rf"\b({'|'.join(map(re.escape, _BY_FULL_NAME))})s?\s+(?:of|at|to)\s+[+\-\u2212]?$")
_REACH = 70
"""Characters of the sentence looked at to each side for the word that names the setting."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SettingFound:
    """A number read as a setting."""

    kind: SettingKind | None
    """None for a declared margin."""
    address: Address | None
    """The setpoint's setting; None for a margin and when only runs of a sequence had the value."""
    source: str
    """Where the value is declared."""
    wrong: str = ""
    """Message when the setpoint named beside it has another value."""


class DeclaredSettings:
    """The settings of one write-up by value."""

    def __init__(self, write_up: WriteUp, words: Vocabulary) -> None:
        self.write_up = write_up
        self.words = words
        self.by_value: dict[str, dict[float, list[str]]] = {}
        """Settings column → value → setpoints that have it."""
        for kind in SETTINGS:
            if kind.unit is None:
                continue
            values: dict[float, list[str]] = {}
            for name, setpoint in write_up.setpoints.items():
                if isinstance(value := setpoint.settings.get(kind.column, kind.default), (int, float)):
                    values.setdefault(float(value), []).append(name)
            self.by_value[kind.column] = values
        pct = self.by_value["power_limit_pct"]
        stock = write_up.card.stock_board_power_w
        self.limit_w: Mapping[float, list[str]] = {value * stock / 100: names for value, names in pct.items()}

    def find(self, mention: NumberMention, near: str) -> SettingFound | None:
        """The setting a number states, judged by its unit, its value and the words beside it."""
        if mention.hedge is not Hedge.NONE or _turned_away(mention):
            return None
        named = frozenset(re.findall(r"[a-z-]+", near.lower()))
        if mention.unit == units.WATT and named & self.words.lists["limit"]:
            return self._limit_in_watts(mention)
        if "margin" in named and (found := self._margin(mention)):
            return found
        kind = self._kind(mention, named, near) or self._bare(mention, near)
        if kind is None:
            return None
        values = [_signed(n) for n in mention.numerals]
        known = self.by_value[kind.column]
        if not all(v in known or v in self._run(kind.column) for v in values):
            return None
        names = [name for v in values for name in known.get(v, ())]
        if not names:
            return SettingFound(kind=kind, address=None, source=f"settings of the runs ({kind.column})")
        address = Address(scope=self.write_up.slug, subject=names[0], quantity=kind.key)
        return SettingFound(kind=kind, address=address, source=address.local(), wrong=self._wrong(kind, values, near))

    def _run(self, column: str) -> set[float]:
        """Values any run had of a setting."""
        return {float(v) for t in self.write_up.trials if isinstance(v := t.settings.get(column), (int, float))}

    def _kind(self, mention: NumberMention, named: frozenset[str], near: str) -> SettingKind | None:
        limit, offset = self.words.lists["limit"], self.words.lists["offset"]
        signed = any(n.sign for n in mention.numerals)
        for kind in SETTINGS:
            if kind.unit is None or mention.unit != kind.unit or mention.numerals[0].style is not Style.DIGITS:
                continue
            if kind.unit == units.PERCENT:
                lead = frozenset(re.findall(r"[a-z-]+", re.split(r"[,;:]", near.partition("\0")[0].lower())[-1]))
                at = (_AT.search(near) or _AS_NAME.search(near)) and not lead & self.words.lists["not-a-setting"]
                beside = at or named & offset or "mv" in named
                declared = all(_signed(n) in self.by_value[kind.column] for n in mention.numerals)
                return kind if named & limit or (beside and declared) else None
            word = kind.key.split("-")[0]
            if kind.unit == units.MILLIVOLT and (signed or named & offset):
                return kind
            if kind.unit == units.MEGAHERTZ and (named & offset) and (word in named or not _other_clock(kind, named)):
                return kind
        return None

    def _bare(self, mention: NumberMention, near: str) -> SettingKind | None:
        """ "A power limit of 84": the setting whose name stands before a number without a unit."""
        if mention.unit is not None or mention.counted or mention.numerals[0].style is not Style.DIGITS:
            return None
        lead = _BARE.search(near.partition("\0")[0].lower())
        return _BY_FULL_NAME.get(" ".join(lead.group(1).split())) if lead else None

    def _margin(self, mention: NumberMention) -> SettingFound | None:
        """A declared margin of equivalence."""
        for quantity, (margin, percent) in self.write_up.margins.by_quantity.items():
            same_kind = (mention.unit == units.PERCENT) is percent and mention.unit is not None
            stated = magnitude_interval(mention.numerals[0], Hedge.NONE, 0.0)
            if same_kind and len(mention.numerals) == 1 and agrees(margin, stated):
                return SettingFound(kind=None, address=None, source=f"margins: {quantity}")
        return None

    def _limit_in_watts(self, mention: NumberMention) -> SettingFound | None:
        kind = next(k for k in SETTINGS if k.key == "power-limit")
        for watts, names in self.limit_w.items():
            if len(mention.numerals) == 1 and agrees(watts, magnitude_interval(mention.numerals[0], Hedge.NONE, 0.0)):
                address = Address(scope=self.write_up.slug, subject=names[0], quantity="power-limit-watts")
                return SettingFound(kind=kind, address=address, source=address.local())
        return None

    def _wrong(self, kind: SettingKind, values: list[float], near: str) -> str:
        """Message when exactly one setpoint is named just before the number and has another value."""
        before = near.partition("\0")[0].lower()
        named = [
            s for s in self.write_up.setpoints.values()
            if any(re.search(rf"(?<![\w-]){re.escape(n.lower())}(?![\w-])", before) for n in {s.name, s.label} if n)
        ]  # fmt: skip
        if len(named) != 1 or len(values) != 1 or named[0].name == self.write_up.baseline:
            return ""
        own = named[0].settings.get(kind.column, kind.default)
        base = self.write_up.setpoints[self.write_up.baseline].settings.get(kind.column, kind.default)
        if values[0] in (own, base) or re.search(
            r"\b(?:from|than|between|sweep|walk|ladder|down|not|instead)\b", before
        ):
            return ""
        unit = kind.unit.symbol if kind.unit else ""
        return f"the {kind.name} of {named[0].name} is {own:g}\u00a0{unit}"


def _turned_away(mention: NumberMention) -> bool:
    """Whether a direction word makes it a difference; "down by -45 mV" still is the offset itself."""
    turn = mention.direction
    if turn is None or not turn.firm:
        return False
    return not (mention.numerals[0].sign == "-" and turn.word.sign < 0)


def _signed(numeral: Numeral) -> float:
    return float(numeral.value)


def _other_clock(kind: SettingKind, named: frozenset[str]) -> bool:
    """Whether the words name the other of core and memory offset."""
    other = "core" if kind.key.startswith("memory") else "memory"
    return other in named


def surroundings(text: str, mention: NumberMention, low: int, high: int) -> str:
    """The words of the sentence beside a number, with a mark where the number itself stands."""
    start, end = mention.numerals[0].start, mention.core[1]
    return text[max(low, start - _REACH) : start] + "\0" + text[end : min(high, end + _REACH)]
