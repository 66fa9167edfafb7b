"""The trade front: what is kept of the score for what is drawn of the power."""

from collections.abc import Callable, Sequence
from typing import Any

from ..metrology.choice import trade_front as front_of
from ..records.results import Number, Results
from ..records.site import Site
from ..records.write_up import WriteUp
from . import reading
from .marks import name_means, plane_mean, plane_ranges, take_means
from .picture import Drawing
from .placing import Plot
from .reading import NBSP, Span, counted, find, setpoint_label

Share = tuple[str, Number | None, Number | None]
"""Setpoint, share of the baseline's board power, share of its score; without numbers the baseline itself."""

WHOLE = 100.0
"""The baseline's share of itself, percent."""


def trade_front(write_up: WriteUp, site: Site, results: Results) -> Drawing | None:
    """Share of the score kept against share of the board power drawn; the settings no other one betters."""
    shares = _shares(write_up, results)
    if len(shares) < 3:
        return None
    numbers = [n for _, *pair in shares for n in pair if n is not None]
    x = reading.span([WHOLE, *reading.reach(p for _, p, _ in shares if p is not None)], 0.1)
    y = reading.span([WHOLE, *reading.reach(s for *_, s in shares if s is not None)], 0.14)
    points = [(_value(power), _value(score)) for _, power, score in shares]
    sign = 1 if write_up.load.higher_is_better else -1
    on_front = front_of([px for px, _ in points], [sign * py for _, py in points])
    members = sorted(on_front, key=lambda i: points[i])
    means = [_mean(write_up, share, x, y) for share in shares]
    plot = Plot(x, y)
    take_means(plot, means)
    stairs = _stairs(members, points, x)
    plot.take_line([(step["x"], step["y"]) for step in stairs])
    data: dict[str, list[dict[str, Any]]] = {"means": means, "lines": stairs, "notes": []}
    if write_up.load.higher_is_better:
        data["lines"] += _diagonal(x, y, plot, data["notes"])
    data["notes"] += name_means(plot, means)
    stock = setpoint_label(write_up, write_up.baseline)
    names = reading.listed([setpoint_label(write_up, shares[i][0]) for i in members])
    return Drawing(
        id="trade-front",
        kind="trade-front",
        template="plane",
        title="What is kept for what is drawn",
        caption=(
            f"Score and board power of {counted(len(shares), 'setting')} in percent of {stock}."
            f" The stepped line joins the settings that no other one betters in both: {names}."
            + (f" Dotted: the score per watt of {stock}." if write_up.load.higher_is_better else "")
            + f" {reading.bars_explained(numbers)}"
        ),
        alternative=f"Share of the score kept and of the board power drawn, against {stock}: "
        + reading.said(
            (setpoint_label(write_up, n), f"{s.printed.text} of the score for {p.printed.text} of the power")
            for n, p, s in shares
            if p is not None and s is not None
        )
        + f" Not bettered in both: {names}.",
        columns=(
            "Setting",
            f"Board power, share of {stock}",
            "Interval",
            f"Score, share of {stock}",
            "Interval",
            "On the front",
        ),
        rows=tuple(_row(write_up, share, i in members) for i, share in enumerate(shares)),
        data=data,
        signals={
            **plane_ranges(x, y),
            "x_title": reading.titled(f"board power, share of {stock}", "%"),
            "y_title": reading.titled(f"score, share of {stock}", "%"),
        },
        addresses=tuple(n.address.local() for n in numbers),
    )


def _shares(write_up: WriteUp, results: Results) -> list[Share]:
    found: list[Share] = []
    for name in write_up.setpoints:
        if name == write_up.baseline:
            found.append((name, None, None))
            continue
        power = find(results, write_up.slug, name, "board-power", "of-baseline")
        score = find(results, write_up.slug, name, "score", "of-baseline")
        if power is not None and score is not None:
            found.append((name, power, score))
    return found


def _value(number: Number | None) -> float:
    return WHOLE if number is None or number.value is None else number.value


def _mean(write_up: WriteUp, share: Share, x: Span, y: Span) -> dict[str, Any]:
    name, power, score = share
    label = setpoint_label(write_up, name)
    shown: dict[str, Any] = {"label": label, "style": reading.looks(write_up)[name]}
    if power is None or score is None:
        return {**shown, "x": WHOLE, "y": WHOLE, "tooltip": f"{label}\n{BY_DEFINITION}"}
    told = reading.told_pair(label, "board power", power, score)
    return {**shown, "tooltip": told, "address": score.address.local(), **plane_mean(power, score, x, y)}


BY_DEFINITION = f"100{NBSP}% by definition"


def _row(write_up: WriteUp, share: Share, member: bool) -> tuple[str, ...]:
    name, *pair = share
    cells = [
        cell
        for n in pair
        for cell in ((BY_DEFINITION, "none") if n is None else (n.printed.text, reading.interval_text(n)))
    ]
    return (setpoint_label(write_up, name), *cells, "yes" if member else "no")


def _stairs(members: Sequence[int], points: Sequence[tuple[float, float]], x: Span) -> list[dict[str, Any]]:
    """The border of what is bettered: flat from each member to the power of the next."""
    corners: list[tuple[float, float]] = []
    for i, place in enumerate(members):
        until = points[members[i + 1]][0] if i + 1 < len(members) else x.high
        corners += [points[place], (until, points[place][1])]
    return [
        {"line": "front", "x": px, "y": py, "place": i, "dash": "solid", "style": 1}
        for i, (px, py) in enumerate(corners)
    ]


def _diagonal(x: Span, y: Span, plot: Plot, notes: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Points of the same score per watt as the baseline, as far as they lie inside the plot."""
    low, high = max(x.low, y.low), min(x.high, y.high)
    if low >= high:
        return []
    plot.take_line(((low, low), (high, high)))
    words = "same score per watt"
    spot = plot.place(low, low, words)
    notes.append({"x": spot.x, "y": spot.y, "align": spot.align, "text": words})
    return [
        {"line": "same", "x": v, "y": v, "place": i, "dash": "dotted", "style": 0} for i, v in enumerate((low, high))
    ]


FIGURES: tuple[tuple[str, Callable[[WriteUp, Site, Results], Drawing | None]], ...] = (("trade-front", trade_front),)
"""Chart kind and the function that prepares it, in page order."""
