"""Words judged on evidence: which side, how sure, against whom, after how long a soak."""

import math
from collections.abc import Sequence
from dataclasses import replace

from benchgalley.metrology import holm, pieces_of, tail_by_parts
from benchgalley.records.address import Address
from benchgalley.records.results import Equivalence, Interval, Number, Results
from benchgalley.records.write_up import Verdict

from .judgement import AGREED, Judgement, evidence, nothing_there
from .vocabulary import KINDS, Category, Word, words_of

_FOR_BETTER_OR_WORSE = words_of("cost costs lose loses losing lost loss losses gain gains gained gaining")
"""Of a score they speak of good or bad news, whichever way the load counts: seconds are lost upwards."""
_FAILURE_COUNTS = ("failures", "failed-runs", "failure-share")


def word_sign(word: Word, quantity: str, number: Number) -> int | None:
    """Sign of the change that a word claims of a quantity; None when it does not speak of it."""
    if word.kind == "any":
        turned = quantity == "score" and number.higher_is_better is False and word.words[0] in _FOR_BETTER_OR_WORSE
        return -word.sign if turned else word.sign
    if word.kind in ("good", "bad"):
        if number.higher_is_better is None:
            return None
        welcome = 1 if number.higher_is_better else -1
        return word.sign * welcome * (1 if word.kind == "good" else -1)
    kinds = KINDS[word.kind]
    side = kinds.get(quantity, kinds.get(quantity.partition("-at-")[0]))
    if side is None:
        return None
    if quantity == "score" and number.higher_is_better is False:
        side = -side
    return word.sign * side


def judge_word(
    word: Word, address: Address, number: Number, results: Results, scope: str, stated: str, baseline: str,
    confidence_pct: float,
) -> Judgement:  # fmt: skip
    """The verdict on a word bound to an address."""
    category = word.category
    if category in (Category.DIRECTION, Category.CHANGE):
        return direction_supported(word, address, results, scope, stated)
    if category is Category.EQUALITY:
        return _equality(word, address, number, results, scope, baseline)
    if category is Category.STABILITY:
        return _stability(word, address, results, scope)
    if category is Category.NO_FAILURE:
        return _no_failure(word, address, results, scope)
    if category is Category.INSTABILITY:
        return _instability(word, address, results, scope)
    if category is Category.SUPERLATIVE:
        return _superlative(word, address, number, results, scope, 1 - confidence_pct / 100)
    if category is Category.SIGNIFICANCE:
        return _significance(word, address, results, scope)
    if category is Category.AVERAGE:
        return _average(word, address, number, scope)
    if category is Category.EVERY and "run" in stated.lower() and _failures(address, results) == 0:
        return AGREED
    return _told(
        Verdict.UNSUPPORTED, address, scope, word,
        f"{word.text!r} claims more than any number of runs can show; the trials give {evidence(number)}",
        "Say what was run and what was seen, or keep the word with a reason in accepted_words.",
    )  # fmt: skip


def _told(verdict: Verdict, address: Address, scope: str, word: Word, message: str, mend: str = "") -> Judgement:
    return Judgement(verdict=verdict, message=f"{address.within(scope)}: {message}", mend=mend, word=word.text)


def telling_interval(number: Number) -> Interval | None:
    """The interval by which two setpoints are told apart: that of the repeats, for the instrument is the same."""
    return number.repeatability_interval or number.interval


def _side(interval: Interval | None) -> int:
    """+1 or -1 when the interval lies wholly on that side of zero, else 0."""
    if interval is None:
        return 0
    if interval.low is not None and interval.low > 0:
        return 1
    return -1 if interval.high is not None and interval.high < 0 else 0


def _difference(address: Address, results: Results) -> Number | None:
    """The difference from the baseline that belongs to an address."""
    found = results.find(address.related("change"))
    if found is not None:
        return found
    return results.find(address) if address.relation in ("change", "saved") or not address.relation else None


def direction_supported(word: Word, address: Address, results: Results, scope: str, stated: str) -> Judgement:
    """A direction word needs the interval of the difference to lie on its side of zero."""
    number = _difference(address, results)
    if number is None:
        return nothing_there(stated, address.related("change").within(scope), ())
    sign = word_sign(word, address.quantity, number)
    if sign is None:
        return _told(
            Verdict.DISAGREES, address, scope, word, f"{word.text!r} does not speak of {number.name}",
            "Use a word of that quantity, or bind it to another address.",
        )  # fmt: skip
    if number.value is None:
        return _told(
            Verdict.UNJUDGED, address, scope, word,
            f"{word.text!r} cannot be judged: {number.reason or 'the difference is not determined'}",
        )  # fmt: skip
    if number.value * sign <= 0 and not (number.value == 0 and telling_interval(number) is not None):
        return _told(
            Verdict.DISAGREES, address, scope, word,
            f"prose says {word.text!r}, but the difference is {evidence(number)}", "Turn the word round.",
        )  # fmt: skip
    if _side(telling_interval(number)) == sign:
        return AGREED
    why = "which holds zero" if telling_interval(number) else number.reason or "and has no interval"
    return _told(
        Verdict.UNSUPPORTED, address, scope, word, f"the data do not carry {word.text!r}: the difference is "
        f"{evidence(number)}, {why}", f"State the figure without the word, or {more_runs(results, address)}.",
    )  # fmt: skip


def more_runs(results: Results, address: Address, relation: str = "runs-needed") -> str:
    """ "make more runs", with how many where it can be reckoned."""
    needed = results.find(address.related(relation))
    if needed is None or not needed.value:
        return "make more runs"
    count = int(needed.value)
    return (
        f"make more runs: {count} further run{'' if count == 1 else 's'} on each side should settle it, if spread and "
        "difference stay as found"
    )


def _equality(word: Word, address: Address, number: Number, results: Results, scope: str, baseline: str) -> Judgement:
    """ "The same" needs equivalence within the declared margin to be shown."""
    if number.exact and baseline:
        base = results.find(replace(address.related(""), subject=baseline))
        own = results.find(address.related(""))
        if base is not None and own is not None and base.value is not None:
            if base.value == own.value:
                return AGREED
            return _told(
                Verdict.DISAGREES, address, scope, word,
                f"prose says {word.text!r}, but it is {own.printed.text} against {base.printed.text}",
            )  # fmt: skip
    found = results.find(address.related("equivalent"))
    if found is None or found.finding is None:
        reason = found.reason if found is not None and found.reason else "no equivalence is computed there"
        return _told(
            Verdict.UNSUPPORTED, address, scope, word, f"{word.text!r} needs equivalence within a margin: {reason}",
            f"Declare a margin for {address.quantity} in the front matter, before the comparison.",
        )  # fmt: skip
    if found.finding is Equivalence.SHOWN:
        return AGREED
    refuted = found.finding is Equivalence.REFUTED
    return _told(
        Verdict.DISAGREES if refuted else Verdict.UNSUPPORTED, address, scope, word,
        f"{word.text!r} is {found.finding.value}: the difference is {evidence(found)}",
        "State the difference." if refuted
        else f"State the difference, or {more_runs(results, address, 'runs-needed-for-equivalence')}.",
    )  # fmt: skip


def _failures(address: Address, results: Results) -> float | None:
    """Failures counted in the sequence of an address; None when none are counted there."""
    for quantity in _FAILURE_COUNTS:
        found = results.find(replace(address, quantity=quantity, relation=""))
        if found is not None and found.value is not None:
            return found.value
    return None


def _stability(word: Word, address: Address, results: Results, scope: str) -> Judgement:
    """ "Stable" needs a soak without failure, whose failure rate has an upper bound."""
    hours = results.find(replace(address, quantity="hours", relation=""))
    failures = _failures(address, results)
    if failures:
        return _told(
            Verdict.DISAGREES, address, scope, word, f"prose says {word.text!r}, but runs of it failed",
            "Say how many runs failed.",
        )  # fmt: skip
    bound = results.find(replace(address, quantity="failure-rate", relation="at-most"))
    if hours is None or failures is None or bound is None or bound.value is None:
        return _told(
            Verdict.UNSUPPORTED, address, scope, word, f"{word.text!r} needs a soak: this address belongs to none",
            "Bind it to the failure rate of a soak, e.g. soak/failure-rate/at-most.",
        )  # fmt: skip
    return AGREED


def _instability(word: Word, address: Address, results: Results, scope: str) -> Judgement:
    failures = _failures(address, results)
    if failures:
        return AGREED
    verdict = Verdict.UNJUDGED if failures is None else Verdict.DISAGREES
    return _told(verdict, address, scope, word, f"prose says {word.text!r}, but no failed run is counted there")


def _no_failure(word: Word, address: Address, results: Results, scope: str) -> Judgement:
    failures = _failures(address, results)
    if failures == 0:
        return AGREED
    verdict, why = Verdict.UNJUDGED, "but no failed run is counted there"
    if failures:
        verdict, why = Verdict.DISAGREES, "but runs of it failed"
    return _told(verdict, address, scope, word, f"prose says {word.text!r}, {why}", "Say how many runs failed.")


def _spread_of_mean(number: Number) -> tuple[float, float] | None:
    """Standard uncertainty from repeats and its degrees of freedom; the same instrument's limits cancel."""
    repeats = [c for c in number.components if c.evaluation == "A" and c.standard_uncertainty > 0]
    if not repeats:
        return None
    u = math.sqrt(math.fsum(c.standard_uncertainty**2 for c in repeats))
    below = math.fsum(c.standard_uncertainty**4 / c.degrees_of_freedom for c in repeats)
    return u, (u**4 / below if below > 0 else math.inf)


def _superlative(word: Word, address: Address, number: Number, results: Results, scope: str, alpha: float) -> Judgement:
    """ "Best" needs every rival to be told apart: Welch's test against each, adjusted after Holm."""
    level = address.related("")
    own = results.find(level) or number
    sign = word_sign(word, address.quantity, own)
    rivals = _rivals(level, own, results)
    if sign is None or own.value is None or not rivals:
        why = f"does not speak of {own.name}" if sign is None else "has nothing to be compared with"
        return _told(Verdict.UNSUPPORTED, address, scope, word, f"{word.text!r} {why}")
    value = own.value
    beaten_by = [r for r in rivals if r.value is not None and (r.value - value) * sign > 0]
    if beaten_by:
        first = max(beaten_by, key=lambda r: (r.value or 0.0) * sign)
        return _told(
            Verdict.DISAGREES, address, scope, word,
            f"prose says {word.text!r}, but {first.address.within(scope)} gives {first.printed.text} against "
            f"{own.printed.text}",
        )  # fmt: skip
    close = _not_told_apart(own, rivals, alpha)
    if not close:
        return AGREED
    names = ", ".join(r.address.within(scope) for r in close[:4])
    return _told(
        Verdict.UNSUPPORTED, address, scope, word,
        f"the data do not carry {word.text!r}: {own.printed.text} cannot be told apart from {names} "
        f"(t tests, adjusted after Holm for {len(rivals)} comparisons)",
        "Say that these are level, or make more runs.",
    )  # fmt: skip


def _rivals(level: Address, own: Number, results: Results) -> list[Number]:
    """Numbers a superlative is told against: the other setpoints, or the other settings of the sequence."""
    addresses: Sequence[Address] = results.rivals(level)
    if not addresses and level.quantity.startswith("best-"):
        stem = level.quantity.removeprefix("best-") + "-at-"
        addresses = [
            a for a in results.addresses(level.scope)
            if a.subject == level.subject and a.quantity.startswith(stem) and not a.relation
        ]  # fmt: skip
    found = [r for a in addresses if a != level and (r := results.find(a)) is not None and r.value is not None]
    return [r for r in found if not (level.quantity.startswith("best-") and r.value == own.value)]


def _not_told_apart(own: Number, rivals: Sequence[Number], alpha: float) -> list[Number]:
    spread = _spread_of_mean(own)
    p_values = []
    for rival in rivals:
        other = _spread_of_mean(rival)
        difference = abs((own.value or 0.0) - (rival.value or 0.0))
        if own.exact and rival.exact:
            p_values.append(0.0 if difference else 1.0)
        elif spread is None or other is None:
            p_values.append(1.0)
        else:
            pieces = pieces_of([spread[0], other[0]], [spread[1], other[1]])
            p_values.append(2 * tail_by_parts(difference, pieces))
    return [r for r, p in zip(rivals, holm(p_values), strict=True) if p > alpha]


def _significance(word: Word, address: Address, results: Results, scope: str) -> Judgement:
    number = _difference(address, results)
    if number is None or number.value is None:
        return _told(Verdict.UNJUDGED, address, scope, word, f"{word.text!r} needs a difference with an interval")
    if _side(telling_interval(number)) != 0:
        return AGREED
    return _told(
        Verdict.UNSUPPORTED, address, scope, word,
        f"the data do not carry {word.text!r}: the difference is {evidence(number)}",
        f"State the difference without the word, or {more_runs(results, address)}.",
    )  # fmt: skip


def _average(word: Word, address: Address, number: Number, scope: str) -> Judgement:
    if number.value is not None and number.runs and min(number.runs) >= 2:
        return AGREED
    return _told(Verdict.UNSUPPORTED, address, scope, word, f"{word.text!r} needs a mean of two runs or more")
