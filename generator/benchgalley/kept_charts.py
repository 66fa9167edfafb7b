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

Figures = tuple[Figure, ...]

_SETTINGS = "content/site.yaml"


class KeptCharts:
    """The charts kept for a site, one file a write-up.

    `trees`: slug → digest of every file in the folder of the write-up; `files`: path → bytes of the files that
    write-ups share. Losing what is kept costs time, never correctness.
    """

    def __init__(self, root: Path, trees: Mapping[str, str], files: Mapping[str, bytes], pictures: SvgCache) -> None:
        self._root, self._trees, self._files, self._pictures = root, trees, files, pictures

    def of(self, write_up: WriteUp, draw: Callable[[], Figures]) -> Figures:
        """The charts of a write-up: kept ones, or those that `draw` gives now.

        They are kept only if nothing was read for them but the write-up and what it names.
        """
        key = self._made_from(write_up)
        if (found := self._kept(write_up.slug, key)) is not None:
            return found
        with noting() as reads:
            figures = draw()
        for read in reads:
            note(read)
        if not reads:
            plain = as_text((key, [replace(figure, svg="") for figure in figures]))
            keep_bytes(self._root, charts_name(write_up.slug), plain.encode())
        return figures

    def _made_from(self, write_up: WriteUp) -> str:
        found = hashlib.sha256(f"{program()} {self._trees[write_up.slug]}".encode())
        for path in (_SETTINGS, write_up.card.where.file, write_up.bench.where.file, write_up.load.where.file):
            found.update(hashlib.sha256(self._files[path]).digest())
        return found.hexdigest()

    def _kept(self, slug: str, key: str) -> Figures | None:
        content = kept_bytes(self._root, charts_name(slug))
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


def charts_name(slug: str) -> str:
    """Under what the charts of a write-up are kept."""
    return f"{slug}.charts"
