"""Figures over the setpoints of one write-up."""

from collections.abc import Callable, Sequence
from typing import Any

from ..records.results import Number, Results
from ..records.site import Site
from ..records.write_up import WriteUp
from . import reading
from .marks import Row, interval_rows, level_line, name_means, plane_mean, plane_ranges, take_means
from .picture import Drawing
from .placing import Plot
from .reading import NBSP, Span, counted, find, setpoint_label

Pair = tuple[str, Number, Number]
"""Setpoint, its board power, its score."""


POWERS = (("board-power", "score-per-watt"), ("wall-power", "score-per-wall-watt"))
"""Power quantities and the score for each of their watts; the first that was measured is drawn."""


def score_against_power(write_up: WriteUp, site: Site, results: Results) -> Drawing | None:
    """Mean score over mean power of each setpoint, with every run and the stock line."""
    power, pairs = _pairs(write_up, results)
    if len(pairs) < 2:
        return None
    runs = _run_points(write_up, power, pairs)
    x = reading.span([*reading.reach(p for _, p, _ in pairs), *(r["x"] for r in runs)], 0.1)
    y = reading.span([*reading.reach(s for *_, s in pairs), *(r["y"] for r in runs)], 0.12)
    means = [_mean_point(write_up, power, pair, x, y) for pair in pairs]
    stock = next((s for name, _, s in pairs if name == write_up.baseline), None)
    data: dict[str, list[dict[str, Any]]] = {"runs": runs, "means": means, "lines": [], "notes": []}
    plot = Plot(x, y)
    for run in runs:
        plot.take_point(run["x"], run["y"], 5)
    take_means(plot, means)
    if stock is not None and stock.value is not None:
        words = f"score at {setpoint_label(write_up, write_up.baseline)}"
        data["lines"], data["notes"] = level_line("stock", stock.value, words, "dashed", x, plot)
    data["notes"] += name_means(plot, means)
    named = reading.NAMES[power]
    head = reading.titled(named, "")
    return Drawing(
        id="score-against-power",
        kind="score-against-power",
        template="plane",
        title=f"Score against {named}",
        caption=_plane_caption(write_up, named, pairs, len(runs), stock is not None),
        alternative=f"Score over {named}: "
        + reading.said((setpoint_label(write_up, n), f"{s.printed.text} at {p.printed.text}") for n, p, s in pairs),
        columns=("Setting", "Runs", head, f"{head}, interval", "Score", "Score, interval"),
        rows=tuple(_plane_row(write_up, pair) for pair in pairs),
        data=data,
        signals={
            **plane_ranges(x, y),
            "x_title": reading.axis_title(power, pairs[0][1]),
            "y_title": reading.axis_title("score", pairs[0][2]),
        },
        addresses=tuple(n.address.local() for _, *numbers in pairs for n in numbers),
    )


def _pairs(write_up: WriteUp, results: Results) -> tuple[str, list[Pair]]:
    """The power quantity drawn, and the setpoints that have both it and a score."""
    for quantity, _ in POWERS:
        pairs: list[Pair] = []
        for name in write_up.setpoints:
            power = find(results, write_up.slug, name, quantity)
            score = find(results, write_up.slug, name, "score")
            if power is not None and score is not None:
                pairs.append((name, power, score))
        if len(pairs) > 1:
            return quantity, pairs
    return POWERS[0][0], []


def _run_points(write_up: WriteUp, quantity: str, pairs: Sequence[Pair]) -> list[dict[str, Any]]:
    style, column = reading.looks(write_up), reading.COLUMNS[quantity]
    points = []
    for name, power, score in pairs:
        both = {t.id for t in reading.runs_behind(write_up, power)}
        for trial in reading.runs_behind(write_up, score):
            if trial.id not in both:
                continue
            x, y = trial.measured[column], trial.measured["score"]
            told = "\n".join(
                (
                    f"{setpoint_label(write_up, name)}, run {trial.id}",
                    f"{reading.plain(x, trial.decimals.get(column, 1))}{NBSP}W",
                    f"{reading.plain(y, trial.decimals.get('score', 1))}{NBSP}{score.unit.symbol}",
                )
            )
            points.append({"x": x, "y": y, "style": style[name], "tooltip": told})
    return points


def _mean_point(write_up: WriteUp, quantity: str, pair: Pair, x: Span, y: Span) -> dict[str, Any]:
    name, power, score = pair
    label = setpoint_label(write_up, name)
    return {
        "label": label,
        "style": reading.looks(write_up)[name],
        "address": score.address.local(),
        "tooltip": reading.told_pair(label, reading.NAMES[quantity], power, score),
        **plane_mean(power, score, x, y),
    }


def _plane_caption(write_up: WriteUp, power: str, pairs: Sequence[Pair], runs: int, stock: bool) -> str:
    parts = [
        f"Mean score and {power} at {counted(len(pairs), 'setting')}, {counted(runs, 'run')} in all,"
        f" each drawn as a small mark.",
        reading.bars_explained([n for _, *numbers in pairs for n in numbers]),
    ]
    if stock:
        parts.append(f"Dashed line: mean score at {setpoint_label(write_up, write_up.baseline)}.")
    return " ".join(parts)


def _plane_row(write_up: WriteUp, pair: Pair) -> tuple[str, ...]:
    name, power, score = pair
    return (
        setpoint_label(write_up, name),
        str(sum(score.runs)),
        power.printed.text,
        reading.interval_text(power),
        score.printed.text,
        reading.interval_text(score),
    )


def score_per_watt(write_up: WriteUp, site: Site, results: Results) -> Drawing | None:
    """Score per watt of each setpoint, one row each, beside the baseline's."""
    power, quantity, numbers = _per_watt(write_up, results)
    if len(numbers) < 2:
        return None
    column = reading.COLUMNS[power]
    style = reading.looks(write_up)
    runs: list[dict[str, Any]] = [
        {
            "row": name,
            "value": trial.measured["score"] / trial.measured[column],
            "style": style[name],
            "tooltip": f"{setpoint_label(write_up, name)}, run {trial.id}",
        }
        for name, number in numbers
        for trial in reading.runs_behind(write_up, number)
        if {"score", column} <= set(trial.measured)
    ]
    x = reading.span([*reading.reach(n for _, n in numbers), *(r["value"] for r in runs)])
    stock = dict(numbers).get(write_up.baseline)
    level = stock.value if stock is not None else None
    unit = numbers[0][1].unit.symbol
    stock_words = f" Dashed line: {setpoint_label(write_up, write_up.baseline)}." if stock else ""
    return Drawing(
        id="score-per-watt",
        kind="score-per-watt",
        template="interval-rows",
        title="Score per watt",
        caption=(
            f"Score per watt of {reading.NAMES[power]} at {counted(len(numbers), 'setting')},"
            f" {counted(len(runs), 'run')} in all; {_direction(numbers[0][1])}."
            f" {reading.bars_explained([n for _, n in numbers])}"
            f" Small marks: single runs.{stock_words} The axis does not start at zero."
        ),
        alternative=f"Score per watt of {reading.NAMES[power]}: "
        + reading.said((setpoint_label(write_up, name), n.printed.text) for name, n in numbers),
        columns=("Setting", "Runs", f"Score per watt ({unit})", "Interval"),
        rows=tuple(
            (setpoint_label(write_up, name), str(sum(n.runs)), n.printed.text, reading.interval_text(n))
            for name, n in numbers
        ),
        data={
            "rows": interval_rows(
                [
                    Row(number=n, row=name, label=setpoint_label(write_up, name), style=style[name], reference=level)
                    for name, n in numbers
                ],
                x,
            ),
            "runs": runs,
        },
        signals={"x_low": x.low, "x_high": x.high, "x_title": reading.axis_title(quantity, numbers[0][1])},
        addresses=tuple(n.address.local() for _, n in numbers),
    )


def _per_watt(write_up: WriteUp, results: Results) -> tuple[str, str, list[tuple[str, Number]]]:
    """The power quantity, the score per its watts, and the setpoints that have a value of it."""
    for power, quantity in POWERS:
        found = [(name, find(results, write_up.slug, name, quantity)) for name in write_up.setpoints]
        numbers = [(name, number) for name, number in found if number is not None]
        if len(numbers) > 1:
            return power, quantity, numbers
    return *POWERS[0], []


def _direction(number: Number) -> str:
    if number.higher_is_better is None:
        return "further right is more"
    return "further right is better" if number.higher_is_better else "further left is better"


_SHARED = ("score", "board-power", "wall-power", "score-per-watt", "core-clock", "fan-speed")
"""Quantities with a true zero, whose change in percent means something; a temperature's does not."""

_HEADLINES = ("score", "board-power", "score-per-watt")
_MOST_ROWS = 10
"""With more rows than this a chart is no overview: only the headline quantities are drawn."""


def differences(write_up: WriteUp, site: Site, results: Results) -> Drawing | None:
    """Change against the baseline in percent, quantity by quantity, with the line of no change."""
    others = [name for name in write_up.setpoints if name != write_up.baseline]
    found = [
        (quantity, name, number)
        for quantity in _SHARED
        for name in others
        if (number := find(results, write_up.slug, name, quantity, "change-percent")) is not None
    ]
    if len(found) > _MOST_ROWS:
        found = [row for row in found if row[0] in _HEADLINES]
    if not found:
        return None
    style = reading.looks(write_up)
    x = reading.span([0.0, *reading.reach(n for *_, n in found)], 0.06)
    rows = interval_rows(
        [
            Row(
                number=n,
                row=f"{q} {name}",
                label=_difference_label(write_up, q, name, others),
                style=style[name],
                reference=0.0,
            )
            for q, name, n in found
        ],
        x,
    )
    stock = setpoint_label(write_up, write_up.baseline)
    numbers = [n for *_, n in found]
    crossing = "the thick part of a bar" if reading.has_parts(numbers) else "a bar"
    return Drawing(
        id="differences",
        kind="differences",
        template="interval-rows",
        title=f"Change against {stock}",
        caption=(
            f"Change of the means in percent of {stock}, from the runs listed in the table."
            f" {reading.bars_explained(numbers)}"
            + (
                f" Where {crossing} crosses the dashed line, these runs show no difference."
                if any(n.interval for n in numbers)
                else ""
            )
            + " Further quantities, temperatures among them (they have no percent), stand in the results table."
        ),
        alternative=f"Change against {stock}: "
        + reading.said((row["label"], n.printed.text) for row, (*_, n) in zip(rows, found, strict=True)),
        columns=("Quantity", "Setting", "Runs", f"Change against {stock}", "Interval"),
        rows=tuple(
            (
                reading.titled(reading.NAMES[q], ""),
                setpoint_label(write_up, name),
                " and ".join(str(r) for r in n.runs),
                n.printed.text,
                reading.interval_text(n),
            )
            for q, name, n in found
        ),
        data={"rows": rows, "notes": [{"x": 0.0, "text": "no change", "align": _note_align(x, 0.0)}]},
        signals={"x_low": x.low, "x_high": x.high, "x_title": titled_change(stock)},
        addresses=tuple(n.address.local() for *_, n in found),
    )


def titled_change(stock: str) -> str:
    """Axis title of a change in percent."""
    return reading.titled(f"change against {stock}", "%")


def _note_align(x: Span, value: float) -> str:
    share = x.share(value)
    return "left" if share < 0.15 else "right" if share > 0.85 else "center"


def _difference_label(write_up: WriteUp, quantity: str, name: str, others: Sequence[str]) -> str:
    label = reading.titled(reading.NAMES[quantity], "")
    return label if len(others) == 1 else f"{label}, {setpoint_label(write_up, name)}"


FIGURES: tuple[tuple[str, Callable[[WriteUp, Site, Results], Drawing | None]], ...] = (
    ("score-against-power", score_against_power),
    ("score-per-watt", score_per_watt),
    ("differences", differences),
)
"""Chart kind and the function that prepares it, in page order."""
