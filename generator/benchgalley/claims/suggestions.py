"""For each unbound number the addresses whose value and dimension fit, best first.

What fits is decided by the same judging that will later decide the claim; words near the number only rank it.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from benchgalley.records import units
from benchgalley.records.address import Address
from benchgalley.records.findings import Location
from benchgalley.records.quantity import SETTINGS
from benchgalley.records.results import Number, Results
from benchgalley.records.site import Site
from benchgalley.records.write_up import WriteUp

from .agreement import value_as_stated
from .case import Case
from .checking import desk_for
from .desk import Desk
from .given import FILES, given_fits
from .judging import judge_number
from .mentions import Form, NumberMention
from .places import location, sentence_span
from .tables import row_and_head
from .unbound import Unbound, unbound
from .weighing import Surroundings

_MOST = 8


@dataclass(frozen=True, kw_only=True, slots=True)
class Candidate:
    """One address that fits."""

    address: str
    """As written in the write-up."""
    printed: str
    """Its number, for the reader to choose by."""
    name: str
    score: float
    """Higher is likelier; only the order means anything."""
    own: bool = True
    """Whether it belongs to this write-up. Another's is never written without asking."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Suggestion:
    """An unbound number and what it may be."""

    where: Location
    """From its first character to its last, unit included: what `bind` puts into the link."""
    text: str
    candidates: tuple[Candidate, ...]
    """Best first; empty when nothing fits."""

    @property
    def first(self) -> Candidate | None:
        """What may be written without asking: the best, if it is this write-up's own."""
        return self.candidates[0] if self.candidates and self.candidates[0].own else None


def suggest(write_up: WriteUp, site: Site, results: Results) -> tuple[Suggestion, ...]:
    """What every unbound number of a write-up may be bound to. Computes every number of the write-up."""
    desk = desk_for(write_up, site, results)
    known = list(_known_numbers(desk))
    rest = Unbound(desk)
    found: list[Suggestion] = []
    subjects: list[tuple[str, str]] = []
    for index, text in enumerate(write_up.texts):
        reading = desk.read(text)
        loose = {p.where for p in unbound(rest, text, index, reading)[2] if p.rule == "unbound-number"}
        if text.place == "heading":
            subjects = []
        for mention in reading.numbers:
            where = location(text, mention.start, mention.end)
            if where not in loose:
                continue
            around = " ".join(row_and_head(write_up.texts, index, desk.lines)) if text.place == "table" else ""
            for part in _parts(text.text, mention):
                start = part.numerals[0].start
                candidates = _ranked(Surroundings(desk, text, index, part, subjects, around), known)
                stretch = location(text, start, part.end)
                found.append(Suggestion(where=stretch, text=text.text[start : part.end], candidates=candidates))
                if candidates and not candidates[0].address.startswith("given:"):
                    place = f"{index} {sentence_span(text.text, *part.core)[0]}"
                    subjects = [*subjects[-3:], (candidates[0].address.partition("/")[0], place)]
    return tuple(found)


def _parts(text: str, mention: NumberMention) -> list[NumberMention]:
    """One mention a number: "from 262 to 214 W" is bound number by number; a narrow range is an interval."""
    first, second = mention.numerals[0], mention.numerals[-1]
    narrow = abs(second.value - first.value) < max(abs(first.value), abs(second.value)) / 8
    if mention.form in (Form.VALUE, Form.PLUS_MINUS) or (mention.form is Form.RANGE and narrow):
        return [mention]
    behind = re.match(r"[\s\u00a0\u202f]*" + re.escape(mention.unit_text), text[first.end : second.start])
    units_apart = mention.form is Form.SHARE
    alone = replace(mention, form=Form.VALUE, second_unit=None)
    return [
        replace(alone, numerals=(first,), end=first.end + (behind.end() if behind else 0)),
        replace(
            alone, numerals=(second,), start=second.start, unit=mention.second_unit if units_apart else mention.unit,
            unit_text="" if units_apart and mention.second_unit is None else mention.unit_text,
        ),
    ]  # fmt: skip


def _known_numbers(desk: Desk) -> Iterable[tuple[Address, Number]]:
    """Every number of the write-up, then of its card and of the other write-ups."""
    scopes = [desk.scope]
    if desk.write_up is not None:
        scopes.append(desk.write_up.card.id)
    scopes += [slug for slug in desk.site.write_ups if slug != desk.scope and desk.site.write_ups[slug].trials]
    for scope in scopes:
        for address in desk.results.addresses(scope):
            number = desk.results.find(address)
            if number is not None and number.value is not None:
                yield address, number


def _ranked(near: Surroundings, known: Sequence[tuple[Address, Number]]) -> tuple[Candidate, ...]:
    """The addresses that fit one number, best first."""
    desk, mention = near.desk, near.mention
    fitting = [
        Candidate(
            address=address.within(desk.scope), printed=number.printed.text, name=number.name,
            score=near.score(address, number), own=address.scope == desk.scope,
        )
        for address, number in known
        if _roughly(mention, address, number) and _fits(desk, mention, address, number)
    ]  # fmt: skip
    if near.bare_setting:  # "a power limit of 85": no run gives a setting, it can only be one that was made
        fitting = [c for c in fitting if c.address.rpartition("/")[2] in _SETTING_KEYS]
    fitting.sort(key=lambda c: (-c.score, c.address))
    offered = _stated_inputs(near) + fitting
    return tuple(offered[:_MOST] or _in_the_files(near))


def _in_the_files(near: Surroundings) -> list[Candidate]:
    """Inputs that the card, load or bench file holds, for a number that no run gives."""
    mention = near.mention
    if near.bare_setting or mention.form is not Form.VALUE or not (mention.unit_text or mention.counted):
        return []
    printed = near.text.text[mention.numerals[0].start : mention.end]
    return [
        Candidate(address=f"given:{source}", printed=printed, name=f"the {source}'s file", score=0.0)
        for source in FILES
        if given_fits(near.desk, source, mention)
    ]


_SETTING_KEYS = frozenset(kind.key for kind in SETTINGS)
_RATED = re.compile(r"\b(?:rated|rates|rating|ratings|specified|specifies|(?:the|its) maker(?:'s)?)\b")


def _stated_inputs(near: Surroundings) -> list[Candidate]:
    """Inputs no run can give: what the maker rates, and a margin declared beforehand."""
    mention, write_up = near.mention, near.desk.write_up
    found: list[Candidate] = []
    if write_up is None or mention.form is not Form.VALUE:
        return found
    printed = near.text.text[mention.numerals[0].start : mention.end]
    if _RATED.search(near.before) and given_fits(near.desk, "card", mention):
        found.append(Candidate(address="given:card", printed=printed, name="the card's file", score=0.0))
    if re.search(r"\b(?:margin|within)\b", near.sentence):
        for margin, percent in write_up.margins.by_quantity.values():
            if (mention.unit == units.PERCENT) is percent and float(mention.value) == margin and not found:
                found.append(Candidate(address="given:margin", printed=printed, name="a declared margin", score=0.0))
    return found


def _roughly(mention: NumberMention, address: Address, number: Number) -> bool:
    """A cheap look before the judging: within a tenth, or a bound or range that judging must decide."""
    value = number.value
    if value is None:
        return False
    computed = value_as_stated(value, number.unit, mention, address.relation, True)
    if computed is None:
        return False
    if mention.bound or len(mention.numerals) > 1:
        return True
    stated = abs(float(mention.value))
    step = 10.0 ** -mention.numerals[0].decimals
    return abs(abs(computed) - stated) <= max(step * 1.01, stated * 0.1)


def _fits(desk: Desk, mention: NumberMention, address: Address, number: Number) -> bool:
    case = Case(
        stated="", mention=mention, address=address, number=number, results=desk.results, scope=desk.scope,
        baseline=desk.baseline_of(address), hedge_share_pct=desk.site.settings.hedge_share_pct, in_table=True,
        labelled=True,
    )  # fmt: skip
    found = judge_number(case)
    if found.agrees:
        return True
    # a word the data do not carry is still about that number
    alone = replace(mention, direction=None)
    return bool(found.word) and judge_number(replace(case, mention=alone)).agrees
