"""Which files stand in a folder, and what tells whether they are the same as before."""

import os
from pathlib import Path

Stamp = tuple[int, int, int]
"""(size, time of change in nanoseconds, inode): a file that keeps all three is taken as unchanged."""


def stamps(folder: Path) -> dict[str, Stamp]:
    """Path below `folder` → stamp, of every file whose name is not hidden; links are followed, loops are not."""
    found: dict[str, Stamp] = {}
    _walk(str(folder), "", (), found)
    return found


def stamp_of(found: os.stat_result) -> Stamp:
    """The stamp of a file."""
    return found.st_size, found.st_mtime_ns, found.st_ino


def _walk(folder: str, prefix: str, above: tuple[str, ...], found: dict[str, Stamp]) -> None:
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                if not entry.name.startswith("."):
                    _look_at(entry, prefix + entry.name, (*above, folder), found)
    except OSError:
        return


def _look_at(entry: os.DirEntry[str], path: str, above: tuple[str, ...], found: dict[str, Stamp]) -> None:
    try:
        if not entry.is_dir():
            found[path] = stamp_of(entry.stat())
        elif not (entry.is_symlink() and any(os.path.samefile(entry.path, folder) for folder in above)):
            _walk(entry.path, f"{path}/", above, found)
    except OSError:
        return  # gone meanwhile, or a link to nothing
