"""Statements against one another: one address stated twice, chains, percentages without a base."""

import re
from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise

from benchgalley.records import units
from benchgalley.records.address import Address
from benchgalley.records.findings import Problem
from benchgalley.records.write_up import Claim, Text, Verdict

from .agreement import magnitude_interval
from .desk import Desk
from .mentions import Form, NumberMention, TextReading
from .places import sentence_span
from .vocabulary import Category, Hedge, vocabulary

_RELATIVE = frozenset({"change-percent", "saved-percent", "of-baseline", "ratio"})
_BASE_PLACES = frozenset({"paragraph", "list", "summary", "caption"})


def inconsistencies(desk: Desk, claims: Sequence[Claim], readings: Sequence[TextReading]) -> list[Problem]:
    """Every disagreement between the statements of one file."""
    stated = []
    places: dict[int, dict[tuple[int, int], NumberMention]] = {}
    for claim in claims:
        if claim.kind != "number" or claim.address is None:
            continue
        k = claim.text_index
        if k not in places:
            places[k] = _by_place(desk.texts[k], readings[k])
        mention = places[k].get((claim.where.line, claim.where.column))
        if mention is not None:
            stated.append((claim, mention))
    return [*_twice(desk, stated), *_chains(desk, stated), *_without_base(desk, stated)]


def _by_place(text: Text, reading: TextReading) -> dict[tuple[int, int], NumberMention]:
    """The number in each link, by the place where the link's text begins."""
    starts = [link.start for link in text.links]
    found: dict[tuple[int, int], NumberMention] = {}
    for mention in reading.numbers:
        k = bisect_right(starts, mention.core[0]) - 1
        if k >= 0 and mention.core[0] < text.links[k].end:
            found.setdefault(text.positions[text.links[k].start], mention)
    return found


def _twice(desk: Desk, stated: list[tuple[Claim, NumberMention]]) -> list[Problem]:
    """Two statements of one address in one unit whose digits cannot both be the same number's."""
    problems: list[Problem] = []
    told: dict[tuple[Address | None, str], list[tuple[Claim, NumberMention]]] = {}
    share = desk.site.settings.hedge_share_pct
    for claim, mention in stated:
        if mention.form is not Form.VALUE or mention.bound or mention.denied:
            continue
        key = (claim.address, mention.unit.symbol if mention.unit else "")
        before = told.setdefault(key, [])
        other = next((c for c, m in before if _differ(m, mention, share)), None)
        before.append((claim, mention))
        if other is not None and claim.verdict is not Verdict.DISAGREES:
            where = other.where
            problems.append(
                desk.problem(
                    "inconsistent", claim.where,
                    f"{_short(desk, claim)}: prose states {claim.stated} here and {other.stated} in line "
                    f"{where.line}",
                    "State one number once, in one way.", address=_short(desk, claim), stated=claim.stated,
                )
            )  # fmt: skip
    return problems


def _differ(one: NumberMention, other: NumberMention, hedge_share_pct: float) -> bool:
    """Whether two statements cannot both be one number's."""
    a, b = one.numerals[0], other.numerals[0]
    if a.decimals == b.decimals and one.hedge is other.hedge is Hedge.NONE:
        return abs(a.value) != abs(b.value)
    first, second = (magnitude_interval(n, h, hedge_share_pct) for n, h in ((a, one.hedge), (b, other.hedge)))
    return first.high < second.low or second.high < first.low


def _short(desk: Desk, claim: Claim) -> str:
    return claim.address.within(desk.scope) if claim.address else ""


def _chains(desk: Desk, stated: list[tuple[Claim, NumberMention]]) -> list[Problem]:
    """ "rose from [262 W](..) to [214 W](..)" and "[80 %](..) of [214 W](..)" with the wrong base."""
    problems: list[Problem] = []
    for (claim, mention), (following, after) in pairwise(stated):
        if claim.text_index != following.text_index:
            continue
        text = desk.texts[claim.text_index].text
        between = " ".join(text[mention.end : after.start].lower().split())
        if between in ("to", "down to", "up to"):
            problems += _turned(desk, claim, mention, following, after, text)
        elif between in ("of", "of the", "of stock's", "of the stock") and mention.unit == units.PERCENT:
            problems += _other_base(desk, claim, following)
    return problems


def _turned(
    desk: Desk, claim: Claim, mention: NumberMention, following: Claim, after: NumberMention, text: str
) -> list[Problem]:
    """The verb before "from A to B" against the order of A and B."""
    low, _ = sentence_span(text, *mention.core)
    lead = text[low : mention.start].lower()
    if not re.search(r"\bfrom\s*$", lead):
        return []
    words = vocabulary(desk.site.settings.language)
    sign = 0
    for token in re.findall(r"[a-z'-]+", lead)[-7:]:
        for word in words.claims.get(token, ()):
            if word.words == (token,) and word.category is Category.CHANGE:
                sign = word.sign
    if not sign or mention.unit != after.unit or (after.value - mention.value) * sign >= 0:
        return []
    return [
        desk.problem(
            "inconsistent", following.where,
            f"prose says the value went {'up' if sign > 0 else 'down'}, from {claim.stated} to {following.stated}",
            "Turn the verb or the numbers round.", address=_short(desk, following), stated=following.stated,
        )
    ]  # fmt: skip


def _other_base(desk: Desk, claim: Claim, following: Claim) -> list[Problem]:
    """A percentage of the baseline set before a number that is not the baseline's."""
    part, base = claim.address, following.address
    if part is None or base is None or part.relation not in _RELATIVE:
        return []
    if base.subject == desk.baseline_of(part) and base.quantity == part.quantity and not base.relation:
        return []
    wanted = f"{desk.baseline_of(part)}/{part.quantity}"
    return [
        desk.problem(
            "inconsistent", following.where,
            f"{_short(desk, claim)} is a percentage of {wanted}, but prose takes it of {_short(desk, following)}",
            f"Take it of {wanted}.", address=_short(desk, following), stated=following.stated,
        )
    ]  # fmt: skip


def _without_base(desk: Desk, stated: list[tuple[Claim, NumberMention]]) -> list[Problem]:
    """A percentage against the baseline in a section that names no base."""
    if desk.write_up is None:
        return []
    base = desk.write_up.setpoints.get(desk.write_up.baseline)
    named = set(vocabulary(desk.site.settings.language).lists["base"])
    if base is not None:
        named |= {base.name.lower(), base.label.lower()}
    pattern = re.compile(r"(?<!\w)(?:" + "|".join(re.escape(n) for n in sorted(named) if n) + r")(?!\w)")
    problems = []
    for claim, mention in stated:
        text = desk.texts[claim.text_index]
        relative = claim.address is not None and claim.address.relation in _RELATIVE
        if (
            not relative
            or mention.form is Form.SHARE
            or mention.unit != units.PERCENT
            or text.place not in _BASE_PLACES
        ):
            continue
        section = _section(desk.texts, claim.text_index)
        if not pattern.search(section) and not _of_something(text.text, mention):
            problems.append(
                desk.problem(
                    "percentage-without-base", claim.where,
                    f"{_short(desk, claim)}: {claim.stated} does not say of what",
                    f"Name the base, e.g. \"of {desk.write_up.baseline}\".", address=_short(desk, claim),
                    stated=claim.stated,
                )
            )  # fmt: skip
    return problems


def _of_something(text: str, mention: NumberMention) -> bool:
    """ "96 % of its score": the base stands behind the number."""
    return bool(re.match(r"\s*(?:\)\s*)?(?:\w+\s+)?(?:of|than)\b", text[mention.end :]))


def _section(texts: Sequence[Text], index: int) -> str:
    """The text and those before it up to and with the heading, in lower case."""
    first = index
    while first > 0 and texts[first].place not in ("heading", "summary", "title"):
        first -= 1
    return " ".join(t.text for t in texts[first : index + 1]).lower()
