"""Writes the site: the only module that does.

A printing is built whole in a folder beside the old one and then takes its place by renaming, so that a crash at
any moment leaves either the old site or the new one, never half of each.
"""

import contextlib
import hashlib
import os
import shutil
from collections.abc import Mapping
from pathlib import Path, PurePosixPath

from . import page_paths

_COMING, _GOING = ".coming", ".going"


class ForeignFolderError(OSError):
    """The folder to publish into holds something that is no site of ours."""


def write_site(files: Mapping[str, bytes], target: Path) -> None:
    """Publish `files` (path in the site → bytes) as the folder `target`, in place of an older printing.

    Unchanged files keep their time of change. Raises ForeignFolderError, before touching anything, when the
    folder holds files but no record.json of a published site; ValueError for a path that leaves the folder.
    """
    for path in files:
        _must_stay_inside(path)
    target = target.absolute()
    target.parent.mkdir(parents=True, exist_ok=True)
    coming, going = _beside(target, _COMING), _beside(target, _GOING)
    _recover(target, coming, going)
    _must_be_ours(target)
    if _same(files, target):
        return
    try:
        for path, content in files.items():
            _place(content, coming / path, target / path)
        if target.exists():
            os.replace(target, going)
        os.replace(coming, target)
    except BaseException:
        _recover(target, coming, going)
        raise
    shutil.rmtree(going, ignore_errors=True)


class KeptPictures:
    """Charts drawn by earlier builds, by the hash of what they are drawn from.

    Pictures cost most of a build and rarely change. Losing the folder costs time, never correctness.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def get(self, key: str) -> str | None:
        """The picture kept under a key; None when there is none."""
        try:
            return self._file(key).read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError):
            return None

    def put(self, key: str, picture: str) -> None:
        """Keep a picture. A folder that cannot be written to is no fault of the build: nothing is kept."""
        file = self._file(key)
        with contextlib.suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            part = file.with_suffix(f".{os.getpid()}")
            part.write_text(picture, encoding="utf-8")
            os.replace(part, file)

    def _file(self, key: str) -> Path:
        return self._folder / f"{hashlib.sha256(key.encode()).hexdigest()}.svg"


def kept_pictures(root: Path) -> KeptPictures:
    """The pictures kept for a site, in a folder that version control leaves out."""
    return KeptPictures(root / KEPT)


KEPT = ".benchgalley"
"""Folder of a site with what later builds may use again; version control leaves it out."""


def keep_reduction(root: Path, name: str, figures: bytes) -> None:
    """Keep the figures of a sensor log for later builds, under a name that says what they were made from.

    Losing them costs time, never correctness: a folder that cannot be written to is no fault of the build.
    """
    with contextlib.suppress(OSError):
        (root / KEPT).mkdir(parents=True, exist_ok=True)
        part = root / KEPT / f"{name}.{os.getpid()}"
        part.write_bytes(figures)
        os.replace(part, root / KEPT / name)


def _beside(target: Path, suffix: str) -> Path:
    return target.with_name(f".{target.name}{suffix}")


def _recover(target: Path, coming: Path, going: Path) -> None:
    """Clear what an interrupted run left: the old site goes back to its place."""
    if going.exists():
        if target.exists():
            shutil.rmtree(going)
        else:
            os.replace(going, target)
    if coming.exists():
        shutil.rmtree(coming)


def _must_be_ours(target: Path) -> None:
    if not target.exists():
        return
    if not target.is_dir() or target.is_symlink():
        raise ForeignFolderError(f"{target} is not a folder of its own; name another one")
    if any(target.iterdir()) and not (target / page_paths.RECORD).is_file():
        raise ForeignFolderError(
            f"{target} holds files but no {page_paths.RECORD}: it is no published site, and publishing would "
            "replace everything in it; name an empty or a new folder"
        )


def _must_stay_inside(path: str) -> None:
    parts = PurePosixPath(path).parts
    if not parts or path.startswith("/") or ".." in parts or "\\" in path or "\0" in path:
        raise ValueError(f"{path!r} is no path inside the site")


def _same(files: Mapping[str, bytes], target: Path) -> bool:
    if not target.is_dir():
        return False
    there = {p.relative_to(target).as_posix() for p in target.rglob("*") if not p.is_dir()}
    return there == set(files) and all((target / path).read_bytes() == b for path, b in files.items())


def _place(content: bytes, new: Path, old: Path) -> None:
    new.parent.mkdir(parents=True, exist_ok=True)
    new.write_bytes(content)
    with contextlib.suppress(OSError):
        if old.is_file() and old.read_bytes() == content:
            shutil.copystat(old, new)
