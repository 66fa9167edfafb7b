"""The page of a write-up as a tester would script it by hand with the same libraries: pandas, altair, jinja2.

Means, spreads and the saving are grouped with pandas, five charts are built and drawn anew each time, a template puts
them on a page. `numbers` gives what it computed, so that the benchmark can hold it against the site's own.
"""

import io
from pathlib import Path

TEMPLATE = """<!doctype html><title>{{ title }}</title><h1>{{ title }}</h1>{{ body }}
<p>Saved {{ '%.1f'|format(saved) }} W at {{ '%.1f'|format(share) }} % of the score.</p>
<table>{% for row in rows %}<tr>{% for cell in row %}<td>{{ cell }}</td>{% endfor %}</tr>{% endfor %}</table>
{% for chart in charts %}<figure>{{ chart }}</figure>{% endfor %}"""


def numbers(folder: Path) -> dict[str, float]:
    """Means at stock and tuned, watts saved, share of the score kept in percent."""
    return _numbers(_grouped(_table(folder)))


def write_page(folder: Path, target: Path) -> int:
    """The whole page of one write-up; its size in bytes."""
    import altair as alt
    import jinja2
    from markdown_it import MarkdownIt

    table = _table(folder)
    groups = _grouped(table)
    found = _numbers(groups)
    body = (folder / "write-up.md").read_text("utf-8").split("---\n", 2)[2]
    flat = groups.copy()
    flat.columns = ["_".join(c) for c in flat.columns]
    flat = flat.reset_index()
    flat["per_watt"] = flat["score_mean"] / flat["board_power_w_mean"]
    flat["label"] = flat["power_limit_pct"].astype(str) + " " + flat["voltage_offset_mv"].astype(str)
    sweep = table[table["voltage_offset_mv"] == 0]
    scale = alt.Scale(zero=False)
    charts = [
        alt.Chart(flat).mark_point().encode(
            x=alt.X("board_power_w_mean", scale=scale), y=alt.Y("score_mean", scale=scale), color="label"
        ) + alt.Chart(table).mark_errorbar(extent="ci").encode(
            x=alt.X("board_power_w", scale=scale), y=alt.Y("score", scale=scale)
        ),
        alt.Chart(flat).mark_bar().encode(x="per_watt", y="label"),
        alt.Chart(flat).mark_point().encode(x=alt.X("score_mean", scale=scale), y="label")
        + alt.Chart(flat).mark_rule().encode(x=alt.X("score_min", scale=scale), x2="score_max", y="label"),
        alt.Chart(sweep).mark_point().encode(
            x=alt.X("power_limit_pct", scale=scale), y=alt.Y("score", scale=scale)
        ) + alt.Chart(sweep).mark_line().encode(x="power_limit_pct", y="mean(score)"),
        alt.Chart(flat).mark_line(point=True).encode(
            x=alt.X("board_power_w_mean", scale=scale), y=alt.Y("score_mean", scale=scale), order="power_limit_pct"
        ),
    ]  # fmt: skip
    drawn = []
    for chart in charts:
        picture = io.StringIO()
        chart.save(picture, format="svg")
        drawn.append(picture.getvalue())
    page = jinja2.Environment(autoescape=False).from_string(TEMPLATE).render(
        title=folder.name, body=MarkdownIt().enable("table").render(body), rows=flat.values.tolist(), charts=drawn,
        saved=found["saved"], share=found["share"],
    )  # fmt: skip
    target.mkdir(parents=True, exist_ok=True)
    (target / "index.html").write_text(page, "utf-8")
    return len(page)


def _table(folder: Path):
    import pandas

    table = pandas.read_csv(folder / "trials.csv")
    return table[table["outcome"] == "completed"]


def _grouped(table):
    keys = ["power_limit_pct", "voltage_offset_mv"]
    return table.groupby(keys)[["score", "board_power_w"]].agg(["mean", "std", "count", "min", "max"])


def _numbers(groups) -> dict[str, float]:
    stock, tuned = groups.loc[(100, 0)], groups.loc[(80, -80)]
    return {
        "stock/score": stock["score", "mean"],
        "stock/board-power": stock["board_power_w", "mean"],
        "tuned/board-power": tuned["board_power_w", "mean"],
        "saved": stock["board_power_w", "mean"] - tuned["board_power_w", "mean"],
        "share": 100 * tuned["score", "mean"] / stock["score", "mean"],
    }
