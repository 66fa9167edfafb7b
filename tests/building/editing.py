"""Edits of a site's content, and what a build of it from nothing gives."""

import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

from benchgalley import pipeline
from benchgalley.publish import kept_bytes
from benchgalley.records.site import Built

Edit = Callable[[Path], object]


def tree(folder: Path) -> dict[str, bytes]:
    """Path → bytes of every file of a published site."""
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def replaced(file: str, old: str, new: str) -> Edit:
    """The edit that replaces a text, which must be there, in a file of the content."""

    def edit(root: Path) -> None:
        path = root / "content" / file
        text = path.read_text("utf-8")
        assert old in text, f"{file}: {old!r}"
        path.write_text(text.replace(old, new, 1), "utf-8")

    return edit


def state_of(root: Path) -> dict[str, Any]:
    """What the last build that was kept as "test" left."""
    found: dict[str, Any] = json.loads(kept_bytes(root, "test.state") or b"{}")
    return found


def leave_at_once(*_: object) -> None:
    """What a process does that the system ends."""
    os._exit(1)


class Site:
    """A private site that is built again and again, each time into a folder of its own as a preview is."""

    def __init__(self, content: Path, folder: Path) -> None:
        self.root, self._folder = folder / "content-and-state", folder
        shutil.copytree(content, self.root / "content")
        self.builds = 0

    def build(self) -> tuple[tuple[str, ...], Path]:
        """Build; what was made, and where it stands."""
        self.builds += 1
        target = self._folder / f"build-{self.builds}"
        built = pipeline.build(self.root, target, kept_as="test")
        assert built.passes, built.problems
        return built.made, target

    def from_nothing(self) -> dict[str, bytes]:
        """What a build of a copy gives that no build came before."""
        built, files = self.outcome_from_nothing()
        assert built.passes, built.problems
        return files

    def outcome_from_nothing(self) -> tuple[Built, dict[str, bytes]]:
        """What a build of a copy that no build came before says, and its files; only pictures and logs are kept."""
        root = self._folder / "copy"
        shutil.rmtree(root, ignore_errors=True)
        shutil.copytree(self.root / "content", root / "content")
        (root / ".benchgalley").mkdir()
        for kept in (self.root / ".benchgalley").iterdir():
            if kept.name.endswith((".picture", ".log")):
                shutil.copy(kept, root / ".benchgalley" / kept.name)
        built = pipeline.build(root, root / "site")
        return built, tree(root / "site")

    def after(self, edit: Edit) -> tuple[str, ...]:
        """What an edit made the next build do; its site is the one a build from nothing gives, to the byte."""
        edit(self.root)
        made, target = self.build()
        fresh, rebuilt = self.from_nothing(), tree(target)
        assert sorted(rebuilt) == sorted(fresh)
        assert [path for path in fresh if fresh[path] != rebuilt[path]] == []
        return made
