"""A site whose readers are watched: what a piece of work reads of it is noted, and nothing is read before.

A later build does the work again only when something noted changed. Keys of what was read:

- `file/<path>`: the bytes of a file of the content tree, `there/<path>`: whether there is one
- `tree/<slug>`: every file in the folder of a write-up
- `shelf/<kind>`: every file of content/cards, content/loads or content/benches; `names/<kind>`: which there are;
  `named/<kind>/<name>`: whether there is one of that name
- `of-card/<card>`: which write-ups are about a card; `names/numbered`: slugs with a digit in them
- `write-up/<slug>/<attribute>`: one attribute of a write-up; `write-up/*/<attribute>`: that of all
- `facts/<name>`: what every write-up says of itself under a name
"""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, TypeVar, cast

from .bench import Card
from .write_up import WriteUp

KEPT: tuple[str, ...] = (
    "folder", "title", "published", "sample", "bench", "load", "setpoints", "baseline", "sequences", "margins",
    "trials", "claim_names", "revisions", "invented", "stopping_rule", "body_line",
    "drivers", "drivers_counted", "columns_counted",
)  # fmt: skip
"""Attributes of a write-up, besides slug and card, that later builds take up without reading it again: everything
but its text and the bytes of its files."""

FOUND = ("claims", "warnings", "about", "compared")
"""What later work may ask of a write-up besides: its claims, its caveats and hazards, the setpoint it is about, its
numbers that stand beside those of other cards."""

_ONE_BY_ONE = frozenset((*KEPT, *FOUND))

_R = TypeVar("_R")
_notes: ContextVar[set[str] | None] = ContextVar("notes", default=None)


def note(key: str) -> None:
    """Say that the work in hand read something. Without work in hand, nothing is noted."""
    if (notes := _notes.get()) is not None:
        notes.add(key)


@contextmanager
def noting() -> Iterator[set[str]]:
    """Gathers the keys of everything read inside."""
    found: set[str] = set()
    token = _notes.set(found)
    try:
        yield found
    finally:
        _notes.reset(token)


class NotedShelf(Mapping[str, _R]):
    """Cards, loads or benches: asking which there are is one thing, looking into them another."""

    def __init__(self, kind: str, records: Mapping[str, _R]) -> None:
        self._kind, self._records = kind, records

    def __getitem__(self, name: str) -> _R:
        note(f"file/content/{self._kind}/{name}.yaml")
        return self._records[name]

    def __iter__(self) -> Iterator[str]:
        note(f"shelf/{self._kind}")
        return iter(self._records)

    def __contains__(self, name: object) -> bool:
        note(f"named/{self._kind}/{name}")
        return name in self._records

    def __len__(self) -> int:
        note(f"names/{self._kind}")
        return len(self._records)

    def values(self) -> Any:
        """Every record, in order."""
        note(f"shelf/{self._kind}")
        return self._records.values()

    def items(self) -> Any:
        """Every name and record, in order."""
        note(f"shelf/{self._kind}")
        return self._records.items()


class KnownWriteUp:
    """A write-up as another page sees it: its attributes are fetched, and noted, when they are asked for."""

    __slots__ = ("_all", "card", "slug")

    def __init__(self, slug: str, card: Card, of: "NotedWriteUps") -> None:
        self.slug, self.card, self._all = slug, card, of

    @property
    def file(self) -> str:
        """Path of write-up.md relative to the site's root."""
        return f"{self.folder}/write-up.md"

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):
            raise AttributeError(name)
        return self._all.attribute(self.slug, name)


class NotedWriteUps(Mapping[str, WriteUp]):
    """Every write-up of a site, each fetched when something of it is asked for.

    `cards`: slug → card, sorted by slug. `fetch`: (slug, attribute) → value.
    """

    def __init__(self, cards: Mapping[str, Card], fetch: Callable[[str, str], Any]) -> None:
        self._fetch = fetch
        self._known = {slug: cast("WriteUp", KnownWriteUp(slug, card, self)) for slug, card in cards.items()}
        self._numbered = tuple(slug for slug in cards if any(map(str.isdigit, slug)))
        self._by_card: dict[str, list[WriteUp]] = {}
        for slug, card in cards.items():
            self._by_card.setdefault(card.id, []).append(self._known[slug])
        self.own: WriteUp | None = None
        """The write-up in hand: what is read of it is noted as the files it was read from."""

    def attribute(self, slug: str, name: str) -> Any:
        """One attribute of a write-up that is not in hand."""
        note(f"write-up/{slug}/{name}" if name in _ONE_BY_ONE else f"tree/{slug}")
        return self._fetch(slug, name)

    def take(self, own: WriteUp | None) -> None:
        """Take a write-up in hand, None: put it back."""
        self.own = own

    def __getitem__(self, slug: str) -> WriteUp:
        if self.own is not None and slug == self.own.slug:
            return self.own
        note(f"named/write-ups/{slug}")
        found = self._known[slug]
        note(f"write-up/{slug}/card")
        return found

    def __iter__(self) -> Iterator[str]:
        note("names/write-ups")
        return iter(self._known)

    def __contains__(self, slug: object) -> bool:
        if self.own is None or slug != self.own.slug:
            note(f"named/write-ups/{slug}")
        return slug in self._known

    def __len__(self) -> int:
        note("names/write-ups")
        return len(self._known)

    def values(self) -> Any:
        """Every write-up in the order of slugs, the one in hand as it is."""
        note("write-up/*/card")
        own = self.own
        return [own if own is not None and slug == own.slug else known for slug, known in self._known.items()]

    def of_card(self, card_id: str) -> tuple[WriteUp, ...]:
        """Those about one card, in order."""
        note(f"of-card/{card_id}")
        own = self.own
        known = self._by_card.get(card_id, ())
        return tuple(own if own is not None and each.slug == own.slug else each for each in known)

    def numbered(self) -> tuple[str, ...]:
        """Slugs with a digit in them."""
        note("names/numbered")
        return self._numbered

    def items(self) -> Any:
        """Slug and write-up, likewise."""
        return list(zip(self._known, self.values(), strict=True))


class NotedFiles(Mapping[str, bytes]):
    """Files that several write-ups share, path → bytes."""

    def __init__(self, files: Mapping[str, bytes]) -> None:
        self._files = files

    def __getitem__(self, path: str) -> bytes:
        note(f"file/{path}")
        return self._files[path]

    def __iter__(self) -> Iterator[str]:
        for kind in ("benches", "cards", "loads"):
            note(f"names/{kind}")
        return iter(self._files)

    def __len__(self) -> int:
        return sum(1 for _ in self)


class OfEach(Mapping[str, _R]):
    """Something of every write-up, found when it is asked for."""

    def __init__(self, write_ups: Mapping[str, WriteUp], find: Callable[[str], _R]) -> None:
        self._write_ups, self._find = write_ups, find

    def __getitem__(self, slug: str) -> _R:
        return self._find(slug)

    def __contains__(self, slug: object) -> bool:
        return slug in self._write_ups

    def __iter__(self) -> Iterator[str]:
        return iter(self._write_ups)

    def __len__(self) -> int:
        return len(self._write_ups)
