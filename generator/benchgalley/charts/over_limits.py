"""The power-scaling figure: score over the power limit in sweeps and walks."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from ..metrology.curve import monotone_curve
from ..metrology.sample import NotDetermined
from ..records.bench import Sequence as RunSequence
from ..records.bench import SequenceKind, Trial
from ..records.results import Number, Results
from ..records.site import Site
from ..records.write_up import WriteUp
from . import reading
from .marks import level_line, plane_ranges
from .picture import Drawing
from .placing import Plot
from .reading import NBSP, Span, counted, find, setpoint_label

LIMIT = "power_limit_pct"
_CURVE_POINTS = 48

Data = dict[str, list[dict[str, Any]]]


@dataclass(frozen=True, kw_only=True, slots=True)
class Series:
    """One sweep or walk of the power limit."""

    sequence: RunSequence
    label: str
    """As printed."""
    points: tuple[tuple[float, Number], ...]
    """(Power limit in percent, mean score there), rising."""
    runs: tuple[Trial, ...]
    """Completed runs behind the points."""
    style: int

    @property
    def values(self) -> list[float]:
        """Mean scores in the order of the points."""
        return [float(number.value or 0) for _, number in self.points]


def power_scaling(write_up: WriteUp, site: Site, results: Results) -> Drawing | None:
    """Score over the power limit for every sweep and walk, with the stock line and the matching limit."""
    series = _series(write_up, results)
    if not series:
        return None
    unit = write_up.load.score_unit.symbol
    numbers = [number for s in series for _, number in s.points]
    stock = find(results, write_up.slug, write_up.baseline, "score")
    target = _target(write_up, stock)
    x = reading.span([limit for s in series for limit, _ in s.points], 0.06)
    runs = [run.measured["score"] for s in series for run in s.runs]
    y = reading.span([*reading.reach(numbers), *runs, stock.value if stock else None, target], 0.1)
    plot = Plot(x, y)
    data: Data = {"lines": [], "notes": [], "bands": [], "means": [], "runs": _runs(series, unit)}
    for run in data["runs"]:
        plot.take_point(run["x"], run["y"], 6)
    for one in series:
        data["lines"] += _curve(one, plot)
        data["means"] += _means(one, y, plot)
    sentence, addresses = _matching(write_up, series, results, data, plot, y)
    if stock is not None and stock.value is not None:
        words = f"score at {setpoint_label(write_up, write_up.baseline)}"
        _add(data, level_line("stock", stock.value, words, "dashed", x, plot))
    if target is not None:
        _add(data, level_line("target", target, f"{_toward_worse(write_up)} the margin", "dash-dot", x, plot))
    data["notes"] += [_name(one, plot) for one in series]
    labels = reading.listed([s.label for s in series])
    return Drawing(
        id="power-scaling",
        kind="power-scaling",
        template="plane",
        title="Score over the power limit",
        caption=_caption(write_up, series, numbers, data, target is not None) + sentence,
        alternative=f"Score over the power limit, {labels}: {_words(series)}.{sentence}",
        columns=("Sequence", "Power limit", "Runs", "Mean score", "Interval"),
        rows=tuple(
            (s.label, f"{reading.shortest(limit)}{NBSP}%", str(sum(n.runs)), n.printed.text, reading.interval_text(n))
            for s in series
            for limit, n in s.points
        ),
        data=data,
        signals={**plane_ranges(x, y), "x_title": "Power limit (%)", "y_title": reading.titled("score", unit)},
        addresses=(*(n.address.local() for n in numbers), *addresses),
    )


def _series(write_up: WriteUp, results: Results) -> list[Series]:
    found = []
    for style, sequence in enumerate(write_up.sequences.values(), start=1):
        if sequence.kind not in (SequenceKind.SWEEP, SequenceKind.WALK) or sequence.setting != LIMIT:
            continue
        members = [t for t in reading.members(write_up, sequence) if t.counts and "score" in t.measured]
        limits = sorted({float(t.settings[LIMIT]) for t in members})
        points = tuple(
            (limit, number)
            for limit in limits
            if (number := find(results, write_up.slug, sequence.name, reading.at_setting("score", limit))) is not None
        )
        if len(points) > 1:
            known = {limit for limit, _ in points}
            runs = tuple(t for t in members if t.settings[LIMIT] in known)
            label = sequence.label or sequence.name.replace("-", " ")
            found.append(Series(sequence=sequence, label=label, points=points, runs=runs, style=style))
    return found


def _toward_worse(write_up: WriteUp) -> str:
    return "less" if write_up.load.higher_is_better else "plus"


def _target(write_up: WriteUp, stock: Number | None) -> float | None:
    """Score that counts as the baseline's: worse by the declared margin, where there is one."""
    size, in_percent = write_up.margins.by_quantity.get("score", (0.0, True))
    if stock is None or stock.value is None or size == 0:
        return None
    margin = abs(stock.value) * size / 100 if in_percent else size
    return stock.value - margin if write_up.load.higher_is_better else stock.value + margin


def _runs(series: Sequence[Series], unit: str) -> list[dict[str, Any]]:
    return [
        {
            "x": float(trial.settings[LIMIT]),
            "y": trial.measured["score"],
            "style": one.style,
            "tooltip": f"{one.label}, run {trial.id}\n{reading.shortest(float(trial.settings[LIMIT]))}{NBSP}%\n"
            f"{reading.plain(trial.measured['score'], trial.decimals.get('score', 1))}{NBSP}{unit}",
        }
        for one in series
        for trial in one.runs
    ]


def _means(series: Series, y: Span, plot: Plot) -> list[dict[str, Any]]:
    rows = []
    for limit, number in series.points:
        low, high = reading.ends(number.interval, y.low, y.high)
        inner_low, inner_high = reading.ends(number.repeatability_interval, y.low, y.high)
        rows.append(
            {
                "x": limit,
                "y": number.value,
                "y_low": low,
                "y_high": high,
                "inner_y_low": inner_low,
                "inner_y_high": inner_high,
                "style": series.style,
                "address": number.address.local(),
                "tooltip": reading.told(number, f"{series.label}, {reading.shortest(limit)}{NBSP}%"),
            }
        )
        if low is not None and high is not None:
            plot.take_bar(limit, low, limit, high)
    return rows


def _curve(series: Series, plot: Plot) -> list[dict[str, Any]]:
    settings, values = [limit for limit, _ in series.points], series.values
    weights = [float(sum(number.runs)) or 1.0 for _, number in series.points]
    try:
        curve = monotone_curve(settings, values, weights, increasing=values[-1] >= values[0])
    except NotDetermined:
        return []
    last = _CURVE_POINTS - 1
    along = [settings[0] + (settings[-1] - settings[0]) * i / last for i in range(last)] + [settings[-1]]
    points = [(limit, float(score)) for limit, score in zip(along, curve.many(along), strict=True)]
    plot.take_line(points[::4])
    return [
        {"line": series.sequence.name, "x": px, "y": py, "place": i, "dash": "solid", "style": series.style}
        for i, (px, py) in enumerate(points)
    ]


def _add(data: Data, found: tuple[list[dict[str, Any]], list[dict[str, Any]]]) -> None:
    data["lines"] += found[0]
    data["notes"] += found[1]


def _name(series: Series, plot: Plot) -> dict[str, Any]:
    anchors = [(limit, value) for (limit, _), value in zip(series.points, series.values, strict=True)]
    spot = plot.place_at_one(anchors, series.label)
    return {"x": spot.x, "y": spot.y, "align": spot.align, "text": series.label}


def _matching(
    write_up: WriteUp, series: Sequence[Series], results: Results, data: Data, plot: Plot, y: Span
) -> tuple[str, tuple[str, ...]]:
    """Bands of the matching limits; the sentence about them and their addresses."""
    sentences, addresses, marks = [], [], []
    margin = " within the declared margin" if write_up.margins.by_quantity.get("score", (0.0, True))[0] else ""
    for one in series:
        number = find(results, write_up.slug, one.sequence.name, "matching-power-limit")
        if number is None or number.value is None:
            continue
        low, high = reading.ends(number.interval, one.points[0][0], one.points[-1][0])
        if low is not None and high is not None:
            data["bands"].append({"x": low, "x2": high})
        data["lines"] += [
            {
                "line": f"match {one.sequence.name}",
                "x": number.value,
                "y": py,
                "place": i,
                "dash": "dotted",
                "style": one.style,
            }
            for i, py in enumerate((y.low, y.high))
        ]
        marks.append((number.value, number.printed.text))
        between = f" ({number.printed.interval})" if number.printed.interval else ""
        sentences.append(
            f" {one.label[:1].upper()}{one.label[1:]}: the score is back at the baseline's{margin} at"
            f" {number.printed.text}{between}."
        )
        addresses.append(number.address.local())
    for limit, _ in marks:  # all lines first: no label may cross the line of another
        plot.take_line([(limit, y.low), (limit, y.high)])
    for limit, printed in marks:
        words = f"match {printed}"
        heights = [(limit, y.at(share)) for share in (0.04, 0.11, 0.18, 0.25)]
        spot = plot.place_at_one(heights, words, ((8, 0, "left"), (-8, 0, "right")))
        data["notes"].append({"x": spot.x, "y": spot.y, "align": spot.align, "text": words})
    return "".join(sentences), tuple(addresses)


def _caption(write_up: WriteUp, series: Sequence[Series], numbers: Sequence[Number], data: Data, margin: bool) -> str:
    runs = sum(len(s.runs) for s in series)
    stock = any(row["line"] == "stock" for row in data["lines"])
    return (
        f"Mean score at each power limit and all {counted(runs, 'completed run')} as small marks; the lines are"
        f" monotone curves through the means. {reading.bars_explained(numbers)}"
        + (f" Dashed line: mean score at {setpoint_label(write_up, write_up.baseline)}." if stock else "")
        + (f" Dash-dotted line: the same {_toward_worse(write_up)} the declared margin." if margin else "")
        + (" Shaded: interval of the limit that matches." if data["bands"] else "")
    )


def _words(series: Sequence[Series]) -> str:
    parts = []
    for one in series:
        (low, first), (high, last) = one.points[0], one.points[-1]
        parts.append(
            f"{one.label} from {first.printed.text} at {reading.shortest(low)}{NBSP}%"
            f" to {last.printed.text} at {reading.shortest(high)}{NBSP}%"
        )
    return "; ".join(parts)


FIGURES: tuple[tuple[str, Callable[[WriteUp, Site, Results], Drawing | None]], ...] = (
    ("power-scaling", power_scaling),
)
"""Chart kind and the function that prepares it, in page order."""
