"""Pages about the whole site: front page, ledger of claims, data, corrections."""

from collections.abc import Mapping
from typing import Any

from benchgalley.records.write_up import Claim, Verdict, WriteUp

from . import page_paths, prose
from .corrections import corrections_of, dated_revisions
from .dataset import dataset_files
from .edition import Edition, last_changed
from .headline import headline
from .workings import row_path
from .write_up_page import galley_of


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
    """Every dated revision: what was stated, what is stated now, when and why."""
    entries: list[dict[str, Any]] = []
    for write_up in edition.site.write_ups.values():
        galley = galley_of(edition, write_up)
        moved = corrections_of(edition, write_up)
        entries += [
            {
                "write_up": write_up,
                "revision": revision,
                "anchor": anchor,
                "what": prose.line(revision.what, galley, interactive=False),
                "moved": [c for c in moved if c.anchor == anchor],
            }
            for revision, anchor in dated_revisions(write_up)
        ]
    entries.sort(key=lambda e: (e["revision"].date, e["write_up"].slug, e["anchor"]), reverse=True)
    return {page_paths.CORRECTIONS: edition.templates.fill("corrections.html", page_paths.CORRECTIONS, entries=entries)}


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
        "row": row_path(number.address, edition.site.cards) if number is not None else "",
        "address": claim.address.within(write_up.slug) if claim.address else "",
    }
