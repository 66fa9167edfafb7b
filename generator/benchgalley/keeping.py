"""What one build leaves for the next: what every piece of work read and gave, and whether that still holds.

Plain JSON in the site's own folder. A state that is missing, foreign or damaged means that everything is made
again, never that a page is wrong.
"""

import hashlib
import json
import platform
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, fields
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import orjson

from . import __version__
from .publish import JOINED, Cut, kept_bytes, layouts_folder
from .source_tree import Source

FORM = 3
"""Version of the state's own layout."""
_LIBRARIES = ("altair", "vl-convert-python", "jinja2", "markdown-it-py", "latex2mathml", "numpy",
              "scipy", "PyYAML", "nh3", "orjson")  # fmt: skip
"""Libraries whose version may show on a page."""


class LostError(Exception):
    """What an earlier build kept is gone or damaged: everything must be made again."""


@dataclass(kw_only=True, slots=True)
class Unit:
    """One piece of work that was done."""

    reads: list[str]
    """Keys of what was read."""
    values: str = ""
    """Digest of their values then."""
    files: dict[str, str]
    """Path in the site → digest."""
    problems: list[Any] = field(default_factory=list)
    """Warnings, in plain form."""
    part: str = ""
    """Name under which what is kept of a write-up lies."""
    attributes: dict[str, str] = field(default_factory=dict)
    """Name → digest of each attribute in it."""
    facts: dict[str, Any] = field(default_factory=dict)


@dataclass(kw_only=True, slots=True)
class State:
    """What a build left."""

    program: str = ""
    folder: str = ""
    """Where the site was published."""
    sources: dict[str, Source] = field(default_factory=dict)
    """Path in the content tree → stamp and digest."""
    cards: dict[str, str] = field(default_factory=dict)
    """Slug → id of the card it names."""
    units: dict[str, Unit] = field(default_factory=dict)
    joined: dict[str, list[tuple[str, int, int]]] = field(default_factory=dict)
    """Joined file → (slug, where its piece starts, how long it is)."""
    published: dict[str, tuple[int, int, int, str]] = field(default_factory=dict)
    """Path in the site → stamp and digest."""

    def as_bytes(self) -> bytes:
        """The state as a file; empty where a file has a name that is no text, which JSON cannot hold."""
        plain: dict[str, Any] = {"form": FORM, **{f.name: getattr(self, f.name) for f in fields(self)}}
        names = [f.name for f in fields(Unit)]
        plain["units"] = {key: {name: getattr(unit, name) for name in names} for key, unit in self.units.items()}
        try:
            return orjson.dumps(plain)
        except orjson.JSONEncodeError:
            return b""


def load_state(root: Path, name: str) -> State:
    """The state kept under a name; an empty one when it is missing, damaged, or another program's."""
    try:
        found = orjson.loads(kept_bytes(root, name) or b"")
        if found.pop("form") != FORM or found["program"] != program():
            return State(program=program())
        found["units"] = {key: Unit(**unit) for key, unit in found["units"].items()}
        for listed in ("sources", "published"):
            found[listed] = {path: tuple(entry) for path, entry in found[listed].items()}
        return State(**found)
    except (ValueError, TypeError, KeyError, AttributeError):
        return State(program=program())


@lru_cache(maxsize=1)
def program() -> str:
    """Digest of everything pages depend on that is no content: this program, its templates, its libraries."""
    found = hashlib.sha256(f"{__version__} {platform.python_version()}".encode())
    for name in _LIBRARIES:
        found.update(f"{name} {version(name)}\0".encode())
    package = Path(__file__).parent
    for path in [*sorted(package.rglob("*.py")), *sorted(p for p in layouts_folder().rglob("*") if p.is_file())]:
        found.update(path.name.encode())
        found.update(path.read_bytes())
    return found.hexdigest()[:32]


class Pieces:
    """The pieces of the joined files: as an earlier build published them, and as this one made them."""

    def __init__(self, cuts: Mapping[str, Iterable[Cut]], folders: Mapping[str, Path]) -> None:
        """`cuts`: joined file → where each piece stands in it; `folders`: file → folder in which it stands."""
        self._cuts = {path: {slug: (start, length) for slug, start, length in found} for path, found in cuts.items()}
        self._folders = folders
        self._made: dict[str, dict[str, bytes]] = {path: {} for path in JOINED}

    def take(self, slug: str, texts: Mapping[str, bytes]) -> None:
        """Take in what was made of a write-up."""
        for path, text in texts.items():
            self._made[path][slug] = text

    def changed(self, path: str) -> dict[str, bytes]:
        """Slug → piece as it was, empty where there was none, of every piece of a file that is another one now."""
        before = self._read(path, self._made[path])
        return {slug: old for slug, text in self._made[path].items() if (old := before.get(slug, b"")) != text}

    def now(self, path: str) -> dict[str, bytes]:
        """Slug → piece, of all pieces of a file."""
        return self._read(path, self._cuts.get(path, {}).keys() - self._made[path].keys()) | self._made[path]

    def _read(self, path: str, slugs: Iterable[str]) -> dict[str, bytes]:
        cuts = self._cuts.get(path, {})
        found = {}
        wanted = sorted((cuts[slug], slug) for slug in slugs if slug in cuts)
        if wanted:
            with (self._folders[path] / path).open("rb") as file:
                for (start, length), slug in wanted:
                    file.seek(start)
                    found[slug] = file.read(length)
        return found


class Now:
    """The value of everything that can have been read, as it is in this build. See `records.noted` for the keys."""

    def __init__(self, sources: Mapping[str, Source], cards: Mapping[str, str], units: Mapping[str, Unit]) -> None:
        self._sources, self._cards, self._units = sources, cards, units
        self._fixed: dict[str, str] = {}
        self._of_units: dict[str, str] = {}
        self._below: dict[str, list[str]] = {}
        for path, found in sources.items():
            folder = "/".join(path.split("/")[: 2 if path.startswith("write-ups/") else 1])
            self._below.setdefault(folder, []).append(f"{path}\0{found[4]}")

    def same(self, unit: Unit) -> bool:
        """Whether everything a unit read is as it was then."""
        return self.values(unit.reads) == unit.values

    def values(self, keys: Iterable[str]) -> str:
        """Digest of the values of keys."""
        return hashlib.sha256("\0".join(map(self.value, keys)).encode()).hexdigest()[:32]

    def forget_units(self) -> None:
        """Units have changed: what they say is looked up anew."""
        self._of_units.clear()

    def value(self, key: str) -> str:
        """What stands under a key now; empty when there is nothing."""
        known = self._fixed.get(key)
        if known is None:
            known = self._of_units.get(key)
        if known is None:
            kind, _, rest = key.partition("/")
            if kind in _FIXED:
                known = self._fixed[key] = _FIXED[kind](self, rest)
            else:
                known = self._of_units[key] = _OF_UNITS[kind](self, rest)
        return known

    def _fact(self, name: str) -> str:
        return _digest({u: unit.facts.get(name) for u, unit in sorted(self._units.items()) if unit.facts})

    def _attribute(self, rest: str) -> str:
        slug, name = rest.split("/")
        if slug == "*":
            return self.value("cards/all")
        if name == "card":
            card = self._cards.get(slug, "")
            return f"{card} {self.value(f'file/content/cards/{card}.yaml')}"
        unit = self._units.get(f"write-up/{slug}")
        return "" if unit is None else unit.attributes.get(name, "")

    def _file(self, path: str) -> str:
        found = self._sources.get(path.removeprefix("content/"))
        return "" if found is None else found[4]

    def _there(self, path: str) -> str:
        return "yes" if path.removeprefix("content/") in self._sources else "no"

    def _tree(self, slug: str) -> str:
        return _digest(self._below.get(f"write-ups/{slug}", []))

    def _shelf(self, kind: str) -> str:
        return _digest(self._below.get(kind, []))

    def _named(self, rest: str) -> str:
        kind, _, name = rest.partition("/")
        there = name in self._cards if kind == "write-ups" else f"{kind}/{name}.yaml" in self._sources
        return "yes" if there else "no"

    def _of_card(self, card: str) -> str:
        return _digest(
            [sorted(s for s, c in self._cards.items() if c == card), self._file(f"content/cards/{card}.yaml")]
        )

    def _names(self, kind: str) -> str:
        if kind == "numbered":
            return _digest(sorted(slug for slug in self._cards if any(map(str.isdigit, slug))))
        if kind == "write-ups":
            return _digest(sorted(self._cards))
        return _digest([found.partition("\0")[0] for found in self._below.get(kind, [])])

    def _all_cards(self, _: str) -> str:
        return _digest([sorted(self._cards.items()), self._below.get("cards", [])])


_FIXED: Mapping[str, Callable[[Now, str], str]] = {
    "file": Now._file,
    "there": Now._there,
    "tree": Now._tree,
    "shelf": Now._shelf,
    "names": Now._names,
    "named": Now._named,
    "of-card": Now._of_card,
    "cards": Now._all_cards,
}
"""Kind of key → its value, for what no work of this build can change."""
_OF_UNITS: Mapping[str, Callable[[Now, str], str]] = {"facts": Now._fact, "write-up": Now._attribute}
"""Kind of key → its value, for what units say."""


def _digest(value: Any) -> str:
    return hashlib.sha256(json.dumps(value, sort_keys=True).encode()).hexdigest()[:32]
