"""Which files stand in a folder, and what tells whether they are the same as before."""

import os
import stat
from pathlib import Path
from typing import NamedTuple

Stamp = tuple[int, int, int]
"""(size, time of change in nanoseconds, inode) of a published file: one that keeps all three is taken as unchanged."""
SourceStamp = tuple[int, int, int, int]
"""The same of a source file, and when its entry in the file system changed: no program can set that time back."""


class Sources(NamedTuple):
    """The files below a folder that others write to."""

    stamps: dict[str, SourceStamp]
    """Path → stamp."""
    linked: frozenset[str]
    """Those that are links, or are reached through one."""


class Printed(NamedTuple):
    """What stands in the folder of a site."""

    stamps: dict[str, Stamp]
    """Path → stamp, of every file."""
    strangers: list[str]
    """Links, other things that are no files, and empty folders: no printing has them."""


def sources(folder: Path) -> Sources:
    """Every file below `folder` whose name is not hidden; links are followed, loops are not."""
    found: dict[str, SourceStamp] = {}
    linked: set[str] = set()
    _walk_sources(str(folder), "", (), found, linked, reached=False)
    return Sources(found, frozenset(linked))


def printed(folder: Path) -> Printed:
    """Everything in the folder of a site; no link is followed. Hidden entries at its top are its owner's, not told."""
    found = Printed({}, [])
    _walk_printed(str(folder), "", found)
    return found


def stamp_of(found: os.stat_result) -> Stamp:
    """The stamp of a published file."""
    return found.st_size, found.st_mtime_ns, found.st_ino


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
                        found[prefix + name] = (*stamp_of(status), status.st_ctime_ns)
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


def _walk_printed(folder: str, prefix: str, found: Printed) -> None:
    entries = 0
    try:
        with os.scandir(folder) as there:
            for entry in there:
                entries += 1
                path = prefix + entry.name
                if not prefix and path.startswith("."):
                    continue
                if entry.is_dir(follow_symlinks=False):
                    _walk_printed(entry.path, f"{path}/", found)
                    continue
                status = entry.stat(follow_symlinks=False)
                if stat.S_ISREG(status.st_mode):
                    found.stamps[path] = stamp_of(status)
                else:
                    found.strangers.append(path)
    except OSError:
        return
    if prefix and not entries:
        found.strangers.append(prefix)
