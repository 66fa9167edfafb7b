"""The runtime in a real browser, from a folder on disk, under the policy of the pages."""

import gzip
import html
from pathlib import Path

import pytest

LAYOUTS = Path(__file__).parents[2] / "layouts"
RUNTIME = LAYOUTS / "runtime" / "chart-runtime.js"
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; require-trusted-types-for 'script'"
)
START = """
window.violations = []; window.addresses = [];
addEventListener('securitypolicyviolation', (e) => violations.push(`${e.violatedDirective} ${e.blockedURI}`));
addEventListener('benchgalley:point', (e) => addresses.push(e.detail.address));
(async () => {
  window.views = [];
  for (const figure of document.querySelectorAll('figure')) {
    const spec = JSON.parse(figure.querySelector('script').textContent);
    views.push(await benchgalleyCharts.draw(figure.querySelector('.picture'), spec));
  }
  document.body.dataset.state = 'drawn';
})().catch((problem) => { document.body.dataset.state = String(problem && problem.stack); });
"""


def write_page(folder, figures, start=START):
    for source in (RUNTIME, LAYOUTS / "assets" / "charts.css"):
        (folder / source.name).write_bytes(source.read_bytes())
    (folder / "start.js").write_text(start)
    body = "".join(
        f'<figure id="f{i}"><div class="picture" role="img" aria-label="{html.escape(f.alternative)}">{f.svg}</div>'
        f'<script type="application/json">{f.spec.replace("<", chr(92) + "u003c")}</script></figure>'
        for i, f in enumerate(figures)
    )
    page = (
        f'<!doctype html><html lang="en"><head><meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        '<meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>Figures</title>'
        '<link rel="stylesheet" href="charts.css"><script src="chart-runtime.js" defer></script>'
        f'<script src="start.js" defer></script></head><body><main>{body}</main></body></html>'
    )
    (folder / "page.html").write_text(page, encoding="utf-8")
    return (folder / "page.html").as_uri()


@pytest.fixture
def page(browser):
    context = browser.new_context(viewport={"width": 700, "height": 900})
    page = context.new_page()
    page.said = []
    page.on("console", lambda message: page.said.append(message.text))
    page.on("pageerror", lambda error: page.said.append(str(error)))
    page.on("request", lambda request: page.said.append(request.url) if "file:" not in request.url else None)
    yield page
    context.close()


def opened(page, tmp_path, figures, **more):
    page.goto(write_page(tmp_path, figures, **more))
    page.wait_for_selector("body[data-state]")
    assert page.evaluate("document.body.dataset.state") == "drawn"
    return page


def test_it_is_small_and_carries_its_notices():
    assert len(gzip.compress(RUNTIME.read_bytes(), mtime=0)) < 200 * 1024
    notices = (LAYOUTS / "runtime" / "NOTICES.txt").read_text("utf-8")
    for text in ("University of Washington", "Mike Bostock", "Ariya Hidayat", "vega-interpreter", "d3-scale"):
        assert text in notices
    source = RUNTIME.read_text("utf-8")
    assert "innerHTML" not in source and "insertAdjacentHTML" not in source and "document.write" not in source


@pytest.mark.browser
def test_every_kind_is_drawn_under_the_strict_policy(page, tmp_path, figures, by_kind):
    drawn = opened(page, tmp_path, list(by_kind.values()))
    assert drawn.evaluate("violations") == [] and drawn.said == []
    assert drawn.evaluate("views.length") == len(by_kind)
    for i, figure in enumerate(by_kind.values()):
        words = drawn.evaluate(f"[...document.querySelectorAll('#f{i} svg text')].map((t) => t.textContent)")
        assert "".join(words), figure.id
        assert drawn.evaluate(f"document.querySelectorAll('#f{i} svg').length") == 1, "the static picture is gone"
    assert drawn.evaluate("Object.keys(window).filter((k) => k.includes('vega')).length") == 0


@pytest.mark.browser
def test_live_and_static_pictures_show_the_same_words(page, tmp_path, by_kind):
    from xml.etree import ElementTree

    drawn = opened(page, tmp_path, list(by_kind.values()))
    for i, figure in enumerate(by_kind.values()):
        live = drawn.evaluate(f"[...document.querySelectorAll('#f{i} svg text')].map((t) => t.textContent)")
        still = [e.text for e in ElementTree.fromstring(figure.svg).iter("{http://www.w3.org/2000/svg}text") if e.text]
        assert live == still, figure.id


@pytest.mark.browser
def test_arrow_keys_step_through_the_points_and_escape_closes(page, tmp_path, by_kind):
    drawn = opened(page, tmp_path, [by_kind["score-against-power"]])
    drawn.focus("#f0 .picture")
    drawn.keyboard.press("ArrowRight")
    tip = drawn.locator(".chart-tip")
    assert tip.inner_text().startswith("stock\nscore 3118.1")
    drawn.keyboard.press("ArrowRight")
    assert tip.inner_text().startswith("tuned\n")
    assert drawn.evaluate("addresses") == ["stock/score", "tuned/score"]
    assert drawn.evaluate("document.querySelectorAll('.chart-marked').length") == 1
    drawn.keyboard.press("Escape")
    assert tip.is_hidden()
    drawn.keyboard.press("ArrowLeft")
    assert tip.inner_text().startswith("stock\n")


@pytest.mark.browser
def test_pointing_shows_the_interval_inside_the_window(page, tmp_path, by_kind):
    drawn = opened(page, tmp_path, [by_kind["score-per-watt"]])
    box = drawn.evaluate(
        "(() => { const marks = [...document.querySelectorAll('#f0 .mark-symbol path')];"
        " const b = marks[marks.length - 1].getBoundingClientRect();"
        " return [b.x + b.width / 2, b.y + b.height / 2]; })()"
    )
    drawn.mouse.move(*box)
    tip = drawn.locator(".chart-tip")
    tip.wait_for(state="visible")
    assert "95\u00a0% interval 15.54\u00a0points/W to 15.91\u00a0points/W" in tip.inner_text()
    edge = tip.bounding_box()
    assert edge["x"] >= 0 and edge["x"] + edge["width"] <= 700
    assert drawn.evaluate("addresses").pop() == "low/score-per-watt"
    drawn.mouse.move(2, 2)
    tip.wait_for(state="hidden")


@pytest.mark.browser
def test_hostile_words_stay_words(page, tmp_path, by_kind):
    figure = by_kind["score-per-watt"]
    text = figure.spec.replace('"tuned', '"<img src=x onerror=alert(1)>tuned')
    from dataclasses import replace

    drawn = opened(page, tmp_path, [replace(figure, spec=text)])
    drawn.focus("#f0 .picture")
    drawn.keyboard.press("ArrowRight")
    drawn.keyboard.press("ArrowRight")
    assert drawn.locator(".chart-tip").inner_text().startswith("<img src=x onerror=alert(1)>tuned")
    assert drawn.evaluate("document.querySelectorAll('img').length") == 0
    assert drawn.evaluate("violations") == [] and drawn.said == []


@pytest.mark.browser
def test_a_broken_specification_leaves_the_static_picture(page, tmp_path, by_kind):
    from dataclasses import replace

    broken = replace(by_kind["differences"], spec='{"data": [{"name": "a", "transform": [{"type": "nothing"}]}]}')
    page.goto(write_page(tmp_path, [broken]))
    page.wait_for_selector("body[data-state]")
    assert "nothing" in page.evaluate("document.body.dataset.state")
    assert page.evaluate("document.querySelectorAll('#f0 svg.chart text').length") > 0


@pytest.mark.browser
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_colours_follow_the_scheme_live_and_static(browser, tmp_path, by_kind, scheme):
    figure = by_kind["score-against-power"]
    address = write_page(tmp_path, [figure])
    sheet = tmp_path / "charts.css"
    sheet.write_text(
        ":root { --series-1: rgb(1, 2, 3); }"
        "@media (prefers-color-scheme: dark) { :root { --series-1: rgb(9, 8, 7); } }" + sheet.read_text()
    )
    wanted = "rgb(1, 2, 3)" if scheme == "light" else "rgb(9, 8, 7)"
    paints = "[...new Set([...document.querySelectorAll('#f0 svg path')].map((p) => getComputedStyle(p).fill))]"
    for scripts in (True, False):
        context = browser.new_context(color_scheme=scheme, java_script_enabled=scripts)
        page = context.new_page()
        page.goto(address)
        if scripts:
            page.wait_for_selector("body[data-state=drawn]")
        assert wanted in page.evaluate(paints)
        context.close()


@pytest.mark.browser
def test_at_360_pixels_the_picture_fits_and_its_words_are_legible(browser, tmp_path, figures):
    context = browser.new_context(viewport={"width": 360, "height": 780}, java_script_enabled=False)
    page = context.new_page()
    page.goto(write_page(tmp_path, list(figures)))
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    smallest = page.evaluate(
        "Math.min(...[...document.querySelectorAll('svg.chart text')].map((t) => {"
        " const s = t.ownerSVGElement; return parseFloat(getComputedStyle(t).fontSize)"
        " * s.getBoundingClientRect().width / s.viewBox.baseVal.width; }))"
    )
    assert smallest >= 8, "words in a figure are at least 8 CSS pixels high on the narrowest phone"
    context.close()
