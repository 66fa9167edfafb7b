"""The starter site, and the one place where a command puts files into a tester's folder."""

import contextlib
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path, PurePosixPath

_HERE = Path(__file__).resolve().parent


class OccupiedFolderError(OSError):
    """The place for a new folder is taken."""


def layout_files(part: str) -> dict[str, bytes]:
    """Files of one part of the layouts folder, relative path → bytes, by path.

    Raises FileNotFoundError when the installation lacks it.
    """
    for layouts in (_HERE.parent / "layouts", _HERE.parents[2] / "layouts"):  # wheel, then checkout
        folder = layouts / part
        if folder.is_dir():
            found = sorted(p for p in folder.rglob("*") if p.is_file())
            return {p.relative_to(folder).as_posix(): p.read_bytes() for p in found}
    raise FileNotFoundError(f"benchgalley's layouts/{part} is missing: broken install")


def begin(folder: Path) -> tuple[str, ...]:
    """Make the starter site in a new or empty folder; the paths written.

    Raises OccupiedFolderError, before anything is written, when the folder holds something.
    """
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise OccupiedFolderError(f"{folder} is not a folder. Name a new or an empty one.")
    if folder.is_dir() and any(folder.iterdir()):
        raise OccupiedFolderError(f"{folder} is not empty, and nothing is overwritten. Name a new or an empty folder.")
    files = layout_files("starter")
    for path, content in files.items():
        put_file(folder, path, content)
    return tuple(files)


def put_file(root: Path, path: str, content: bytes) -> None:
    """Write one file below `root`, whole or not at all: a reader never meets half of it.

    Raises ValueError for a path that leaves `root`.
    """
    parts = PurePosixPath(path).parts
    if not parts or path.startswith("/") or ".." in parts or "\\" in path or "\0" in path:
        raise ValueError(f"{path!r} is no path inside the site")
    target = root.joinpath(*parts)
    target.parent.mkdir(parents=True, exist_ok=True)
    descriptor, part = tempfile.mkstemp(dir=target.parent, prefix=".coming-")
    try:
        with open(descriptor, "wb") as file:
            file.write(content)
        os.chmod(part, target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~_umask())
        os.replace(part, target)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(part)
        raise


def _umask() -> int:
    # The only way to read it is to set it.
    mask = os.umask(0o077)
    os.umask(mask)
    return mask


def put_files(root: Path, files: Mapping[str, bytes]) -> None:
    """Write several files in order; when one fails, those that are new here are taken away again."""
    fresh: list[Path] = []
    try:
        for path, content in files.items():
            target = root / path
            if not target.exists():
                fresh.append(target)
            put_file(root, path, content)
    except BaseException:
        for target in fresh:
            with contextlib.suppress(OSError):
                target.unlink()
        raise
