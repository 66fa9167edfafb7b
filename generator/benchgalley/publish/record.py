"""The published record: every claim and number of a printing, for the next one to be held against.

The comparison (see `corrections`) goes by the printed form: a reader was told "38.2 W (36.9 W to 39.5 W)", not the
last bit of a float.
"""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from benchgalley.records.results import Number
from benchgalley.records.write_up import Claim, WriteUp

from . import page_paths
from .columns import settled
from .corrections import revision_entry
from .edition import Edition
from .line_json import as_lines

FORM = 1
"""Version of the record's own layout."""


def published_record(target: Path) -> Mapping[str, Any] | None:
    """The record of the site published in a folder; None when there is none that can be read."""
    try:
        record = json.loads((target / page_paths.RECORD).read_bytes())
    except (OSError, ValueError):
        return None
    return record if isinstance(record, dict) and record.get("form") == FORM else None


def entry_of(edition: Edition, write_up: WriteUp) -> dict[str, Any]:
    """What the record says of one write-up. It depends on the content alone."""
    slug = write_up.slug
    return {
        "published": write_up.published,
        "claims": [_claim_entry(claim) for claim in edition.claims(slug)],
        "numbers": {n.address.local(): _number_entry(n, n.value) for n in edition.numbers(slug) if n.value is not None},
        "revisions": [revision_entry(r) for r in write_up.revisions],
    }


def entry_lines(slug: str, entry: Mapping[str, Any]) -> bytes:
    """An entry as it stands in the file: sorted, one value a line, so that printings can be compared line by line."""
    text = _as_text({slug: entry}, depth=1)
    return text[text.index("\n") + 1 : text.rindex("\n")].encode()


def entry_in(lines: bytes) -> dict[str, Any]:
    """Slug → the entry that `entry_lines` wrote."""
    found: dict[str, Any] = json.loads(b"{" + lines + b"}")
    return found


def record_frame(revisions: Mapping[str, Sequence[Mapping[str, Any]]]) -> tuple[bytes, bytes]:
    """What stands before and after the entries. `revisions`: slug → its dated revisions, with what they moved."""
    corrections = [
        {"write_up": slug, "date": revision["date"], "address": c["address"], "was": c["was"], "now": c["now"]}
        for slug, dated in sorted(revisions.items())
        for revision in dated
        for c in revision["moved"]
    ]
    corrections.sort(key=lambda c: (c["date"], c["write_up"], c["address"]))
    head = _as_text({"corrections": corrections, "form": FORM}).removesuffix("\n}")
    if not revisions:
        return f'{head},\n "write_ups": {{}}\n}}\n'.encode(), b""
    return f'{head},\n "write_ups": {{\n'.encode(), b"\n }\n}\n"


def _as_text(value: Any, depth: int = 0) -> str:
    return as_lines(value, 1, sort_keys=True, depth=depth)


def _claim_entry(claim: Claim) -> dict[str, Any]:
    return {
        "address": str(claim.address) if claim.address else "",
        "stated": claim.stated,
        "kind": claim.kind,
        "place": claim.place,
        "line": claim.where.line,
        "verdict": claim.verdict.value,
    }


def _number_entry(number: Number, value: float) -> dict[str, Any]:
    return {
        "value": settled(value),
        "unit": number.unit.ucum,
        "printed": number.printed.text,
        "interval": number.printed.interval,
    }
