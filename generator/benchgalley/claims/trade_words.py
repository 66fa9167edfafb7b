"""Finds the words that are claims by themselves: cooler, the same, stable, best, never."""

from collections.abc import Sequence

from .context import PLACE_WORDS, Context
from .denial import denier
from .mentions import NumberMention, WordMention
from .particles import claims_a_place
from .vocabulary import Category, Word, words_of

_COMPARED = words_of("than card setting setpoint sample of one")
"""After "the cooler": then it is the comparative, not the part."""

_CLOSE = 4
"""Words behind a clause in which the number may stand that says how far something went."""


def word_mentions(
    context: Context, numbers: Sequence[NumberMention], links: Sequence[tuple[int, int]]
) -> list[WordMention]:
    """Every word of the table that no number has taken, in order."""
    claims, tokens = context.words.claims, context.tokens
    places = [k for k, (_, _, _, _, lower) in enumerate(tokens) if lower in claims]
    if not places:
        return []
    taken = [(m.start, m.end) for m in numbers]
    taken += [(d.start, d.end) for m in numbers if (d := m.direction) and not _linked_apart(d.start, m.core[0], links)]
    found: list[WordMention] = []
    passed = 0
    for i in places:
        word = context.phrase_at(i) if i >= passed else None
        if word is None:
            continue
        passed = i + len(word.words)
        start, end = tokens[i].start, tokens[passed - 1].end
        if not any(s <= start < e for s, e in taken):
            free = _claims_freely(context, i, word, links, numbers)
            denied = denier(tokens, i, context.words.lists, of_a_word=True)
            found.append(WordMention(start=start, end=end, word=word, free=free, denied=denied))
    return found


def _claims_freely(
    context: Context, i: int, word: Word, links: Sequence[tuple[int, int]], numbers: Sequence[NumberMention]
) -> bool:
    tokens = context.tokens
    after = i + len(word.words)
    next_word = tokens[after].lower if after < len(tokens) else ""
    before = tokens[i - 1].lower if i else ""
    if next_word in word.unless_next:
        return False
    if word.words[0] in PLACE_WORDS:
        further = 0 if context.follows(i, word, context.words.lists["bases"]) else _CLOSE
        return claims_a_place(context, i, word) and not _number_tells(context, i, numbers, further)
    if word.category is Category.CHANGE and word.only_clause and _number_tells(context, i, numbers, 0):
        return False
    if (
        word.category in (Category.DIRECTION, Category.CHANGE, Category.EQUALITY)
        and not word.strict
        and context.moves_a_quantity(i, after)
    ):
        return not _number_tells(context, i, numbers, _CLOSE)
    if before in word.unless_before and next_word not in _COMPARED:
        return False
    if word.unless_within and context.follows(i, word, word.unless_within):
        return False
    if word.only_next and not context.follows(i, word, word.only_next):
        return word.category is Category.DIRECTION and (context.compares(i, word) or context.ends_a_verb(i, after))
    if word.only_clause:
        low, high = context.clause(i)
        others = [t.lower for t in tokens[low:i]] + [t.lower for t in tokens[after:high]]
        if not any(t in word.only_clause for t in others):
            span = tokens[low].start, tokens[high - 1].end
            return word.category is Category.ABSOLUTE and any(span[0] <= s < span[1] for s, _ in links)
    return True


def _number_tells(context: Context, i: int, numbers: Sequence[NumberMention], further: int) -> bool:
    """ "A gain of 19 % in score over stock", "the clock is up too, at 2441 MHz": the number has been judged."""
    tokens, (low, high) = context.tokens, context.clause(i)
    last = tokens[min(high + further, len(tokens)) - 1].end
    return any(tokens[low].start <= m.core[0] < last for m in numbers)


def _linked_apart(word: int, number: int, links: Sequence[tuple[int, int]]) -> bool:
    """Whether a word is bound by a link of its own, apart from the number it turns."""
    return any(s <= word < e and not s <= number < e for s, e in links)
