"""Where a label stands beside its mark without covering another: a small search over eight places."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot

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


@dataclass(frozen=True, kw_only=True, slots=True)
class Box:
    """A rectangle in picture units, y downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def overlap(self, other: "Box") -> float:
        """Area shared with another box."""
        if self.left >= other.right or other.left >= self.right or self.top >= other.bottom or other.top >= self.bottom:
            return 0.0
        width = min(self.right, other.right) - max(self.left, other.left)
        return width * (min(self.bottom, other.bottom) - max(self.top, other.top))


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
        self._taken.append(Box(left=px - radius, top=py - radius, right=px + radius, bottom=py + radius))

    def take_bar(self, x: float, y: float, x2: float, y2: float) -> None:
        """Note a bar parallel to an axis."""
        (ax, ay), (bx, by) = self._pixels(x, y), self._pixels(x2, y2)
        self._taken.append(
            Box(left=min(ax, bx) - 2, top=min(ay, by) - 2, right=max(ax, bx) + 2, bottom=max(ay, by) + 2)
        )

    def take_line(self, points: Iterable[tuple[float, float]]) -> None:
        """Note a line through points, as small boxes along it."""
        for start, end in pairwise(points):
            (ax, ay), (bx, by) = self._pixels(*start), self._pixels(*end)
            pieces = max(1, round(hypot(bx - ax, by - ay) / _GRAIN))
            for piece in range(pieces):
                x, y = ax + (bx - ax) * piece / pieces, ay + (by - ay) * piece / pieces
                self._taken.append(Box(left=x - 2, top=y - 2, right=x + 2, bottom=y + 2))

    def place(self, x: float, y: float, words: str, places: Sequence[Place] = BESIDE) -> Spot:
        """Best place for words beside (x, y), then noted as taken."""
        return self.place_at_one(((x, y),), words, places)

    def place_at_one(
        self, anchors: Sequence[tuple[float, float]], words: str, places: Sequence[Place] = BESIDE
    ) -> Spot:
        """Best place for words beside one of several points, then noted as taken; the first point is preferred."""
        width = _LETTER * len(words)
        candidates = []
        for order, (x, y) in enumerate(anchors):
            px, py = self._pixels(x, y)
            for rank, (dx, dy, align) in enumerate(places):
                box = self._box(px + dx, py + dy, width, align)
                candidates.append((self._cost(box) + 2 * rank + 12 * order, px + dx, py + dy, align, box))
        _, px, py, align, box = min(candidates, key=lambda candidate: candidate[0])
        self._taken.append(box)
        return Spot(x=self._x.at(px / PLOT_WIDTH), y=self._y.at(1 - py / self._height), align=align)

    @staticmethod
    def _box(x: float, y: float, width: float, align: str) -> Box:
        left = {"left": x, "right": x - width, "center": x - width / 2}[align]
        return Box(left=left, top=y - _HEIGHT / 2, right=left + width, bottom=y + _HEIGHT / 2)

    def _cost(self, box: Box) -> float:
        outside = max(0.0, -box.left) + max(0.0, box.right - PLOT_WIDTH - 8)
        outside += max(0.0, -box.top - 4) + max(0.0, box.bottom - self._height)
        return sum(box.overlap(other) for other in self._taken) + 200 * outside
