"""Which files stand in a folder, and what tells whether they are the same as before."""

import os
import stat
from pathlib import Path
from typing import NamedTuple

Stamp = tuple[int, int, int]
"""(size, time of change in nanoseconds, inode) of a published file: one that keeps all three is taken as unchanged."""


class Printed(NamedTuple):
    """What stands in the folder of a site."""

    stamps: dict[str, Stamp]
    """Path → stamp, of every file."""
    strangers: list[str]
    """Links, other things that are no files, and empty folders: no printing has them."""


def printed(folder: Path) -> Printed:
    """Everything in the folder of a site; no link is followed. Hidden entries at its top are its owner's, not told."""
    found = Printed({}, [])
    _walk_printed(str(folder), "", found)
    return found


def stamp_of(found: os.stat_result) -> Stamp:
    """The stamp of a published file."""
    return found.st_size, found.st_mtime_ns, found.st_ino


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
