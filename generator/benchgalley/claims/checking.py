"""Judges every text of a write-up: bound statements against their numbers, the rest for what escapes.

Verdicts: *agrees*; *disagrees*; *unsupported* (the figure may be right, but the data do not carry the word,
the bound or the digits); *unjudged* (no number there). Only the first lets the build pass.
"""

import re
from dataclasses import dataclass, field

from benchgalley.records.address import Address
from benchgalley.records.findings import Problem, Severity
from benchgalley.records.quantity import SETTINGS
from benchgalley.records.results import Number, Results
from benchgalley.records.site import Reading, Site
from benchgalley.records.write_up import Claim, Exemption, Text, TextLink, Verdict, WriteUp

from .case import Case
from .consistency import inconsistencies
from .denial import denied_number, denied_word
from .desk import Desk
from .evidence import judge_word
from .given import given_link
from .judgement import AGREED, Judgement, nothing_there, worst
from .judging import judge_number
from .mentions import NumberMention, TextReading, WordMention
from .outcomes import outcome_fault
from .places import location, sentence, sentence_span
from .spoken_of import SpokenOf
from .unbound import Unbound, unbound
from .vocabulary import vocabulary


@dataclass(kw_only=True)
class _Found:
    claims: list[Claim] = field(default_factory=list)
    exemptions: list[Exemption] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def judge(write_up: WriteUp, site: Site, results: Results) -> Reading:
    """The verdict on every statement of a write-up.

    Numbers are looked up only at the addresses the prose names.
    """
    desk = desk_for(write_up, site, results)
    found, readings = _judge_texts(desk)
    found.problems += inconsistencies(desk, found.claims, readings)
    found.problems += _unused_acceptances(desk, found.claims)
    found.problems.sort(key=lambda p: (p.where, p.rule))
    return Reading(claims=tuple(found.claims), exemptions=tuple(found.exemptions), problems=tuple(found.problems))


def desk_for(write_up: WriteUp, site: Site, results: Results) -> Desk:
    """The desk on which one write-up lies."""
    return Desk(
        write_up=write_up,
        site=site,
        results=results,
        texts=write_up.texts,
        source=write_up.source,
    )


def judge_settings(site: Site, results: Results) -> tuple[Problem, ...]:
    """The problems of the site's own texts: title, summary. Their addresses name a scope."""
    texts = [t for t in (site.settings.title, site.settings.summary) if t.text]
    if not texts:
        return ()
    source = site.files.get(texts[0].file, b"").decode("utf-8", errors="replace")
    desk = Desk(write_up=None, site=site, results=results, texts=texts, source=source)
    return tuple(_judge_texts(desk)[0].problems)


def _judge_texts(desk: Desk) -> tuple[_Found, list[TextReading]]:
    found, readings = _Found(), [desk.read(text) for text in desk.texts]
    _look_up(desk)
    rest = Unbound(desk)
    spoken = SpokenOf(desk, rest.settings)
    for index, (text, reading) in enumerate(zip(desk.texts, readings, strict=True)):
        for link in text.links:
            if link.destination.startswith("claim:"):
                claim, computed = _judge_link(desk, text, index, link, reading, spoken)
                found.claims.append(claim)
                if claim.verdict is not Verdict.AGREES and not claim.accepted:
                    found.problems.append(_as_problem(desk, claim, computed))
            elif link.destination.startswith("given:"):
                claim, exemptions, problems = given_link(desk, text, index, link, reading)
                found.claims.append(claim)
                found.exemptions += exemptions
                found.problems += problems
        claims, exemptions, problems = unbound(rest, text, index, reading)
        found.claims += claims
        found.exemptions += exemptions
        found.problems += problems
    return found, readings


def _look_up(desk: Desk) -> None:
    """Every number the links name, computed in one go: in turns with the judging it takes a third longer."""
    for text in desk.texts:
        for link in text.links:
            if link.destination.startswith("claim:"):
                address, _ = desk.resolve(link.destination)
                if address is not None:
                    desk.results.find(address)


def _as_problem(desk: Desk, claim: Claim, computed: str) -> Problem:
    address = claim.address.within(desk.scope) if claim.address else ""
    return desk.problem(
        claim.rule,
        claim.where,
        claim.message,
        claim.mend,
        address=address,
        stated=claim.stated,
        computed=computed,
    )


def _judge_link(
    desk: Desk, text: Text, index: int, link: TextLink, reading: TextReading, spoken: SpokenOf
) -> tuple[Claim, str]:  # fmt: skip
    stated = text.text[link.start : link.end]
    address, written = desk.resolve(link.destination)
    numbers = inside(reading.numbers, link)
    words = [w for w in reading.words if link.start < w.end and w.start < link.end]
    if numbers:
        words = [w for w in words if w.free]
    found = _judge_parts(desk, text, link, numbers, words)
    if address is not None and found.agrees:
        found = spoken.contradiction(text, index, link, address, reading) or found
        found = _outcome_told(desk, text, link, address, numbers) or found
    accepted = _accepted(desk, written, stated, found)
    claim = Claim(
        write_up=desk.scope,
        where=location(text, link.start, link.end, link),
        place=text.place,
        stated=stated,
        sentence=sentence(text.text, link.start, link.end),
        address=address,
        verdict=found.verdict,
        message=found.message,
        mend=found.mend,
        token=link.token,
        text_index=index,
        accepted=accepted,
        rule="" if found.agrees else found.verdict.value,
        kind="number" if numbers or not words else "word",
    )
    return claim, found.computed


_OUTCOME_SETTINGS = {kind.key: kind.column for kind in SETTINGS if kind.unit is not None}


def _outcome_told(
    desk: Desk, text: Text, link: TextLink, address: Address, numbers: list[NumberMention]
) -> Judgement | None:  # fmt: skip
    """What the runs say against "nothing failed down to [−130 mV](...)"; None where they bear it out."""
    home = desk.site.write_ups.get(address.scope)
    if home is None or len(numbers) != 1 or address.relation:
        return None
    column = _OUTCOME_SETTINGS.get(address.quantity, "")
    if address.quantity in ("deepest-completed", "first-failed") and address.subject in home.sequences:
        column = home.sequences[address.subject].setting
    number = desk.results.find(address) if column else None
    if number is None or number.value is None:
        return None
    fault = outcome_fault(
        home, vocabulary(desk.site.settings.language).lists, column, number.value, text.text, (link.start, link.end),
        sentence_span(text.text, link.start, link.end),
    )  # fmt: skip
    if not fault:
        return None
    return Judgement(
        verdict=Verdict.DISAGREES, message=f"{address.within(desk.scope)}: {fault}",
        mend="Say of it what the runs there show.",
    )  # fmt: skip


def inside(mentions: tuple[NumberMention, ...], link: TextLink) -> list[NumberMention]:
    """Mentions of which a digit lies in the link."""
    return [m for m in mentions if m.core[0] < link.end and link.start < m.core[1]]


def _judge_parts(
    desk: Desk, text: Text, link: TextLink, numbers: list[NumberMention], words: list[WordMention]
) -> Judgement:
    stated = text.text[link.start : link.end].strip()
    address, written = desk.resolve(link.destination)
    if address is None:
        return nothing_there(stated, written or "the link", desk.near(written))
    if not numbers and not words:
        return Judgement(
            verdict=Verdict.UNJUDGED,
            message=f"{written}: {stated!r} states no number and no word that can be judged",
            mend="Link the number itself, or take the link away.",
        )
    if len(numbers) > 1 or (numbers and not _holds(numbers[0], link)):
        return Judgement(
            verdict=Verdict.UNJUDGED,
            message=f"{written}: {stated!r} is not one whole number: a link states one",
            mend="Give each number its own link, from its first digit to its last.",
        )
    number = desk.results.find(address)
    if number is None and address.scope in desk.site.refused:
        return Judgement(
            verdict=Verdict.UNJUDGED,
            message=f"{written}: {address.scope} could not be read, so {stated!r} cannot be judged",
            mend=f"Mend what is wrong with {address.scope} first.",
        )
    if number is None:
        return nothing_there(stated, written, desk.near(written))
    baseline = desk.baseline_of(address)
    judgements = []
    for w in words:
        found = judge_word(
            w.word, address, number, desk.results, desk.scope, stated, baseline, desk.site.settings.confidence_pct
        )
        if w.denied:
            found = denied_word(found, w.word, w.denied, address, desk.results, desk.scope, stated)
        judgements.append(found)
    for mention in numbers:
        found = judge_number(case_for(desk, text, mention, address, number))
        if mention.denied:
            found = denied_number(found, mention.denied, address, desk.scope, stated)
        judgements.insert(0, found)
    return worst(judgements) if judgements else AGREED


def case_for(desk: Desk, text: Text, mention: NumberMention, address: Address, number: Number) -> Case:
    """A statement with everything its judging needs."""
    return Case(
        stated=_as_stated(text, mention), mention=mention, address=address, number=number, results=desk.results,
        scope=desk.scope, baseline=desk.baseline_of(address), hedge_share_pct=desk.site.settings.hedge_share_pct,
        in_table=text.place == "table", labelled=not number.estimate or _says_estimate(desk, text, mention),
        margin=desk.margin_of(address.quantity),
    )  # fmt: skip


def _says_estimate(desk: Desk, text: Text, mention: NumberMention) -> bool:
    words = vocabulary(desk.site.settings.language).lists["estimate"]
    return not words.isdisjoint(re.findall(r"[a-z]+", sentence(text.text, *mention.core).lower()))


def _holds(mention: NumberMention, link: TextLink) -> bool:
    return link.start <= mention.core[0] and mention.core[1] <= link.end


def _as_stated(text: Text, mention: NumberMention) -> str:
    return " ".join(text.text[mention.start : mention.end].split(" "))


def _accepted(desk: Desk, written: str, stated: str, found: Judgement) -> str:
    """The reason under which the front matter keeps an unsupported word."""
    if desk.write_up is None or found.verdict is not Verdict.UNSUPPORTED or not found.word:
        return ""
    for entry in desk.write_up.accepted:
        same_word = entry.word.lower() in (found.word, stated.strip().lower())
        if same_word and _same_address(desk, entry.address, written):
            return entry.reason.text
    return ""


def _same_address(desk: Desk, one: str, other: str) -> bool:
    first = desk.resolve(f"claim:{one}")[0]
    return first is not None and first == desk.resolve(f"claim:{other}")[0]


def _unused_acceptances(desk: Desk, claims: list[Claim]) -> list[Problem]:
    """An accepted word that no claim needs any more."""
    if desk.write_up is None:
        return []
    reasons = {(c.accepted, str(c.address)) for c in claims if c.accepted}
    problems = []
    for entry in desk.write_up.accepted:
        address = desk.resolve(f"claim:{entry.address}")[0]
        if (entry.reason.text, str(address)) not in reasons:
            problems.append(
                desk.problem(
                    "unused-acceptance", entry.where,
                    f"accepted_words: no unsupported {entry.word!r} is bound to {entry.address}",
                    "Take the entry out, or correct its word and address.", severity=Severity.WARNING,
                    address=entry.address, stated=entry.word,
                )
            )  # fmt: skip
    return problems
