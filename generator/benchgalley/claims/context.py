"""What stands before and behind a number: hedges, bounds, and the word that turns it into a difference."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from .mentions import Direction
from .tokens import Token
from .vocabulary import Bound, Category, Hedge, Vocabulary, Word, words_of

_HEDGE_MARKS = {"~": Hedge.ABOUT, "≈": Hedge.ABOUT, "≃": Hedge.ABOUT}
_BOUND_MARKS = {"<": Bound.LESS_THAN, ">": Bound.MORE_THAN, "≤": Bound.AT_MOST, "≥": Bound.AT_LEAST}
_MARKS = {*_HEDGE_MARKS, *_BOUND_MARKS, "("}
CLAUSE_ENDS = frozenset(",;.!?()—")
_REACH = 8
"""Words looked back for a direction word."""
_NOUNS = words_of("saving savings drop loss gain rise increase decrease reduction cut fall")

_BREAKS = words_of("until while when where because whereas")

_Effect = TypeVar("_Effect")


@dataclass(frozen=True, kw_only=True, slots=True)
class Before:
    """Hedge and bound before a number."""

    hedge: Hedge
    bound: Bound
    start: int
    first: int
    """Index of the first token taken; the number's own when none."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Behind:
    """Hedge and bound behind a number and its unit."""

    hedge: Hedge
    bound: Bound
    end: int
    after: int


class Context:
    """Looks round a number in the tokens of one text."""

    def __init__(self, text: str, tokens: Sequence[Token], words: Vocabulary) -> None:
        self.text = text
        self.tokens = tokens
        self.words = words
        self.taken_until = 0
        """Token after the last mention read: a search backwards stops there."""

    def word_before(self, first: int) -> str:
        """The word before token `first`, hedges left out."""
        p = self.before(first - 1, False).first - 1
        return self.tokens[p].lower if p >= 0 else ""

    def before(self, p: int, over_is_a_span: bool) -> Before:
        """Hedge and bound that end at token `p`."""
        hedge, bound, first = Hedge.NONE, Bound.NONE, p + 1
        for _ in range(4):
            if p < self.taken_until or p < 0:
                break
            mark, lower = self.tokens[p].text, self.tokens[p].lower
            if lower not in self.words.hedges_before and lower not in self.words.bounds_before and mark not in _MARKS:
                break
            h = self._ending(self.words.hedges_before, p)
            b = self._ending(self.words.bounds_before, p)
            if mark in _HEDGE_MARKS:
                hedge, length = _HEDGE_MARKS[mark], 1
            elif mark in _BOUND_MARKS:
                bound, length = _BOUND_MARKS[mark], 1
            elif h and (not b or len(h[0]) >= len(b[0])):
                hedge, length = h[1], len(h[0])
            elif b and not (over_is_a_span and b[0] == ("over",)):
                bound, length = b[1], len(b[0])
            elif mark == "(":
                length = 1
                if not self._ends_a_loosener(p - 1):
                    break
            else:
                break
            p -= length
            first = p + 1
        start = self.tokens[first].start if first < len(self.tokens) else len(self.text)
        return Before(hedge=hedge, bound=bound, start=start, first=first)

    def _ends_a_loosener(self, p: int) -> bool:
        return p >= 0 and bool(self._ending(self.words.hedges_before, p) or self._ending(self.words.bounds_before, p))

    def behind(self, i: int) -> Behind:
        """Hedge and bound that begin at token `i`."""
        hedge, bound, end = Hedge.NONE, Bound.NONE, 0
        for _ in range(2):
            lower = self.tokens[i].lower if i < len(self.tokens) else ""
            if lower not in self.words.hedges_after and lower not in self.words.bounds_after:
                break
            h = self._beginning(self.words.hedges_after, i)
            b = self._beginning(self.words.bounds_after, i)
            if h and (not b or len(h[0]) >= len(b[0])):
                hedge, length = h[1], len(h[0])
            elif b:
                bound, length = b[1], len(b[0])
            else:
                break
            i += length
            end = self.tokens[i - 1].end
        return Behind(hedge=hedge, bound=bound, end=end, after=i)

    def direction_behind(self, i: int) -> Direction | None:
        """ "41 W less", "41 W (16 %) less", "a 41 W saving"."""
        i = self._past_brackets(i)
        if i < len(self.tokens) and self.tokens[i].text == "-":
            i += 1
        word = self.phrase_at(i)
        if word is None or word.category not in (Category.DIRECTION, Category.CHANGE):
            return None
        if (
            word.by_only
            and word.only_next
            and word.words[0] in PLACE_WORDS
            and not self.follows(i, word, word.only_next)
        ):
            return None
        last = i + len(word.words) - 1
        firm = word.category is Category.DIRECTION or word.words[0] in _NOUNS
        return Direction(word=word, start=self.tokens[i].start, end=self.tokens[last].end, firm=firm)

    def _past_brackets(self, i: int) -> int:
        while i < len(self.tokens) and self.tokens[i].text == ")":
            i += 1
        if i < len(self.tokens) and self.tokens[i].text == "(":
            for j in range(i + 1, min(i + 10, len(self.tokens))):
                if self.tokens[j].text == ")":
                    return j + 1
        return i

    def direction_before(self, first: int, chain: bool) -> Direction | None:
        """ "saved 41 W", "lower by 41 W", "the saving was 41 W": the nearest such word in the clause."""
        p = first - 1
        lists = self.words.lists
        if p < 0 or p < self.taken_until:
            return None
        if chain and self.tokens[p].lower == "from":
            p -= 1
        elif self.tokens[p].lower in lists["levels"]:
            return None
        if self.tokens[p].lower in lists["down-or-up"] and self._says_where(p) and (way := self.phrase_at(p)):
            return Direction(word=way, start=self.tokens[p].start, end=self.tokens[p].end, firm=True)
        by, joined = self.tokens[p].lower == "by", True
        for q in range(p, max(self.taken_until, p - _REACH) - 1, -1):
            token = self.tokens[q]
            all_but = token.lower == "but" and q > 0 and self.tokens[q - 1].lower == "all"
            if token.text in CLAUSE_ENDS or (token.lower in lists["stops"] and not all_but):
                return None
            word = self.phrase_at(q) if token.lower in self.words.claims else None
            if word is not None and (word.category is Category.CHANGE or (word.category is Category.DIRECTION and by)):
                end = self.tokens[q + len(word.words) - 1].end
                return Direction(word=word, start=token.start, end=end, firm=joined and not chain)
            joined = joined and (all_but or token.lower in lists["joins"] or token.text == ":")
        return None

    def _says_where(self, p: int) -> bool:
        """Whether "up" or "down" at token `p` tells where a quantity went; "gives up" does not."""
        if p == 0 or self.tokens[p - 1].text in CLAUSE_ENDS:
            return True
        before, lists = self.tokens[p - 1].lower, self.words.lists
        return before in lists["copulas"] or before in lists["quantities"]

    def levelled(self, first: int, after: int, chain: bool) -> str:
        """The word that makes a number a level: "drew 214 W", "fell to 214 W"; empty without one.

        `first` is the first token of the mention, `after` the one behind it.
        """
        p, lists = first - 1, self.words.lists
        if p < max(self.taken_until, 0) or chain:
            return ""
        before = self.tokens[p].lower
        if before == "to":
            return "to" if self._moved(p - 1) else ""
        following = self.tokens[after].lower if after < len(self.tokens) else ""
        if before in lists["level-verbs"] and following not in lists["against"]:
            return before
        return "at" if before == "at" and following == "of" else ""

    def _moved(self, p: int) -> bool:
        """Whether a word of change stands before "to" in its clause: "fell to", "a reduction by 41 W to"."""
        if p < 0 or self.tokens[p].lower in self.words.lists["sums"]:
            return False
        for q in range(p, max(-1, p - _REACH), -1):
            token = self.tokens[q]
            if token.text in CLAUSE_ENDS or token.lower in _BREAKS:
                return False
            word = self.phrase_at(q) if token.lower in self.words.claims else None
            if token.lower == "down" or (word is not None and word.category is Category.CHANGE):
                return True
        return False

    def ends_a_verb(self, i: int, after: int) -> bool:
        """ "It draws less.": the word closes a clause behind a verb of drawing or making."""
        closes = after >= len(self.tokens) or self.tokens[after].text in CLAUSE_ENDS
        return closes and i > 0 and self.tokens[i - 1].lower in self.words.lists["level-verbs"]

    def moves_a_quantity(self, i: int, after: int) -> bool:
        """ "The noise dropped.", "Power is down at 84 %": the quantity stands before the word."""
        lists = self.words.lists
        if after < len(self.tokens):
            behind = self.tokens[after]
            if behind.text not in CLAUSE_ENDS and behind.lower not in lists["after-a-move"]:
                return False
        between = lists["copulas"] | lists["how-far"] | lists["stays"]
        p = i - 1
        while p >= max(0, i - 4) and self.tokens[p].lower in between:
            p -= 1
        if p > 0 and self.tokens[p].lower in lists["amounts"]:
            p -= 1
        return p >= 0 and self.tokens[p].lower in lists["quantities"] and self.tokens[p].lower != "it"

    def phrase_at(self, i: int) -> Word | None:
        """The longest word or phrase of the table that begins at token `i`."""
        if not 0 <= i < len(self.tokens):
            return None
        following = self.tokens[i + 1].lower if i + 1 < len(self.tokens) else ""
        seconds = self.words.seconds.get(self.tokens[i].lower)
        if seconds is not None and following not in seconds:
            return None
        for word in self.words.claims.get(self.tokens[i].lower, ()):
            length = len(word.words)
            if length == 1:
                return word
            if following == word.words[1] and tuple(t.lower for t in self.tokens[i : i + length]) == word.words:
                return word
        return None

    def follows(self, i: int, word: Word, wanted: frozenset[str]) -> bool:
        """Whether one of some words follows a word at token `i` within three words, no clause end between."""
        start = i + len(word.words)
        reach = 2 if word.category is Category.CHANGE else 3
        for token in self.tokens[start : start + reach]:
            if token.text in CLAUSE_ENDS or token.lower in _BREAKS:
                return False
            if token.lower in wanted:
                return True
        return False

    def compares(self, i: int, word: Word) -> bool:
        """ "less than stock", "lower than the others"; not "more than once"."""
        start = i + len(word.words)
        than = [t.lower for t in self.tokens[start : start + 2]]
        if i and self.tokens[i - 1].lower in self.words.lists["no-measure"]:
            return False
        return len(than) == 2 and than[0] == "than" and than[1] not in self.words.lists["no-comparison"]

    def clause(self, i: int) -> tuple[int, int]:
        """Token range of the clause round token `i`."""
        low, high = i, i
        while low > 0 and self.tokens[low - 1].text not in CLAUSE_ENDS:
            low -= 1
        while high < len(self.tokens) and self.tokens[high].text not in CLAUSE_ENDS:
            high += 1
        return low, high

    def _ending(
        self, phrases: Mapping[str, Sequence[tuple[tuple[str, ...], _Effect]]], p: int
    ) -> tuple[tuple[str, ...], _Effect] | None:
        for words, effect in phrases.get(self.tokens[p].lower, ()):
            first = p + 1 - len(words)
            if first >= self.taken_until and tuple(t.lower for t in self.tokens[first : p + 1]) == words:
                return words, effect
        return None

    def _beginning(
        self, phrases: Mapping[str, Sequence[tuple[tuple[str, ...], _Effect]]], i: int
    ) -> tuple[tuple[str, ...], _Effect] | None:
        if i >= len(self.tokens):
            return None
        for words, effect in phrases.get(self.tokens[i].lower, ()):
            if tuple(t.lower for t in self.tokens[i : i + len(words)]) == words:
                return words, effect
        return None


PLACE_WORDS = words_of("below under down off short above over up")
"""Prepositions that turn a number only before the word they need: "41 W below stock"."""
