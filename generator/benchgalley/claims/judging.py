"""A statement with a number against the computed one."""

from dataclasses import replace
from decimal import Decimal

from benchgalley.records import units
from benchgalley.records.address import Address
from benchgalley.records.write_up import Verdict

from .agreement import (
    agrees,
    half_width_interval,
    magnitude_interval,
    not_above,
    not_below,
    value_as_stated,
)
from .case import DIFFERENCES, LOWER_BOUNDS, PRICED, Case, is_difference
from .evidence import word_sign
from .faults import (
    disagreement,
    plain_stated,
    too_fine,
    too_loose,
    unlabelled_estimate,
    word_not_carried,
    wrong_unit,
)  # fmt: skip
from .judgement import (
    AGREED,
    Judgement,
    evidence,
    not_determined,
)
from .mentions import Form
from .numerals import Numeral, Style
from .vocabulary import Bound, Hedge


def judge_number(case: Case) -> Judgement:
    """The verdict on a statement with a number."""
    if case.mention.form is Form.CHAIN:
        return _judge_chain(case)
    if case.mention.form is Form.SHARE:
        return _judge_share(case)
    if case.number.value is None:
        return not_determined(case.stated, case.address, case.scope, case.number)
    sense = sense_of(case)
    if isinstance(sense, Judgement):
        return sense
    computed = value_as_stated(case.number.value, case.number.unit, case.mention, case.address.relation, case.in_table)
    if computed is None:
        return wrong_unit(case)
    found = _JUDGES[case.mention.form](case, sense, computed * sense)
    if not found.agrees:
        return found
    return too_fine(case) or word_not_carried(case) or unlabelled_estimate(case) or AGREED


# sign and direction


def sense_of(case: Case) -> int | Judgement:
    """+1 or -1: what the computed value is multiplied by before it is compared with the stated magnitude."""
    mention, number, address = case.mention, case.number, case.address
    if mention.levelled and address.relation in DIFFERENCES:
        return _not_a_level(case)
    written = mention.numerals[0].sign
    own = -1 if written == "-" else 1
    turn = mention.direction
    if turn is None:
        return own
    welcome = turn.word.kind in ("good", "bad") or address.quantity == "score"
    level = case.results.find(address.related("")) if welcome else None
    sign = word_sign(turn.word, address.quantity, level or number)  # good news is told by the level, not by a saving
    if sign is None:
        if not turn.firm:
            return own
        return case.told(
            Verdict.DISAGREES,
            f"{turn.word.text!r} does not speak of {number.name}",
            "Use a word of that quantity, or bind the statement to another address.",
        )
    minus_saved = written == "-" and address.relation.startswith("saved")
    if (written == "-" and sign > 0) or (written == "+" and sign < 0) or minus_saved:
        return case.told(
            Verdict.DISAGREES, f"the sign of {case.stated} and {turn.word.text!r} contradict each other",
            "Write the number without a sign.",
        )  # fmt: skip
    if is_difference(address):
        return -sign if address.relation.startswith("saved") else sign
    return _turned_level(case, sign, own)


def _not_a_level(case: Case) -> Judgement:
    """ "Drew 41 W" of a saving: the prose states as the level what is a difference."""
    level = "of-baseline" if case.address.relation.endswith("-percent") else ""
    return case.told(
        Verdict.DISAGREES,
        f"prose states {case.stated} as the level ({case.mention.levelled!r} stands before it), but the address is "
        f"{case.number.name}, {case.number.printed.text}",
        f"Say which way it differs, or bind it to {case.address.related(level).within(case.scope)}.",
    )


def _turned_level(case: Case, sign: int, own: int) -> int | Judgement:
    """A direction word beside a number that is no difference."""
    mention, turn = case.mention, case.mention.direction
    factor = mention.unit == units.RATIO or mention.numerals[0].style is Style.MULTIPLE
    value = case.number.value
    relative = case.address.relation in ("ratio", "of-baseline")
    if relative and factor and value is not None and turn is not None:
        one = 1.0 if case.address.relation == "ratio" else 100.0
        if (value - one) * sign < 0:
            return case.told(
                Verdict.DISAGREES, f"prose says {turn.word.text!r}, the trials give {evidence(case.number)}"
            )
        return own
    if turn is None or not turn.firm or turn.word.words[0] in case.number.name.lower().split():
        return own  # no such word, or it is the quantity's own name: "a rise of 43 K"
    if turn.word.words[0] in ("cost", "costs") and case.address.quantity in PRICED and not case.address.relation:
        return own  # "a run costs 19 kJ"
    other = "change-percent" if case.number.unit.dimension in ("share", "ratio") else "change"
    return case.told(
        Verdict.DISAGREES,
        f"prose states a difference ({case.stated} {turn.word.text}), but the address is "
        f"{case.number.name}, {case.number.printed.text}",
        f"Bind it to {case.address.related(other).within(case.scope)}, or drop {turn.word.text!r}.",
    )


# the forms


def _judge_value(case: Case, sense: int, computed: float) -> Judgement:
    if case.mention.bound is not Bound.NONE or _one_sided(case.address):
        return _judge_bound(case, sense, computed)
    if _fits(case, case.mention.numerals[0], computed):
        return AGREED
    return disagreement(case, computed)


def _fits(case: Case, numeral: Numeral, computed: float) -> bool:
    factor = case.mention.unit == units.RATIO
    if agrees(computed, magnitude_interval(numeral, case.mention.hedge, case.hedge_share_pct, factor)):
        return True
    held = _with_place_holders(case, numeral)
    return held is not None and agrees(
        computed, magnitude_interval(held, case.mention.hedge, case.hedge_share_pct, factor)
    )


def _with_place_holders(case: Case, numeral: Numeral) -> Numeral | None:
    """The numeral with the noughts that the printing rule itself puts as place-holders taken as such.

    A number whose uncertainty carries tens only is printed "5860 points"; who copies that has stated tens.
    """
    holders = -case.number.printed.decimals
    same_unit = case.mention.unit in (None, units.told_in(case.number.unit))
    if holders <= 0 or numeral.style is not Style.DIGITS or numeral.decimals != 0 or not same_unit:
        return None
    stated = Decimal(numeral.plain).normalize().as_tuple().exponent
    if not isinstance(stated, int) or stated < holders:
        return None
    return replace(numeral, plain=f"{int(numeral.plain) // 10**holders}E+{holders}")


def _one_sided(address: Address) -> bool:
    return address.relation.endswith(("at-least", "at-most"))


def _judge_bound(case: Case, sense: int, computed: float) -> Judgement:
    """A bound is taken at its word: it holds when the whole interval lies on its side of the figure as written."""
    mention, bound = case.mention, case.mention.bound
    numeral = mention.numerals[0]
    if _one_sided(case.address):
        return _judge_stated_bound(case, computed)
    edge = abs(numeral.value)
    if computed < 0 and mention.direction is not None and bound is not Bound.WITHIN:
        return disagreement(case, computed)  # "at most 40 W more" of a saving: the word is wrong, whatever the bound
    low, high = _interval_as_stated(case, sense, computed)
    if bound is Bound.WITHIN:
        holds = not_above(abs(computed), edge)
        carried = holds and low is not None and high is not None
        carried = carried and not_above(max(abs(low or 0.0), abs(high or 0.0)), edge)
    elif bound in LOWER_BOUNDS:
        holds = not_below(computed, edge) and not (
            case.number.exact and bound is Bound.MORE_THAN and not_above(computed, edge)
        )
        carried = holds and low is not None and not_below(low, edge)
    else:
        holds = not_above(computed, edge) and not (
            case.number.exact and bound is Bound.LESS_THAN and not_below(computed, edge)
        )
        carried = holds and high is not None and not_above(high, edge)
    if not holds:
        return disagreement(case, computed)
    if carried:
        return too_loose(case, computed, low, high) or AGREED
    return case.told(
        Verdict.UNSUPPORTED,
        f"prose states {plain_stated(case)}, the trials give {evidence(case.number)}: the interval "
        "does not lie on that side",
        "State the value itself, or a bound the whole interval keeps.",
    )


def _judge_stated_bound(case: Case, computed: float) -> Judgement:
    """The address is a one-sided bound: its figure is compared, and the words must say that it is one."""
    mention, upper = case.mention, case.address.relation.endswith("at-most")
    word = "at most" if upper else "at least"
    if mention.bound is not Bound.NONE and (mention.bound in LOWER_BOUNDS) is upper:
        return disagreement(case, computed, f"{word} ")
    if not _fits(case, mention.numerals[0], computed):
        return disagreement(case, computed, f"{word} ")
    if mention.bound is Bound.NONE:
        return case.told(
            Verdict.UNSUPPORTED,
            f"prose states {plain_stated(case)} as the value, the trials only give it as a bound",
            f"Write {word} {plain_stated(case)}.",
        )
    return AGREED


def _interval_as_stated(case: Case, sense: int, computed: float) -> tuple[float | None, float | None]:
    """Ends of the interval in the stated unit and sense; both the value itself for an exact number."""
    number = case.number
    if number.exact:
        return computed, computed
    if number.interval is None:
        return None, None
    ends = []
    for end in (number.interval.low, number.interval.high):
        stated = None
        if end is not None:
            stated = value_as_stated(end, number.unit, case.mention, case.address.relation, case.in_table)
        ends.append(None if stated is None else stated * sense)
    return (ends[1], ends[0]) if sense < 0 else (ends[0], ends[1])


def _judge_plus_minus(case: Case, sense: int, computed: float) -> Judgement:
    """Value and half-width must both agree; the half-width is that of the full interval."""
    if not _fits(case, case.mention.numerals[0], computed):
        return disagreement(case, computed)
    low, high = _interval_as_stated(case, sense, computed)
    if low is None or high is None or case.number.exact:
        return case.told(
            Verdict.UNSUPPORTED,
            f"prose states an uncertainty with {case.stated}, the trials give none for {case.number.printed.text}",
            "Leave the ± out, or make more runs.",
        )
    if agrees((high - low) / 2, half_width_interval(case.mention.numerals[1])):
        return AGREED
    return case.told(
        Verdict.DISAGREES,
        f"prose states {case.stated}, the trials give {evidence(case.number)}",
        f"Write {case.number.printed.plus_minus}.",
    )


def _judge_range(case: Case, sense: int, computed: float) -> Judgement:
    """A range agrees when its ends are those of the interval, or when the whole interval lies inside it."""
    first, second = case.mention.numerals
    if second.sign == "" and first.sign == "-":
        first, second = second, first
    intervals = [magnitude_interval(n, Hedge.NONE, case.hedge_share_pct) for n in (first, second)]
    if intervals[0].low > intervals[1].high:
        intervals.reverse()
    below, above = intervals
    low, high = _interval_as_stated(case, sense, computed)
    if not (not_below(computed, below.low) and not_above(computed, above.high)):
        return disagreement(case, computed)
    inside = low is not None and not_below(low, below.low) and high is not None and not_above(high, above.high)
    if inside:
        return AGREED
    return case.told(
        Verdict.UNSUPPORTED,
        f"prose states {case.stated}, the trials give {evidence(case.number)}: the interval reaches beyond the range",
        f"Write {case.number.printed.interval or case.number.printed.text}.",
    )


_JUDGES = {Form.VALUE: _judge_value, Form.PLUS_MINUS: _judge_plus_minus, Form.RANGE: _judge_range}


# two numbers of different addresses in one link


def _part(case: Case, index: int, address: Address, form: Form = Form.VALUE) -> Judgement:
    """One numeral of a chain, judged by itself at its own address."""
    number = case.results.find(address)
    if number is None:
        return case.told(
            Verdict.UNJUDGED, f"{case.stated} also needs {address.within(case.scope)}, which has no number"
        )
    unit = case.mention.unit
    if case.mention.form is Form.SHARE and index == 1:
        unit = case.mention.second_unit
    alone = replace(
        case.mention,
        form=form,
        numerals=(case.mention.numerals[index],),
        direction=None,
        unit=unit,
        bound=Bound.NONE,
    )
    return judge_number(replace(case, mention=alone, address=address, number=number))


def _judge_chain(case: Case) -> Judgement:
    """ "from 262 to 214 W" at a difference or a level: the first is the baseline's, the second the setpoint's."""
    level, first, second = case.address.related(""), *case.mention.numerals
    if case.baseline and case.address.subject != case.baseline:
        base = replace(level, subject=case.baseline)
        parts = [_part(case, 0, base), _part(case, 1, level)]
        if all(p.agrees for p in parts):
            return _chain_direction(case, first, second)
    as_range = judge_number(replace(case, mention=replace(case.mention, form=Form.RANGE, direction=None)))
    if as_range.agrees or not case.baseline or case.address.subject == case.baseline:
        return as_range
    return next(p for p in parts if not p.agrees)


def _chain_direction(case: Case, first: Numeral, second: Numeral) -> Judgement:
    turn = case.mention.direction
    sign = word_sign(turn.word, case.address.quantity, case.number) if turn else None
    if turn is not None and sign is not None and (second.value - first.value) * sign < 0:
        return case.told(
            Verdict.DISAGREES, f"{turn.word.text!r} and {case.stated} contradict each other",
            "Turn the word or the numbers round.",
        )  # fmt: skip
    return AGREED


def _judge_share(case: Case) -> Judgement:
    """ "80 % of 255 W": the percentage of the baseline, and the baseline itself."""
    if not case.baseline:
        return case.told(Verdict.UNJUDGED, f"{case.stated} names a base, and this address has no baseline")
    share = case.address if case.number.unit == units.PERCENT else case.address.related("of-baseline")
    base = replace(case.address.related(""), subject=case.baseline)
    parts = (_part(case, 0, share), _part(case, 1, base))
    return next((p for p in parts if not p.agrees), AGREED)
