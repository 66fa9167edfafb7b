"""The published record: every claim and number of a printing, for the next one to be held against.

The comparison (see `corrections`) goes by the printed form: a reader was told "38.2 W (36.9 W to 39.5 W)", not the
last bit of a float.
"""

import json
from collections.abc import Mapping, Sequence
from json.encoder import encode_basestring as quoted
from pathlib import Path
from typing import Any

from benchgalley.records.results import Number
from benchgalley.records.write_up import Claim, WriteUp

from . import page_paths
from .columns import ADDRESS, VALUE
from .corrections import revision_entry
from .dataset import tables
from .edition import Edition
from .line_json import as_lines

FORM = 1
"""Version of the record's own layout."""
_ENTRIES, _CLOSED, _END = b' "write_ups": {\n', b"\n  }", b"\n  }\n }\n}\n"
"""What stands before the first entry, what closes each, and what closes the last with all around it."""
_BETWEEN = _CLOSED + b",\n"


def published_record(target: Path) -> Mapping[str, Any] | None:
    """The record of the site published in a folder; None when there is none that can be read."""
    try:
        record = json.loads((target / page_paths.RECORD).read_bytes())
    except (OSError, ValueError, RecursionError):
        return None
    return record if isinstance(record, dict) and record.get("form") == FORM else None


def published_entries(target: Path, now: Mapping[str, bytes]) -> dict[str, Any]:
    """Slug → entry of the record of the site published in a folder, but for those that `now` gives word for word.

    Most often that is all of them, and the record of a large site need not be read as JSON.
    """
    try:
        lines = (target / page_paths.RECORD).read_bytes()
    except OSError:
        return {}
    start, rest = lines.find(_ENTRIES) + len(_ENTRIES), _END.removeprefix(_CLOSED)
    whole = b",\n".join([now[slug] for slug in sorted(now)])
    if len(lines) == start + len(whole) + len(rest) and lines.startswith(whole, start):
        return {}
    entries = lines[start:].removesuffix(_END).split(_BETWEEN)
    there = {entry.partition(b"\n")[0]: entry for entry in entries}
    same = {slug for slug, entry in now.items() if there.get(entry.partition(b"\n")[0]) == entry.removesuffix(_CLOSED)}
    if len(same) == len(there):
        return {}
    published = (published_record(target) or {}).get("write_ups", {})
    return {slug: entry for slug, entry in published.items() if slug not in same}


def entry_lines(edition: Edition, write_up: WriteUp) -> bytes:
    """What the record says of one write-up, as it stands in the file. It depends on the content alone.

    It is sorted, one value a line, so that printings can be compared line by line.
    """
    slug = write_up.slug
    claims = _as_text([_claim_entry(claim) for claim in edition.claims(slug)], depth=3)
    revisions = _as_text([revision_entry(revision) for revision in write_up.revisions], depth=3)
    # in the order of addresses: the quote that ends one comes before every letter that may stand in one
    _, results = tables(edition, write_up)
    rows = zip(edition.numbers(slug), results.rows, strict=True)
    numbers = sorted(_number_lines([(number, cells) for number, cells in rows if number.value is not None]))
    after = "\n   " if numbers else ""
    return (
        f'  "{slug}": {{\n'
        f'   "claims": {claims},\n'
        f'   "numbers": {{{",".join(numbers)}{after}}},\n'
        f'   "published": {quoted(write_up.published)},\n'
        f'   "revisions": {revisions}\n'
        "  }"
    ).encode()


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
    return f"{head},\n".encode() + _ENTRIES, _END.removeprefix(_CLOSED)


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


def _number_lines(rows: Sequence[tuple[Number, Sequence[str]]]) -> list[str]:
    """Numbers as the record has them, each with the cells that the table of results has of it."""
    intervals = _all_quoted([number.printed.interval for number, _ in rows])
    texts = _all_quoted([number.printed.text for number, _ in rows])
    units = _all_quoted([number.unit.ucum for number, _ in rows])
    return [
        f'\n    "{cells[ADDRESS]}": {{\n'
        f'     "interval": {interval},\n'
        f'     "printed": {text},\n'
        f'     "unit": {unit},\n'
        f'     "value": "{cells[VALUE]}"\n'
        "    }"
        for (_, cells), interval, text, unit in zip(rows, intervals, texts, units, strict=True)
    ]


def _all_quoted(texts: Sequence[str]) -> list[str]:
    """Texts as JSON; one after the other, they are asked at once whether a sign in them must be told otherwise."""
    whole = "".join(texts)
    if len(quoted(whole)) == len(whole) + 2:
        return [f'"{text}"' for text in texts]
    return [quoted(text) for text in texts]
