"""What escapes: numbers and words that claim something and are bound to no address."""

from dataclasses import replace

from benchgalley.records import units
from benchgalley.records.findings import Problem
from benchgalley.records.quantity import SETTINGS
from benchgalley.records.write_up import Claim, Exemption, Text, TextLink, Verdict

from .desk import Desk
from .exemptions import ExemptionRules
from .mentions import NumberMention, TextReading, WordMention
from .numerals import Style
from .outcomes import failures_among, outcome_fault
from .places import location, sentence, sentence_span
from .settings import DeclaredSettings, SettingFound, surroundings
from .vocabulary import Category, vocabulary

_CHECKED = ("claim:", "given:")


class Unbound:
    """The rules for one file's texts."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        words = vocabulary(desk.site.settings.language)
        self.words = words
        self.rules = ExemptionRules(desk.site, desk.write_up, words)
        self.settings = DeclaredSettings(desk.write_up, words) if desk.write_up is not None else None


Outcome = tuple[list[Claim], list[Exemption], list[Problem]]


def unbound(rest: Unbound, text: Text, index: int, reading: TextReading) -> Outcome:
    """Settings bound by the build, exemptions, and problems of one text."""
    claims: list[Claim] = []
    exemptions: list[Exemption] = []
    problems: list[Problem] = []
    bound = [link for link in text.links if link.destination.startswith(_CHECKED)]
    names: list[tuple[int, int]] | None = None
    list_numbers: list[int] = []
    for mention in reading.numbers:
        if any(_touches(mention, link) for link in bound):
            continue
        names = rest.rules.name_spans(text.text) if names is None else names
        rule = rest.rules.rule_for(text, mention, reading, names, list_numbers)
        if rule:
            source = "front matter" if rule == "given" else ""
            exemptions.append(_exempt(rest.desk, text, *mention.core, rule, source))
            continue
        if _article(mention):
            continue
        _judge_free(rest, text, index, mention, claims, exemptions, problems)
    exemptions += [_exempt(rest.desk, text, *span, "date") for span in reading.dates if not _in_links(span, bound)]
    exemptions += [_exempt(rest.desk, text, *span, "name") for span in reading.names if not _in_links(span, bound)]
    judged = [link for link in bound if link.destination.startswith("claim:")]  # a word is never a stated input
    for word in reading.words:
        if word.denied and word.word.category is Category.PROOF:
            continue  # "this does not prove it", "not silent"
        if word.free and not _in_links((word.start, word.end), judged) and not _in_code(text, word):
            problems += _unbound_word(rest, text, word, reading, bound)
    return claims, exemptions, problems


def _judge_free(
    rest: Unbound, text: Text, index: int, mention: NumberMention, claims: list[Claim],
    exemptions: list[Exemption], problems: list[Problem],
) -> None:  # fmt: skip
    low, high = sentence_span(text.text, *mention.core)
    near = surroundings(text.text, mention, low, high)
    found = rest.settings.find(mention, near) if rest.settings is not None else None
    if found is not None:
        if not found.wrong:
            found = replace(found, wrong=_told_of(rest, text, mention, found, (low, high)))
        claim, exemption = _as_setting(rest.desk, text, index, mention, found)
        claims += claim
        exemptions.append(exemption)
        if found.wrong:
            problems.append(_wrong_setting(rest.desk, text, mention, found))
        return
    if mention.unit == units.PERCENT and _is_confidence(rest, mention, near):
        confidence = rest.desk.site.settings.confidence_pct
        if float(mention.value) == confidence:
            source = "confidence_pct in site.yaml"
            exemptions.append(_exempt(rest.desk, text, *mention.core, "setting", source))
            return
    problems.append(_unbound_number(rest.desk, text, mention))


def _touches(mention: NumberMention, link: TextLink) -> bool:
    return mention.core[0] < link.end and link.start < mention.core[1]


def _in_links(span: tuple[int, int], links: list[TextLink]) -> bool:
    return any(link.start < span[1] and span[0] < link.end for link in links)


def _in_code(text: Text, word: WordMention) -> bool:
    return any(s <= word.start < e for s, e in text.code)


def _article(mention: NumberMention) -> bool:
    """ "one card", "one day", "one time": the word counts nothing anybody would check."""
    numeral = mention.numerals[0]
    if numeral.style is not Style.WORDS or len(mention.numerals) > 1 or mention.direction or mention.bound:
        return False
    ordinary = mention.unit is None or mention.unit.dimension in ("count", "ratio") or mention.unit.dimension == "time"
    return numeral.value == 1 and ordinary and not numeral.sign


def _is_confidence(rest: Unbound, mention: NumberMention, near: str) -> bool:
    after = near.partition("\0")[2].lower().split()[:4]
    before = near.partition("\0")[0].lower().split()[-3:]
    words = {w.strip(",.;:()%") for w in (*after, *before)}
    return bool(words & rest.words.lists["interval"])


def _exempt(desk: Desk, text: Text, start: int, end: int, rule: str, source: str = "") -> Exemption:
    where = location(text, start, end)
    return Exemption(write_up=desk.scope, where=where, text=text.text[start:end], rule=rule, source=source)


def _as_setting(
    desk: Desk, text: Text, index: int, mention: NumberMention, found: SettingFound
) -> tuple[list[Claim], Exemption]:
    start, end = mention.numerals[0].start, mention.end
    exemption = _exempt(desk, text, start, end, "setting", found.source)
    if found.address is None:
        return [], exemption
    claim = Claim(
        write_up=desk.scope, where=exemption.where, place=text.place, stated=text.text[start:end],
        sentence=sentence(text.text, start, end), address=found.address,
        verdict=Verdict.DISAGREES if found.wrong else Verdict.AGREES, message=found.wrong, text_index=index,
        rule="disagrees" if found.wrong else "", kind="setting",
    )  # fmt: skip
    return [claim], exemption


def _told_of(
    rest: Unbound, text: Text, mention: NumberMention, found: SettingFound, span: tuple[int, int]
) -> str:  # fmt: skip
    """What the runs say against an outcome told of a setting."""
    if rest.desk.write_up is None or found.kind is None or len(mention.numerals) > 1:
        return ""
    value = float(mention.value)
    return outcome_fault(
        rest.desk.write_up, rest.words.lists, found.kind.column, value, text.text, mention.core, span
    )  # fmt: skip


def _wrong_setting(desk: Desk, text: Text, mention: NumberMention, found: SettingFound) -> Problem:
    stated = text.text[mention.start : mention.end]
    address = found.address.local() if found.address else ""
    return desk.problem(
        "disagrees", location(text, mention.start, mention.end), f"prose states {stated}, but {found.wrong}",
        "Write what the setpoint or the runs show, or bind the number.", address=address, stated=stated,
    )  # fmt: skip


def _unbound_number(desk: Desk, text: Text, mention: NumberMention) -> Problem:
    stated = text.text[mention.start : mention.end]
    turned = f" ({mention.direction.word.text})" if mention.direction else ""
    return desk.problem(
        "unbound-number", location(text, mention.start, mention.end),
        f"{stated}{turned} is bound to no address",
        f"Link it: [{stated}](claim:…), see `benchgalley suggest`; name the source of an input: [{stated}](given:…).",
        stated=stated,
    )  # fmt: skip


def _unbound_word(
    rest: Unbound, text: Text, word: WordMention, reading: TextReading, bound: list[TextLink]
) -> list[Problem]:
    stated, desk = text.text[word.start : word.end], rest.desk
    low, high = sentence_span(text.text, word.start, word.end)
    if word.word.category is Category.NO_FAILURE:
        return _no_failure(rest, text, word, reading, (low, high))
    beside = [m for m in reading.numbers if low <= m.core[0] < high and any(_touches(m, link) for link in bound)]
    if word.word.category is Category.AVERAGE and beside:
        return []
    where = location(text, word.start, word.end)
    order = _between_two(text.text, word, beside)
    if order > 0:
        return []
    if order < 0:
        message = f"{stated!r} contradicts the numbers on its two sides"
        return [desk.problem("inconsistent", where, message, "Turn the word or the numbers round.", stated=stated)]
    message = f"{stated!r} is a claim and is bound to no address"
    return [
        desk.problem(
            "unbound-word",
            where,
            message,
            f"Link it: [{stated}](claim:…), or say it without the word.",
            stated=stated,
        )
    ]


def _no_failure(
    rest: Unbound, text: Text, word: WordMention, reading: TextReading, span: tuple[int, int]
) -> list[Problem]:
    """ "Nothing crashed", bound to nothing: of which runs it is said, and whether they bear it out."""
    desk = rest.desk
    if any(span[0] <= m.core[0] < span[1] and m.unit in _SETTING_UNITS for m in reading.numbers):
        return []  # held against the runs at that setting
    fault = failures_among(desk.write_up, text.text[span[0] : span[1]]) if desk.write_up is not None else ""
    if not fault:
        return []
    stated = text.text[word.start : word.end]
    return [
        desk.problem(
            "unbound-word", location(text, word.start, word.end), f"prose says {stated!r}, but {fault}",
            f"Say of which runs, or link it: [{stated}](claim:…/failures).", stated=stated,
        )
    ]  # fmt: skip


_SETTING_UNITS = tuple(kind.unit for kind in SETTINGS if kind.unit is not None)


def _between_two(text: str, word: WordMention, beside: list[NumberMention]) -> int:
    """+1 when "less than" stands between two bound numbers in that order, -1 when they contradict it, else 0."""
    if word.word.strict or not text[word.end :].lstrip().startswith("than"):
        return 0
    before = [m for m in beside if m.core[1] <= word.start]
    after = [m for m in beside if m.core[0] >= word.end]
    if not before or not after or before[-1].unit != after[0].unit:
        return 0
    return 1 if (before[-1].value - after[0].value) * word.word.sign > 0 else -1
