"""Charts of write-ups as earlier builds made them, with their words, for as long as what they were made from stands.

Pictures are kept by what they show (see `charts.picture`) and outlive a change of this program. To know what a chart
shows takes as long as to judge every claim of its write-up, and that need not be found again either.
"""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import orjson

from .charts import SvgCache, kept_picture
from .keeping import program
from .publish import keep_bytes, kept_bytes
from .records.as_json import as_text, restored
from .records.figure import Figure
from .records.noted import note, noting
from .records.write_up import WriteUp
from .source_tree import Tree, stamps_below

Figures = tuple[Figure, ...]

_SETTINGS = "content/site.yaml"


class KeptCharts:
    """The charts kept for a site, one file a write-up.

    `trees`: slug → the folder of the write-up when the build began; `files`: path → bytes of the files that write-ups
    share. Losing what is kept costs time, never correctness.
    """

    def __init__(self, root: Path, trees: Mapping[str, Tree], files: Mapping[str, bytes], pictures: SvgCache) -> None:
        self._root, self._trees, self._files, self._pictures = root, trees, files, pictures

    def of(self, write_up: WriteUp, draw: Callable[[], Figures]) -> Figures:
        """The charts of a write-up: kept ones, or those that `draw` gives now.

        They are kept only if nothing was read for them but the write-up and what it names, and if that was not
        written to since the build began.
        """
        key = self._made_from(write_up)
        if (found := self._kept(write_up.slug, key)) is not None:
            return found
        with noting() as reads:
            figures = draw()
        for read in reads:
            note(read)
        if not reads and self._is_as_it_was(write_up.slug):
            plain = as_text((key, [replace(figure, svg="") for figure in figures]))
            keep_bytes(self._root, _name(write_up.slug), plain.encode())
        return figures

    def _made_from(self, write_up: WriteUp) -> str:
        found = hashlib.sha256(f"{program()} {self._trees[write_up.slug].content}".encode())
        for path in (_SETTINGS, write_up.card.where.file, write_up.bench.where.file, write_up.load.where.file):
            found.update(hashlib.sha256(self._files[path]).digest())
        return found.hexdigest()

    def _is_as_it_was(self, slug: str) -> bool:
        return stamps_below(self._root / "content" / "write-ups" / slug) == self._trees[slug].stamps

    def _kept(self, slug: str, key: str) -> Figures | None:
        content = kept_bytes(self._root, _name(slug))
        if content is None:
            return None
        made_from, plain = orjson.loads(content)
        if made_from != key:
            return None
        figures = []
        for figure in restored(Figures, plain):
            svg = kept_picture(figure, slug, self._pictures)
            if svg is None:
                return None
            figures.append(replace(figure, svg=svg))
        return tuple(figures)


def _name(slug: str) -> str:
    return f"{slug}.charts"
