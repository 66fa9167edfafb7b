"""From records to the files of the site: every page in one ordered table, by what it is about."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any

from benchgalley.records.bench import Card
from benchgalley.records.figure import Figure
from benchgalley.records.findings import Problem
from benchgalley.records.quantity import MEASURED, Quantity
from benchgalley.records.results import Results
from benchgalley.records.site import Reading, Site, Warnings
from benchgalley.records.write_up import WriteUp

from . import page_paths
from .card_page import card_page
from .comparing import comparison_page
from .corrections import compare
from .discovery import feed, sitemap
from .edition import Edition
from .formulae import FORMULAE, as_mathml
from .pieces import JOINED, pieces_of
from .record import entry_in
from .site_pages import corrections_page, joined
from .templates import Templates, layouts_folder
from .worksheet_page import worksheet_page
from .write_up_page import write_up_pages

_ASSET_KINDS = frozenset({".css", ".js", ".svg", ".ico", ".png"})
_RUNTIME_FILES = ("chart-runtime.js", "NOTICES.txt")


def edition_of(
    site: Site,
    results: Results,
    glossary: Iterable[Quantity],
    readings: Mapping[str, Reading],
    warnings: Mapping[str, Warnings],
    figures: Mapping[str, tuple[Figure, ...]],
    shared_figures: Mapping[str, tuple[Figure, ...]],
    templates: Templates | None = None,
) -> Edition:
    """Everything pages are made from, in one piece."""
    return Edition(
        site=site,
        results=results,
        glossary={q.key: q for q in (*MEASURED, *glossary)},
        readings=readings,
        warnings=warnings,
        figures=figures,
        shared_figures=shared_figures,
        templates=templates or templates_of(site),
    )


def pages(
    site: Site,
    results: Results,
    glossary: Iterable[Quantity],
    readings: Mapping[str, Reading],
    warnings: Mapping[str, Warnings],
    figures: Mapping[str, tuple[Figure, ...]],
    shared_figures: Mapping[str, tuple[Figure, ...]],
    record: Mapping[str, Any] | None = None,
) -> tuple[dict[str, bytes], tuple[Problem, ...]]:
    """Every file of the site (path → bytes), and what forbids publishing it.

    `record` is the record of the printing this one replaces (see `record.published_record`); a number that
    changed since without a dated revision is a problem. Same input, same bytes.
    """
    edition = edition_of(site, results, glossary, readings, warnings, figures, shared_figures)
    files: dict[str, bytes] = {}
    texts: dict[str, dict[str, bytes]] = {path: {} for path in JOINED}
    facts: dict[str, dict[str, Any]] = {}
    for slug, write_up in site.write_ups.items():
        for make in OF_WRITE_UP:
            files |= make(edition, write_up)
        pieces = pieces_of(edition, write_up)
        for path, text in pieces.texts.items():
            texts[path][slug] = text
        for name, fact in pieces.facts.items():
            facts.setdefault(name, {})[slug] = fact
    for card in site.cards.values():
        for make_card in OF_CARD:
            files |= make_card(edition, card)
    edition = replace(edition, facts=lambda name: facts.get(name, {}))
    for _, make_page in OF_SITE:
        files |= make_page(edition)
    files |= joined(edition, texts)[0]
    files |= sitemap(edition, files)
    entries = {slug: entry_in(text)[slug] for slug, text in texts[page_paths.RECORD].items()}
    return files, compare(record, {"write_ups": entries}, site)


def methods_page(edition: Edition) -> Mapping[str, bytes]:
    """The rules by which everything on the site was computed and judged."""
    page = edition.templates.fill(
        "methods.html",
        page_paths.METHODS,
        glossary=list(edition.glossary.values()),
        formulae=[(formula, as_mathml(formula.latex)) for formula in FORMULAE],
    )
    return {page_paths.METHODS: page}


def assets(edition: Edition) -> Mapping[str, bytes]:
    """Style sheets, scripts, icons and the chart runtime, as they lie in the layouts folder."""
    folder = layouts_folder()
    found = [p for p in sorted((folder / "assets").glob("*")) if p.suffix in _ASSET_KINDS]
    files = {path.name if path.stem == "favicon" else f"assets/{path.name}": path.read_bytes() for path in found}
    for name in _RUNTIME_FILES:
        if (folder / "runtime" / name).is_file():
            files[f"runtime/{name}"] = (folder / "runtime" / name).read_bytes()
    return files


OF_WRITE_UP: tuple[Callable[[Edition, WriteUp], Mapping[str, bytes]], ...] = (write_up_pages,)
"""Made for each write-up; each gives the files it is responsible for."""

OF_CARD: tuple[Callable[[Edition, Card], Mapping[str, bytes]], ...] = (card_page,)
"""Made for each card."""

OF_SITE: tuple[tuple[str, Callable[[Edition], Mapping[str, bytes]]], ...] = (
    ("comparison", comparison_page),
    ("methods", methods_page),
    ("corrections", corrections_page),
    ("worksheet", worksheet_page),
    ("feed", feed),
    ("assets", assets),
)
"""Made once, in the order of the site's navigation; the joined pages come last, when every piece is there."""


def templates_of(site: Site) -> Templates:
    """The templates with what every page of the site shows."""
    return Templates(
        {
            "site": site.settings,
            "navigation": (
                (page_paths.FRONT, "Write-ups"),
                (page_paths.COMPARISON, "Compare"),
                (page_paths.LEDGER, "Claims"),
                (page_paths.METHODS, "Methods"),
                (page_paths.DATA, "Data"),
                (page_paths.CORRECTIONS, "Corrections"),
                (page_paths.WORKSHEET, "Find your setting"),
            ),
        }
    )
