"""Number words are everyday words too: which of them state a number nobody linked."""

from .context import Context
from .numerals import Numeral, Style
from .unit_lexicon import UnitFound

EVERYDAY = frozenset({"time", "ratio", "count"})
"""Dimensions of what nobody would check: a few minutes, several times."""
A_WORD = 4
"""Letters of the shortest unit written out: "watt"."""


def means_a_number(context: Context, numeral: Numeral, unit: UnitFound | None, counted: str) -> bool:
    """Whether a number word outside a link states a number: with a unit, or as a share or multiple of something."""
    tokens, lists = context.tokens, context.words.lists
    if tokens[numeral.after - 1].lower in lists["few"]:
        return unit is not None and _claims_a_few(context, numeral, unit)
    if unit is not None or counted:
        return True
    follows = tokens[numeral.after].lower if numeral.after < len(tokens) else ""
    if numeral.style is Style.FRACTION:
        return follows in lists["after-a-fraction"] or _moved_by(context, numeral)
    before = [t.lower for t in tokens[max(0, numeral.first - 2) : numeral.first]]
    if len(before) == 2 and before[0] in lists["factors"] and before[1] == "of":
        return True
    if numeral.style is Style.MULTIPLE:
        if before and (before[-1] in lists["outcome-fails"] or before[-1] in lists["outcome-passes"]):
            return True  # "it crashed twice"
        return follows in lists["after-a-multiple"] or _of_a_quantity(context, numeral)
    return False


def _claims_a_few(context: Context, numeral: Numeral, unit: UnitFound) -> bool:
    """ "A few watts", but no "few minutes", and nothing that only may be."""
    low, _ = context.clause(numeral.first)
    before = {t.lower for t in context.tokens[low : numeral.first]}
    checked = unit.unit is not None and unit.unit.dimension not in EVERYDAY
    return checked and before.isdisjoint(context.words.lists["modals"])


def _moved_by(context: Context, numeral: Numeral) -> bool:
    """ "Power fell by a third", "went down a quarter"."""
    before = context.tokens[numeral.first - 1].lower if numeral.first else ""
    if before in context.words.lists["down-or-up"]:
        return True
    return context.direction_before(numeral.first, chain=False) is not None


def _of_a_quantity(context: Context, numeral: Numeral) -> bool:
    """ "Power halved": the clause names what is."""
    low, high = context.clause(numeral.first)
    clause = {t.lower for t in context.tokens[low:high]}
    verb = context.tokens[numeral.first].lower in context.words.lists["moves"]
    return verb and not clause.isdisjoint(context.words.lists["quantities"])
