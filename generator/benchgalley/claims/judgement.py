"""What is found of one statement, and the words in which it is said."""

from collections.abc import Sequence
from dataclasses import dataclass

from benchgalley.metrology.rounding import round_to_place
from benchgalley.records import units
from benchgalley.records.address import Address
from benchgalley.records.results import Interval, Number
from benchgalley.records.write_up import Verdict

from .mentions import NumberMention
from .numerals import Numeral

NO_BREAK = "\u00a0"
MINUS = "\u2212"


@dataclass(frozen=True, kw_only=True, slots=True)
class Judgement:
    """Verdict on one statement."""

    verdict: Verdict
    message: str = ""
    mend: str = ""
    computed: str = ""
    word: str = ""
    """The word that lacks support, where it is one: it may be accepted with a reason."""

    @property
    def agrees(self) -> bool:
        """Whether the build may pass."""
        return self.verdict is Verdict.AGREES


AGREED = Judgement(verdict=Verdict.AGREES)
_WEIGHT = {Verdict.AGREES: 0, Verdict.UNSUPPORTED: 1, Verdict.UNJUDGED: 2, Verdict.DISAGREES: 3}


def worst(judgements: Sequence[Judgement]) -> Judgement:
    """The heaviest of several verdicts on one link; the first of equals."""
    return max(judgements, key=lambda j: _WEIGHT[j.verdict])


def evidence(number: Number) -> str:
    """What the trials give, with interval and runs: "38.2 W (95 % interval 36.9 W to 39.5 W, 5 and 5 runs)"."""
    parts = []
    if number.printed.interval and number.interval is not None:
        parts.append(f"{interval_name(number.interval)} {number.printed.interval}")
    if counts := runs_text(number):
        parts.append(counts)
    return number.printed.text + (f" ({', '.join(parts)})" if parts else "")


def interval_name(interval: Interval) -> str:
    """ "95 % interval"."""
    return f"{interval.confidence_pct:g}{NO_BREAK}% interval"


def runs_text(number: Number) -> str:
    """ "5 and 5 runs"; empty when no runs feed it."""
    counts = number.runs
    if not counts:
        return ""
    noun = "run" if counts[-1] == 1 and len(counts) == 1 else "runs"
    listed = " and ".join(str(c) for c in counts) if len(counts) < 3 else ", ".join(str(c) for c in counts)
    return f"{listed} {noun}"


def trials_to_check(number: Number) -> str:
    """ "check runs 21 to 25 in trials.csv": the runs of the subject itself."""
    if not number.groups:
        return "check the trials"
    ids = next((ids for name, ids in number.groups if name == number.address.subject), number.groups[0][1])
    if not ids:
        return "check trials.csv"
    if len(ids) == 1:
        return f"check run {ids[0]} in trials.csv"
    numeric = [int(i) for i in ids if i.isdigit()]
    if len(numeric) == len(ids) and sorted(numeric) == list(range(min(numeric), min(numeric) + len(ids))):
        return f"check runs {min(numeric)} to {max(numeric)} in trials.csv"
    shown = ", ".join(ids[:6]) + (" and others" if len(ids) > 6 else "")
    return f"check runs {shown} in trials.csv"


def digits(value: float, decimals: int) -> str:
    """Value at a place, with a true minus."""
    text = round_to_place(value, decimals)
    return MINUS + text[1:] if text.startswith("-") else text


def carried_decimals(number: Number, numeral: Numeral, mention: NumberMention) -> int:
    """Decimals to write in the stated unit: those stated, as far as the uncertainty carries them."""
    if number.exact:
        return numeral.decimals
    carried = number.printed.decimals
    unit, told = mention.unit, units.told_in(number.unit)
    if unit is not None and unit.dimension == told.dimension:
        step, ratio = 0, unit.factor / told.factor
        while ratio > 1.0001:
            ratio, step = ratio / 10, step + 1
        while ratio < 0.9999:
            ratio, step = ratio * 10, step - 1
        carried += step
    elif number.unit.dimension == "share" and (unit is None or unit == units.RATIO):
        carried += 2
    return min(numeral.decimals, carried)


def nothing_there(stated: str, address: str, near: Sequence[str]) -> Judgement:
    """The address finds no number."""
    offered = f"Nearest: {', '.join(near)}." if near else "See `benchgalley numbers` for every address."
    return Judgement(
        verdict=Verdict.UNJUDGED,
        message=f"{address}: no number has this address, so {stated!r} cannot be judged",
        mend=offered,
    )


def not_determined(stated: str, address: Address, scope: str, number: Number) -> Judgement:
    """The number exists but has no value."""
    reason = number.reason or "the data do not give it"
    return Judgement(
        verdict=Verdict.UNJUDGED,
        message=f"{address.within(scope)}: prose states {stated}, but the number is not determined: {reason}",
        mend="Make the runs that are missing, or leave the statement out.",
        computed=number.printed.text,
    )
