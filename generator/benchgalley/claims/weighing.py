"""The words round a number, weighed: which of the addresses that fit is meant."""

import re
from collections.abc import Mapping, Sequence

from benchgalley.records.address import Address
from benchgalley.records.quantity import SETTINGS
from benchgalley.records.results import Number
from benchgalley.records.write_up import Text

from . import cues_en as cues
from .desk import Desk
from .mentions import NumberMention
from .places import sentence_span

_BARE_SETTING = re.compile(r"\b(?:limit|offset|slider)s?\s+(?:of|at|to|was|is)\s+(?:about\s+|around\s+)?$")
_WORD = re.compile(r"[a-z][a-z'/-]*")
_NEAR = 4
"""Words to each side that count double."""


class Surroundings:
    """The words round a number, weighed."""

    def __init__(
        self, desk: Desk, text: Text, index: int, mention: NumberMention, subjects: Sequence[tuple[str, str]],
        around: str,
    ) -> None:  # fmt: skip
        low, high = sentence_span(text.text, *mention.core)
        before = _WORD.findall(f"{around} {text.text[low : mention.start]}".lower())
        after = _WORD.findall(text.text[mention.end : high].lower())
        self.weights: dict[str, float] = {}
        for k, word in enumerate(reversed(before)):
            self._weigh(word, 2.0 if k < _NEAR else 1.0 if k < 9 else 0.4)
        for k, word in enumerate(after):
            self._weigh(word, 2.0 if k < _NEAR else 0.6 if k < 8 else 0.2)
        self.unit_words = set(_WORD.findall(f"{mention.unit_text} {mention.counted}".lower()))
        self.mention = mention
        self.text = text
        self.subjects = [name for name, _ in subjects]
        self.carried = {name for name, place in subjects if place == f"{index} {low}"}
        """Subjects of the numbers before it in the same sentence."""
        self.desk = desk
        self.sentence = text.text[low:high].lower()
        self.before = f"{around} {text.text[low : mention.start]}".lower()
        self.bare_setting = not mention.unit_text and bool(
            _BARE_SETTING.search(text.text[low : mention.numerals[0].start].lower())
        )
        """Whether a number without a unit stands where a setting does."""
        self.named = _setpoints_named(desk, self.before, text.text[mention.end : high].lower())
        self.setpoints = desk.write_up.setpoints if desk.write_up is not None else {}
        self.common = _how_common(desk)

    def _weigh(self, word: str, weight: float) -> None:
        self.weights[word] = max(weight, self.weights.get(word, 0.0))

    def _sum(self, words: str) -> float:
        found = sorted((self.weights[w] for w in words.split() if w in self.weights), reverse=True)
        return sum(found[:2])

    def score(self, address: Address, number: Number) -> float:
        """How well an address that fits suits the words."""
        total = 2.0 * self._sum(cues.QUANTITIES.get(_stem(address.quantity), address.quantity.replace("-", " ")))
        total += self._relation(address, number)
        total += self._subject(address)
        if address.scope != self.desk.scope:
            total -= 0.0 if self.scope_named(address.scope) else 8.0
        return total

    def _relation(self, address: Address, number: Number) -> float:
        mention, relation = self.mention, address.relation
        total = 1.5 * self._sum(cues.RELATIONS.get(relation, relation.replace("-", " "))) if relation else 1.0
        turned = mention.direction is not None and mention.direction.firm
        if turned:
            less = mention.direction is not None and mention.direction.word.sign < 0
            total += {"saved": 3.0, "change": 1.0}.get(relation.partition("-")[0], -2.0) * (1 if less else 0)
            total += {"change": 3.0, "saved": 0.5}.get(relation.partition("-")[0], -2.0) * (0 if less else 1)
        elif relation in cues.RARE_RELATIONS and total < 1.5:
            total -= 3.0
        if relation.endswith(("at-most", "at-least")):
            total += 4.0 if mention.bound else -6.0
        if relation == "runs":
            total += 2.0 if address.quantity == "score" else -5.0
        if address.quantity in ("runs", "completed-runs") and address.subject in self.setpoints:
            total -= 3.0
        if "-at-" in address.quantity:
            total -= 2.0
        if mention.numerals[0].sign == "-" and relation.startswith("change"):
            total += 2.0
        return total

    def _subject(self, address: Address) -> float:
        goes_on = address.subject in self.carried and address.subject not in self.setpoints
        return self._spoken_of(address) + self.common.get(address.subject, 0.0) + (5.0 if goes_on else 0.0)

    def _spoken_of(self, address: Address) -> float:
        if address.subject in self.named:
            return 3.0 + 2.0 * self.named[address.subject]
        if not self.named and self.subjects:
            return 2.5 if address.subject == self.subjects[-1] else 1.0 if address.subject in self.subjects else 0.0
        return 0.5 if self.subjects and address.subject == self.subjects[-1] else 0.0

    def scope_named(self, scope: str) -> bool:
        other = self.desk.site.write_ups.get(scope)
        if other is None:
            return "samples" in self.sentence
        names = {f"sample {other.sample.id}", other.card.model.lower(), scope}
        own = self.desk.write_up
        if own is not None and own.card.id == other.card.id:
            names.discard(other.card.model.lower())
        return any(re.search(rf"(?<!\w){re.escape(n)}(?!\w)", self.sentence) for n in names)


def _stem(quantity: str) -> str:
    stem = quantity.partition("-at-")[0]
    return quantity if quantity in cues.QUANTITIES else stem


def _how_common(desk: Desk) -> dict[str, float]:
    """Setpoint → share of all namings in the write-up: what an article is about is likelier."""
    if desk.write_up is None:
        return {}
    whole = " ".join(text.text for text in desk.texts).lower()
    counts = {
        name: len(re.findall(rf"(?<![\w-])(?:{re.escape(name)}|{re.escape(item.label.lower())})(?!\w)", whole))
        for name, item in desk.write_up.setpoints.items()
        if name != desk.write_up.baseline
    }
    total = sum(counts.values()) or 1
    return {name: count / total for name, count in counts.items()}


def _setpoints_named(desk: Desk, before: str, after: str) -> dict[str, float]:
    """Setpoints and sequences named in the sentence, by name, label or settings, with their nearness (0 to 1)."""
    if desk.write_up is None:
        return {}
    found: dict[str, float] = {}
    labels = {name: s.label for name, s in desk.write_up.setpoints.items()}
    labels |= {name: s.label for name, s in desk.write_up.sequences.items()}
    for name, label in labels.items():
        near = [_nearness(word, before, after) for word in {name.replace("-", " "), name, label.lower()}]
        if name in desk.write_up.setpoints:
            near.append(_by_settings(desk.write_up.setpoints[name].settings, before, after))
        if max(near) > 0:
            found[name] = max(near)
    return found


def _by_settings(settings: Mapping[str, float | str], before: str, after: str) -> float:
    """Nearness of a setpoint told by its settings: all that differ from stock must stand in the sentence."""
    near = []
    for kind in SETTINGS:
        value = settings.get(kind.column, kind.default)
        if kind.unit is None or not isinstance(value, (int, float)) or value == kind.default:
            continue
        signs = {f"{value:g}", f"{value:g}".replace("-", "\u2212"), f"+{value:g}"}
        near.append(
            max(
                _nearness(f"{s}{gap}{kind.unit.symbol.lower()}", before, after)
                for s in signs
                for gap in (" ", "", "\u00a0")
            )
        )
    return min(near) + 0.3 * (len(near) - 1) if near and min(near) > 0 else 0.0


def _nearness(word: str, before: str, after: str) -> float:
    """1 just before the number, towards 0 at the start of the sentence; little behind it."""
    pattern = re.compile(rf"(?<![\w-]){re.escape(word)}(?!\w)")
    if places := [m.end() for m in pattern.finditer(before)]:
        return 1.0 - (len(before) - places[-1]) / (len(before) + 1)
    return 0.1 if pattern.search(after) else 0.0
