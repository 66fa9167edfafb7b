"""Pages as a tester would script them by hand with the same libraries: altair, jinja2, markdown-it.

The same charts as the site draws, built anew each time as a notebook does, as a picture and as a live chart; the
prose, a table of all numbers with their intervals, every run, and the files to download; for a card its samples
side by side and the figures over them.
"""

import zipfile
from pathlib import Path

import altair as alt
import jinja2
import pandas as pd
from markdown_it import MarkdownIt

from . import by_hand

PAGE = jinja2.Environment(autoescape=True).from_string("""<!doctype html><html lang="en"><meta charset="utf-8">
<title>{{ front.title }}</title><h1>{{ front.title }}</h1><p>{{ front.summary }}</p>{{ body | safe }}
{% for name, picture, live in charts %}<figure id="{{ name }}">{{ picture | safe }}
<script type="application/json">{{ live | safe }}</script></figure>{% endfor %}
<h2>All numbers</h2><table>
<tr><th>Number<th>Value<th>Interval<th>Standard uncertainty</tr>
{% for n in numbers %}<tr id="{{ n.address }}"><td>{{ n.address }}<td>{{ "%.5g" | format(n.value) }}
<td>{% if n.low == n.low %}{{ "%.5g" | format(n.low) }}{% endif %} to
{% if n.high == n.high %}{{ "%.5g" | format(n.high) }}{% endif %}
<td>{% if n.u == n.u %}{{ "%.2g" | format(n.u) }}{% endif %}</tr>{% endfor %}</table>
{% if runs %}<h2>All runs</h2><table><tr>{% for column in columns %}<th>{{ column }}{% endfor %}</tr>
{% for run in runs %}<tr>{% for cell in run %}<td>{{ cell }}{% endfor %}</tr>{% endfor %}</table>{% endif %}</html>
""")
PALETTE = ["#1b5e8c", "#a8471f", "#4d6b1f"]
SHAPES = ["circle", "square", "triangle-up"]


def write_site(folders: list[Path], target: Path) -> None:
    """The pages of some write-ups and of their cards."""
    samples: dict[str, list] = {}
    for folder in folders:
        front, means, table = write_page(folder, target / folder.name)
        samples.setdefault(front["card"], []).append((front, means, table))
    for card, of_card in samples.items():
        if len(of_card) > 1:
            write_card(card, of_card, target / card)


def write_card(card: str, samples: list[tuple], target: Path) -> None:
    """The page of a card with its samples side by side."""
    table = by_hand.card_numbers([(means, numbers) for _, means, numbers in samples])
    target.mkdir(parents=True, exist_ok=True)
    pooled = table.set_index("address")["value"]
    charts = {}
    for key in ("score-per-watt", "score", "board-power"):
        rows = []
        for front, _, numbers in samples:
            found = numbers.set_index("address")
            for name, setpoint in front["setpoints"].items():
                each = found.loc[f"{name}/{key}"]
                rows.append({
                    "setting": f"{setpoint['label']}, sample {front['sample']}", "value": each["value"],
                    "low": each["low"], "high": each["high"], "inner_low": each["inner_low"],
                    "inner_high": each["inner_high"], "stock": pooled[f"{name}/{key}"],
                })  # fmt: skip
        charts[f"samples-{key}"] = _rows(pd.DataFrame(rows), None, key)
    front = {"title": card, "summary": f"{len(samples)} samples"}
    page = PAGE.render(front=front, body="", charts=_drawn(charts, target), numbers=list(table.itertuples()))
    (target / "index.html").write_text(page, "utf-8")


def _drawn(charts: dict[str, alt.LayerChart], target: Path) -> list[tuple[str, str, str]]:
    """Each chart as a file; name, picture and live chart for the page."""
    found = []
    for name, chart in charts.items():
        chart.save(target / f"{name}.svg")
        found.append((name, (target / f"{name}.svg").read_text("utf-8"), chart.to_json(indent=None)))
    return found


def write_page(folder: Path, target: Path) -> tuple[dict, dict, pd.DataFrame]:
    """The page of one write-up and the files beside it; its front matter, means and numbers."""
    front, text, runs = by_hand.read(folder)
    used = by_hand.instruments(folder.parent.parent, front)
    means = by_hand.means_of(front, runs, used)
    table = by_hand.numbers(front, runs, used, means)
    target.mkdir(parents=True, exist_ok=True)
    charts = _drawn(_charts(front, runs, table), target)
    page = PAGE.render(
        front=front, body=MarkdownIt().enable("table").render(text), charts=charts,
        numbers=list(table.itertuples()), columns=list(runs.columns), runs=runs.astype(str).to_numpy().tolist(),
    )  # fmt: skip
    (target / "index.html").write_text(page, "utf-8")
    table.to_csv(target / "results.csv", index=False)
    runs.to_csv(target / "trials.csv", index=False)
    with zipfile.ZipFile(target / "data.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        for file in ("results.csv", "trials.csv"):
            archive.write(target / file, file)
        archive.write(folder / "write-up.md", "write-up.md")
    return front, means, table


def _charts(front: dict, runs: pd.DataFrame, table: pd.DataFrame) -> dict[str, alt.LayerChart]:
    found = table.set_index("address")
    at = by_hand.groups(front, runs)
    points = pd.DataFrame([_point(found, name, front) for name in at])
    each = pd.concat([some.assign(setting=front["setpoints"][name]["label"]) for name, some in at.items()])
    each["per_watt"] = each["score"] / each["board_power_w"]
    sweep = table[table["address"].str.startswith("power-sweep/")]
    return {
        "score-against-power": _plane(points, each, "board power, W", "score, points"),
        "score-per-watt": _rows(points.assign(
            value=points["per_watt"], low=points["per_watt_low"], high=points["per_watt_high"],
            inner_low=points["per_watt_inner_low"], inner_high=points["per_watt_inner_high"],
            stock=points["per_watt"].iloc[0],
        ), each.assign(value=each["per_watt"]), "score per watt"),
        "differences": _rows(_differences(found, at, front).assign(stock=0.0), None, "change against stock, percent"),
        "power-scaling": _curve(_swept(sweep), runs[runs["voltage_offset_mv"] == 0]),
        "trade-front": _plane(points.sort_values("x"), each, "board power, W", "score, points", line=True),
    }  # fmt: skip


def _point(found: pd.DataFrame, name: str, front: dict) -> dict:
    power, score, per_watt = (found.loc[f"{name}/{key}"] for key in ("board-power", "score", "score-per-watt"))
    point = {"setting": front["setpoints"][name]["label"]}
    for axis, number in (("x", power), ("y", score), ("per_watt", per_watt)):
        ends = {f"{axis}_{end}": number[end] for end in ("low", "high", "inner_low", "inner_high")}
        point |= {axis: number["value"], **ends}
    return point


def _differences(found: pd.DataFrame, at: dict, front: dict) -> pd.DataFrame:
    rows = []
    for name in at:
        for key in ("score", "board-power", "score-per-watt", "core-temperature") if name != front["baseline"] else ():
            change = found.loc[f"{name}/{key}/change-percent"]
            label = f"{front['setpoints'][name]['label']}: {key}"
            rows.append({"setting": label, "value": change["value"], "low": change["low"], "high": change["high"]})
    return pd.DataFrame(rows)


def _swept(sweep: pd.DataFrame) -> pd.DataFrame:
    """One row a power limit of the sweep: score with its interval."""
    scores = sweep[sweep["address"].str.contains("/score-at-")]
    return scores.assign(limit=scores["address"].str.rpartition("-")[2].astype(float))


def _looks() -> dict:
    return {
        "color": alt.Color("setting:N", legend=None, scale=alt.Scale(range=PALETTE)),
        "shape": alt.Shape("setting:N", legend=None, scale=alt.Scale(range=SHAPES)),
    }


def _plane(points: pd.DataFrame, each: pd.DataFrame, across: str, up: str, line: bool = False) -> alt.LayerChart:
    """Means with both intervals both ways over every run, a line at the first setting's score, names at the marks."""
    x = alt.X("x:Q", title=across, scale=alt.Scale(zero=False))
    y = alt.Y("y:Q", title=up, scale=alt.Scale(zero=False))
    means = alt.Chart(points)
    color = _looks()["color"]
    layers = [
        alt.Chart(each).mark_point(size=34, filled=False).encode(
            x=alt.X("board_power_w:Q", title=across, scale=alt.Scale(zero=False)), y=alt.Y("score:Q", title=up),
            tooltip=["trial", "board_power_w", "score"], **_looks(),
        ),
        means.mark_rule(strokeWidth=1.5).encode(x=alt.X("x_low:Q"), x2="x_high:Q", y=y, color=color),
        means.mark_rule(strokeWidth=1.5).encode(x=x, y=alt.Y("y_low:Q"), y2="y_high:Q", color=color),
        means.mark_rule(strokeWidth=4).encode(x=alt.X("x_inner_low:Q"), x2="x_inner_high:Q", y=y, color=color),
        means.mark_rule(strokeWidth=4).encode(x=x, y=alt.Y("y_inner_low:Q"), y2="y_inner_high:Q", color=color),
        means.mark_point(filled=True, size=210, opacity=1).encode(x=x, y=y, tooltip=["setting", "x", "y"], **_looks()),
        means.mark_text(align="left", dx=10, dy=-10).encode(x=x, y=y, text="setting:N"),
        alt.Chart(points.head(1)).mark_rule(strokeDash=[6, 4]).encode(y=y),
    ]  # fmt: skip
    if line:
        layers.insert(0, means.mark_line(strokeWidth=2).encode(x=x, y=y))
    return alt.layer(*layers).properties(width=640, height=360)


def _rows(points: pd.DataFrame, each: pd.DataFrame | None, across: str) -> alt.LayerChart:
    """One row a setting: both intervals, value, printed figure, every run below."""
    y = alt.Y("setting:N", sort=None, title=None)
    x = alt.X("value:Q", title=across, scale=alt.Scale(zero=False))
    points = points.assign(printed=points["value"].map("{:.2f}".format))
    rows = alt.Chart(points)
    layers = [
        rows.mark_rule(strokeWidth=1.5).encode(x=alt.X("low:Q"), x2="high:Q", y=y),
        rows.mark_point(filled=True, size=150, opacity=1).encode(x=x, y=y, tooltip=["setting", "value", "low", "high"]),
        rows.mark_text(align="right", dy=-12).encode(x=alt.value(640), y=y, text="printed:N"),
        alt.Chart(points.head(1)).mark_rule(strokeDash=[6, 4]).encode(x=alt.X("stock:Q")),
    ]
    if "inner_low" in points:
        layers.append(rows.mark_rule(strokeWidth=5).encode(x=alt.X("inner_low:Q"), x2="inner_high:Q", y=y))
    if each is not None:
        marks = alt.Chart(each).mark_point(filled=False, size=26, yOffset=12)
        layers.append(marks.encode(x=alt.X("value:Q"), y=y, tooltip=["trial", "value"], **_looks()))
    return alt.layer(*layers).properties(width=640, height=alt.Step(66))


def _curve(swept: pd.DataFrame, runs: pd.DataFrame) -> alt.LayerChart:
    """Score along the power limit with both intervals, every run behind it."""
    x = alt.X("limit:Q", title="power limit, %", scale=alt.Scale(zero=False))
    y = alt.Y("value:Q", title="score, points", scale=alt.Scale(zero=False))
    means = alt.Chart(swept)
    return alt.layer(
        means.mark_area(opacity=0.16).encode(x=x, y=alt.Y("low:Q", title="score, points"), y2="high:Q"),
        alt.Chart(runs).mark_point(filled=False, size=34).encode(
            x=alt.X("power_limit_pct:Q"), y=alt.Y("score:Q"), tooltip=["trial", "score"],
        ),
        means.mark_line(strokeWidth=2).encode(x=x, y=y),
        means.mark_rule(strokeWidth=1.5).encode(x=x, y=alt.Y("low:Q"), y2="high:Q"),
        means.mark_rule(strokeWidth=4).encode(x=x, y=alt.Y("inner_low:Q"), y2="inner_high:Q"),
        means.mark_point(filled=True, size=150, opacity=1).encode(x=x, y=y, tooltip=["limit", "value", "low", "high"]),
    ).properties(width=640, height=360)  # fmt: skip
