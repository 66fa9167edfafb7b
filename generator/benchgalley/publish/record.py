"""The published record: every claim and number of a printing, for the next one to be held against.

The comparison (see `corrections`) goes by the printed form: a reader was told "38.2 W (36.9 W to 39.5 W)", not the
last bit of a float.
"""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from benchgalley.records.results import Number
from benchgalley.records.write_up import Claim

from . import page_paths
from .columns import settled
from .corrections import corrections_of, revision_entry
from .edition import Edition

FORM = 1
"""Version of the record's own layout."""


def published_record(target: Path) -> Mapping[str, Any] | None:
    """The record of the site published in a folder; None when there is none that can be read."""
    try:
        record = json.loads((target / page_paths.RECORD).read_bytes())
    except (OSError, ValueError):
        return None
    return record if isinstance(record, dict) and record.get("form") == FORM else None


def record_of(edition: Edition) -> dict[str, Any]:
    """The record of this printing. It depends on the content alone, corrections included."""
    entries: dict[str, Any] = {}
    corrections: list[dict[str, str]] = []
    for slug, write_up in sorted(edition.site.write_ups.items()):
        entries[slug] = {
            "published": write_up.published,
            "claims": [_claim_entry(claim) for claim in edition.claims(slug)],
            "numbers": {n.address.local(): _number_entry(n) for n in edition.numbers(slug) if n.value is not None},
            "revisions": [revision_entry(r) for r in write_up.revisions],
        }
        corrections += [
            {"write_up": slug, "date": c.date, "address": c.address, "was": c.was, "now": c.now}
            for c in corrections_of(edition, write_up)
        ]
    corrections.sort(key=lambda c: (c["date"], c["write_up"], c["address"]))
    return {"form": FORM, "write_ups": entries, "corrections": corrections}


def as_bytes(record: Mapping[str, Any]) -> bytes:
    """The record as a file: sorted, one value a line, so that two printings can be compared line by line."""
    return (json.dumps(record, indent=1, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n").encode()


def _claim_entry(claim: Claim) -> dict[str, Any]:
    return {
        "address": str(claim.address) if claim.address else "",
        "stated": claim.stated,
        "kind": claim.kind,
        "place": claim.place,
        "line": claim.where.line,
        "verdict": claim.verdict.value,
    }


def _number_entry(number: Number) -> dict[str, Any]:
    return {
        "value": repr(settled(number.value)),
        "unit": number.unit.ucum,
        "printed": number.printed.text,
        "interval": number.printed.interval,
    }
