"""From records to the files of the site: every page in one ordered table."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from benchgalley.records.figure import Figure
from benchgalley.records.findings import Problem
from benchgalley.records.quantity import MEASURED, Quantity
from benchgalley.records.results import Results
from benchgalley.records.site import Reading, Site, Warnings

from . import page_paths
from .card_page import card_pages
from .comparing import comparison_page
from .corrections import compare
from .discovery import feed, sitemap
from .edition import Edition
from .formulae import as_mathml
from .record import as_bytes, record_of
from .site_pages import corrections_page, data_page, front_page, ledger_page
from .templates import Templates, layouts_folder
from .worksheet_page import worksheet_page
from .write_up_page import write_up_pages

_ASSET_KINDS = frozenset({".css", ".js", ".svg", ".ico", ".png"})
_RUNTIME_FILES = ("chart-runtime.js", "NOTICES.txt")


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
    edition = Edition(
        site=site,
        results=results,
        glossary={q.key: q for q in (*MEASURED, *glossary)},
        readings=readings,
        warnings=warnings,
        figures=figures,
        shared_figures=shared_figures,
        templates=Templates(_shared(site)),
    )
    files: dict[str, bytes] = {}
    for make in PAGES:
        files |= make(edition)
    files |= sitemap(edition, files)
    fresh = record_of(edition)
    files[page_paths.RECORD] = as_bytes(fresh)
    return files, compare(record, fresh, site)


def methods_page(edition: Edition) -> Mapping[str, bytes]:
    """The rules by which everything on the site was computed and judged."""
    page = edition.templates.fill(
        "methods.html", page_paths.METHODS, glossary=list(edition.glossary.values()), formulae=as_mathml()
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


PAGES: tuple[Callable[[Edition], Mapping[str, bytes]], ...] = (
    front_page,
    write_up_pages,
    card_pages,
    comparison_page,
    ledger_page,
    methods_page,
    data_page,
    corrections_page,
    worksheet_page,
    feed,
    assets,
)
"""In the order of the site's navigation; each gives the files it is responsible for."""


def _shared(site: Site) -> dict[str, Any]:
    return {
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
