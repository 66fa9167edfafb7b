"""Stated inputs: `[8 GB](given:card)`. Their source is named, and looked up where it is a file of the site."""

from collections.abc import Iterator
from urllib.parse import unquote

from benchgalley.records import units
from benchgalley.records.findings import Location, Problem
from benchgalley.records.units import Unit
from benchgalley.records.write_up import Claim, Exemption, Text, TextLink, Verdict, WriteUp

from .agreement import agrees, magnitude_interval
from .desk import Desk
from .mentions import NumberMention, TextReading
from .places import location, sentence
from .vocabulary import Hedge

FILES = ("card", "load", "bench")


def given_link(
    desk: Desk, text: Text, index: int, link: TextLink, reading: TextReading
) -> tuple[Claim, list[Exemption], list[Problem]]:
    """The stated input as a claim of kind `given`, its exemption, and what is wrong with it."""
    source = unquote(link.destination.removeprefix("given:")).strip()
    stated = text.text[link.start : link.end]
    where = location(text, link.start, link.end, link)
    message, mend = _fault(desk, text, link, reading, source, stated)
    claim = Claim(
        write_up=desk.scope, where=where, place=text.place, stated=stated,
        sentence=sentence(text.text, link.start, link.end), address=None,
        verdict=Verdict.DISAGREES if message else Verdict.AGREES, message=message, mend=mend, token=link.token,
        text_index=index, rule="disagrees" if message else "", kind="given",
    )  # fmt: skip
    if message:
        return claim, [], [desk.problem("disagrees", where, message, mend, stated=stated)]
    return claim, [_exemption(desk, where, stated, source)], []


def _exemption(desk: Desk, where: Location, stated: str, source: str) -> Exemption:
    return Exemption(write_up=desk.scope, where=where, text=stated, rule="given", source=source)


def _fault(desk: Desk, text: Text, link: TextLink, reading: TextReading, source: str, stated: str) -> tuple[str, str]:
    if not source:
        return f"given: {stated!r} names no source", "Write where it comes from: [8 GB](given:card)."
    if source not in FILES or desk.write_up is None:
        return "", ""
    facts = list(_facts(desk, desk.write_up, source))
    for mention in reading.numbers:
        if mention.core[0] < link.end and link.start < mention.core[1] and not _among(mention, facts):
            return (
                f"given:{source}: the {source} file holds no {stated!r}",
                f"Correct the number, add it to the {source} file, or name another source.",
            )
    return "", ""


def _among(mention: NumberMention, facts: list[tuple[float, Unit | None]]) -> bool:
    """Whether every number of a mention is one of the facts, to the digits stated."""
    for numeral in mention.numerals:
        stated = magnitude_interval(numeral, Hedge.NONE, 0.0)
        if not any(
            (converted := _in_unit(abs(value), unit, mention.unit)) is not None and agrees(converted, stated)
            for value, unit in facts
        ):
            return False
    return True


def _in_unit(value: float, unit: Unit | None, into: Unit | None) -> float | None:
    if unit is None or into is None:
        return value if unit == into or (into is not None and into.dimension == "count") else None
    return units.convert(value, unit, into) if unit.dimension == into.dimension else None


def given_fits(desk: Desk, source: str, mention: NumberMention) -> bool:
    """Whether the card, load or bench file holds the number of a mention."""
    return desk.write_up is not None and _among(mention, list(_facts(desk, desk.write_up, source)))


def _facts(desk: Desk, write_up: WriteUp, source: str) -> Iterator[tuple[float, Unit | None]]:
    """Numbers of a card, load or bench file."""
    if source == "card":
        card = write_up.card
        yield card.stock_board_power_w, units.WATT
        yield from ((edge, units.PERCENT) for edge in card.power_limit_range_pct)
        yield float(len(card.samples)), units.RUNS
        strings = [card.model, card.maker, *card.connectors, *card.ratings.values()]
        strings += [s.note for s in card.samples]
    elif source == "load":
        load = write_up.load
        if load.run_length_s is not None:
            yield load.run_length_s, units.SECOND
        strings = [load.name, load.version, load.preset, *load.facts.values()]
    else:
        bench = write_up.bench
        strings = [bench.name, *bench.facts.values()]
        for instrument in bench.instruments:
            yield from _limits(instrument.gain_error_pct, instrument.sampling_interval_s)
            yield from ((v, None) for v in (instrument.offset_error, instrument.resolution) if v is not None)
            strings.append(instrument.name)
    for string in strings:
        shown = Text(place="meta", text=string, positions=((1, 1),) * len(string), file="")
        for mention in desk.read(shown).numbers:
            yield from ((float(n.value), mention.unit) for n in mention.numerals)


def _limits(gain_pct: float | None, interval_s: float | None) -> Iterator[tuple[float, Unit | None]]:
    if gain_pct is not None:
        yield gain_pct, units.PERCENT
    if interval_s is not None:
        yield interval_s, units.SECOND
