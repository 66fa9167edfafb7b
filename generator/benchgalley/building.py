"""A build: what changed is made again, the rest stands; then the whole takes the place of the old site."""

import gc
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import orjson

from .crews import Order, done
from .intake import Reductions, SiteReader
from .keeping import LostError, Now, Pieces, State, Unit, load_state, program
from .making import SITE_FRAMES, SITE_TEXTS, Made, Workshop
from .publish import (
    JOINED,
    KEPT,
    OF_SITE,
    Cut,
    ForeignFolderError,
    Printed,
    Printing,
    Stamp,
    entry_in,
    forget_others,
    keep_bytes,
    printed,
    published_entries,
)
from .records.as_json import plain, restored
from .records.findings import Problem, Severity
from .records.site import Built
from .reducing import kept_reductions
from .source_tree import UNKNOWN, digest, digest_of, digests, trees, without_changed
from .turns import turn

Progress = Callable[[str, int, int], None]
_ROUNDS = 8
"""Write-ups are made again while one that another refers to changed; references are a few steps deep at most."""


class UnbuildableError(Exception):
    """Content that cannot be read: what is wrong must be told by a check of the whole."""


def build_site(root: Path, target: Path, progress: Progress, how: Reductions, kept_as: str) -> Built:
    """Publish the site into `target`; with problems, touch nothing there. Raises UnbuildableError.

    `kept_as`: name of what is kept for the next build; empty: one for each target. A second build under that name
    waits until the first has ended.
    """
    content = (root / "content").resolve()
    if target.resolve() in (content, *content.parents):
        raise ForeignFolderError(f"{target} holds the content of the site; name another folder")
    id_ = kept_as or digest(str(target.resolve()))
    with turn(root, f"{id_}.lock", lambda: progress("waiting: another build of this site is at work", 0, 1)):
        return _built_in_turn(root, Printing(target, root / KEPT / f"{id_}.spare"), progress, how, f"{id_}.state")


def _built_in_turn(root: Path, printing: Printing, progress: Progress, how: Reductions, name: str) -> Built:
    printing.begin()
    gc.disable()  # what is read here lives to the end, and `crews` searches for cycles after each share of the work
    state = load_state(root, name)
    try:
        while True:
            build = _Build(root, printing, progress, how, state, name)
            try:
                return build.run()
            except LostError:
                printing.abandon()
                printing.begin()
                state = State(program=program())
    finally:
        gc.unfreeze()
        gc.enable()
        printing.abandon()


class _Build:
    def __init__(
        self, root: Path, printing: Printing, progress: Progress, how: Reductions, state: State, name: str
    ) -> None:
        self._root, self._printing, self._progress, self._how, self._name = root, printing, progress, how, name
        self._suffix = f".{name.partition('.')[0]}.part"
        self._sources = digests(root / "content", state.sources)
        self._reader = SiteReader(root, kept_reductions(root, how, keeps=True))
        self._there, self._strangers = printed(Path(state.folder)) if state.folder else Printed({}, [])
        self._old, self._before = self._usable(state)
        self._cards = self._cards_named()
        units = set(self._all_units())
        self._units = {key: unit for key, unit in self._old.units.items() if key in units}
        self._now = Now(self._sources, self._cards, self._units)
        self._trees = trees(self._sources, {slug: self._now.value(f"tree/{slug}") for slug in self._cards})
        self._made: dict[str, Made] = {}
        self._parts: dict[str, Mapping[str, str]] = {}
        self._pieces = Pieces(self._old.joined, self._before)
        self._workshop = self._new_workshop()
        gc.freeze()

    def run(self) -> Built:
        """All of it, in order."""
        self._make_write_ups()
        self._make([SITE_TEXTS])
        if not self._errors():
            self._make(f"card/{card}" for card in self._reader.shelf.cards)
            self._make(f"site/{page}" for page, _ in OF_SITE)
        problems = [*self._reader.problems, *self._told()]
        if not self._errors():
            problems += self._owed()
        if self._made:
            self._forget_what_changed_meanwhile()
        built = self._built(problems)
        if built.passes:
            self._publish()
        return built

    # What stands from before

    def _usable(self, state: State) -> tuple[State, dict[str, Path]]:
        """The state as far as it holds, and path in the site → folder where it stands as it was published."""
        folder = Path(state.folder)
        there = self._there
        whole = {path for path, found in state.published.items() if there.get(path) == found[:3]}
        touched = [path for path in state.published if path in there and path not in whole]
        whole |= {path for path in touched if digest_of(folder / path) == state.published[path][3]}
        if not set(JOINED) <= whole:
            return State(program=state.program, sources=state.sources), {}
        for key, unit in list(state.units.items()):
            if not whole.issuperset(unit.files):
                del state.units[key]
        return state, dict.fromkeys(whole, folder)

    def _cards_named(self) -> dict[str, str]:
        """Slug → id of the card it names; raises UnbuildableError where that leads nowhere."""
        if self._reader.settings is None or any(p.severity is Severity.ERROR for p in self._reader.problems):
            raise UnbuildableError
        cards = {}
        for slug in self._reader.slugs:
            path = f"write-ups/{slug}/write-up.md"
            same = self._old.sources.get(path, UNKNOWN)[4] == self._sources.get(path, UNKNOWN)[4]
            known = self._old.cards.get(slug) if same else None
            cards[slug] = known or self._reader.card_named(slug)
            if cards[slug] not in self._reader.shelf.cards:
                raise UnbuildableError
        return cards

    def _all_units(self) -> Iterable[str]:
        yield from (f"write-up/{slug}" for slug in self._cards)
        yield from (f"card/{card}" for card in self._reader.shelf.cards)
        yield SITE_TEXTS
        yield SITE_FRAMES
        yield from (f"site/{page}" for page, _ in OF_SITE)

    def _new_workshop(self, without: Iterable[str] = ()) -> Workshop:
        how = kept_reductions(self._root, self._how, keeps=True)
        return Workshop(self._root, self._cards, self._trees, self._kept_parts(without), how, self._facts, self._reader)

    def _kept_parts(self, without: Iterable[str]) -> dict[str, str | Mapping[str, str]]:
        """Slug → what this build or an earlier one kept of it, or the name of that."""
        changed = set(without)
        return {
            slug: self._parts.get(slug) or self._units[unit].part
            for slug in self._cards
            if (unit := f"write-up/{slug}") in self._units and unit not in changed
        }

    def _facts(self, name: str) -> Mapping[str, Any]:
        return {slug: self._units[f"write-up/{slug}"].facts[name] for slug in self._cards}

    # Making

    def _stale(self, units: Iterable[str]) -> list[str]:
        return [u for u in units if u not in self._units or not self._now.same(self._units[u])]

    def _make_write_ups(self) -> None:
        """Write-ups first; where one refers to another that turned out otherwise, it is made once more."""
        for _ in range(_ROUNDS):
            stale = self._stale(f"write-up/{slug}" for slug in self._cards)
            if not stale:
                return
            self._workshop = self._new_workshop(stale)
            by_card: dict[str, list[str]] = {}
            for unit in stale:
                by_card.setdefault(self._cards[unit.partition("/")[2]], []).append(unit)
            for card, chunk in by_card.items():
                if f"card/{card}" not in self._units:
                    chunk.append(f"card/{card}")
            self._do(list(by_card.values()), self._kept_parts(stale))
        raise LostError("write-ups that refer to one another never came to rest")

    def _make(self, units: Iterable[str]) -> None:
        for slug, parts in self._parts.items():
            self._workshop.take_up(slug, parts)
        for unit in self._stale(units):
            self._progress(f"making {unit}", 0, 1)
            made = self._workshop.make(unit)
            self._printing.put(made.files)
            self._take(made)
            self._note(made)

    def _do(self, chunks: list[list[str]], parts: Mapping[str, str | Mapping[str, str]]) -> None:
        order = Order(
            root=self._root,
            cards=self._cards,
            trees=self._trees,
            parts=parts,
            how=self._how,
            target=self._printing.target,
        )
        total, ready = sum(map(len, chunks)), 0
        found: list[Made] = []
        for share in done(chunks, order, self._workshop):
            ready += len(share)
            self._progress("making write-ups", ready - 1, total)
            for made in share:
                if made.files:
                    self._printing.put(made.files)
                self._take(made)
                found.append(made)
        for made in found:
            self._note(made)

    def _take(self, made: Made) -> None:
        """Take in what a piece of work gave."""
        if made.unread:
            raise UnbuildableError
        slug = made.unit.partition("/")[2]
        part = ""
        if made.parts:
            self._parts[slug] = made.parts
            content = orjson.dumps(dict(made.parts))
            part = f"{digest(content)}{self._suffix}"
            keep_bytes(self._root, part, content)  # now, while other processes are at work
        self._pieces.take(slug, made.texts)
        self._made[made.unit] = made
        self._units[made.unit] = Unit(
            reads=[],
            files=dict(made.hashes),
            problems=[plain(p) for p in made.problems],
            part=part,
            attributes={name: digest(text) for name, text in made.parts.items()},
            facts=dict(made.facts),
        )
        self._now.forget_units()

    def _note(self, made: Made) -> None:
        """Note what was read, with its value, once everything it was made beside is taken in."""
        unit = self._units[made.unit]
        unit.reads = sorted(made.reads)
        unit.values = self._now.values(unit.reads)

    # The outcome

    def _told(self) -> list[Problem]:
        return [restored(Problem, p) for unit in self._units.values() for p in unit.problems]

    def _errors(self) -> bool:
        return any(p.severity is Severity.ERROR for made in self._made.values() for p in made.problems)

    def _owed(self) -> tuple[Problem, ...]:
        """What the content owes to the printing this one replaces."""
        target, record = self._printing.target, "record.json"
        if self._before.get(record) == target:
            changed = self._pieces.changed(record)
            old = {slug: entry_in(piece)[slug] for slug, piece in changed.items() if piece}
        else:
            old = published_entries(target, self._pieces.now(record))
        pieces = self._pieces.now(record) if old else {}
        new = {slug: entry_in(pieces[slug])[slug] for slug in old if slug in self._cards}
        return self._workshop.owed(old, new)

    def _built(self, problems: Iterable[Problem]) -> Built:
        told = sorted(dict.fromkeys(problems), key=lambda p: (p.where, p.rule, p.message))
        units = [u for key, u in self._units.items() if key.startswith("write-up/")]
        return Built(
            problems=tuple(told),
            write_ups=len(self._cards),
            claims=sum(u.facts.get("claims", 0) for u in units),
            made=tuple(sorted(self._made)),
        )

    def _publish(self) -> None:
        joined, cuts = self._joined()
        files = {path: found for unit in self._units.values() for path, found in unit.files.items()}
        listed = self._workshop.listed(files)
        joined |= listed
        files |= {path: digest(content) for path, content in listed.items()}
        target = self._printing.target
        published = self._old.published
        same = {path for path in files if path in self._before and published[path][3] == files[path]}
        in_place = set(self._before.values()) == {target} and same == set(files) == set(self._there)
        there = self._there
        if not in_place or self._strangers:
            self._progress("writing", 0, 1)
            self._printing.put(joined)
            fresh = {path for unit in self._made for path in self._units[unit].files} | set(joined)
            kept = {path: (s[0], s[1], s[2]) for path in files if path not in fresh and (s := published[path])}
            there = self._printing.publish(files, kept, self._folder())
        self._keep(files, cuts, there)

    def _forget_what_changed_meanwhile(self) -> None:
        """Let nothing rest on content that was written while it was read: the next build makes that again."""
        if (sources := without_changed(self._root / "content", self._sources)) is not None:
            self._sources, self._now = sources, Now(sources, self._cards, self._units)
            for unit in self._units.values():
                unit.values = unit.values if self._now.same(unit) else ""

    def _joined(self) -> tuple[dict[str, bytes], dict[str, list[Cut]]]:
        """The joined files that are not as they were, and where each piece stands in all of them."""
        stale = self._stale([SITE_FRAMES])
        again = [path for path in JOINED if stale or self._pieces.changed(path)]
        if not again:
            return {}, self._old.joined
        pieces = {path: self._pieces.now(path) for path in again}
        texts = {path: {slug: found[slug] for slug in self._cards} for path, found in pieces.items()}
        made, cuts = self._workshop.joined(texts)
        before = {} if stale else self._units[SITE_FRAMES].files
        digests = {path: digest(content) for path, content in made.files.items()}
        self._units[SITE_FRAMES] = Unit(reads=[], files=before | digests)
        self._note(made)
        return dict(made.files), self._old.joined | cuts

    def _folder(self) -> Path:
        return next(iter(self._before.values()), self._printing.target)

    def _keep(self, files: Mapping[str, str], cuts: dict[str, list[Cut]], there: Mapping[str, Stamp]) -> None:
        """Leave the next build what this one found."""
        state = State(
            program=program(),
            folder=str(self._printing.target),
            sources=self._sources,
            cards=self._cards,
            units=self._units,
            joined=cuts,
            published={path: (*there[path], found) for path, found in files.items() if path in there},
        )
        if state != self._old:
            keep_bytes(self._root, self._name, state.as_bytes())
        forget_others(self._root, self._suffix, {unit.part for unit in self._units.values()})
