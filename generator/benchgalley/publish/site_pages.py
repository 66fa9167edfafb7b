"""Pages about more than one write-up: front page, cards, comparison, ledger of claims, data, corrections."""

from collections.abc import Mapping
from typing import Any

from benchgalley.records.bench import Card
from benchgalley.records.results import Number
from benchgalley.records.write_up import Claim, Verdict, WriteUp

from . import page_paths, prose
from .charts_in_pages import as_file, plate
from .dataset import dataset_files
from .edition import Edition, headline_setpoint, last_changed
from .headline import headline, settings_words
from .record import record_of
from .workings import Working, working
from .write_up_page import galley_of

_COMPARED: tuple[tuple[str, str, str], ...] = (
    ("score", "", "score"),
    ("board-power", "", "board power"),
    ("score-per-watt", "", "score per watt"),
    ("score", "of-baseline", "score, of stock"),
    ("board-power", "of-baseline", "board power, of stock"),
)
"""(quantity, relation, head of the column) of the comparison."""


def front_page(edition: Edition) -> Mapping[str, bytes]:
    """The gallery: each write-up with what it gained, what it cost and how sure that is."""
    entries = [
        {
            "write_up": w,
            "headline": headline(edition, w),
            "title": prose.line(w.title, galley_of(edition, w), interactive=False),
            "summary": prose.line(w.summary, galley_of(edition, w), interactive=False),
        }
        for w in edition.newest_first()
    ]
    page = edition.templates.fill(
        "front.html",
        page_paths.FRONT,
        entries=entries,
        runs=sum(len(w.trials) for w in edition.site.write_ups.values()),
        claims=sum(len(edition.claims(slug)) for slug in edition.site.write_ups),
        cards=[c for c in edition.site.cards.values() if edition.write_ups_of(c.id)],
    )
    return {page_paths.FRONT: page}


def card_pages(edition: Edition) -> Mapping[str, bytes]:
    """One page a card, its samples pooled."""
    files: dict[str, bytes] = {}
    for card in edition.site.cards.values():
        here = page_paths.card(card.id)
        figures = edition.shared_figures.get(card.id, ())
        source = _source(edition)
        files |= {page_paths.shared_figure(f"{card.id}-{f.id}"): as_file(f, source) for f in figures}
        files[here] = edition.templates.fill(
            "card.html",
            here,
            card=card,
            entries=[
                {"write_up": w, "headline": headline(edition, w)}
                for w in edition.newest_first()
                if w.card.id == card.id
            ],
            pooled=_pooled(edition, card),
            figures=[
                plate(edition, f, here, page_paths.shared_figure(f"{card.id}-{f.id}"), source=source) for f in figures
            ],
            on_bench={w.sample.id for w in edition.write_ups_of(card.id)},
        )
    return files


def comparison_page(edition: Edition) -> Mapping[str, bytes]:
    """Cards side by side, in groups within which figures may be compared, and why not beyond."""
    here = page_paths.COMPARISON
    figures = edition.shared_figures.get("comparison", ())
    files = {page_paths.shared_figure(f.id): as_file(f, _source(edition)) for f in figures}
    groups: dict[tuple[str, ...], list[WriteUp]] = {}
    for write_up in edition.site.write_ups.values():
        groups.setdefault(_comparable(write_up), []).append(write_up)
    files[here] = edition.templates.fill(
        "comparison.html",
        here,
        groups=[
            {
                "load": members[0].load,
                "bench": members[0].bench,
                "meter": _meter(members[0]),
                "drivers": sorted({t.driver for w in members for t in w.trials if t.driver}),
                "rows": [row for w in members for row in _compared(edition, w)],
            }
            for _, members in sorted(groups.items())
        ],
        heads=[head for _, _, head in _COMPARED],
        figures=[plate(edition, f, here, page_paths.shared_figure(f.id), source=_source(edition)) for f in figures],
    )
    return files


def ledger_page(edition: Edition) -> Mapping[str, bytes]:
    """Every statement of every write-up beside what the data give."""
    rows = [
        _ledger_row(edition, edition.site.write_ups[slug], claim)
        for slug in sorted(edition.readings)
        if slug in edition.site.write_ups
        for claim in edition.claims(slug)
    ]
    verdicts = {v: sum(r["claim"].verdict is v for r in rows) for v in Verdict}
    return {page_paths.LEDGER: edition.templates.fill("ledger.html", page_paths.LEDGER, rows=rows, verdicts=verdicts)}


def data_page(edition: Edition) -> Mapping[str, bytes]:
    """Everything to download."""
    entries = []
    for write_up in edition.newest_first():
        files = dataset_files(edition, write_up)
        entries.append(
            {
                "write_up": write_up,
                "files": [(path, len(content)) for path, content in sorted(files.items())],
                "changed": last_changed(write_up),
                "size": sum(len(content) for content in files.values()),
            }
        )
    return {page_paths.DATA: edition.templates.fill("data.html", page_paths.DATA, entries=entries)}


def corrections_page(edition: Edition) -> Mapping[str, bytes]:
    """Every dated revision, with the numbers that moved where an earlier printing is on record."""
    corrections = record_of(edition)["corrections"]
    entries: list[dict[str, Any]] = []
    for write_up in edition.site.write_ups.values():
        galley = galley_of(edition, write_up)
        for revision in write_up.revisions:
            moved = [
                change
                for c in corrections
                if (c["write_up"], c["date"]) == (write_up.slug, revision.date)
                for change in c["numbers"]
            ]
            entries.append(
                {
                    "write_up": write_up,
                    "revision": revision,
                    "what": prose.line(revision.what, galley, interactive=False),
                    "moved": moved,
                }
            )
    entries.sort(key=lambda e: (e["revision"].date, e["write_up"].slug), reverse=True)
    return {page_paths.CORRECTIONS: edition.templates.fill("corrections.html", page_paths.CORRECTIONS, entries=entries)}


def _source(edition: Edition) -> str:
    settings = edition.site.settings
    parts = (settings.author, settings.title.text, settings.data_licence, settings.address)
    return ". ".join(part for part in (*parts, settings.notice) if part)


def _pooled(edition: Edition, card: Card) -> dict[str, list[Working]]:
    """Numbers over samples by setpoint."""
    groups: dict[str, list[Working]] = {}
    for number in edition.numbers(card.id):
        groups.setdefault(number.address.subject, []).append(working(number, (), card.id, edition.site.cards))
    return groups


def _comparable(write_up: WriteUp) -> tuple[str, ...]:
    """What must be equal before two write-ups may stand in one table."""
    load = write_up.load
    return (load.name, load.version, load.preset, load.id, write_up.bench.id, _meter(write_up))


def _meter(write_up: WriteUp) -> str:
    """Where board power was measured: two kinds of channel are never compared."""
    instrument = write_up.bench.instrument_for("board_power_w")
    return instrument.measures_at.value if instrument else "not recorded"


def _compared(edition: Edition, write_up: WriteUp) -> list[dict[str, Any]]:
    tuned = headline_setpoint(write_up, edition.claims(write_up.slug))
    base = write_up.setpoints[write_up.baseline]
    rows = []
    for setpoint in (base, tuned):
        if setpoint is None:
            continue
        cells: list[Number | None] = []
        for quantity, relation, _ in _COMPARED:
            if setpoint is base and relation:
                cells.append(None)
                continue
            text = f"{setpoint.name}/{quantity}" + (f"/{relation}" if relation else "")
            cells.append(edition.number(write_up.slug, text))
        rows.append(
            {
                "write_up": write_up,
                "setpoint": setpoint,
                "settings": settings_words(setpoint, write_up) or "as delivered",
                "cells": cells,
            }
        )
    return rows


def _ledger_row(edition: Edition, write_up: WriteUp, claim: Claim) -> dict[str, Any]:
    number = edition.results.find(claim.address) if claim.address is not None else None
    place = page_paths.write_up(write_up.slug)
    if claim.token >= 0:
        place += f"#{prose.claim_anchor(claim)}"
    return {
        "write_up": write_up,
        "claim": claim,
        "number": number,
        "place": place,
        "row": working(number, (), write_up.slug, edition.site.cards).href if number is not None else "",
        "address": claim.address.within(write_up.slug) if claim.address else "",
    }
