"""The content as files: what they held when a build began, and whether they are still the same."""

import hashlib
import os
import stat
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

SourceStamp = tuple[int, int, int, int]
"""(size, time of change in nanoseconds, inode, when its entry in the file system changed) of a source file.

No program can set the last of them back.
"""
Source = tuple[int, int, int, int, str]
"""Stamp and digest of a source file."""
UNKNOWN: Source = (0, 0, 0, 0, "")
"""Of a file that is not there, or may have changed."""


class Sources(NamedTuple):
    """The files below a folder that others write to."""

    stamps: dict[str, SourceStamp]
    """Path → stamp."""
    linked: frozenset[str]
    """Those that are links, or are reached through one."""


def digests(folder: Path, known: Mapping[str, Source]) -> dict[str, Source]:
    """Path → stamp and digest of every file below a folder; files of a known stamp are not read again.

    Where a link leads is part of the digest of what it leads to.
    """
    found: dict[str, Source] = {}
    there = sources(folder)
    for path, stamp in sorted(there.stamps.items()):
        before = known.get(path)
        if path in there.linked:
            led_to = os.path.relpath(os.path.realpath(folder / path), os.path.realpath(folder))
            found[path] = (*stamp, digest(f"{os.fsencode(led_to).hex()} {digest_of(folder / path)}"))
        elif before is not None and before[:4] == stamp:
            found[path] = before
        else:
            found[path] = (*stamp, digest_of(folder / path))
    return found


@dataclass(frozen=True, slots=True)
class Tree:
    """The folder of a write-up when a build began."""

    content: str
    """Digest of every file in it."""
    stamps: str
    """Digest of their stamps."""


def stamps_below(folder: Path) -> str:
    """Digest of the stamps of the files below a folder, as `Tree` has it."""
    return _stamps_digest(sources(folder).stamps)


def trees(known: Mapping[str, Source], contents: Mapping[str, str]) -> dict[str, Tree]:
    """Slug → folder of every write-up in `contents`, which has the digests of what they hold."""
    stamps: dict[str, dict[str, SourceStamp]] = {slug: {} for slug in contents}
    for path, source in known.items():
        folder, _, rest = path.partition("/")
        slug, _, name = rest.partition("/")
        if folder == "write-ups" and slug in stamps:
            stamps[slug][name] = source[:4]
    return {slug: Tree(content, _stamps_digest(stamps[slug])) for slug, content in contents.items()}


def _stamps_digest(stamps: Mapping[str, SourceStamp]) -> str:
    return digest(repr(sorted(stamps.items())).encode("utf-8", "surrogatepass"))


def without_changed(folder: Path, known: Mapping[str, Source]) -> dict[str, Source] | None:
    """What is known of the files below a folder, what changed since as unknown; None: nothing did.

    Digests are taken at the beginning of a build: a file that is changed later, and back again, would have them still.
    """
    now: Mapping[str, SourceStamp] = sources(folder).stamps
    changed = [path for path in now.keys() | known.keys() if path not in known or now.get(path) != known[path][:4]]
    return {**known, **dict.fromkeys(changed, UNKNOWN)} if changed else None


def sources(folder: Path) -> Sources:
    """Every file below `folder` whose name is not hidden; links are followed, loops are not."""
    found: dict[str, SourceStamp] = {}
    linked: set[str] = set()
    _walk_sources(str(folder), "", (), found, linked, reached=False)
    return Sources(found, frozenset(linked))


_AT_ONCE = 1 << 20
"""Bytes of a file that are read at once."""


def digest(content: bytes | str) -> str:
    """Half of a SHA-256: what tells two contents apart here."""
    return hashlib.sha256(content.encode() if isinstance(content, str) else content).hexdigest()[:32]


def digest_of(file: Path) -> str:
    """Digest of a file; empty when it cannot be read."""
    try:
        with open(file, "rb", buffering=0) as handle:
            found = hashlib.sha256()
            while content := handle.read(_AT_ONCE):
                found.update(content)
            return found.hexdigest()[:32]
    except OSError:
        return ""


def _walk_sources(
    folder: str,
    prefix: str,
    above: tuple[str, ...],
    found: dict[str, SourceStamp],
    linked: set[str],
    *,
    reached: bool,
) -> None:
    """`reached`: through a link."""
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                name = entry.name
                if name.startswith("."):
                    continue
                try:
                    link = entry.is_symlink()
                    if not entry.is_dir():
                        status = entry.stat()
                        if not stat.S_ISREG(status.st_mode):
                            continue  # nothing that could be read to its end
                        found[prefix + name] = (status.st_size, status.st_mtime_ns, status.st_ino, status.st_ctime_ns)
                        if link or reached:
                            linked.add(prefix + name)
                    elif not (link and _leads_back(entry.path, (*above, folder))):
                        below = f"{prefix}{name}/"
                        _walk_sources(entry.path, below, (*above, folder), found, linked, reached=link or reached)
                except OSError:
                    continue  # gone meanwhile, or a link to nothing
    except OSError:
        return


def _leads_back(link: str, above: tuple[str, ...]) -> bool:
    return any(os.path.samefile(link, folder) for folder in above)
