"""Statements denied: "is not slower", "did not draw 55 W less", "far from stable".

A denied word is judged as its denial where the data can settle one; else, and for every denied number, the
statement is refused: what the trials give can be said without the "not".
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from benchgalley.records.address import Address
from benchgalley.records.results import Results
from benchgalley.records.write_up import Verdict

from .evidence import direction_supported
from .judgement import AGREED, Judgement
from .tokens import Token
from .vocabulary import Category, Word, words_of

_CLAUSE_ENDS = frozenset(",;:.!?()—")
_REACH = 8
"""Words looked back for a denier."""
_REACH_OF_WITHOUT = 3
_PAIRS = {
    ("far", "from"), ("anything", "but"), ("nowhere", "near"), ("no", "longer"), ("fail", "to"), ("fails", "to"),
    ("failed", "to"), ("failing", "to"),
}  # fmt: skip
_NO_DENIAL = words_of("only just merely simply alone")
"""After "not": then what follows is affirmed."""
_REFUTED_BY_EVIDENCE = frozenset({Category.EQUALITY, Category.STABILITY})


def denier(tokens: Sequence[Token], first: int, lists: Mapping[str, frozenset[str]], of_a_word: bool) -> str:
    """The word or words that deny what begins at token `first`; empty when nothing does."""
    for q in range(first - 1, max(-1, first - 1 - _REACH), -1):
        lower, following = tokens[q].lower, tokens[q + 1].lower
        if q and (tokens[q - 1].lower, lower) in _PAIRS:
            return f"{tokens[q - 1].lower} {lower}"
        if tokens[q].text in _CLAUSE_ENDS or lower in lists["denial-ends"]:
            return ""
        if lower in lists["deniers"] or lower.endswith("n't"):
            return "" if following in _NO_DENIAL else lower
        if of_a_word and (
            (lower == "without" and q >= first - _REACH_OF_WITHOUT) or (lower == "no" and q == first - 1)
        ):
            return lower
    return ""


def denied_word(
    found: Judgement, word: Word, by: str, address: Address, results: Results, scope: str, stated: str
) -> Judgement:
    """The verdict on a denied word, from that on the word itself."""
    name = f"{by} {word.text}"
    if found.agrees:
        return Judgement(
            verdict=Verdict.DISAGREES,
            message=f"{address.within(scope)}: prose says {name!r}, but the trials show {word.text!r}",
            mend=f"Take {by!r} out.", word=word.text,
        )  # fmt: skip
    if word.category in _REFUTED_BY_EVIDENCE and found.verdict is Verdict.DISAGREES:
        return AGREED
    if word.category is Category.SIGNIFICANCE and found.verdict is Verdict.UNSUPPORTED:
        return AGREED
    if word.category in (Category.DIRECTION, Category.CHANGE) and found.verdict is Verdict.DISAGREES:
        turned = replace(word, sign=-word.sign)
        if direction_supported(turned, address, results, scope, stated).agrees:
            return AGREED
    if found.verdict is Verdict.UNJUDGED or word.category in (Category.ABSOLUTE, Category.EVERY, Category.PROOF):
        return found
    return Judgement(
        verdict=Verdict.UNSUPPORTED,
        message=f"{address.within(scope)}: prose says {name!r}, and the trials do not show that either: "
        f"{found.message.partition(': ')[2]}",
        mend=f"Say without {by!r} what the trials give.", word=word.text,
    )  # fmt: skip


def denied_number(found: Judgement, by: str, address: Address, scope: str, stated: str) -> Judgement:
    """The verdict on a denied number: refused, for a number that is not so says nothing of what is."""
    if found.verdict is Verdict.UNJUDGED:
        return found
    shown = found.agrees
    why = "but that is what the trials give" if shown else "which says nothing of what the trials give"
    return Judgement(
        verdict=Verdict.DISAGREES if shown else Verdict.UNSUPPORTED,
        message=f"{address.within(scope)}: prose denies {stated} ({by!r} stands before it), {why}",
        mend=f"State without {by!r} what the trials give.", computed=found.computed,
    )  # fmt: skip
