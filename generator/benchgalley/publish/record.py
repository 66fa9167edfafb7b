"""The published record: every claim and number of a printing, and what changed since the one before.

The comparison goes by the printed form: a reader was told "38.2 W (36.9 W to 39.5 W)", not the last bit of a float.
"""

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from benchgalley.records.findings import Location, Problem
from benchgalley.records.results import Number
from benchgalley.records.site import Site
from benchgalley.records.write_up import Revision, WriteUp

from . import page_paths
from .columns import settled
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
    """The record of this printing, with the corrections of earlier ones carried on."""
    if "record" not in edition.kept:
        edition.kept["record"] = _made(edition)
    record: dict[str, Any] = edition.kept["record"]
    return record


def _made(edition: Edition) -> dict[str, Any]:
    entries: dict[str, Any] = {}
    for slug, write_up in sorted(edition.site.write_ups.items()):
        entries[slug] = {
            "published": write_up.published,
            "claims": [_claim_entry(claim) for claim in edition.claims(slug)],
            "numbers": {n.address.local(): _number_entry(n) for n in edition.numbers(slug) if n.value is not None},
            "revisions": [_revision_entry(r) for r in write_up.revisions],
        }
    record = {"form": FORM, "write_ups": entries, "corrections": []}
    record["corrections"] = _corrections(edition.earlier, record)
    return record


def as_bytes(record: Mapping[str, Any]) -> bytes:
    """The record as a file: sorted, one value a line, so that two printings can be compared line by line."""
    return (json.dumps(record, indent=1, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n").encode()


def compare(old: Mapping[str, Any] | None, new: Mapping[str, Any], site: Site) -> tuple[Problem, ...]:
    """Published numbers that changed without a new dated revision naming their address.

    A revision names an address itself, or its beginning: `tuned/board-power` covers `tuned/board-power/saved`,
    `tuned/` everything at that setpoint. A number that is gone counts as changed. One problem for each
    subject and quantity, however many relations of it moved.
    """
    problems: list[Problem] = []
    for slug, before in (old or {}).get("write_ups", {}).items():
        if (write_up := site.write_ups.get(slug)) is None:
            continue
        fresh = _fresh_revisions(write_up, before)
        changed: dict[str, list[tuple[str, str, str]]] = defaultdict(list)
        for address, was, now in _changes(before, new["write_ups"].get(slug, {})):
            if not any(covers(wanted, address, slug) for r in fresh for wanted in r.addresses):
                changed["/".join(address.split("/")[:2])].append((address, was, now))
        problems += [_unexplained(write_up, head, group) for head, group in changed.items()]
    return tuple(problems)


def covers(wanted: str, address: str, slug: str) -> bool:
    """Whether the address named by a revision covers another address of the same write-up."""
    wanted = wanted.removeprefix(f"{slug}:")
    return address == wanted or address.startswith(wanted.rstrip("/") + "/")


def _fresh_revisions(write_up: WriteUp, before: Mapping[str, Any]) -> list[Revision]:
    known = before.get("revisions", [])
    return [r for r in write_up.revisions if _revision_entry(r) not in known]


def _changes(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterable[tuple[str, str, str]]:
    """(address, printed before, printed now) of each published number whose printed form differs."""
    numbers = after.get("numbers", {})
    for address, was in before.get("numbers", {}).items():
        old, new = _shown(was), _shown(numbers[address]) if address in numbers else "no longer there"
        if old != new:
            yield address, old, new


def _shown(entry: Mapping[str, Any]) -> str:
    return str(entry["printed"]) + (f" ({entry['interval']})" if entry.get("interval") else "")


def _unexplained(write_up: WriteUp, head: str, group: list[tuple[str, str, str]]) -> Problem:
    address, was, now = group[0]
    others = f", and {len(group) - 1} more of {head}" if len(group) > 1 else ""
    return Problem(
        rule="changed-without-revision",
        where=write_up.revisions[-1].where if write_up.revisions else Location(file=write_up.file),
        message=f"{address}: published as {was}, the trials now give {now}{others}, and no new revision says so",
        mend=f"Add to `revisions:` a dated entry that says what changed, with `addresses: [{head}]`.",
        address=address,
        stated=was,
        computed=now,
    )


def _corrections(old: Mapping[str, Any] | None, new: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Corrections of earlier printings and of this one: old and new printed form beside the revision."""
    if old is None:
        return []
    corrections = list(old.get("corrections", []))
    for slug, after in new["write_ups"].items():
        before = old.get("write_ups", {}).get(slug)
        if before is None:
            continue
        fresh = [r for r in after["revisions"] if r not in before.get("revisions", [])]
        changes = list(_changes(before, after))
        for revision in fresh:
            moved = [
                {"address": a, "was": was, "now": now}
                for a, was, now in changes
                if any(covers(w, a, slug) for w in revision["addresses"])
            ]
            corrections.append({"write_up": slug, "date": revision["date"], "numbers": moved})
    return sorted(corrections, key=lambda c: (c["date"], c["write_up"]), reverse=True)


def _claim_entry(claim: Any) -> dict[str, Any]:
    return {
        "address": str(claim.address) if claim.address else "",
        "stated": claim.stated,
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


def _revision_entry(revision: Revision) -> dict[str, Any]:
    return {"date": revision.date, "what": revision.what.text, "addresses": list(revision.addresses)}
