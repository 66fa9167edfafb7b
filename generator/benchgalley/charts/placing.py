"""Where a label stands beside its mark without covering another: a small search over eight places."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import hypot, inf

from . import theme
from .reading import Span

PLOT_WIDTH = 560
"""About what is left of the width beside an axis, in picture units."""
PLOT_HEIGHT = 360
_LETTER = 0.56 * theme.FONT_SIZE * 1.12
"""Mean width of a letter, with a reserve for phones, where the words are set larger."""
_GRAIN = 8
"""Distance between the boxes that stand for a line, in picture units."""
_HEIGHT = 1.3 * theme.FONT_SIZE


Box = tuple[float, float, float, float]
"""A rectangle in picture units, y downwards: left, top, right, bottom."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Spot:
    """A found place, in axis units."""

    x: float
    y: float
    align: str


Place = tuple[float, float, str]
"""(dx, dy, alignment) from a mark, in picture units, dy downwards."""

BESIDE: tuple[Place, ...] = (
    (14, 0, "left"), (-14, 0, "right"), (0, -22, "center"), (0, 24, "center"),
    (12, -20, "left"), (12, 22, "left"), (-12, -20, "right"), (-12, 22, "right"),
    (0, -44, "center"), (0, 46, "center"),
)  # fmt: skip
"""Places around a mark, in order of preference."""


class Plot:
    """The plot area with what already stands in it."""

    def __init__(self, x: Span, y: Span, height: float = PLOT_HEIGHT) -> None:
        self._x, self._y, self._height = x, y, height
        self._taken: list[Box] = []

    def _pixels(self, x: float, y: float) -> tuple[float, float]:
        return self._x.share(x) * PLOT_WIDTH, (1 - self._y.share(y)) * self._height

    def take_point(self, x: float, y: float, radius: float) -> None:
        """Note a mark."""
        px, py = self._pixels(x, y)
        self._taken.append((px - radius, py - radius, px + radius, py + radius))

    def take_bar(self, x: float, y: float, x2: float, y2: float) -> None:
        """Note a bar parallel to an axis."""
        (ax, ay), (bx, by) = self._pixels(x, y), self._pixels(x2, y2)
        self._taken.append((min(ax, bx) - 2, min(ay, by) - 2, max(ax, bx) + 2, max(ay, by) + 2))

    def take_line(self, points: Iterable[tuple[float, float]]) -> None:
        """Note a line through points, as small boxes along it."""
        for start, end in pairwise(points):
            (ax, ay), (bx, by) = self._pixels(*start), self._pixels(*end)
            pieces = max(1, round(hypot(bx - ax, by - ay) / _GRAIN))
            for piece in range(pieces):
                x, y = ax + (bx - ax) * piece / pieces, ay + (by - ay) * piece / pieces
                self._taken.append((x - 2, y - 2, x + 2, y + 2))

    def place(self, x: float, y: float, words: str, places: Sequence[Place] = BESIDE) -> Spot:
        """Best place for words beside (x, y), then noted as taken."""
        return self.place_at_one(((x, y),), words, places)

    def place_at_one(
        self, anchors: Sequence[tuple[float, float]], words: str, places: Sequence[Place] = BESIDE
    ) -> Spot:
        """Best place for words beside one of several points, then noted as taken; the first point is preferred."""
        width = _LETTER * len(words)
        marks = [self._pixels(x, y) for x, y in anchors]
        best, found = inf, (0.0, 0.0, "left")
        for least, order, rank in _preferred(len(anchors), len(places)):
            if least >= best:
                break  # no later one can be better
            (px, py), (dx, dy, align) = marks[order], places[rank]
            cost = least + self._cost(_box(px + dx, py + dy, width, align))
            if cost < best:
                best, found = cost, (px + dx, py + dy, align)
        px, py, align = found
        self._taken.append(_box(px, py, width, align))
        return Spot(x=self._x.at(px / PLOT_WIDTH), y=self._y.at(1 - py / self._height), align=align)

    def _cost(self, box: Box) -> float:
        """What a box would cover of what is taken, and how far it would leave the plot, as one figure."""
        left, top, right, bottom = box
        outside = max(0.0, -left) + max(0.0, right - PLOT_WIDTH - 8)
        outside += max(0.0, -top - 4) + max(0.0, bottom - self._height)
        covered = [
            (min(right, x2) - max(left, x)) * (min(bottom, y2) - max(top, y))
            for x, y, x2, y2 in self._taken
            if y < bottom and top < y2 and x < right and left < x2
        ]
        return sum(covered) + 200 * outside


def _box(x: float, y: float, width: float, align: str) -> Box:
    left = {"left": x, "right": x - width, "center": x - width / 2}[align]
    return left, y - _HEIGHT / 2, left + width, y + _HEIGHT / 2


@lru_cache(maxsize=32)
def _preferred(anchors: int, places: int) -> list[tuple[int, int, int]]:
    """(least cost, anchor, place) of every candidate, the cheapest first."""
    return sorted((2 * rank + 12 * order, order, rank) for order in range(anchors) for rank in range(places))
