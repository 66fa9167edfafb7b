"""Every kind of figure, from data made by hand."""

import json
import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from benchgalley.charts import draw, draw_card, draw_comparison
from benchgalley.charts.draw import OF_WRITE_UP
from benchgalley.records.address import Address
from benchgalley.records.bench import Sample

from . import factory
from .conftest import several

KINDS = (
    "score-against-power", "score-per-watt", "differences", "power-scaling", "trade-front", "offset-ladder",
    "log-window", "comparison", "samples",
)  # fmt: skip
SVG = "{http://www.w3.org/2000/svg}"


def texts(figure):
    return [element.text for element in ElementTree.fromstring(figure.svg).iter(f"{SVG}text") if element.text]


def values(figure, name):
    return next(source["values"] for source in json.loads(figure.spec)["data"] if source["name"] == name)


def test_order_of_the_figures_of_a_write_up_is_pinned(figures):
    assert tuple(kind for kind, _ in OF_WRITE_UP) == KINDS[:7]
    assert tuple(dict.fromkeys(figure.kind for figure in figures)) == KINDS


@pytest.mark.parametrize("kind", KINDS)
def test_words_are_there_and_the_table_is_square(by_kind, kind):
    figure = by_kind[kind]
    assert figure.title and figure.caption.endswith(".") and figure.alternative.endswith(".")
    assert figure.rows and all(len(row) == len(figure.columns) and all(row) for row in figure.rows)
    assert not re.search(r"\b(None|nan|inf)\b", figure.caption + figure.alternative + str(figure.rows))


@pytest.mark.parametrize("kind", KINDS)
def test_axes_name_quantity_and_unit(by_kind, kind):
    titles = [
        t.replace("\u00a0", " ")
        for t in texts(by_kind[kind])
        if re.search(r" \((W|s|%|points|points/W)\)$", t) or t.startswith("Run,")
    ]
    wanted = {
        "score-against-power": ["Board power (W)", "Score (points)"],
        "score-per-watt": ["Score per watt (points/W)"],
        "differences": ["Change against stock (%)"],
        "power-scaling": ["Power limit (%)", "Score (points)"],
        "trade-front": ["Board power, share of stock (%)", "Score, share of stock (%)"],
        "offset-ladder": ["Run, in the order made"],
        "log-window": ["Board power (W)", "Time since the start of the run (s)"],
        "comparison": ["Score per watt (points/W)"],
        "samples": ["Score per watt (points/W)"],
    }[kind]
    assert sorted(titles) == wanted


@pytest.mark.parametrize("kind", KINDS)
def test_no_transform_computes_a_statistic(by_kind, kind):
    spec = json.loads(by_kind[kind].spec)
    used = {t["type"] for source in spec["data"] for t in source.get("transform", ())}
    assert used <= {"filter"}, "rows with a missing end are left out; nothing else happens in the browser"
    assert "aggregate" not in str(spec) and "regression" not in str(spec) and '"op"' not in str(spec)
    assert not any("transform" in mark for mark in spec["marks"])


@pytest.mark.parametrize("kind", KINDS)
def test_svg_is_fit_for_a_strict_policy(by_kind, kind):
    svg = by_kind[kind].svg
    root = ElementTree.fromstring(svg)
    tags = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert tags <= {"svg", "g", "path", "line", "text", "rect", "defs", "clipPath"}
    for element in root.iter():
        assert not {name for name in element.attrib if name == "style" or name.startswith("on")}
        assert not {name for name in element.attrib if name.endswith("href")}
    assert root.get("viewBox", "").startswith("0 0 640 ") and "http" not in svg.replace(SVG.strip("{}"), "")


def test_ids_are_unique_over_all_figures(figures):
    ids = [e.get("id") for f in figures for e in ElementTree.fromstring(f.svg).iter() if e.get("id")]
    assert ids and len(ids) == len(set(ids))
    for figure in figures:
        own = {e.get("id") for e in ElementTree.fromstring(figure.svg).iter()}
        assert set(re.findall(r"url\(#([^)]+)\)", figure.svg)) <= own


@pytest.mark.parametrize("kind", KINDS[:5] + KINDS[7:])
def test_the_table_holds_every_number_drawn(by_kind, kind):
    """Each address of the figure stands in its table with the printed value, or in its caption."""
    figure = by_kind[kind]
    site = factory.make_site(*several(), factory.make_full_write_up())
    results = factory.MadeResults(site, factory.extra_numbers()).ledger()
    cells = {cell for row in figure.rows for cell in row}
    assert figure.addresses
    for text in figure.addresses:
        number = results.find(Address.parse(text, "made"))
        assert number.printed.text in cells or number.printed.text in figure.caption
        assert not number.printed.interval or number.printed.interval in cells | {figure.caption} or kind == KINDS[3]


def test_points_stand_where_the_numbers_are(by_kind):
    figure = by_kind["score-against-power"]
    tuned = next(m for m in values(figure, "means") if m["label"] == "tuned")
    runs = [(t.measured["board_power_w"], t.measured["score"]) for t in factory.stock_tuned_low()]
    mine = [runs[i] for i in (1, 3, 8, 10, 13)]
    assert tuned["x"] == pytest.approx(sum(x for x, _ in mine) / 5)
    assert tuned["y"] == pytest.approx(sum(y for _, y in mine) / 5)
    assert tuned["inner_x_low"] > tuned["x_low"], "the meter's limits widen the interval"
    drawn = [(r["x"], r["y"]) for r in values(figure, "runs")]
    assert sorted(drawn) == sorted(runs), "every run is drawn"


def test_the_stock_line_is_drawn_and_labelled(by_kind):
    figure = by_kind["score-against-power"]
    line = [row for row in values(figure, "lines") if row["line"] == "stock"]
    stock = next(m for m in values(figure, "means") if m["label"] == "stock")
    assert {row["y"] for row in line} == {stock["y"]}
    assert "score at stock" in texts(figure)


def test_failed_runs_are_told_by_shape_and_by_word(by_kind):
    figure = by_kind["offset-ladder"]
    runs = values(figure, "runs")
    assert {r["outcome"] for r in runs} == {"completed", "crashed", "artefacts", "hung", "aborted"}
    words = texts(figure)
    assert {"completed", "crashed", "artefacts", "hung", "aborted"} <= set(words)
    assert "0 of 2 completed, 1 crashed, 1 hung" in words
    shape = next(s for s in json.loads(figure.spec)["scales"] if s["name"] == "shape")
    assert len(set(shape["range"])) == len(shape["domain"]) == 5
    assert figure.rows[-1][1:] == ("2", "0", "1", "0", "0", "1")


def test_ladder_counts_match_its_marks(by_kind):
    figure = by_kind["offset-ladder"]
    drawn = values(figure, "runs")
    assert sum(int(row[1]) for row in figure.rows) == len(drawn)
    assert [r["order"] for r in sorted(drawn, key=lambda r: r["order"])] == list(range(1, len(drawn) + 1))


def test_scaling_shows_the_match_and_its_interval(by_kind):
    figure = by_kind["power-scaling"]
    assert values(figure, "bands") == [{"x": pytest.approx(82.5), "x2": pytest.approx(86.7)}]
    assert "match 84.6\u00a0%" in texts(figure)
    assert "84.6\u00a0% (82.5\u00a0% to 86.7\u00a0%)" in figure.caption
    curve = [row["y"] for row in values(figure, "lines") if row["line"] == "sweep"]
    assert curve == sorted(curve), "the curve is monotone"


def test_the_declared_margin_is_drawn_where_there_is_one():
    margins = replace(factory.make_write_up().margins, by_quantity={"score": (2.0, True)})
    write_up = factory.make_full_write_up(margins=margins)
    site = factory.make_site(write_up)
    figures = draw(write_up, site, factory.MadeResults(site, factory.extra_numbers()).ledger())
    figure = next(f for f in figures if f.kind == "power-scaling")
    levels = {row["line"]: row["y"] for row in values(figure, "lines") if row["line"] in ("stock", "target")}
    assert levels["target"] == pytest.approx(0.98 * levels["stock"])
    assert "less the margin" in texts(figure) and "within the declared margin" in figure.caption


def test_trade_front_marks_what_no_other_setting_betters(by_kind):
    figure = by_kind["trade-front"]
    assert {row[0]: row[-1] for row in figure.rows} == {"stock": "no", "tuned": "yes", "low": "yes"}


def test_log_window_is_shaded_as_it_was_cut(by_kind):
    figure = by_kind["log-window"]
    assert values(figure, "bands") == [{"x": 40.0, "x2": 170.0}]
    assert len(values(figure, "lines")) == 2 * 91
    assert {row["dash"] for row in values(figure, "lines")} == {"solid", "dashed"}


def test_what_cannot_be_compared_is_said_and_not_drawn(by_kind):
    figure = by_kind["comparison"]
    assert {row[0].split(",")[0] for row in figure.rows} == {"Quillon 42", "Quillon 7"}
    assert "Not comparable, so not drawn: Quillon 9, sample a (other load version)." in figure.caption
    assert "Quillon 9, sample a (other power meter)." in figure.caption


def test_each_sample_has_its_row_and_a_readers_is_marked(by_kind):
    figure = by_kind["samples"]
    assert {row[1] for row in figure.rows} == {"a", "b", "c"}
    assert "tuned, sample c (reader)" in texts(figure) and "tuned, sample a" in texts(figure)


def test_a_setpoint_keeps_its_look_in_every_figure(figures):
    seen = {}
    for figure in figures[:2]:
        for source in json.loads(figure.spec)["data"]:
            for row in source.get("values", ()):
                if row.get("label") in ("stock", "tuned", "low"):
                    seen.setdefault(row["label"], set()).add(row["style"])
    assert seen == {"stock": {0}, "tuned": {1}, "low": {2}}


def test_without_data_there_is_no_figure():
    write_up = factory.make_write_up(trials=(), sequences={})
    site = factory.make_site(write_up)
    results = factory.MadeResults(site).ledger()
    assert draw(write_up, site, results) == ()
    assert draw_comparison(site, results) == () and draw_card(write_up.card, site, results) == ()


def test_power_at_the_wall_stands_in_where_the_boards_was_not_measured():
    plain = factory.make_write_up()
    moved = tuple(
        replace(t, measured={"score": t.measured["score"], "wall_power_w": t.measured["board_power_w"] + 80})
        for t in plain.trials
        if t.counts and not t.sequence
    )
    write_up = factory.make_write_up(trials=moved)
    site = factory.make_site(write_up)
    figures = draw(write_up, site, factory.MadeResults(site).ledger())
    figure = next(f for f in figures if f.kind == "score-against-power")
    assert figure.title == "Score against power at the wall" and "Power at the wall (W)" in texts(figure)


def test_one_run_each_has_points_and_no_bars():
    first = {}
    for trial in factory.stock_tuned_low():
        first.setdefault(trial.settings["power_limit_pct"], trial)
    write_up = factory.make_write_up(trials=tuple(first.values()), sequences={})
    site = factory.make_site(write_up)
    figure = draw(write_up, site, factory.MadeResults(site).ledger())[0]
    assert all(m["x_low"] is None and m["inner_y_low"] is None for m in values(figure, "means"))
    assert "no interval" in figure.caption
    assert {row[3] for row in figure.rows} == {"not determined"}


def test_an_unbounded_interval_is_drawn_to_the_end_of_the_axis():
    write_up = factory.make_write_up()
    site = factory.make_site(write_up)

    def open_above(address):
        given = factory.number(address, 3.0, factory.units.PERCENT, 1.0, 1.0, ())
        return replace(given, interval=given.interval._replace(high=None))

    results = factory.MadeResults(site, {"made:tuned/score/change-percent": open_above}).ledger()
    figure = next(f for f in draw(write_up, site, results) if f.kind == "differences")
    row = next(r for r in values(figure, "rows") if r["row"] == "score tuned")
    high = next(s["value"] for s in json.loads(figure.spec)["signals"] if s["name"] == "x_high")
    assert row["high"] == high and row["low"] == pytest.approx(2.0)


def test_long_labels_do_not_run_into_the_numbers():
    plain = factory.make_write_up()
    wordy = "with a label of great and needless length"
    long = {name: replace(s, label=f"{name} {wordy}") for name, s in plain.setpoints.items()}
    write_up = factory.make_write_up(setpoints=long, sample=Sample(id="a"))
    site = factory.make_site(write_up)
    figure = next(f for f in draw(write_up, site, factory.MadeResults(site).ledger()) if f.kind == "score-per-watt")
    assert all(len(r["printed"]) + len(r["label"]) <= 46 for r in values(figure, "rows"))
    assert sum(t.endswith("…") for t in texts(figure)) == 3, "cut with an ellipsis; the table has it whole"
    assert figure.rows[0][0] == f"stock {wordy}"
