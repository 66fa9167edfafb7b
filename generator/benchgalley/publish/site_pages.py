"""Pages about the whole site: joined from the pieces of the write-ups, or made from the facts they give."""

from collections.abc import Mapping
from typing import Any

from markupsafe import Markup

from benchgalley.records.write_up import Verdict

from . import page_paths
from .edition import Edition
from .record import record_frame

_HOLE = "\0"
"""Where the pieces stand in a page that is made without them; no text of a site holds this character."""


Cut = tuple[str, int, int]
"""(slug, where its piece starts, how long it is)."""


def frames(edition: Edition) -> dict[str, tuple[bytes, bytes]]:
    """What stands before and after the pieces in every joined file."""
    hole = Markup(_HOLE)
    fill = edition.templates.fill
    runs, claims, verdicts = (edition.facts(name) for name in ("runs", "claims", "verdicts"))
    on_bench = set(edition.facts("card").values())
    counts = {v: sum(verdict[v.value] for verdict in verdicts.values()) for v in Verdict}
    pages = {
        page_paths.FRONT: fill(
            "front.html",
            page_paths.FRONT,
            entries=hole,
            runs=sum(runs.values()),
            claims=sum(claims.values()),
            cards=[c for c in edition.site.cards.values() if c.id in on_bench],
        ),
        page_paths.LEDGER: fill(
            "ledger.html", page_paths.LEDGER, rows=hole, statements=sum(claims.values()), verdicts=counts
        ),
        page_paths.DATA: fill("data.html", page_paths.DATA, entries=hole),
    }
    found = {}
    for path, page in pages.items():
        before, _, after = page.partition(f"{_HOLE}\n".encode())
        found[path] = (before, after)
    found[page_paths.RECORD] = record_frame(edition.facts("revisions"))
    return found


def order_of_pieces(edition: Edition, path: str) -> list[str]:
    """Slugs in the order in which their pieces stand in a joined file."""
    published = edition.facts("published")
    if path in (page_paths.FRONT, page_paths.DATA):
        return sorted(published, key=lambda slug: (published[slug], slug), reverse=True)
    return sorted(published)


def joined(edition: Edition, texts: Mapping[str, Mapping[str, bytes]]) -> tuple[dict[str, bytes], dict[str, list[Cut]]]:
    """The joined files of `texts` (file → slug → piece), and where each piece stands in them."""
    files: dict[str, bytes] = {}
    cuts: dict[str, list[Cut]] = {}
    found = frames(edition)
    for path in texts:
        before, after = found[path]
        comma = b",\n" if path == page_paths.RECORD else b""
        parts, at = [before], len(before)
        cuts[path] = []
        for slug in order_of_pieces(edition, path):
            if len(parts) > 1:
                parts.append(comma)
                at += len(comma)
            piece = texts[path][slug]
            parts.append(piece)
            cuts[path].append((slug, at, len(piece)))
            at += len(piece)
        files[path] = b"".join([*parts, after])
    return files, cuts


def corrections_page(edition: Edition) -> Mapping[str, bytes]:
    """Every dated revision: what was stated, what is stated now, when and why."""
    entries: list[dict[str, Any]] = [
        {
            "write_up": {"slug": slug, "title": {"text": entry["title"]}},
            "revision": {"date": entry["date"], "addresses": entry["addresses"]},
            "anchor": entry["anchor"],
            "what": Markup(entry["what"]),  # set by `prose.line`, which escapes
            "moved": entry["moved"],
        }
        for slug, revisions in edition.facts("revisions").items()
        for entry in revisions
    ]
    entries.sort(key=lambda e: (e["revision"]["date"], e["write_up"]["slug"], e["anchor"]), reverse=True)
    return {page_paths.CORRECTIONS: edition.templates.fill("corrections.html", page_paths.CORRECTIONS, entries=entries)}
