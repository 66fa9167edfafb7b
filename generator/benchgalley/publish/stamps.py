"""Which files stand in a folder, and what tells whether they are the same as before."""

import os
from collections.abc import Iterator
from pathlib import Path

Stamp = tuple[int, int, int]
"""(size, time of change in nanoseconds, inode): a file that keeps all three is taken as unchanged."""


def stamps(folder: Path) -> dict[str, Stamp]:
    """Path below `folder` → stamp, of every file whose name is not hidden; links are followed, loops are not."""
    return dict(_walk(str(folder), "", set()))


def _walk(folder: str, prefix: str, above: set[tuple[int, int]]) -> Iterator[tuple[str, Stamp]]:
    try:
        with os.scandir(folder) as entries:
            for entry in sorted(entries, key=lambda e: e.name):
                if entry.name.startswith("."):
                    continue
                try:
                    found = entry.stat()
                    is_folder = entry.is_dir()
                except OSError:
                    continue
                if not is_folder:
                    yield prefix + entry.name, (found.st_size, found.st_mtime_ns, found.st_ino)
                elif (here := (found.st_dev, found.st_ino)) not in above:
                    yield from _walk(entry.path, f"{prefix}{entry.name}/", above | {here})
    except OSError:
        return
