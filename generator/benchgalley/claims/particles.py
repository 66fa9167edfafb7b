"""Up, down, off, below and their like: which of them claim that a quantity went somewhere or lies on one side.

Such a word claims something beside a quantity ("the score went up", "knocked heat off") or before the baseline
("below stock"), with any verb but those of the bench and the desk: "set up on the bench", "wrote the score down".
"""

from .context import CLAUSE_ENDS, PLACE_WORDS, Context
from .tokens import Kind
from .vocabulary import Word

_REACH_OF_A_VERB = 4
"""Words looked back for the verb a particle belongs to: "switched the board power off"."""
_REACH = 5
"""Words of going and of how far that may stand between a quantity and its particle."""
_REACH_OF_A_NOUN = 3
"""Words in which an object or what something is compared with must stand."""


def claims_a_place(context: Context, i: int, word: Word) -> bool:
    """Whether the word of place at token `i` claims something although it is bound to nothing."""
    return _Particle(context, i).claims(word)


class _Particle:
    """One word of place among its neighbours."""

    def __init__(self, context: Context, i: int) -> None:
        self.context, self.i, self.lists = context, i, context.words.lists
        self.name = self.lower(i)
        lists = self.lists
        self.quantities = (lists["quantities"] | lists["moving"]) - {"it"}
        if self.name not in ("up", "down"):
            self.quantities -= lists["parts"]

    def lower(self, i: int) -> str:
        """Token `i`; empty outside the text and at the end of a clause."""
        tokens = self.context.tokens
        return "" if not 0 <= i < len(tokens) or tokens[i].text in CLAUSE_ENDS else tokens[i].lower

    def claims(self, word: Word) -> bool:
        """Whether it claims something."""
        if self._handled():
            return False
        if self._before_the_base(word):
            return True
        if self.name in ("up", "down", "off"):
            return self._moves()
        return self._on_one_side()

    def _handled(self) -> bool:
        """ "Set up", "switched the power off", "walked the voltage down"; not "turned the noise down"."""
        lists, settable = self.lists, self.lower(self.i - 1) in self.lists["set-by-hand"]
        if self.lower(self.i - 1) in lists["by-itself"]:
            return True
        within = lists["quantities"] | lists["moving"] | lists["articles-and-owners"] | lists["of-what"]
        for p in range(self.i - 1, max(-1, self.i - 1 - _REACH_OF_A_VERB), -1):
            lower = self.lower(p)
            if not lower or lower in lists["copulas"]:
                return False
            if lower in lists["picks"] and p == self.i - 1 and self.lower(p - 1) in self.quantities:
                return not self._goes_on() or self.lower(self.i + 1) == "by"
            if lower in lists[f"handled-{self.name}"]:
                return True
            if lower in lists["hand"] and (settable or p == self.i - 1):
                told_of = {self._subject(), self._noun_within(self.i + 1)}
                return settable or told_of <= lists["set-by-hand"] | {""}
            if lower not in within:  # a nearer verb takes it: "with this set the noise crept down"
                return False
        return False

    def _before_the_base(self, word: Word) -> bool:
        """ "Below stock", "up on stock", "short of stock"."""
        if self.context.follows(self.i, word, word.unless_within):
            return False
        if self.name in ("up", "down", "short"):
            joint = self.lower(self.i + 1)
            if joint != ("of" if self.name == "short" else "on"):
                return False
            behind = {self.lower(j) for j in range(self.i + 2, self.i + 2 + _REACH_OF_A_NOUN)}
            if not behind.isdisjoint(self.lists["bases"]):
                return True
            copula = self.lower(self.i - 1) in self.lists["copulas"] | self.lists["how-far"]
            return copula and joint == "on" and not behind.isdisjoint(self.lists["compared"])
        return self.context.follows(self.i, word, self.lists["bases"])

    # up, down and off

    def _moves(self) -> bool:
        following = self.lower(self.i + 1)
        if self.name == "off":
            if self.lower(self.i - 1) in self.lists["states"]:
                return False
            if following in self.lists["articles-and-owners"] and self._took_from():
                return True
        if self._went_first() or (following and self._has_an_object()):
            return True
        return self._goes_on() and self._subject() != ""

    def _goes_on(self) -> bool:
        """Whether the clause ends behind it or goes on with no object."""
        following, next_but_one = self.lower(self.i + 1), self.lower(self.i + 2)
        if following == "a":
            return next_but_one in self.lists["how-much"]
        if following == "on":
            behind = {self.lower(j) for j in range(self.i + 2, self.i + 2 + _REACH_OF_A_NOUN)}
            return behind.isdisjoint(self.lists["shelves"])
        if following == "to":
            return self.name == "down" and self.lower(self.i - 1) not in self.lists["causes"]
        return not following or following in self.lists["goes-on"] or following.endswith("ly")

    def _subject(self) -> str:
        """The quantity before it, past one verb: "the score crept up", "brought the noise of the fans down"."""
        p = self._past_how_far(self.i - 1)
        lower = self.lower(p)
        if lower in self.quantities:
            return self._head(p)
        if p == self.i - 1 or self.lower(p + 1) not in self.lists["copulas"]:
            verb = self.context.tokens[p] if p >= 0 else None
            if verb is None or verb.kind is not Kind.WORD or lower in self._no_verbs():
                return ""
            before = self._past_how_far(p - 1)
            if self.lower(before) in self.quantities:
                return self._head(before)
            p = before
        return self._head(p)

    def _no_verbs(self) -> frozenset[str]:
        """What stands behind a quantity to name something else, or is no verb: "power limit", "fan curve"."""
        return self.lists["limit"] | self.lists["offset"] | self.lists["no-noun"] | self.lists["things"]

    def _past_how_far(self, p: int) -> int:
        for _ in range(_REACH):
            lower = self.lower(p)
            if lower not in self.lists["copulas"] and lower not in self.lists["how-far"] and not lower.endswith("ly"):
                break
            p -= 1
        return p

    def _head(self, p: int) -> str:
        """The quantity a noun group that ends at token `p` tells of: in "noise of the card" noise, in "table of
        scores" none, in "noise levels" noise."""
        if self.lower(p) in self.lists["amounts"] and self.lower(p - 1) in self.quantities:
            p -= 1
        for _ in range(2):
            q = p - 1
            while q > p - _REACH_OF_A_NOUN and self.lower(q) in self.lists["articles-and-owners"]:
                q -= 1
            if q < 1 or self.lower(q) not in self.lists["of-what"] or not self.lower(q - 1):
                break
            if self.lower(q - 1) in self.lists["no-noun"]:
                break
            p = q - 1
        return self.lower(p) if self.lower(p) in self.quantities else ""

    def _noun_within(self, first: int) -> str:
        """The quantity that closes a noun group beginning at token `first`: "the board power", no "power cable"."""
        for j in range(first, first + _REACH_OF_A_NOUN):
            lower, behind = self.lower(j), self.lower(j + 1)
            if not lower or lower in PLACE_WORDS:
                return ""
            if lower in self.quantities and (
                not behind or behind in self.lists["goes-on"] or behind in self.lists["of-what"]
            ):
                return lower
        return ""

    def _has_an_object(self) -> bool:
        """ "Brings down the noise", "went up in score", "takes the edge off the noise"."""
        first = self.i + 1
        while self.lower(first) in self.lists["how-far"] and self.lower(first) != "a":
            first += 1
        lower = self.lower(first)
        if lower == "a" and self.lower(first + 1) in self.lists["how-much"]:
            first += 2
            lower = self.lower(first)
        if lower == "in":
            return self.name != "off" and self._noun_within(first + 1) != ""
        if lower == "on":  # "cuts down on noise"; what lands on a fan is no claim
            return self._noun_within(first + 1) not in self.lists["parts"] | {""}
        if lower in self.lists["no-noun"] - self.lists["articles-and-owners"] or not self.lower(self.i - 1):
            return False
        return self._noun_within(first) != ""

    def _took_from(self) -> bool:
        """ "Takes heat off the card": not the subject, "power off the slot"."""
        p = self.i - 1
        while p > self.i - _REACH and self.lower(p - 1) in self.lists["articles-and-owners"]:
            p -= 1
        return self.lower(self.i - 1) in self.quantities and self.lower(p - 1) != ""

    def _went_first(self) -> bool:
        """ "Down went the noise."."""
        first = not self.lower(self.i - 1) or self.lower(self.i - 1) == "and"
        return first and self.lower(self.i + 1) in self.lists["went"] and self._noun_within(self.i + 2) != ""

    # below, above, under, over and short

    def _on_one_side(self) -> bool:
        following, before = self.lower(self.i + 1), self.lower(self.i - 1)
        if self.name == "short":
            return not following and before in self.lists["falls-short"] and self._subject() != ""
        if following in self.lists["level-told"]:
            return before not in self.quantities and self._subject() != ""
        return not following and before in self.lists["stays"] and self._subject() != ""
