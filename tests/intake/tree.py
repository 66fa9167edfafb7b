"""A copy of the small site that tests may damage, and problems as text."""

import shutil
from dataclasses import dataclass
from pathlib import Path

from benchgalley.intake import read_site
from benchgalley.records.findings import Problem
from benchgalley.records.site import Site

SMALL_SITE = Path(__file__).parents[1] / "fixtures" / "small_site"
LANTERN = "content/write-ups/quiet-lantern/write-up.md"
LANTERN_TRIALS = "content/write-ups/quiet-lantern/trials.csv"
PEBBLE = "content/write-ups/pebble-by-log/write-up.md"
PEBBLE_TRIALS = "content/write-ups/pebble-by-log/trials.csv"
PEBBLE_LOG = "content/write-ups/pebble-by-log/logs/evening.csv"
SITE = "content/site.yaml"
BENCH = "content/benches/shed.yaml"
LOAD = "content/loads/harbour-scene.yaml"
CARD = "content/cards/lantern-60.yaml"


def told(problems: tuple[Problem, ...] | list[Problem]) -> list[str]:
    """Problems as `file:line:column: rule: message | mend`."""
    return [f"{p.where.file}:{p.where.line}:{p.where.column}: {p.rule}: {p.message} | {p.mend}" for p in problems]


@dataclass
class Tree:
    """A site on disk that a test edits."""

    root: Path

    @classmethod
    def copy(cls, target: Path) -> "Tree":
        shutil.copytree(SMALL_SITE, target / "site")
        return cls(target / "site")

    def edit(self, file: str, old: str, new: str) -> "Tree":
        """Replace a text that must stand there exactly once."""
        path = self.root / file
        text = path.read_text(encoding="utf-8")
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {file}"
        path.write_text(text.replace(old, new), encoding="utf-8", newline="")
        return self

    def write(self, file: str, data: str | bytes) -> "Tree":
        path = self.root / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data.encode("utf-8") if isinstance(data, str) else data)
        return self

    def text(self, file: str) -> str:
        return (self.root / file).read_text(encoding="utf-8")

    def read(self) -> tuple[Site | None, tuple[Problem, ...]]:
        return read_site(self.root)

    def told(self) -> list[str]:
        return told(self.read()[1])
