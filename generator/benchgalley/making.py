"""What is made for one write-up, one card or one page about the whole site, and what was read to make it.

Each is one piece of work that any process can do: it reads what it needs, notes that it did (see `records.noted`),
and gives files with what later work may ask of it. The same work gives the same bytes wherever it is done.
"""

from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import orjson

from .caveats import examine
from .charts import draw, draw_card, draw_comparison
from .claims import judge, judge_settings
from .derive import evaluate, glossary
from .intake import Reductions, SiteReader
from .keeping import LostError
from .kept_charts import KeptCharts
from .parts import PARTS, beside, parts_of
from .publish import (
    OF_CARD,
    OF_SITE,
    OF_WRITE_UP,
    Cut,
    Edition,
    KeptPictures,
    compare,
    edition_of,
    headline_setpoint,
    joined,
    kept_bytes,
    load_templates,
    pieces_of,
    sitemap,
    templates_of,
)
from .records.as_json import as_text, restored
from .records.findings import Problem, Severity
from .records.noted import KEPT, NotedFiles, NotedShelf, NotedWriteUps, OfEach, note, noting
from .records.quantity import Quantity
from .records.results import Results
from .records.site import Reading, Site
from .records.write_up import WriteUp
from .source_tree import Tree, digest

SITE_TEXTS = "site/texts"
"""The work of judging the site's own title and summary."""
SITE_FRAMES = "site/frames"
"""The work of joining what stands in files that hold a piece of every write-up."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Made:
    """What one piece of work gave."""

    unit: str
    reads: frozenset[str]
    """Keys of what was read."""
    problems: tuple[Problem, ...] = ()
    unread: bool = False
    """The write-up, or one it refers to, could not be read: nothing else here counts."""
    files: Mapping[str, bytes] = field(default_factory=dict, repr=False)
    """Path in the site → bytes, until they are put where they belong."""
    hashes: Mapping[str, str] = field(default_factory=dict, repr=False)
    """Path in the site → hash."""
    parts: Mapping[str, str] = field(default_factory=dict, repr=False)
    """Name → plain form, as text, of what is kept of a write-up."""
    texts: Mapping[str, bytes] = field(default_factory=dict, repr=False)
    """Joined file → piece."""
    facts: Mapping[str, Any] = field(default_factory=dict, repr=False)


class _UnreadError(Exception):
    """Something that is needed cannot be read; its own problems say why."""


class Workshop:
    """The site as one process sees it, with what it has read so far.

    `cards`: slug → id of its card. `trees`: slug → its folder when the build began. `parts`: slug → what earlier work
    kept of a write-up, or the name of that; for write-ups that changed since there is none, and they are read.
    """

    def __init__(
        self,
        root: Path,
        cards: Mapping[str, str],
        trees: Mapping[str, Tree],
        parts: Mapping[str, str | Mapping[str, str]],
        reductions: Reductions,
        facts: Callable[[str], Mapping[str, Any]] | None = None,
        reader: SiteReader | None = None,
    ) -> None:
        self._reader = reader or SiteReader(root, reductions)
        assert self._reader.settings is not None
        self._root, self._parts, self._facts = root, dict(parts), facts
        shelf = self._reader.shelf
        self._cards = {slug: shelf.cards[card] for slug, card in cards.items()}
        self._write_ups = NotedWriteUps(self._cards, self._attribute)
        self.site = Site(
            settings=self._reader.settings,
            benches=NotedShelf("benches", shelf.benches),
            loads=NotedShelf("loads", shelf.loads),
            cards=NotedShelf("cards", shelf.cards),
            write_ups=self._write_ups,
            files=NotedFiles(self._reader.files),
            root=str(root.absolute()),
        )
        self._pictures = KeptPictures(root)
        self._charts = KeptCharts(root, trees, self._reader.files, self._pictures)
        self._templates = templates_of(self.site)
        self._records: dict[str, tuple[WriteUp | None, tuple[Problem, ...], frozenset[str]]] = {}
        self._judged: dict[str, tuple[Reading, Results, frozenset[str]]] = {}
        self._found: dict[tuple[str, str], Any] = {}
        self._ledgers: list[Results] = []
        self._glossaries: dict[str, tuple[Quantity, ...]] = {}

    def make(self, unit: str) -> Made:
        """Do one piece of work: `write-up/<slug>`, `card/<id>`, `site/<page>`."""
        kind, _, name = unit.partition("/")
        with noting() as reads:
            note("file/content/site.yaml")
            try:
                made = {"write-up": self._write_up, "card": self._card, "site": self._page}[kind](unit, name)
            except _UnreadError:
                made = Made(unit=unit, reads=frozenset(), unread=True)
            finally:
                self._write_ups.take(None)
        return replace(made, reads=frozenset(reads), hashes={p: digest(c) for p, c in made.files.items()})

    def get_ready(self) -> None:
        """Load what making write-ups will ask for, so that copies of this process need not.

        One is read, its claims are judged and its numbers found, with the libraries that takes; nothing is drawn,
        because what draws leaves threads behind.
        """
        load_templates()
        for slug in list(self._cards)[:1]:
            with noting(), suppress(_UnreadError):
                _, results = self._judge(slug)
                for address in results.addresses(slug):
                    results.find(address)
        self._write_ups.take(None)
        self.let_go()

    def _write_up(self, unit: str, slug: str) -> Made:
        reading, results = self._judge(slug)
        record, told = self._read(slug)
        self._write_ups.take(record)
        problems = (*told, *reading.problems)
        warnings = examine(record, self.site, results, reading.claims)
        about = headline_setpoint(record, reading.claims)
        kept = parts_of(record, results, reading.claims, warnings, about.name if about else None)
        self._found |= {(slug, name): value for name, value in kept.items()}
        made = Made(
            unit=unit,
            reads=frozenset(),
            problems=problems,
            parts={name: as_text(value) for name, value in kept.items()},
            facts={"claims": len(reading.claims)},
        )
        if any(p.severity is Severity.ERROR for p in problems):
            return made
        edition = edition_of(
            self.site,
            results,
            self._glossary(record),
            OfEach(self.site.write_ups, lambda other: reading if other == slug else self._reading(other)),
            {slug: warnings},
            {slug: self._charts.of(record, lambda: draw(record, self.site, results, self._pictures))},
            {},
            self._templates,
        )
        files: dict[str, bytes] = {}
        for make in OF_WRITE_UP:
            files |= make(edition, record)
        pieces = pieces_of(edition, record)
        return replace(made, files=files, texts=pieces.texts, facts=pieces.facts)

    def _card(self, unit: str, card_id: str) -> Made:
        card, site = self.site.cards[card_id], self.site
        results = self._evaluated(self._judged_of(card_id))
        mine = {w.slug: w for w in site.of_card(card_id)}
        figures = draw_card(card, replace(site, write_ups=mine), results, self._pictures)
        edition = edition_of(
            site,
            results,
            (),
            OfEach(site.write_ups, self._kept_reading),
            OfEach(site.write_ups, lambda slug: self._write_ups.attribute(slug, "warnings")),
            {},
            {card_id: figures},
            self._templates,
        )
        edition = replace(edition, about=lambda slug: self._write_ups.attribute(slug, "about"))
        files: dict[str, bytes] = {}
        for make in OF_CARD:
            files |= make(edition, card)
        return Made(unit=unit, reads=frozenset(), files=files)

    def _page(self, unit: str, name: str) -> Made:
        site = self.site
        results = beside(self._write_ups) if name == "comparison" else self._evaluated()
        if unit == SITE_TEXTS:
            return Made(unit=unit, reads=frozenset(), problems=judge_settings(site, results))
        edition = edition_of(
            site,
            results,
            self._whole_glossary() if name == "methods" else (),
            OfEach(site.write_ups, self._kept_reading),
            {},
            {},
            {"comparison": draw_comparison(site, results, self._pictures)} if name == "comparison" else {},
            self._templates,
        )
        edition = replace(
            edition,
            about=lambda slug: self._write_ups.attribute(slug, "about"),
            facts=self._noted_facts,
        )
        return Made(unit=unit, reads=frozenset(), files=dict(OF_SITE)[name](edition))

    def let_go(self) -> None:
        """Forget what was read and computed, once nothing more is to be made from it."""
        for ledger in self._ledgers:
            ledger.forget()
        self._ledgers.clear()
        for kept in (self._records, self._judged, self._found):
            kept.clear()

    def take_up(self, slug: str, parts: Mapping[str, str]) -> None:
        """Know a write-up by what this build has kept of it."""
        self._parts[slug] = parts

    def joined(self, texts: Mapping[str, Mapping[str, bytes]]) -> tuple[Made, dict[str, list[Cut]]]:
        """The joined files of `texts` (file → slug → piece), and where each piece stands in them."""
        with noting() as reads:
            note("file/content/site.yaml")
            files, cuts = joined(self._frames(), texts)
        return Made(unit=SITE_FRAMES, reads=frozenset(reads), files=files), cuts

    def listed(self, paths: Iterable[str]) -> Mapping[str, bytes]:
        """The files that list every page; `paths`: all other files."""
        return sitemap(self._frames(), paths)

    def _frames(self) -> Edition:
        edition = edition_of(self.site, self._evaluated(), (), {}, {}, {}, {}, self._templates)
        return replace(edition, facts=self._noted_facts)

    def owed(self, old: Mapping[str, Any], new: Mapping[str, Any]) -> tuple[Problem, ...]:
        """What the content owes to an earlier printing: slug → entry of its record, before and now."""
        return compare({"write_ups": old}, {"write_ups": new}, self.site)

    def _noted_facts(self, name: str) -> Mapping[str, Any]:
        note(f"facts/{name}")
        return self._facts(name) if self._facts is not None else {}

    def _whole_glossary(self) -> tuple[Quantity, ...]:
        """That of the whole site: its units are those of the last write-up in the order of slugs."""
        last = dict(list(self.site.write_ups.items())[-1:])
        return glossary(replace(self.site, write_ups=last))

    def _glossary(self, record: WriteUp) -> tuple[Quantity, ...]:
        """Its units depend on the load alone."""
        if record.load.id not in self._glossaries:
            self._glossaries[record.load.id] = glossary(replace(self.site, write_ups={record.slug: record}))
        return self._glossaries[record.load.id]

    def _evaluated(self, known: Mapping[str, Results] | None = None) -> Results:
        results = evaluate(self.site, known)
        self._ledgers.append(results)
        return results

    def _judged_of(self, card_id: str) -> dict[str, Results]:
        """The numbers of write-ups about a card that were found here before, noted as what they were found from."""
        found = {w.slug: self._judged[w.slug][1] for w in self.site.of_card(card_id) if w.slug in self._judged}
        for slug in found:
            note(f"named/write-ups/{slug}")
            for name in ("card", *KEPT):
                note(f"write-up/{slug}/{name}")
        return found

    def _read(self, slug: str) -> tuple[WriteUp, tuple[Problem, ...]]:
        if slug not in self._records:
            with noting() as reads:
                record, problems = self._reader.write_up(slug)
            reads.add(f"tree/{slug}")
            if record is not None:
                reads |= {f"file/{each.where.file}" for each in (record.card, record.bench, record.load)}
            self._records[slug] = (record, problems, frozenset(reads))
        record, problems, noted = self._records[slug]
        for key in noted:
            note(key)
        if record is None or record.card is not self._cards[slug]:
            raise _UnreadError(slug)
        return record, problems

    def _judge(self, slug: str) -> tuple[Reading, Results]:
        if slug not in self._judged:
            before = self._write_ups.own
            with noting() as reads:
                record, _ = self._read(slug)
                self._write_ups.take(record)
                results = self._evaluated()
                reading = judge(record, self.site, results)
            self._write_ups.take(before)
            self._judged[slug] = (reading, results, frozenset(reads))
        reading, results, noted = self._judged[slug]
        for key in noted:
            note(key)
        return reading, results

    def _reading(self, slug: str) -> Reading:
        """What the claims room made of another write-up, from earlier work or afresh."""
        return self._kept_reading(slug) if slug in self._parts else self._judge(slug)[0]

    def _kept_reading(self, slug: str) -> Reading:
        return Reading(claims=self._write_ups.attribute(slug, "claims"), exemptions=(), problems=())

    def _attribute(self, slug: str, name: str) -> Any:
        """An attribute of a write-up: as found before, as kept by earlier work, or as read now."""
        key = (slug, name)
        if key not in self._found:
            if name in PARTS and slug in self._parts:
                self._found[key] = restored(PARTS[name], orjson.loads(self._part(slug)[name]))
            elif slug in self._cards and name in PARTS and name not in KEPT:
                raise _UnreadError(slug)  # what is made of a write-up is there unless making it failed
            else:
                with noting():  # noted already, as what was asked for and not as what it was read from
                    self._found[key] = getattr(self._read(slug)[0], name)
        return self._found[key]

    def _part(self, slug: str) -> Mapping[str, str]:
        part = self._parts[slug]
        if isinstance(part, str):
            content = kept_bytes(self._root, part)
            if content is None:
                raise LostError(part)
            part = orjson.loads(content)
            self._parts[slug] = part
        return part
