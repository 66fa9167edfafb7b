"""What changed since it was published: what a revision must say, and what the pages say of it.

Corrections come from the content alone: a revision in the front matter names the addresses it changed and, under
`was`, what stood there before. An earlier record only checks it, so a site built afresh shows the same corrections
as one built over itself.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from benchgalley.records.address import Address
from benchgalley.records.findings import Location, Problem
from benchgalley.records.site import Site
from benchgalley.records.write_up import Revision, WriteUp

from . import page_paths
from .edition import Edition

RULE = "changed-without-revision"
"""Name of the rule all these problems break: no published number changes in silence."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Correction:
    """One number that a revision changed."""

    write_up: str
    date: str
    address: str
    """As written inside the write-up."""
    was: str
    """As stated before; empty when the revision does not say."""
    now: str
    """As stated after it: in the next revision's words, or in today's text; else as computed."""
    anchor: str
    """Id of the revision on the write-up's page."""


def corrections_of(edition: Edition, write_up: WriteUp) -> tuple[Correction, ...]:
    """Every number whose earlier wording a revision gives, in the order of the revisions."""
    found = []
    dated = dated_revisions(write_up)
    for place, (revision, anchor) in enumerate(dated):
        for address, was in revision.was.items():
            later = (after.was[address] for after, _ in dated[place + 1 :] if address in after.was)
            now = next(later, "") or _today(edition, write_up, address)
            found.append(
                Correction(write_up=write_up.slug, date=revision.date, address=address, was=was, now=now, anchor=anchor)
            )
    return tuple(found)


def revision_of(write_up: WriteUp, address: Address) -> Correction | None:
    """The latest revision that covers an address, for the note at its sentence."""
    local = address.within(write_up.slug)
    for revision, anchor in reversed(dated_revisions(write_up)):
        if any(covers(wanted, local, write_up.slug) for wanted in (*revision.addresses, *revision.was)):
            was = revision.was.get(local, "")
            return Correction(write_up=write_up.slug, date=revision.date, address=local, was=was, now="", anchor=anchor)
    return None


def dated_revisions(write_up: WriteUp) -> list[tuple[Revision, str]]:
    """Revisions by date, each with its permanent id on the page."""
    taken: dict[str, int] = defaultdict(int)
    found = []
    for revision in sorted(write_up.revisions, key=lambda r: r.date):
        taken[revision.date] += 1
        again = f"-{taken[revision.date]}" if taken[revision.date] > 1 else ""
        found.append((revision, page_paths.anchor(f"revision-{revision.date}{again}")))
    return found


def covers(wanted: str, address: str, slug: str) -> bool:
    """Whether the address named by a revision covers another address of the same write-up."""
    wanted = wanted.removeprefix(f"{slug}:")
    return address == wanted or address.startswith(wanted.rstrip("/") + "/")


def compare(old: Mapping[str, Any] | None, new: Mapping[str, Any], site: Site) -> tuple[Problem, ...]:
    """What the content owes to an earlier printing.

    - A number whose printed or stated form changed must be named by a new dated revision. A revision names an
      address itself or its beginning: `tuned/board-power` covers `tuned/board-power/saved`, `tuned/` everything at
      that setpoint. A number that is gone counts as changed. One problem for each subject and quantity.
    - Where the text now states another figure for an address, the revision says under `was` what it stated before.
    - `was` must be what was published. A published revision must not disappear.
    """
    problems: list[Problem] = []
    for slug, before in (old or {}).get("write_ups", {}).items():
        if (write_up := site.write_ups.get(slug)) is None:
            continue
        after = new["write_ups"].get(slug, {})
        fresh = _fresh(write_up, before)
        restated = _restated(before, after, slug)
        changed: dict[str, list[tuple[str, str, str]]] = defaultdict(list)
        for address, was, now in (*restated, *_reprinted(before, after)):
            if not _named(fresh, address, slug):
                changed["/".join(address.split("/")[:2])].append((address, was, now))
        problems += [_unexplained(write_up, head, group) for head, group in changed.items()]
        problems += _without_was(write_up, fresh, [r for r in restated if _named(fresh, r[0], slug)])
        problems += _misquoted(write_up, fresh, before)
        problems += _withdrawn(write_up, before)
    return tuple(problems)


def stated_forms(entry: Mapping[str, Any], slug: str) -> dict[str, list[str]]:
    """Address → the figures a printing's text stated for it, each once. Words are no figures."""
    forms: dict[str, list[str]] = defaultdict(list)
    for claim in entry.get("claims", []):
        address = str(claim.get("address", "")).removeprefix(f"{slug}:")
        form = _plain(str(claim.get("stated", "")))
        if address and claim.get("kind", "number") == "number" and form not in forms[address]:
            forms[address].append(form)
    return forms


def revision_key(entry: Mapping[str, Any]) -> tuple[Any, ...]:
    """What makes a revision the same one in a later printing; its wording may be improved."""
    return (entry.get("date"), tuple(entry.get("addresses", ())), tuple(sorted(entry.get("was", {}).items())))


def revision_entry(revision: Revision) -> dict[str, Any]:
    """A revision as the record keeps it."""
    entry = {"date": revision.date, "what": revision.what.text, "addresses": list(revision.addresses)}
    return entry | ({"was": dict(revision.was)} if revision.was else {})


def _today(edition: Edition, write_up: WriteUp, address: str) -> str:
    wanted = Address.parse(address, write_up.slug)
    stated = dict.fromkeys(
        c.stated for c in edition.claims(write_up.slug) if c.address == wanted and c.kind == "number"
    )
    if stated:
        return ", ".join(stated)
    number = edition.number(write_up.slug, address)
    return number.printed.text if number is not None else "no longer given"


def _fresh(write_up: WriteUp, before: Mapping[str, Any]) -> list[Revision]:
    """Revisions the earlier printing did not have; one dated before its last is no new one."""
    published = before.get("revisions", [])
    known = {revision_key(entry) for entry in published}
    last = max((str(entry.get("date", "")) for entry in published), default="")
    return [r for r in write_up.revisions if revision_key(revision_entry(r)) not in known and r.date >= last]


def _named(revisions: Iterable[Revision], address: str, slug: str) -> bool:
    return any(covers(wanted, address, slug) for r in revisions for wanted in (*r.addresses, *r.was))


def _restated(before: Mapping[str, Any], after: Mapping[str, Any], slug: str) -> list[tuple[str, str, str]]:
    """(address, stated before, stated now) where a figure of the text gave way to another one."""
    now = stated_forms(after, slug)
    found = []
    for address, forms in stated_forms(before, slug).items():
        gone = [form for form in forms if form not in now.get(address, ())]
        come = [form for form in now.get(address, ()) if form not in forms]
        if gone and come:
            found.append((address, ", ".join(gone), ", ".join(come)))
    return found


def _reprinted(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterable[tuple[str, str, str]]:
    """(address, printed before, printed now) of each published number whose printed form differs."""
    numbers = after.get("numbers", {})
    for address, was in before.get("numbers", {}).items():
        old, new = _shown(was), _shown(numbers[address]) if address in numbers else "no longer there"
        if old != new:
            yield address, old, new


def _shown(entry: Mapping[str, Any]) -> str:
    return str(entry["printed"]) + (f" ({entry['interval']})" if entry.get("interval") else "")


def _plain(text: str) -> str:
    """A figure as it reads, whatever the spaces and the minus."""
    return " ".join(text.replace("\u2212", "-").split())


def _unexplained(write_up: WriteUp, head: str, group: Sequence[tuple[str, str, str]]) -> Problem:
    address, was, now = group[0]
    more = len({a for a, *_ in group}) - 1
    return Problem(
        rule=RULE,
        where=write_up.revisions[-1].where if write_up.revisions else Location(file=write_up.file),
        message=f"{address}: published as {was}, now {now}{f', and {more} more of {head}' if more else ''}, "
        "and no new revision says so",
        mend=f"Add to `revisions:` a dated entry that says what changed, with `addresses: [{head}]`.",
        address=address,
        stated=was,
        computed=now,
    )


def _without_was(
    write_up: WriteUp, fresh: Sequence[Revision], restated: Sequence[tuple[str, str, str]]
) -> list[Problem]:
    quoted = {address.removeprefix(f"{write_up.slug}:") for r in fresh for address in r.was}
    missing = [change for change in restated if change[0] not in quoted]
    return [
        Problem(
            rule=RULE,
            where=fresh[-1].where,
            message=f"{address}: the text stated {was} and now states {now}, and the new revision does not say so",
            mend=f'Write `was: {{{address}: "{was}"}}` in that revision.',
            address=address,
            stated=was,
            computed=now,
        )
        for address, was, now in missing
    ]


def _misquoted(write_up: WriteUp, fresh: Sequence[Revision], before: Mapping[str, Any]) -> list[Problem]:
    slug = write_up.slug
    stated, numbers = stated_forms(before, slug), before.get("numbers", {})
    problems = []
    for revision in fresh:
        for address, was in revision.was.items():
            local = address.removeprefix(f"{slug}:")
            published = list(stated.get(local, ()))
            if len(published) > 1:
                published.append(", ".join(published))
            if local in numbers:
                published += [_plain(str(numbers[local]["printed"])), _plain(_shown(numbers[local]))]
            if _plain(was) not in published:
                problems.append(
                    Problem(
                        rule=RULE,
                        where=revision.where,
                        message=f"{address}: the revision says it was {was}, which was not published",
                        mend=f"Published was {published[0]}." if published else "Nothing was published there.",
                        address=address,
                        stated=was,
                        computed=published[0] if published else "",
                    )
                )
    return problems


def _withdrawn(write_up: WriteUp, before: Mapping[str, Any]) -> list[Problem]:
    kept = {revision_key(revision_entry(r)) for r in write_up.revisions}
    return [
        Problem(
            rule=RULE,
            where=Location(file=write_up.file),
            message=f"the revision of {entry.get('date')} was published and is no longer there as it was",
            mend="Put it back with its date, addresses and `was`; a mistake in it is corrected by a further revision.",
        )
        for entry in before.get("revisions", [])
        if revision_key(entry) not in kept
    ]
