"""What a write-up adds to the pages about the whole site: ready text, and facts for pages that need more than joining.

A page about a thousand write-ups is joined from their pieces; none is made again because its neighbour changed.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from benchgalley.records.write_up import Claim, Verdict, WriteUp

from . import page_paths, prose
from .budgets import in_small_type
from .corrections import corrections_of, dated_revisions
from .dataset import dataset_files
from .edition import Edition, last_changed
from .headline import headline
from .record import entry_lines
from .typesetting import escaped, typeset_safe
from .workings import row_path
from .worksheet_page import seen_at_stock
from .write_up_page import galley_of

JOINED = (page_paths.FRONT, page_paths.LEDGER, page_paths.DATA, page_paths.RECORD)
"""The files that are joined from pieces."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Pieces:
    """What one write-up adds."""

    texts: Mapping[str, bytes]
    """File of `JOINED` → the write-up's part of it, ready to stand there."""
    facts: Mapping[str, Any]
    """Name → plain value, as JSON carries it."""


def pieces_of(edition: Edition, write_up: WriteUp) -> Pieces:
    """What a write-up adds to the front page, the ledger, the data page and the record, and its facts."""
    claims = edition.claims(write_up.slug)
    return Pieces(
        texts={
            page_paths.FRONT: _front_entry(edition, write_up),
            page_paths.LEDGER: _ledger_rows(edition, write_up, claims),
            page_paths.DATA: _data_entry(edition, write_up),
            page_paths.RECORD: entry_lines(edition, write_up),
        },
        facts={
            "card": write_up.card.id,
            "published": write_up.published,
            "changed": last_changed(write_up),
            "runs": len(write_up.trials),
            "claims": len(claims),
            "verdicts": {v.value: sum(c.verdict is v for c in claims) for v in Verdict},
            "at stock": seen_at_stock(edition, write_up),
            "feed": _feed_words(edition, write_up),
            "revisions": _revisions(edition, write_up),
        },
    )


def _front_entry(edition: Edition, write_up: WriteUp) -> bytes:
    galley = galley_of(edition, write_up)
    entry = {
        "write_up": write_up,
        "headline": headline(edition, write_up),
        "title": prose.line(write_up.title, galley, interactive=False),
        "summary": prose.line(write_up.summary, galley, interactive=False),
    }
    return edition.templates.fill("front-entry.html", page_paths.FRONT, entry=entry)


def _ledger_rows(edition: Edition, write_up: WriteUp, claims: tuple[Claim, ...]) -> bytes:
    page = page_paths.relative(page_paths.write_up(write_up.slug), page_paths.LEDGER)
    return "".join([_ledger_row(edition, write_up, claim, page) for claim in claims]).encode()


def _ledger_row(edition: Edition, write_up: WriteUp, claim: Claim, page: str) -> str:
    """A row of the ledger; `page`: link to the write-up."""
    number = edition.results.find(claim.address) if claim.address is not None else None
    place = f"{page}#{prose.claim_anchor(claim)}" if claim.token >= 0 else page
    address = escaped(claim.address.within(write_up.slug)) if claim.address else ""
    value = given = ""
    named = f'<span class="address">{address}</span>'
    if number is not None:
        row = page_paths.relative(row_path(number.address, edition.site.cards), page_paths.LEDGER)
        named = f'<a class="address" href="{escaped(row)}">{address}</a>'
        value = "" if number.value is None else f' data-value="{number.value:.12g}"'
        given = escaped(number.printed.text) + in_small_type(escaped(number.printed.interval))
    kept = in_small_type(f"kept: {escaped(claim.accepted)}") if claim.accepted else ""
    return (
        f'<tr><th scope="row"><a href="{escaped(place)}">{typeset_safe(claim.stated)}</a></th>'
        f'<td class="sentence">{typeset_safe(claim.sentence)}{in_small_type(typeset_safe(write_up.title.text))}</td>'
        f'<td>{named}</td><td class="right figure"{value}>{given}</td>'
        f'<td><span class="verdict {claim.verdict.value}">{claim.verdict.value}</span>{kept}</td></tr>\n'
    )


def _data_entry(edition: Edition, write_up: WriteUp) -> bytes:
    files = dataset_files(edition, write_up)
    entry = {
        "write_up": write_up,
        "files": [(path, len(content)) for path, content in sorted(files.items())],
        "changed": last_changed(write_up),
        "size": sum(len(content) for content in files.values()),
    }
    return edition.templates.fill("data-entry.html", page_paths.DATA, entry=entry)


def _feed_words(edition: Edition, write_up: WriteUp) -> dict[str, str]:
    hazards = edition.cautions(write_up.slug).hazards
    said = [f"{h.word.value}: {h.source} {h.consequence} {h.avoidance}" for h in hazards]
    summary = " ".join([write_up.summary.text, *said, edition.site.settings.notice]).strip()
    return {"title": write_up.title.text, "summary": summary}


def _revisions(edition: Edition, write_up: WriteUp) -> list[dict[str, Any]]:
    """Dated revisions as the page of corrections and the record give them."""
    galley = galley_of(edition, write_up)
    moved = corrections_of(edition, write_up)
    return [
        {
            "title": write_up.title.text,
            "date": revision.date,
            "anchor": anchor,
            "what": str(prose.line(revision.what, galley, interactive=False)),
            "addresses": list(revision.addresses),
            "moved": [{"address": c.address, "was": c.was, "now": c.now} for c in moved if c.anchor == anchor],
        }
        for revision, anchor in dated_revisions(write_up)
    ]
