"""The door of this room: the whole content tree, with every problem of every file."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

from ..records.address import Address
from ..records.bench import Card
from ..records.findings import Location, Problem, Severity
from ..records.site import Site, SiteSettings
from ..records.write_up import WriteUp
from .bench_files import read_bench, read_card, read_load
from .fields import KEBAB, Fields, bad_name
from .files import TEXT_LIMIT, inside, listing, read_text, relative
from .front_matter import split
from .log_engines import Reductions, reduce_all
from .problem_list import ProblemList, offer
from .site_file import read_settings
from .write_ups import Draft, Pending, Shelf, finish, prepare, read_draft
from .yaml_nodes import compose, scalar_under

Progress = Callable[[str, int, int], None]
"""Called with what is being read, how many are done, and of how many."""

_R = TypeVar("_R")
_FOLDERS = {"benches": "bench", "loads": "load", "cards": "card"}


@dataclass(slots=True)
class _Tree:
    """What is gathered while reading."""

    root: Path
    problems: ProblemList
    files: dict[str, bytes] = field(default_factory=dict)
    broken: set[tuple[str, str]] = field(default_factory=set)
    refused: set[str] = field(default_factory=set)
    """Scopes of write-ups that could not be read: their slugs and their cards."""

    @property
    def content(self) -> Path:
        return self.root / "content"

    def refuse(self, rule: str, path: Path, message: str, mend: str, severity: Severity = Severity.ERROR) -> None:
        where = Location(file=relative(path, self.root))
        self.problems.add(Problem(rule=rule, where=where, message=message, mend=mend, severity=severity))


def read_site(
    root: Path, only: str | None = None, progress: Progress | None = None, reductions: Reductions | None = None
) -> tuple[Site | None, tuple[Problem, ...]]:
    """Read a site.

    Parameters
    ----------
    root
        Folder that holds `content/`.
    only
        Slug of one write-up: the others are read only where it refers to their numbers.
    progress
        Told what is read.
    reductions
        Where reduced logs are kept and what reduces them; without it, this process, keeping nothing.

    Returns
    -------
    site, problems
        The site without the write-ups that have errors, and every problem by file and line. The site is None
        only when site.yaml cannot be used.
    """
    tree = _Tree(root, ProblemList())
    settings = _settings(tree)
    shelf = Shelf(
        benches=_shelf(tree, "benches", read_bench),
        loads=_shelf(tree, "loads", read_load),
        cards=_shelf(tree, "cards", read_card),
        broken=frozenset(tree.broken),
    )
    _unexpected(tree)
    write_ups = _write_ups(tree, shelf, only, progress, reductions or Reductions())
    if settings is None:
        return None, tree.problems.sorted()
    site = Site(
        settings=settings,
        benches=shelf.benches,
        loads=shelf.loads,
        cards=shelf.cards,
        write_ups=write_ups,
        refused=frozenset(tree.refused | {name for kind, name in tree.broken if kind == "card"}),
        files=tree.files,
        root=str(root.absolute()),
    )
    return site, tree.problems.sorted()


class SiteReader:
    """Reads a site piece by piece: what write-ups share at once, each write-up when it is asked for."""

    def __init__(self, root: Path, reductions: Reductions | None = None) -> None:
        self._tree = _Tree(root, ProblemList())
        self._reductions = reductions or Reductions()
        self.settings = _settings(self._tree)
        self.shelf = Shelf(
            benches=_shelf(self._tree, "benches", read_bench),
            loads=_shelf(self._tree, "loads", read_load),
            cards=_shelf(self._tree, "cards", read_card),
            broken=frozenset(self._tree.broken),
        )
        _unexpected(self._tree)
        self._folders = _folders(self._tree, self.shelf)

    @property
    def slugs(self) -> tuple[str, ...]:
        """Every write-up whose name is usable, sorted."""
        return tuple(sorted(self._folders))

    @property
    def files(self) -> Mapping[str, bytes]:
        """Path relative to the root → bytes, of site.yaml and the files of benches, loads and cards."""
        return self._tree.files

    @property
    def problems(self) -> tuple[Problem, ...]:
        """What is wrong outside the write-ups."""
        return self._tree.problems.sorted()

    def card_named(self, slug: str) -> str:
        """Id of the card that a write-up names, from its front matter alone; empty when that cannot be read."""
        found = read_text(self._folders[slug] / "write-up.md", self._tree.root, TEXT_LIMIT, ProblemList())
        if found is None or (parts := split(found[1], ProblemList())) is None:
            return ""
        return scalar_under("card", parts[0])

    def write_up(self, slug: str) -> tuple[WriteUp | None, tuple[Problem, ...]]:
        """One write-up, None when it cannot be used, and what is wrong with it."""
        problems = ProblemList()
        draft = read_draft(slug, self._folders[slug], self._tree.root, problems)
        found: dict[str, WriteUp] = {}
        if draft is not None:
            _finish([(prepare(draft, self.shelf, problems), problems)], self._reductions, found)
        return found.get(slug), problems.sorted()


def _fields(tree: _Tree, path: Path) -> Fields | None:
    """A YAML file as fields; its bytes are kept for the dataset."""
    found = read_text(path, tree.root, TEXT_LIMIT, tree.problems)
    if found is None:
        return None
    data, source = found
    tree.files[source.file] = data
    if not source.text.strip():
        tree.problems.add(source.problem("empty-file", 1, 1, "the file is empty", "Write its keys, or remove it."))
        return None
    node = compose(source, source.text, 0, tree.problems)
    if node is None:
        return None
    if node.kind != "mapping":
        tree.problems.add(
            source.problem("wrong-type", node.line, node.column, f"the file is a {node.kind}; a mapping was expected")
        )
        return None
    return Fields(node, source, tree.problems)


def _settings(tree: _Tree) -> SiteSettings | None:
    before = tree.problems.errors
    fields = _fields(tree, tree.content / "site.yaml")
    settings = None if fields is None else read_settings(fields)
    return None if tree.problems.errors > before else settings


def _shelf(tree: _Tree, folder: str, read: Callable[[str, Fields], _R | None]) -> dict[str, _R]:
    """Every file of one folder: id → record."""
    found: dict[str, _R] = {}
    for path in listing(tree.content / folder):
        if path.suffix != ".yaml":
            mend = f"Rename it to {path.stem}.yaml." if path.suffix == ".yml" else "Move it out of this folder."
            tree.refuse("unexpected-file", path, "a .yaml file was expected here", mend)
            continue
        name = path.stem
        before = tree.problems.errors
        if not KEBAB.fullmatch(name):
            tree.refuse("bad-name", path, *bad_name(name, name))
        fields = _fields(tree, path)
        record = None if fields is None else read(name, fields)
        if record is None or tree.problems.errors > before:
            tree.broken.add((_FOLDERS[folder], name))
        else:
            found[name] = record
    return found


def _unexpected(tree: _Tree) -> None:
    known = {"site.yaml", "write-ups", *_FOLDERS}
    for path in listing(tree.content):
        if path.name not in known:
            close = offer(path.name, known, "Here stand")
            tree.refuse("unexpected-file", path, "nothing reads this; it is not published", close, Severity.WARNING)


def _folders(tree: _Tree, shelf: Shelf) -> dict[str, Path]:
    """Slug → folder of every write-up whose name is usable."""
    folders: dict[str, Path] = {}
    for path in listing(tree.content / "write-ups"):
        slug = path.name
        if not inside(path, tree.root):
            tree.refuse("link-leaves-site", path, "this is a symbolic link to a place outside the site", "Copy it in.")
        elif not path.is_dir():
            tree.refuse("unexpected-file", path, "a folder was expected here", "Move it into a write-up's folder.")
        elif not KEBAB.fullmatch(slug):
            tree.refuse("bad-name", path, *bad_name(slug, slug))
        elif slug in shelf.cards or ("card", slug) in shelf.broken:
            tree.refuse(
                "name-taken", path, f"`{slug}` is a write-up and a card", "Rename one: addresses need one meaning."
            )
        else:
            folders[slug] = path
    return folders


def _write_ups(
    tree: _Tree, shelf: Shelf, only: str | None, progress: Progress | None, reductions: Reductions
) -> dict[str, WriteUp]:
    folders = _folders(tree, shelf)
    waiting = sorted(folders) if only is None else [only]
    if only is not None and only not in folders:
        tree.refuse(
            "unknown-write-up",
            tree.content / "write-ups",
            f"there is no write-up `{only}`",
            offer(only, folders, "Write-ups"),
        )
        waiting = []
    found: dict[str, WriteUp] = {}
    pending: list[tuple[Pending, ProblemList]] = []
    lists: list[ProblemList] = []
    seen = set(waiting)
    done = 0
    while waiting:
        slug = waiting.pop(0)
        if progress is not None:
            progress(slug, done, done + len(waiting) + 1)
        done += 1
        problems = ProblemList()
        draft = read_draft(slug, folders[slug], tree.root, problems)
        lists.append(problems)
        if draft is None:
            tree.refused.add(slug)
            continue
        pending.append((prepare(draft, shelf, problems), problems))
        if only is not None:
            more = sorted(_referred(draft, folders, shelf.cards) - seen)
            waiting.extend(more)
            seen.update(more)
    _finish(pending, reductions, found)
    for unread, _ in pending:
        if unread.draft.slug not in found:
            tree.refused |= _scopes(unread)
    for problems in lists:
        tree.problems.extend(problems.sorted())
    if progress is not None and done:
        progress("", done, done)
    return dict(sorted(found.items()))


def _finish(pending: list[tuple[Pending, ProblemList]], reductions: Reductions, found: dict[str, WriteUp]) -> None:
    """Reduce the logs of all write-ups together, then put each write-up together."""
    outcomes = iter(reduce_all([planned.task for waiting, _ in pending for planned in waiting.logs], reductions))
    for waiting, problems in pending:
        own = tuple(next(outcomes) for _ in waiting.logs)
        if (write_up := finish(waiting, own, problems)) is not None:
            found[write_up.slug] = write_up


def _scopes(unread: Pending) -> set[str]:
    """What addresses name the numbers by that a write-up would have given: its slug, and its card where it is known."""
    card = unread.draft.front.references["card"][0] if unread.draft.front else ""
    return {unread.draft.slug, card} - {""}


def _referred(draft: Draft, folders: Mapping[str, Path], cards: Mapping[str, Card]) -> set[str]:
    """Write-ups whose trials a draft's claims need; a card's numbers are pooled, so they may need them all."""
    scopes = {address.scope for address in _addresses(draft)}
    if scopes & set(cards):
        return set(folders)
    return scopes & set(folders)


def _addresses(draft: Draft) -> Iterable[Address]:
    if draft.front is None or draft.prose is None:
        return
    texts = (*draft.front.texts, *draft.prose.texts, *draft.prose.attached)
    written = [link.destination.removeprefix("claim:") for text in texts for link in text.links]
    for text in (*written, *draft.front.claim_names.values()):
        if (address := Address.parse(text, draft.slug)) is not None:
            yield address
