"""What is wrong with a statement whose number is known, and what to write instead."""

from decimal import Decimal

from benchgalley.records import units
from benchgalley.records.write_up import Verdict

from .agreement import last_digit_in
from .case import Case, is_difference
from .evidence import direction_supported
from .judgement import NO_BREAK, Judgement, carried_decimals, digits, evidence, trials_to_check
from .mentions import Form
from .numerals import Style
from .vocabulary import Bound


def plain_stated(case: Case) -> str:
    """The stated text in one line."""
    return " ".join(case.stated.split(" ")).strip()


def disagreement(case: Case, computed: float, lead: str = "") -> Judgement:
    """The numbers differ: what is stated, what the trials give, what to write."""
    number, mention = case.number, case.mention
    numeral = mention.numerals[0]
    decimals = carried_decimals(number, numeral, mention)
    gives = f"the setting is {number.printed.text}" if number.exact else f"the trials give {lead}{evidence(number)}"
    unit = f"{NO_BREAK}{mention.unit_text}" if mention.unit_text and mention.form is Form.VALUE else ""
    signed = -computed if numeral.sign == "-" else computed
    write = f"{lead}{digits(signed, decimals)}{unit}"
    if mention.form is not Form.VALUE or numeral.style in (Style.FRACTION, Style.MULTIPLE):
        write = number.printed.text
    mend = f"Write {write}, or {trials_to_check(number)}." if not number.exact else f"Write {write}."
    if computed < 0 and mention.direction is not None:
        mend = (
            f"It lies on the other side: the number is {number.printed.text}. "
            f"Turn {mention.direction.word.text!r} round."
        )
    return case.told(Verdict.DISAGREES, f"prose states {plain_stated(case)}, {gives}", mend)


def wrong_unit(case: Case) -> Judgement:
    mention, unit = case.mention, case.number.unit
    if mention.unit == units.PERCENTAGE_POINT or unit == units.PERCENTAGE_POINT:
        why = "percent and percentage points are not the same"
    elif not mention.unit_text:
        why = f"it has no unit, the number is in {unit.symbol}"
    else:
        why = f"{mention.unit_text!r} is no unit of {case.number.name}, which is in {unit.symbol or 'a plain number'}"
    return case.told(
        Verdict.DISAGREES, f"prose states {plain_stated(case)}, the trials give {evidence(case.number)}: {why}",
        f"Write {case.number.printed.text}, or bind it to another address.",
    )  # fmt: skip


def too_fine(case: Case) -> Judgement | None:
    """Digits more than one place beyond those the uncertainty carries."""
    number = case.number
    if number.exact:
        return None
    finest = Decimal(1).scaleb(-(number.printed.decimals + 1))
    for numeral in case.mention.numerals:
        if case.mention.unit is number.unit and numeral.decimals <= number.printed.decimals + 1:
            continue  # nearly always
        if numeral.style is Style.DIGITS and last_digit_in(number, case.mention, numeral) < finest * Decimal("0.999"):
            write = number.printed.plus_minus if case.mention.form is Form.PLUS_MINUS else number.printed.text
            return case.told(
                Verdict.UNSUPPORTED,
                f"prose states {plain_stated(case)}, finer than the uncertainty carries: {evidence(number)}",
                f"Write {write}.",
            )
    return None


LOOSEST_SHARE = 0.25
"""How far a bound may lie from the value, as a share of the value."""
LOOSEST_UNCERTAINTIES = 3.0
"""The same in expanded uncertainties; the larger of the two counts."""


def too_loose(case: Case, computed: float, low: float | None, high: float | None) -> Judgement | None:
    """ "Up to 5000 W" of a card that draws 165 W: true, and misleading.

    A bound must lie within a quarter of the value or three expanded uncertainties of it, whichever is larger;
    that of a count may always lie one off.
    """
    edge = abs(float(case.mention.value))
    half = (high - low) / 2 if low is not None and high is not None else 0.0
    reach = max(LOOSEST_SHARE * abs(computed), LOOSEST_UNCERTAINTIES * half)
    if case.number.unit.dimension == "count":
        reach = max(reach, 1.0)
    within = case.mention.bound is Bound.WITHIN
    value = abs(computed) if within else computed
    if (within and edge == case.margin) or abs(edge - value) <= reach * 1.000001:
        return None
    return case.told(
        Verdict.UNSUPPORTED,
        f"{plain_stated(case)} is true, but far from what the runs give: {evidence(case.number)}",
        f"Write {case.number.printed.text}, or a bound near it.",
    )  # fmt: skip


def word_not_carried(case: Case) -> Judgement | None:
    """ "1 °C cooler": the figure may be right and the word still lack support."""
    turn = case.mention.direction
    if turn is None or not turn.word.strict or not is_difference(case.address):
        return None
    found = direction_supported(turn.word, case.address, case.results, case.scope, case.stated)
    return None if found.agrees else found


def unlabelled_estimate(case: Case) -> Judgement | None:
    """A model's figure must not pass for a measured one."""
    if not case.number.estimate or case.labelled:
        return None
    return case.told(
        Verdict.UNSUPPORTED, f"{case.stated} is a model's estimate, and the sentence does not say so",
        "Say that it is an estimate.",
    )  # fmt: skip
