"""Rewrites stated numbers from the data, and writes chosen links: everything else stays byte for byte.

Only digits change. Hedge, unit, direction word, sign and the style of the digits (groups, decimals, words) stay as
they were; where that cannot be done the statement is left alone, and `check` goes on naming it.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from benchgalley.records.address import Address
from benchgalley.records.findings import Location
from benchgalley.records.results import Number, Results
from benchgalley.records.site import Site
from benchgalley.records.write_up import Claim, Text, TextLink, Verdict, WriteUp

from .agreement import value_as_stated
from .checking import case_for, desk_for, inside, judge
from .desk import Desk
from .judgement import MINUS, carried_decimals, digits
from .judging import judge_number, sense_of
from .mentions import Form, NumberMention
from .numerals import Numeral, Style
from .tokens import MINUS_SIGNS, SPACES
from .vocabulary import Bound, vocabulary


@dataclass(frozen=True, kw_only=True, slots=True)
class Edit:
    """One replacement in the source."""

    line: int
    column: int
    old: str
    new: str


def restate(write_up: WriteUp, site: Site, results: Results) -> str:
    """The source of write-up.md with every number that disagrees stated anew.

    A number in digits or in words is rewritten when the new text would agree. Bounds, ranges and statements whose
    direction has turned are left to their author.
    """
    return apply_edits(write_up.source, edits_for(write_up, site, results))


def edits_for(write_up: WriteUp, site: Site, results: Results) -> tuple[Edit, ...]:
    """The replacements `restate` makes, in source order."""
    edits = {edit for _, found in _tried(write_up, site, results) for edit in found}
    return tuple(sorted(edits, key=lambda e: (e.line, e.column)))


def left_over(write_up: WriteUp, site: Site, results: Results) -> tuple[Claim, ...]:
    """The statements that disagree and that `restate` leaves to their author: other digits would not mend them."""
    return tuple(claim for claim, edits in _tried(write_up, site, results) if not edits)


def _tried(write_up: WriteUp, site: Site, results: Results) -> list[tuple[Claim, list[Edit]]]:
    """Every statement that may not stand, in source order, with the replacements that would mend it."""
    desk = desk_for(write_up, site, results)
    links = {
        (index, *_place(text, link)): (text, link)
        for index, text in enumerate(write_up.texts)
        for link in text.links
        if link.destination.startswith("claim:")
    }
    tried = []
    for claim in judge(write_up, site, results).claims:
        if claim.verdict is Verdict.AGREES or claim.accepted:
            continue
        place = links.get((claim.text_index, claim.where.line, claim.where.column))
        tried.append((claim, _edits_in(desk, *place) if place and claim.verdict in _MENDABLE else []))
    return tried


_MENDABLE = (Verdict.DISAGREES, Verdict.UNSUPPORTED)


def _place(text: Text, link: TextLink) -> tuple[int, int]:
    return text.positions[link.start] if link.start < len(text.positions) else (0, 0)


def _edits_in(desk: Desk, text: Text, link: TextLink) -> list[Edit]:
    address, _ = desk.resolve(link.destination)
    mentions = inside(desk.read(text).numbers, link)
    if address is None or len(mentions) != 1:
        return []
    mention = mentions[0]
    number = desk.results.find(address)
    if number is None or number.value is None:
        return []
    wanted = _numbers_wanted(desk, address, number, mention)
    fresh = []
    for numeral, at, which in wanted:
        new = _restated(desk, at, which, mention, numeral, text)
        if new is None:
            return []
        fresh.append((numeral, new))
    if not _would_agree(desk, text, link, mention, fresh):
        return []
    edits = []
    for numeral, new in fresh:
        edit = _edit(text, numeral, new)
        if edit is None:
            return []
        if edit.old != edit.new:
            edits.append(edit)
    return edits


def _numbers_wanted(
    desk: Desk, address: Address, number: Number, mention: NumberMention
) -> list[tuple[Numeral, Address, float]]:
    """Each numeral with the address and value it should state; empty when this form is left to its author."""
    first = mention.numerals[0]
    assert number.value is not None
    if mention.form is Form.VALUE and mention.bound is Bound.NONE:
        return [(first, address, number.value)]
    if mention.form is Form.VALUE and address.relation.endswith(("at-least", "at-most")):
        return [(first, address, number.value)]
    if mention.form is Form.PLUS_MINUS and number.interval is not None:
        low, high = number.interval.low, number.interval.high
        if low is not None and high is not None:
            return [(first, address, number.value), (mention.numerals[1], address, (high - low) / 2)]
    if mention.form is Form.CHAIN:
        level = address.related("")
        base = replace(level, subject=desk.baseline_of(address))
        ends = [desk.results.find(a) for a in (base, level)]
        if all(e is not None and e.value is not None for e in ends):
            pairs = zip(mention.numerals, (base, level), ends, strict=True)
            return [(n, a, e.value) for n, a, e in pairs if e is not None and e.value is not None]
    return []


def _restated(
    desk: Desk, address: Address, value: float, mention: NumberMention, numeral: Numeral, text: Text
) -> str | None:
    """The numeral rewritten in its own style; None when it cannot be."""
    number = desk.results.find(address)
    if number is None:
        return None
    alone = replace(mention, form=Form.VALUE, numerals=(numeral,))
    computed = value_as_stated(value, number.unit, alone, address.relation, True)
    sense = sense_of(case_for(desk, text, alone, address, number)) if mention.form is Form.VALUE else 1
    if computed is None or not isinstance(sense, int):
        return None
    if computed * sense < 0:
        return None  # the number has changed sides: the words must change, not the digits
    decimals = carried_decimals(number, numeral, mention)
    if numeral.style is Style.WORDS:
        return _in_words(desk, abs(computed), numeral, text)
    if numeral.style is not Style.DIGITS or "E" in numeral.plain:
        return None
    return _in_digits(desk, digits(abs(computed), max(decimals, 0)), numeral, text)


def _in_digits(desk: Desk, plain: str, numeral: Numeral, text: Text) -> str:
    """Plain digits with the sign, groups and decimal sign of the old text."""
    old = text.text[numeral.start : numeral.end]
    lead = old[: len(old) - len(old.lstrip(MINUS_SIGNS + "+"))]
    words = vocabulary(desk.site.settings.language)
    group = next((c for c in old[len(lead) :] if c in SPACES or c == ("." if words.decimal_comma else ",")), "")
    whole, _, part = plain.lstrip(MINUS).partition(".")
    if group and len(whole) > 3:
        head = len(whole) % 3
        pieces = ([whole[:head]] if head else []) + [whole[i : i + 3] for i in range(head, len(whole), 3)]
        whole = group.join(pieces)
    point = "," if words.decimal_comma else "."
    return lead + whole + (point + part if part else "")


def _in_words(desk: Desk, value: float, numeral: Numeral, text: Text) -> str | None:
    """A whole number below a hundred in words, hyphenated as the old text was."""
    whole = round(value)
    words = vocabulary(desk.site.settings.language).units
    names = {n: w for w, n in words.items() if w not in ("nought", "dozen")}
    old = text.text[numeral.start : numeral.end]
    if numeral.sign or not 0 <= whole < 100:
        return None
    if whole in names:
        new = names[whole]
    else:
        new = f"{names[whole // 10 * 10]}{' ' if ' ' in old else '-'}{names[whole % 10]}"
    return new.capitalize() if old[:1].isupper() else new


def _would_agree(
    desk: Desk, text: Text, link: TextLink, mention: NumberMention, fresh: Iterable[tuple[Numeral, str]]
) -> bool:
    """Whether the text with the new digits is judged to agree: restating must never trade one problem for another."""
    shown, shift, links = text.text, 0, list(text.links)
    for numeral, new in sorted(fresh, key=lambda pair: pair[0].start):
        start, end = numeral.start + shift, numeral.end + shift
        shown = shown[:start] + new + shown[end:]
        grown = len(new) - (end - start)
        links = [_moved(k, start, grown) for k in links]
        shift += grown
    index = text.links.index(link)
    trial = replace(text, text=shown, links=tuple(links), positions=((1, 1),) * len(shown))
    address, _ = desk.resolve(link.destination)
    number = desk.results.find(address) if address is not None else None
    mentions = inside(desk.read(trial).numbers, links[index])
    if address is None or number is None or len(mentions) != 1:
        return False
    return judge_number(case_for(desk, trial, mentions[0], address, number)).agrees


def _moved(link: TextLink, start: int, grown: int) -> TextLink:
    if link.start > start:
        return replace(link, start=link.start + grown, end=link.end + grown)
    return replace(link, end=link.end + grown) if link.end > start else link


def _edit(text: Text, numeral: Numeral, new: str) -> Edit | None:
    """The replacement in the source; None when markup splits the numeral."""
    places = text.positions[numeral.start : numeral.end]
    line, column = places[0]
    if places != tuple((line, column + k) for k in range(len(places))):
        return None
    return Edit(line=line, column=column, old=text.text[numeral.start : numeral.end], new=new)


_LINE_END = re.compile(r"(\r\n|\r|\n)")


def apply_edits(source: str, edits: Iterable[Edit]) -> str:
    """The source with the replacements made; an edit whose old text does not stand there is left out."""
    pieces = _LINE_END.split(source)  # lines at even places, their ends between
    for edit in sorted(edits, key=lambda e: (e.line, e.column), reverse=True):
        line, start = pieces[2 * edit.line - 2], edit.column - 1
        if line[start : start + len(edit.old)] == edit.old:
            pieces[2 * edit.line - 2] = line[:start] + edit.new + line[start + len(edit.old) :]
    return "".join(pieces)


def bind(source: str, choices: Mapping[Location, str]) -> str:
    """The source with each chosen stretch made a link to its address.

    A stretch that begins a plain YAML value is left alone in the front matter: a bracket there would begin a list.
    So is one that goes over a line end.
    """
    pieces = _LINE_END.split(source)
    body = _body_line(pieces[::2])
    for where in sorted(choices, key=lambda w: (w.line, w.column), reverse=True):
        if where.end_line not in (0, where.line):
            continue
        line, start, end = pieces[2 * where.line - 2], where.column - 1, where.end_column - 1
        if where.line < body and line[:start].rstrip().endswith((":", "-")):
            continue
        choice = choices[where]
        destination = choice if choice.startswith("given:") else f"claim:{choice}"
        link = f"[{line[start:end]}]({destination})"
        pieces[2 * where.line - 2] = line[:start] + link + line[end:]
    return "".join(pieces)


def _body_line(lines: list[str]) -> int:
    """First line behind the front matter, counted from 1."""
    if not lines or lines[0].strip() != "---":
        return 1
    return next((k + 2 for k, line in enumerate(lines[1:], 1) if line.strip() == "---"), 1)
