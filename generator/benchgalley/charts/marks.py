"""Rows of data as the templates take them."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ..records.results import Number
from . import reading
from .placing import Plot
from .reading import Span

_LETTERS_A_ROW = 46
"""Letters that fit above a row even where the words are set larger, on a phone."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One row of a row chart before it is laid out."""

    number: Number
    row: str
    """Unique in its figure."""
    label: str
    """As printed above the row."""
    style: int
    reference: float | None
    """Where the row's dashed line stands, in the unit of the number; None: no line."""
    address: str = ""
    """Address with its scope where the figure shows more than one; empty: the local one."""


def interval_rows(rows: Sequence[Row], x: Span) -> list[dict[str, Any]]:
    """Data of the `interval-rows` template. Either every row prints its uncertainty or, for want of room, none."""
    room = all(len(r.label) + len(r.number.printed.plus_minus) <= _LETTERS_A_ROW for r in rows)
    laid_out = []
    for row in rows:
        number = row.number
        low, high = reading.ends(number.interval, x.low, x.high)
        inner_low, inner_high = reading.ends(number.repeatability_interval, x.low, x.high)
        words = number.printed.plus_minus if room else number.printed.text
        laid_out.append(
            {
                "row": row.row,
                "label": _cut(row.label, _LETTERS_A_ROW - len(words)),
                "printed": words,
                "value": number.value,
                "low": low,
                "high": high,
                "inner_low": inner_low,
                "inner_high": inner_high,
                "reference": row.reference,
                "style": row.style,
                "tooltip": reading.told(number, row.label),
                "address": row.address or number.address.local(),
            }
        )
    return laid_out


def _cut(words: str, letters: int) -> str:
    """Words cut to a number of letters; the data table has them whole."""
    return words if len(words) <= letters else words[: letters - 1].rstrip() + "…"


def plane_mean(across: Number, up: Number, x: Span, y: Span) -> dict[str, float | None]:
    """Value and interval ends of a point of the `plane` template."""
    x_low, x_high = reading.ends(across.interval, x.low, x.high)
    y_low, y_high = reading.ends(up.interval, y.low, y.high)
    inner_x_low, inner_x_high = reading.ends(across.repeatability_interval, x.low, x.high)
    inner_y_low, inner_y_high = reading.ends(up.repeatability_interval, y.low, y.high)
    return {
        "x": across.value,
        "y": up.value,
        "x_low": x_low,
        "x_high": x_high,
        "y_low": y_low,
        "y_high": y_high,
        "inner_x_low": inner_x_low,
        "inner_x_high": inner_x_high,
        "inner_y_low": inner_y_low,
        "inner_y_high": inner_y_high,
    }


def plane_ranges(x: Span, y: Span) -> dict[str, float | str]:
    """Range signals of the `plane` template."""
    return {"x_low": x.low, "x_high": x.high, "y_low": y.low, "y_high": y.high}


def take_means(plot: Plot, means: Sequence[dict[str, Any]]) -> None:
    """Note the means of the `plane` template and their bars as taken."""
    for mean in means:
        plot.take_point(mean["x"], mean["y"], 9)
        if mean.get("x_low") is not None:
            plot.take_bar(mean["x_low"], mean["y"], mean["x_high"], mean["y"])
        if mean.get("y_low") is not None:
            plot.take_bar(mean["x"], mean["y_low"], mean["x"], mean["y_high"])


def name_means(plot: Plot, means: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Notes with the label of each mean, placed beside it."""
    notes = []
    for mean in means:
        spot = plot.place(mean["x"], mean["y"], mean["label"])
        notes.append({"x": spot.x, "y": spot.y, "align": spot.align, "text": mean["label"]})
    return notes


def level_line(
    line: str, value: float, words: str, dash: str, x: Span, plot: Plot
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Line across the plot at a value, and its note above or below the left end."""
    ends = ((x.low, value), (x.high, value))
    lines = [{"line": line, "x": px, "y": py, "place": i, "dash": dash, "style": 0} for i, (px, py) in enumerate(ends)]
    plot.take_line(ends)
    spot = plot.place(x.at(0.01), value, words, ((0, -14, "left"), (0, 16, "left")))
    return lines, [{"x": spot.x, "y": spot.y, "align": spot.align, "text": words}]
