"""Drawing: the same input gives the same bytes, templates are built once, pictures are kept."""

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from benchgalley.charts import draw, picture, templates, theme

from . import factory
from .conftest import all_figures

ROOT = Path(__file__).parents[2]


def digest(figures):
    parts = [figure.svg + figure.spec + figure.caption for figure in figures]
    return hashlib.sha256("".join(parts).encode()).hexdigest()


def test_drawing_twice_gives_the_same_bytes(figures):
    assert digest(all_figures()) == digest(figures)


@pytest.mark.parametrize(("seed", "zone"), [("1", "Pacific/Auckland"), ("77", "America/Bogota")])
def test_another_process_gives_the_same_bytes(figures, seed, zone):
    code = "from tests.charts import conftest, test_picture as t; print(t.digest(conftest.all_figures()))"
    surroundings = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "PYTHONPATH": f"{ROOT / 'generator'}:{ROOT}"}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=surroundings, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == digest(figures)


@pytest.mark.parametrize("name", [name for name, _ in templates.TEMPLATES])
def test_a_template_is_valid_vega_lite_and_every_hole_is_a_signal(name):
    import altair

    chart = dict(templates.TEMPLATES)[name](altair)
    assert chart.to_dict(validate=True)  # altair checks against the Vega-Lite schema it ships
    compiled = picture.template(name)
    assert "@" not in json.dumps({k: v for k, v in compiled.items() if k != "$schema"})
    assert not any(source.get("values") for source in compiled["data"]), "templates carry no data"


def test_templates_are_compiled_once(monkeypatch, figures):
    def never(name):
        raise AssertionError(f"{name} compiled again")

    monkeypatch.setattr(picture, "_compile", never)
    write_up = factory.make_full_write_up()
    site = factory.make_site(write_up)
    assert draw(write_up, site, factory.MadeResults(site, factory.extra_numbers()).ledger())


class Kept(dict):
    def put(self, key, text):
        assert key not in self, "what is kept is not drawn again"
        self[key] = text


def test_kept_pictures_are_not_drawn_again(monkeypatch):
    write_up = factory.make_full_write_up()
    site = factory.make_site(write_up)
    results = factory.MadeResults(site, factory.extra_numbers()).ledger()
    kept = Kept()
    monkeypatch.setattr(picture, "_compiled", {})
    first = draw(write_up, site, results, kept)
    assert len(kept) == len(first) + len(templates.TEMPLATES)
    monkeypatch.setattr(picture, "_compiled", {})
    monkeypatch.setattr(picture, "_drawn", lambda spec: pytest.fail("drawn again"))
    monkeypatch.setattr(picture, "_compile", lambda name: pytest.fail("compiled again"))
    assert draw(write_up, site, results, kept) == first


def test_a_changed_number_changes_the_picture_and_its_key():
    kept = Kept()
    for shift in (0.0, 1.0):
        trials = list(factory.make_write_up().trials)
        trials[0] = factory.trial(0, 3120.4 + shift, 251.2)
        write_up = factory.make_write_up(trials=tuple(trials), sequences={})
        site = factory.make_site(write_up)
        draw(write_up, site, factory.MadeResults(site).ledger(), kept)
    svgs = [text for text in kept.values() if text.startswith("<svg")]
    assert len(svgs) == len(set(svgs)) == 6, "three figures, each drawn for both"


def test_binding_leaves_the_template_alone_and_refuses_unknown_names(figures):
    before = json.dumps(picture.template("plane"))
    drawing = picture.Drawing(
        id="a", kind="a", template="plane", title="", caption="", alternative="", columns=(), rows=(),
        data={"stray": []}, signals={},
    )  # fmt: skip
    with pytest.raises(KeyError, match="plane has no stray"):
        picture.bind(picture.template("plane"), drawing)
    assert json.dumps(picture.template("plane")) == before


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_what_cannot_be_drawn_is_refused(value):
    """JSON would hold null for it, and a chart take that for zero."""
    drawing = picture.Drawing(
        id="a", kind="a", template="plane", title="", caption="", alternative="", columns=(), rows=(),
        data={"runs": [{"x": 1.0, "y": value, "tooltip": "r1"}]}, signals={},
    )  # fmt: skip
    with pytest.raises(ValueError, match="cannot be drawn"):
        picture.bind(picture.template("plane"), drawing)


def test_tidy_turns_styles_into_attributes_and_numbers_ids_afresh():
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 640 100" width="640" height="100">'
        '<defs><clipPath id="clip41"><rect width="5" height="5"/></clipPath></defs>'
        f'<g clip-path="url(#clip41)" style="fill: {theme.BAD}; opacity: 0.5"><path d="M1.23456,7Z"/></g></svg>'
    )
    tidied = picture.tidy(svg, "made", "plain")
    assert "style=" not in tidied and "clip41" not in tidied
    assert 'id="made-0"' in tidied and "url(#made-0)" in tidied
    assert 'class="chart-fill-bad"' in tidied and f'fill="{theme.BAD}"' in tidied and 'opacity="0.5"' in tidied
    assert "M1.23,7Z" in tidied


def test_every_colour_of_a_picture_follows_the_sites_scheme(figures):
    """A paint that has no class would stay as it is on a dark ground."""
    from xml.etree import ElementTree

    for figure in figures:
        for element in ElementTree.fromstring(figure.svg).iter():
            for paint in ("fill", "stroke"):
                colour = element.get(paint, "none")
                if colour not in ("none", "transparent"):
                    assert f"chart-{paint}-{theme.VARIABLES[colour]}" in element.get("class", ""), figure.id
        live = figure.spec
        for colour, variable in theme.VARIABLES.items():
            assert f'"{colour}"' not in live
            assert f"var(--{variable}, {colour})" in live or colour not in live
