"""A text → the statements in it: numbers with unit, hedge, bound and direction, and words that claim.

The whole text is read, not only what is linked: "the card drew about [41 W](...) less than stock" has its
hedge before the link and its direction behind it. A mention never joins numerals of two different links.
"""

import re
from collections.abc import Sequence

from benchgalley.records import units
from benchgalley.records.units import Unit
from benchgalley.records.write_up import Text

from .context import Context
from .denial import denier
from .everyday import A_WORD, EVERYDAY, means_a_number
from .mentions import Form, NumberMention, TextReading
from .numerals import Numeral, Style, numeral_at, one_in, one_of
from .places import sentence_span
from .shared_units import borrow_units
from .telling import telling
from .tokens import Kind, tokens_of
from .trade_words import word_mentions
from .unit_lexicon import UnitFound, UnitLexicon
from .vocabulary import Vocabulary


def read(text: Text, words: Vocabulary, lexicon: UnitLexicon) -> TextReading:
    """Every statement in a text."""
    spans = telling(text.text, [(link.start, link.end) for link in text.links], words)
    return _Reader(text, words, lexicon, spans).read() if spans else _NOTHING


_NOTHING = TextReading(numbers=(), words=(), dates=(), names=())


class _Reader:
    """One pass over one text."""

    def __init__(self, text: Text, words: Vocabulary, lexicon: UnitLexicon, spans: Sequence[tuple[int, int]]) -> None:
        self.text = text.text
        self.words = words
        self.lexicon = lexicon
        self.links = [(link.start, link.end) for link in text.links]
        self.tokens = tokens_of(text.text, words.decimal_comma, spans)
        self.context = Context(self.text, self.tokens, words)
        self.names: list[tuple[int, int]] = []

    def read(self) -> TextReading:
        numbers: list[NumberMention] = []
        dates: list[tuple[int, int]] = []
        starts, number, date = self.words.number_starts, Kind.NUMBER, Kind.DATE
        passed = 0
        telling = [
            (i, token)
            for i, token in enumerate(self.tokens)
            if token[0] is number or token[4] in starts or token[0] is date
        ]
        for i, (kind, start, end, _, _) in telling:
            if i < passed:
                continue
            if kind is date:
                dates.append((start, end))
                continue
            if kind is not number and not self._may_begin(i):
                continue
            mention, passed = self._mention(i)
            if mention is not None:
                numbers.append(mention)
        mentions = borrow_units(self.text, numbers)
        found = word_mentions(self.context, mentions, self.links)
        return TextReading(numbers=tuple(mentions), words=tuple(found), dates=tuple(dates), names=tuple(self.names))

    # one mention

    def _may_begin(self, i: int) -> bool:
        """Whether an article leads to a number or a unit; most do not."""
        if self.tokens[i].lower not in self.words.lists["articles"]:
            return True
        following = self.tokens[i + 1].lower if i + 1 < len(self.tokens) else ""
        return following in self.words.after_article or self.lexicon.may_begin(following)

    def _mention(self, i: int) -> tuple[NumberMention | None, int]:
        """The mention that begins at token `i`, and the token to go on at."""
        numeral = numeral_at(self.tokens, i, self.words, self.text)
        if numeral is None:
            numeral = self._one_unit(i)
        if numeral is None:
            return None, i
        if numeral.style is Style.DIGITS and (last := self._name_until(numeral)):
            self.names.append((numeral.start, self.tokens[last].end))
            return None, last + 1
        numeral = self._one_in(numeral)
        unit, counted, after = self._unit(numeral.after)
        if unit is None and (money := self._money_before(numeral)):
            unit, after = money, money.after
        if numeral.style is Style.FRACTION and (part := self._part_of_a_unit(numeral)):
            unit, counted, after = part, "", part.after
        if numeral.style is not Style.DIGITS and self._owner(numeral.start) < 0:
            signed = self._second_at(numeral.after) is not None or numeral.sign != ""
            if not signed and not means_a_number(self.context, numeral, unit, counted):
                return None, i
        form, numerals, unit, counted, after, second = self._second(numeral, unit, counted, after)
        mention = self._with_surroundings(form, numerals, unit, counted, after, second)
        self.context.taken_until = after
        return mention, after

    def _one_unit(self, i: int) -> Numeral | None:
        """ "A degree cooler", "saves a watt": the article counts where the unit is what something differs by."""
        if self.tokens[i].lower not in self.words.lists["articles"]:
            return None
        found = self.lexicon.at(self.tokens, i + 1, self.text)
        if found is None or found.unit is None or found.unit.dimension in EVERYDAY or found.end - found.start < A_WORD:
            return None
        turned = self.context.direction_behind(found.after) or self.context.direction_before(i, chain=False)
        return one_of(self.tokens, i) if turned or self._owner(self.tokens[i].start) >= 0 else None

    def _one_in(self, numeral: Numeral) -> Numeral:
        """ "one in four", "3 in 10": a share of runs, unless a unit follows."""
        i = numeral.after
        if numeral.sign or i + 1 >= len(self.tokens) or self.tokens[i].lower != "in" or numeral.decimals:
            return numeral
        other = numeral_at(self.tokens, i + 1, self.words, self.text)
        if other is None or other.sign or other.decimals or not 0 < numeral.value < other.value <= _MOST_IN:
            return numeral
        if self._owner(other.start) != self._owner(numeral.start) or self.lexicon.at(
            self.tokens, other.after, self.text
        ):
            return numeral
        return one_in(self.tokens, numeral, other)

    def _money_before(self, numeral: Numeral) -> UnitFound | None:
        """ "EUR 11 a year": the currency stands before the number, the year behind it."""
        p = numeral.first - 1
        if p < self.context.taken_until or (found := self.lexicon.at(self.tokens[p : p + 1], 0, self.text)) is None:
            return None
        if found.unit is None or not found.unit.dimension.startswith("money:"):
            return None
        currency = self.tokens[p].text
        for length in (2, 1):
            behind = " ".join(t.text for t in self.tokens[numeral.after : numeral.after + length])
            for written in (f"{currency} {behind}", f"{currency}{behind}"):
                if (yearly := self.lexicon.named(written)) is not None:
                    last = numeral.after + length - 1
                    return UnitFound(yearly, self.tokens[numeral.after].start, self.tokens[last].end, last + 1)
        return UnitFound(found.unit, found.start, found.end, numeral.after)

    def _with_surroundings(
        self, form: Form, numerals: tuple[Numeral, ...], unit: UnitFound | None, counted: str, after: int,
        second: UnitFound | None,
    ) -> NumberMention:  # fmt: skip
        over_is_a_span = bool(counted) or (unit is not None and unit.unit is not None and unit.unit.dimension == "time")
        before = self.context.before(numerals[0].first - 1, over_is_a_span)
        behind = self.context.behind(after)
        direction = self.context.direction_behind(behind.after)
        if direction is None:
            direction = self.context.direction_before(before.first, form is Form.CHAIN)
        ends = [numerals[-1].end, unit.end if unit else 0, second.end if second else 0, behind.end]
        if counted:
            ends.append(self.tokens[after - 1].end)
        return NumberMention(
            start=min(before.start, numerals[0].start),
            end=max(ends),
            form=form,
            numerals=numerals,
            unit=_unit_of(numerals[0], unit, counted),
            unit_text=self.text[unit.start : unit.end] if unit else counted,
            unit_known=unit is None or unit.unit is not None,
            counted=counted,
            second_unit=second.unit if second else None,
            hedge=before.hedge or behind.hedge,
            bound=before.bound or behind.bound,
            direction=direction,
            denied=denier(self.tokens, before.first, self.words.lists, of_a_word=False),
            yearly=unit is not None and unit.unit is not None and self._yearly(unit.unit, numerals[0].start),
            levelled="" if direction else self.context.levelled(before.first, behind.after, form is Form.CHAIN),
        )

    def _yearly(self, unit: Unit, position: int) -> bool:
        """ "57.8 EUR for the card each year": the year stands apart from its unit."""
        if not unit.dimension.startswith(("money:", "energy")):
            return False
        low, high = sentence_span(self.text, position, position + 1)
        return not self.words.lists["yearly"].isdisjoint(re.findall(r"\w+", self.text[low:high].lower()))

    def _name_until(self, numeral: Numeral) -> int:
        """Last token of a name the digits belong to (`8-pin`, `3D`, `2160p`); 0 when they are a quantity."""
        j = numeral.after
        if j >= len(self.tokens) or numeral.sign:
            return 0
        if self.tokens[j].text == "-" and self.tokens[j].start == numeral.end and j + 1 < len(self.tokens):
            j += 1
        word = self.tokens[j]
        if word.kind is not Kind.WORD or word.start != self.tokens[j - 1].end:
            return 0
        if self.lexicon.at(self.tokens, j, self.text) or word.lower in self.words.lists["counted"]:
            return 0
        return 0 if self.lexicon.looks_like_unit(word.text) else j

    def _unit(self, i: int) -> tuple[UnitFound | None, str, int]:
        """Unit or counted noun at token `i`: (unit, noun, token after)."""
        if i >= len(self.tokens):
            return None, "", i
        j = i
        if self.tokens[j].text == "-" and self.tokens[j].start == self.tokens[j - 1].end:
            j += 1
        if (found := self.lexicon.at(self.tokens, j, self.text)) is not None:
            dimension_like = self.tokens[j].text in ("x", "×") and self._number_follows(j + 1)
            if not dimension_like:
                return found, "", found.after
        if j == i and self._glued_unknown_unit(i):
            return UnitFound(None, self.tokens[i].start, self.tokens[i].end, i + 1), "", i + 1
        return self._counted(j, i)

    def _counted(self, j: int, i: int) -> tuple[UnitFound | None, str, int]:
        lists = self.words.lists
        for k in range(j, min(j + 3, len(self.tokens))):
            token = self.tokens[k]
            if token.kind is not Kind.WORD or token.lower in lists["no-adjective"]:
                break
            if token.lower in lists["counted"]:
                rate = self.lexicon.at(self.tokens, k + 1, self.text)
                if rate is not None and rate.unit is not None and rate.unit.dimension == "rate":
                    return rate, token.lower, rate.after
                return None, token.lower, k + 1
        return None, "", i

    def _glued_unknown_unit(self, i: int) -> bool:
        token = self.tokens[i]
        glued = token.kind is Kind.WORD and token.start == self.tokens[i - 1].end
        return glued and self.lexicon.looks_like_unit(token.text)

    def _number_follows(self, i: int) -> bool:
        return i < len(self.tokens) and self.tokens[i].kind is Kind.NUMBER

    # two numerals in one mention

    def _second(
        self, numeral: Numeral, unit: UnitFound | None, counted: str, after: int
    ) -> tuple[Form, tuple[Numeral, ...], UnitFound | None, str, int, UnitFound | None]:
        alone = (Form.VALUE, (numeral,), unit, counted, after, None)
        form, start = self._join(numeral, unit, after)
        if form is None:
            return alone
        other = numeral_at(self.tokens, start, self.words, self.text)
        if other is None or self._owner(other.start) != self._owner(numeral.start):
            return alone
        if other.style is Style.DIGITS and self._name_until(other):
            return alone
        other_unit, other_counted, other_after = self._unit(other.after)
        if other_unit is None and self._bracketed(numeral, other):
            other_unit, other_counted, other_after = self._unit(other.after + 1)
        if form is Form.SHARE:
            return form, (numeral, other), unit, counted, other_after, other_unit
        if unit and other_unit and unit.unit != other_unit.unit:
            return alone
        return form, (numeral, other), other_unit or unit, other_counted or counted, other_after, None

    def _join(self, numeral: Numeral, unit: UnitFound | None, after: int) -> tuple[Form | None, int]:
        """The form that what follows makes of it, and the token where the second numeral begins."""
        if (skip := self._second_at(after)) is not None:
            return Form.PLUS_MINUS, after + skip
        if after >= len(self.tokens):
            return None, after
        token, start = self.tokens[after], after + 1
        if token.lower == "of" and unit is not None and unit.unit == units.PERCENT:
            while start < len(self.tokens) and self.tokens[start].lower in ("the", "stock", "stock's"):
                start += 1
            return Form.SHARE, self._skip_sign(start)
        if token.text in ("→", "⟶", "⇒"):
            return Form.CHAIN, self._skip_sign(start)
        if token.text in ("–", "—", "-", "\u2212") or (
            token.lower == "and" and self.context.word_before(numeral.first) == "between"
        ):
            return Form.RANGE, self._skip_sign(start)
        if token.lower == "to":
            lead = self.context.word_before(numeral.first)
            return (Form.CHAIN if lead == "from" else Form.RANGE), self._skip_sign(start)
        return None, after

    def _second_at(self, i: int) -> int | None:
        """Number of tokens of a plus-minus sign at token `i`, or None."""
        tokens = self.tokens
        if i < len(tokens) and tokens[i].text == "±":
            return 1
        three = [t.lower for t in tokens[i : i + 3]]
        return 3 if three in (["+", "/", "-"], ["plus", "or", "minus"], ["+", "/", "\u2212"]) else None

    def _skip_sign(self, i: int) -> int:
        """Past a sign mark or sign word, so that the numeral itself is at the index."""
        if i + 1 < len(self.tokens) and (
            self.tokens[i].text in "+-\u2212–" or self.tokens[i].lower in ("minus", "plus")
        ):
            return i + 1
        return i

    def _bracketed(self, first: Numeral, second: Numeral) -> bool:
        opened = first.first > 0 and self.tokens[first.first - 1].text == "("
        return opened and second.after < len(self.tokens) and self.tokens[second.after].text == ")"

    def _part_of_a_unit(self, numeral: Numeral) -> UnitFound | None:
        """ "half a degree", "a quarter of a watt": the unit behind the article."""
        i = numeral.after
        if i < len(self.tokens) and self.tokens[i].lower == "of":
            i += 1
        if i < len(self.tokens) and self.tokens[i].lower in ("a", "an", "one"):
            found = self.lexicon.at(self.tokens, i + 1, self.text)
            if found is not None and found.unit not in (None, units.RATIO):
                return found
        return None

    def _owner(self, position: int) -> int:
        for index, (start, end) in enumerate(self.links):
            if start <= position < end:
                return index
        return -1


def _unit_of(numeral: Numeral, unit: UnitFound | None, counted: str) -> Unit | None:
    if unit is not None:
        return unit.unit
    return units.RUNS if counted and numeral.style is not Style.FRACTION else None  # "one in four runs" is a share


_MOST_IN = 1000
"""Largest number of runs a share is told of in words: "one in a thousand"."""
