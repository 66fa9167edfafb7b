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
                name = entry.name
                if name.startswith("."):
                    continue
                try:
                    if not entry.is_dir():
                        found[prefix + name] = stamp_of(entry.stat())
                    elif not (entry.is_symlink() and _leads_back(entry.path, (*above, folder))):
                        _walk(entry.path, f"{prefix}{name}/", (*above, folder), found)
                except OSError:
                    continue  # gone meanwhile, or a link to nothing
    except OSError:
        return


def _leads_back(link: str, above: tuple[str, ...]) -> bool:
    return any(os.path.samefile(link, folder) for folder in above)
