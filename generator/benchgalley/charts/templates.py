"""The layered charts behind the figures, built once each: data and signal values are bound to them later.

No layer aggregates, bins, fits or sorts: the rows arrive as they are drawn.
A text `@name` in a chart is a hole: it becomes the Vega signal `name`, which a drawing sets.
"""

from collections.abc import Callable
from typing import Any

from . import theme

ROW_STEP = 66
"""Height of one row of a row chart: a line of words above a strip of marks."""
_WORDS_AT = -15
_MARKS_AT = 9
_RUNS_AT = 24


def _style_scales(alt: Any) -> dict[str, Any]:
    looks = list(range(theme.STYLES))
    return {
        "color": alt.Color("style:O", legend=None, scale=alt.Scale(domain=looks, range=list(theme.STYLE_COLOURS))),
        "shape": alt.Shape("style:O", legend=None, scale=alt.Scale(domain=looks, range=list(theme.STYLE_SHAPES))),
    }


def _dash_scale(alt: Any) -> Any:
    return alt.StrokeDash(
        "dash:N",
        legend=None,
        scale=alt.Scale(domain=list(theme.DASHES), range=list(theme.DASHES.values())),
    )


def _parameters(alt: Any, names: tuple[str, ...]) -> list[Any]:
    return [alt.param(name=name, value=0) for name in names]


def _range(alt: Any, axis: str, **further: Any) -> Any:
    return alt.Scale(
        domainMin=alt.ExprRef(f"{axis}_low"),
        domainMax=alt.ExprRef(f"{axis}_high"),
        zero=False,
        nice=False,
        **further,
    )


def _strip(alt: Any, rows: Any, y: Any) -> Any:
    line = rows.mark_rule(color=theme.LINE, strokeWidth=1, yOffset=_MARKS_AT)
    return line.encode(x=alt.value(0), x2=alt.value("width"), y=y)


def interval_rows(alt: Any) -> Any:
    """Rows of one value with its intervals: words above, marks below, a reference line through the marks.

    Data: `rows` (row, label, printed, value, low, high, inner_low, inner_high, reference,
    style, tooltip),
    `runs` (row, value, style, tooltip), `notes` (x, text, align). Signals: x_low, x_high, x_title.
    """
    looks = _style_scales(alt)
    x_axis = alt.Axis(title="@x_title", tickCount=5, grid=False)
    x_scale = _range(alt, "x")
    y = alt.Y("row:N", sort=None, axis=None)
    rows = alt.Chart(alt.NamedData("rows"))
    reference = rows.mark_rule(color=theme.MUTED, strokeDash=[6, 4], strokeWidth=1.5).encode(
        x=alt.X("reference:Q", scale=x_scale, axis=x_axis),
        y=alt.Y("row:N", sort=None, axis=None, bandPosition=0.46),
        y2=alt.Y2("row:N", bandPosition=1),
    )
    strip = _strip(alt, rows, y)
    outer = rows.mark_rule(strokeWidth=1.5, yOffset=_MARKS_AT).encode(
        x=alt.X("low:Q"), x2="high:Q", y=y, color=looks["color"]
    )
    inner = rows.mark_rule(strokeWidth=5, yOffset=_MARKS_AT).encode(
        x=alt.X("inner_low:Q"), x2="inner_high:Q", y=y, color=looks["color"]
    )
    value = rows.mark_point(
        filled=True, size=150, opacity=1, yOffset=_MARKS_AT, stroke=theme.PAPER, strokeWidth=1.5
    ).encode(x=alt.X("value:Q"), y=y, tooltip="tooltip:N", fill=looks["color"].copy(), shape=looks["shape"])
    runs = (
        alt.Chart(alt.NamedData("runs"))
        .mark_point(filled=False, size=26, opacity=0.9, strokeWidth=1.2, yOffset=_RUNS_AT)
        .encode(x=alt.X("value:Q"), y=y, color=looks["color"], shape=looks["shape"], tooltip="tooltip:N")
    )
    label = rows.mark_text(align="left", baseline="middle", yOffset=_WORDS_AT, fontWeight="bold").encode(
        x=alt.value(0), y=y, text="label:N"
    )
    printed = rows.mark_text(align="right", baseline="middle", yOffset=_WORDS_AT).encode(
        x=alt.value("width"), y=y, text="printed:N"
    )
    notes = (
        alt.Chart(alt.NamedData("notes"))
        .mark_text(baseline="bottom", align=alt.ExprRef("datum.align"), color=theme.MUTED)
        .encode(x=alt.X("x:Q"), y=alt.value(-6), text="text:N")
    )
    layers = alt.layer(strip, reference, outer, inner, runs, value, label, printed, notes)
    return layers.add_params(*_parameters(alt, ("x_low", "x_high"))).properties(height=alt.Step(ROW_STEP))


def plane(alt: Any) -> Any:
    """Two quantities against each other: bands, lines, single runs, means with intervals both ways, words.

    Data: `bands` (x, x2), `lines` (line, x, y, dash, style, place), `runs` (x, y, style, tooltip),
    `means` (x, y, x_low, x_high, y_low, y_high and the same with `inner_`, style, tooltip),
    `notes` (x, y, text, align, style). Signals: x_low, x_high, y_low, y_high, x_title, y_title.
    """
    looks = _style_scales(alt)
    x_axis = alt.Axis(title="@x_title", tickCount=6, grid=True)
    # The title lies flat above the axis: nobody has to turn their head, and the plot keeps its width.
    y_axis = alt.Axis(
        title="@y_title", tickCount=6, grid=True, titleAngle=0, titleAlign="left", titleAnchor="start",
        titleBaseline="bottom", titleX=-4, titleY=-12, domain=False,
    )  # fmt: skip
    x = alt.X("x:Q", scale=_range(alt, "x"), axis=x_axis)
    y = alt.Y("y:Q", scale=_range(alt, "y"), axis=y_axis)
    bands = (
        alt.Chart(alt.NamedData("bands"))
        .mark_rect(color=theme.NOTE, opacity=0.16)
        .encode(x=x, x2="x2:Q", y=alt.value(0), y2=alt.value("height"))
    )
    lines = (
        alt.Chart(alt.NamedData("lines"))
        .mark_line(strokeWidth=2, clip=True)
        .encode(x=x, y=y, detail="line:N", order="place:Q", color=looks["color"], strokeDash=_dash_scale(alt))
    )
    runs = (
        alt.Chart(alt.NamedData("runs"))
        .mark_point(filled=False, size=34, opacity=0.9, strokeWidth=1.2)
        .encode(x=x, y=y, color=looks["color"], shape=looks["shape"], tooltip="tooltip:N")
    )
    means = alt.Chart(alt.NamedData("means"))
    bars = [
        bar
        for width, inner in ((1.5, ""), (4, "inner_"))
        for bar in (
            means.mark_rule(strokeWidth=width).encode(
                x=alt.X(f"{inner}x_low:Q"), x2=f"{inner}x_high:Q", y=alt.Y("y:Q"), color=looks["color"]
            ),
            means.mark_rule(strokeWidth=width).encode(
                x=alt.X("x:Q"), y=alt.Y(f"{inner}y_low:Q"), y2=f"{inner}y_high:Q", color=looks["color"]
            ),
        )
    ]
    points = means.mark_point(filled=True, size=210, opacity=1, stroke=theme.PAPER, strokeWidth=1.5).encode(
        x=x, y=y, fill=looks["color"].copy(), shape=looks["shape"], tooltip="tooltip:N"
    )
    notes = (
        alt.Chart(alt.NamedData("notes"))
        .mark_text(baseline="middle", align=alt.ExprRef("datum.align"))
        .encode(x=x, y=y, text="text:N")
    )
    layers = alt.layer(bands, lines, runs, *bars, points, notes)
    return layers.add_params(*_parameters(alt, ("x_low", "x_high", "y_low", "y_high"))).properties(height=360)


def outcome_rows(alt: Any) -> Any:
    """Rows of runs in the order made, told apart by outcome.

    Data: `rows` (row, label, summary), `runs` (row, order, outcome, tooltip), `key` (pixel, word, outcome).
    Signals: x_low, x_high, x_title.
    """
    names = list(theme.OUTCOMES)
    colour = alt.Color(
        "outcome:N",
        legend=None,
        scale=alt.Scale(domain=names, range=[colour for _, colour in theme.OUTCOMES.values()]),
    )
    shape = alt.Shape(
        "outcome:N",
        legend=None,
        scale=alt.Scale(domain=names, range=[shape for shape, _ in theme.OUTCOMES.values()]),
    )
    y = alt.Y("row:N", sort=None, axis=None)
    rows = alt.Chart(alt.NamedData("rows"))
    strip = _strip(alt, rows, y)
    label = rows.mark_text(align="left", baseline="middle", yOffset=_WORDS_AT, fontWeight="bold").encode(
        x=alt.value(0), y=y, text="label:N"
    )
    summary = rows.mark_text(align="right", baseline="middle", yOffset=_WORDS_AT).encode(
        x=alt.value("width"), y=y, text="summary:N"
    )
    x_axis = alt.Axis(title="@x_title", tickMinStep=1, format="d", grid=False)
    runs = (
        alt.Chart(alt.NamedData("runs"))
        .mark_point(filled=True, size=130, opacity=1, yOffset=_MARKS_AT)
        .encode(
            x=alt.X("order:Q", scale=_range(alt, "x"), axis=x_axis),
            y=y,
            color=colour,
            shape=shape,
            tooltip="tooltip:N",
        )
    )
    key = alt.Chart(alt.NamedData("key")).encode(x=alt.X("pixel:Q", scale=None, axis=None), y=alt.value(-16))
    key_marks = key.mark_point(filled=True, size=130, opacity=1).encode(color=colour, shape=shape)
    key_words = key.mark_text(align="left", baseline="middle", dx=13).encode(text="word:N")
    layers = alt.layer(strip, label, summary, runs, key_marks, key_words)
    return layers.add_params(*_parameters(alt, ("x_low", "x_high"))).properties(height=alt.Step(ROW_STEP))


TEMPLATES: tuple[tuple[str, Callable[[Any], Any]], ...] = (
    ("interval-rows", interval_rows),
    ("plane", plane),
    ("outcome-rows", outcome_rows),
)
"""Name of a template and the function that builds its chart, given the altair module."""
