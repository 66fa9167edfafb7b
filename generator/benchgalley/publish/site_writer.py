"""Writes the site: the only module that does.

A printing is built whole in a folder beside the old one and then takes its place by renaming, so that a crash at
any moment leaves either the old site or the new one, never half of each. Files that did not change are the same
files in both: linked, not written again.
"""

import contextlib
import hashlib
import os
import shutil
import stat
from collections.abc import Callable, Collection, Mapping
from pathlib import Path
from typing import IO, Literal

from benchgalley.records.sealed import sealed, unsealed

from . import page_paths
from .stamps import Stamp, printed, stamp_of
from .swapping import swapped

_COMING, _GOING = ".coming", ".going"


class ForeignFolderError(OSError):
    """The folder to publish into holds something that is no site of ours."""


class Printing:
    """A site in the making: files are put beside the old site until the whole takes its place.

    `begin` comes first; several processes may then `put` files into the same printing; one of them ends it.

    The folder of the printing before last is kept as `spare` and taken up again: most of its files are still those
    of the next printing, and need not be linked one by one. A file of it counts only where it is the very same file
    as the one to be kept.
    """

    def __init__(self, target: Path, spare: Path | None = None) -> None:
        self.target = target.absolute()
        if not self.target.name:
            raise ForeignFolderError(f"{target} is no folder to publish into; name another one")
        self._coming, self._going = _beside(self.target, _COMING), _beside(self.target, _GOING)
        self._spare = spare
        self._folders: set[str] = set()

    def begin(self) -> None:
        """Clear what an interrupted run left. Raises ForeignFolderError before touching anything that is not ours."""
        self.target.parent.mkdir(parents=True, exist_ok=True)
        _recover(self.target, self._coming, self._going)
        _must_be_ours(self.target)
        spare = self._spare
        if spare is not None and spare.is_dir() and not spare.is_symlink() and not _hidden(spare):
            with contextlib.suppress(OSError):  # on another disk
                os.replace(spare, self._coming)

    def put(self, files: Mapping[str, bytes]) -> None:
        """Add files, path in the site → bytes. Raises ValueError for a path that leaves the folder."""
        for path, content in files.items():
            _must_stay_inside(path)
            _place(content, self._ready(path), f"{self.target}/{path}")

    def publish(
        self, paths: Collection[str], kept: Mapping[str, Stamp] | None = None, from_: Path | None = None
    ) -> dict[str, Stamp]:
        """Let the printing take the place of the old site, nothing but `paths` in it; their stamps.

        `kept`: path → stamp, of files taken as they stand in a site printed before, `from_`. What is hidden at the top
        of the old site (of a repository, or of the host) is no part of a printing: it stands in the new one too.
        """
        there, strangers = printed(self._coming)
        for path in [*strangers, *(there.keys() - set(paths))]:
            there.pop(path, None)
            self._remove(path)
        if kept and from_ is not None:
            self._keep(kept, str(from_), there)
        try:
            if swapped(self._coming, self.target):
                os.replace(self._coming, self._going)
            else:
                if self.target.exists():
                    os.replace(self.target, self._going)
                os.replace(self._coming, self.target)
            _hand_over(self._going, self.target)
        except BaseException:
            _recover(self.target, self._coming, self._going)
            raise
        self._set_aside(self._going)
        return there

    def abandon(self) -> None:
        """Leave the old site as it is."""
        self._folders.clear()
        self._set_aside(self._coming)
        _recover(self.target, self._coming, self._going)

    def _keep(self, files: Mapping[str, Stamp], from_: str, there: dict[str, Stamp]) -> None:
        same_disk = self._coming.is_dir() and os.stat(self._coming).st_dev == os.stat(from_).st_dev
        for path, stamp in files.items():
            if not (same_disk and there.get(path) == stamp):
                new = self._ready(path)
                _link(f"{from_}/{path}", new)
                there[path] = stamp_of(os.stat(new))

    def _set_aside(self, folder: Path) -> None:
        """Keep a folder that is no longer wanted as the spare one, or remove it."""
        if self._spare is not None and folder.is_dir():
            with contextlib.suppress(OSError):
                if self._spare.exists():
                    shutil.rmtree(self._spare)
                self._spare.parent.mkdir(parents=True, exist_ok=True)
                os.replace(folder, self._spare)
        shutil.rmtree(folder, ignore_errors=True)

    def _ready(self, path: str) -> str:
        new = f"{self._coming}/{path}"
        folder = new.rpartition("/")[0]
        if folder not in self._folders:
            for end in [at for at, letter in enumerate(path) if letter == "/"]:
                _make_way(f"{self._coming}/{path[:end]}")
            os.makedirs(folder, exist_ok=True)
            self._folders.add(folder)
        return new

    def _remove(self, path: str) -> None:
        """Remove a file, a link itself or an empty folder from the printing, and folders that are then empty."""
        entry = f"{self._coming}/{path}".rstrip("/")
        (os.rmdir if path.endswith("/") else os.unlink)(entry)
        folder = os.path.dirname(entry)
        with contextlib.suppress(OSError):  # a folder that still holds something stays
            while folder != str(self._coming):
                os.rmdir(folder)
                folder = os.path.dirname(folder)


def write_site(files: Mapping[str, bytes], target: Path) -> None:
    """Publish `files` (path in the site → bytes) as the folder `target`, in place of an older printing.

    Unchanged files keep their time of change. Raises ForeignFolderError, before touching anything, when the
    folder holds files but no record.json of a published site; ValueError for a path that leaves the folder.
    """
    for path in files:
        _must_stay_inside(path)
    printing = Printing(target)
    printing.begin()
    if _same(files, printing.target):
        return
    try:
        printing.put(files)
        printing.publish(files)
    except BaseException:
        printing.abandon()
        raise


class KeptPictures:
    """Charts drawn by earlier builds, by the hash of what they are drawn from.

    Pictures cost most of a build and rarely change. Losing the folder costs time, never correctness.
    """

    def __init__(self, root: Path) -> None:
        self._root = root

    def get(self, key: str) -> str | None:
        """The picture kept under a key; None when there is none."""
        content = kept_bytes(self._root, _picture(key))
        return None if content is None else content.decode()

    def put(self, key: str, picture: str) -> None:
        """Keep a picture. A folder that cannot be written to is no fault of the build: nothing is kept."""
        keep_bytes(self._root, _picture(key), picture.encode())


def _picture(key: str) -> str:
    return f"{hashlib.sha256(key.encode()).hexdigest()}.picture"


KEPT = ".benchgalley"
"""Folder of a site with what later builds may use again; version control leaves it out."""


def keep_bytes(root: Path, name: str, content: bytes) -> None:
    """Keep something for later builds under a name, sealed.

    Losing it costs time, never correctness: a folder that cannot be written to is no fault of the build.
    """
    file = f"{root}/{KEPT}/{name}"
    part = f"{file}.{os.getpid()}"
    with contextlib.suppress(OSError):
        os.makedirs(os.path.dirname(file), exist_ok=True)
        _write(sealed(content, name), part, "wb")
        os.replace(part, file)


def kept_bytes(root: Path, name: str) -> bytes | None:
    """What was kept under a name; None when there is nothing, or it is not whole."""
    try:
        return unsealed(_read(f"{root}/{KEPT}/{name}"), name)
    except OSError:
        return None


def kept_file(root: Path, name: str) -> IO[bytes] | None:
    """The file of a name, empty where there was none, open and as it is; None where none can be made."""
    with contextlib.suppress(OSError):
        (root / KEPT).mkdir(parents=True, exist_ok=True)
        return (root / KEPT / name).open("ab")
    return None


def forget_others(root: Path, suffix: str, kept: Collection[str]) -> None:
    """Drop what was kept under names with a suffix, but for those that later builds can use."""
    with contextlib.suppress(OSError), os.scandir(root / KEPT) as there:
        for entry in there:
            if entry.name.endswith(suffix) and entry.name not in kept:
                with contextlib.suppress(OSError):
                    os.unlink(entry)


def _beside(target: Path, suffix: str) -> Path:
    return target.with_name(f".{target.name}{suffix}")


def _recover(target: Path, coming: Path, going: Path) -> None:
    """Clear what an interrupted run left: the old site goes back to its place."""
    for left in (going, coming):
        if left.is_symlink():
            left.unlink()
    if going.exists() and not target.exists():
        os.replace(going, target)
    for left in (going, coming):
        if left.exists():
            _hand_over(left, target)
            shutil.rmtree(left)


def _hand_over(old: Path, new: Path) -> None:
    """What is hidden at the top of the old site goes into the new one, which is in its place already."""
    if not old.is_dir() or not new.is_dir():
        return
    for name in _hidden(old):
        if not os.path.lexists(new / name):
            os.rename(old / name, new / name)


def _hidden(folder: Path) -> list[str]:
    return [name for name in os.listdir(folder) if name.startswith(".")]


def _make_way(folder: str) -> None:
    """Nothing but a folder of our own stands where one is needed: what is written there goes nowhere else."""
    with contextlib.suppress(FileNotFoundError):
        if not stat.S_ISDIR(os.lstat(folder).st_mode):
            os.unlink(folder)


def _must_be_ours(target: Path) -> None:
    if not os.path.lexists(target):
        return
    if not target.is_dir() or target.is_symlink():
        raise ForeignFolderError(f"{target} is not a folder of its own; name another one")
    holds = [entry for entry in target.iterdir() if not entry.name.startswith(".")]
    if holds and not (target / page_paths.RECORD).is_file():
        raise ForeignFolderError(
            f"{target} holds files but no {page_paths.RECORD}: it is no published site, and publishing would "
            "replace everything in it; name an empty or a new folder"
        )


def _must_stay_inside(path: str) -> None:
    if path.strip("/.") == "" or path.startswith("/") or ".." in path.split("/") or "\\" in path or "\0" in path:
        raise ValueError(f"{path!r} is no path inside the site")


def _same(files: Mapping[str, bytes], target: Path) -> bool:
    if not target.is_dir():
        return False
    there, strangers = printed(target)
    same = not strangers and set(there) == set(files)
    return same and all((target / path).read_bytes() == content for path, content in files.items())


def _place(content: bytes, new: str, old: str) -> None:
    with contextlib.suppress(OSError):
        found = os.lstat(old)
        if found.st_size == len(content) and stat.S_ISREG(found.st_mode) and _read(old) == content:
            if not _is(found, new):  # the printing before last most often holds the very same file
                _link(old, new)
            return
    _afresh(lambda: _write(content, new), new)


def _read(path: str) -> bytes:
    with open(path, "rb", buffering=0) as file:  # whole and at once: a buffer would only be asked for and filled
        return file.readall()


def _is(found: os.stat_result, path: str) -> bool:
    try:
        return os.path.samestat(found, os.lstat(path))
    except OSError:
        return False


def _write(content: bytes, new: str, mode: Literal["wb", "xb"] = "xb") -> None:
    with open(new, mode) as file:
        file.write(content)


def _link(old: str, new: str) -> None:
    """The same file under both names; a copy with its time of change where links are not to be had."""
    try:
        _afresh(lambda: os.link(old, new), new)
    except OSError:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(new)
        shutil.copy2(old, new)


def _afresh(make: Callable[[], None], new: str) -> None:
    """Make a file; one of that name goes first: it may be the old site's own under a second name."""
    try:
        make()
    except (FileExistsError, IsADirectoryError):
        if os.path.isdir(new) and not os.path.islink(new):
            shutil.rmtree(new)
        else:
            os.unlink(new)
        make()
