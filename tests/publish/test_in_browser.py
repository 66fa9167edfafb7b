"""The small site in a real browser, from a folder on disk: numbers, tables, charts, scripts off, hostile content."""

from dataclasses import replace

import pytest

from benchgalley.charts import draw
from benchgalley.derive import evaluate
from benchgalley.publish import write_site
from tests.publish.factory import print_site, small_site
from tests.publish.test_hostile import EVIL, poisoned

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]

PAGE = "write-ups/quiet-lantern/index.html"
NUMBER = "[popovertarget='working:tuned/board-power/saved']"
WORKING = "[id='working:tuned/board-power/saved']"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The small site on disk, with its real charts."""
    site = small_site()
    results = evaluate(site)
    figures = {slug: draw(w, site, results) for slug, w in site.write_ups.items()}
    target = tmp_path_factory.mktemp("published") / "site"
    write_site(print_site(site, results, figures=figures), target)
    return target


@pytest.fixture
def opened(browser):
    """Opens a page of a folder and notes everything the console says and every request made."""
    contexts = []

    def open_page(folder, name=PAGE, **context):
        made = browser.new_context(**{"viewport": {"width": 1280, "height": 900}, **context})
        contexts.append(made)
        page = made.new_page()
        page.noted, page.asked = [], []
        page.on("console", lambda m: page.noted.append(m.text))
        page.on("pageerror", lambda e: page.noted.append(str(e)))
        page.on("request", lambda r: page.asked.append(r.url))
        page.goto((folder / name).as_uri())
        return page

    yield open_page
    for context in contexts:
        context.close()


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts on", "scripts off"])
def test_a_number_opens_and_closes_by_keyboard(scripts, folder, opened):
    page = opened(folder, java_script_enabled=scripts)
    number = page.locator(f".prose {NUMBER}").first
    number.focus()
    page.keyboard.press("Enter")
    assert page.locator(f"{WORKING}:popover-open").count() == 1
    assert page.locator(WORKING).get_by_text("Formula", exact=True).is_visible()
    page.keyboard.press("Escape")
    assert page.locator(f"{WORKING}:popover-open").count() == 0
    assert page.noted == []


@pytest.mark.parametrize("width", [320, 360, 768, 1280])
def test_a_working_stays_inside_the_window(width, folder, opened):
    page = opened(folder, viewport={"width": width, "height": 700}, has_touch=True)
    page.locator(f".prose {NUMBER}").first.tap()
    box = page.locator(WORKING).bounding_box()
    assert box["x"] >= -0.5 and box["x"] + box["width"] <= width + 0.5
    assert box["y"] >= -0.5 and box["y"] + box["height"] <= 700.5
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_run_named_in_a_working_leads_to_its_row(folder, opened):
    page = opened(folder)
    page.locator(f".prose {NUMBER}").first.click()
    page.locator(f"{WORKING} .run-list a").first.click()
    assert page.locator("tr:target").is_visible(), "the closed table opens for the row"
    assert page.locator(":popover-open").count() == 0


def test_the_table_of_runs_sorts_and_filters(folder, opened):
    page = opened(folder)
    page.get_by_text("Table of runs").click()
    table = page.locator("table.runs")
    column = table.locator("thead th").filter(has_text="Score").first
    at = column.evaluate("e => e.cellIndex")

    def scores():
        texts = table.locator(f"tbody tr td:nth-child({at + 1})").all_text_contents()
        return [float(t) for t in texts if t not in ("–", "")]

    column.get_by_role("button").press("Enter")
    assert column.get_attribute("aria-sort") == "ascending" and scores() == sorted(scores())
    column.get_by_role("button").click()
    assert column.get_attribute("aria-sort") == "descending" and scores() == sorted(scores(), reverse=True)
    assert table.locator("[aria-sort]").count() == 1
    last = table.locator("tbody tr").last.locator(f"td:nth-child({at + 1})").text_content()
    assert last == "–", "an absent score is not the least one"
    page.get_by_label("Filter the runs").fill("crashed")
    assert 0 < table.locator("tbody tr:visible").count() < 10
    assert page.get_by_role("status").filter(has_text="shown").count() == 1
    assert page.get_by_role("status").filter(has_text="Sorted by").text_content().endswith("descending")


def test_charts_come_alive_when_seen_and_the_runtime_loads_once(folder, opened):
    page = opened(folder, PAGE)
    figures = page.locator("figure.chart-plate")
    assert figures.count() >= 3
    assert page.locator("figure.chart-plate svg").count() == figures.count(), "drawn before any script"
    for at in range(figures.count()):
        figures.nth(at).scroll_into_view_if_needed()
        page.wait_for_selector(f"figure.chart-plate >> nth={at} >> css=.picture svg")
    page.wait_for_selector("figure.chart-plate:nth-last-of-type(1).is-live", timeout=10_000)
    assert len([url for url in page.asked if url.endswith("chart-runtime.js")]) == 1
    assert page.noted == []


def test_a_chart_can_be_taken_as_png(folder, opened):
    page = opened(folder)
    figure = page.locator("figure.chart-plate").first
    figure.scroll_into_view_if_needed()
    with page.expect_download() as waiting:
        figure.get_by_role("button", name="PNG").click()
    content = waiting.value.path().read_bytes()
    assert content.startswith(b"\x89PNG") and int.from_bytes(content[16:20]) == 1280
    assert page.noted == []


def test_pointing_at_a_number_lights_its_row(folder, opened):
    page = opened(folder)
    page.locator(f".prose {NUMBER}").first.hover()
    assert page.locator("tr.lit").get_attribute("id") == "tuned/board-power/saved"


def test_a_page_without_charts_loads_no_runtime(folder, opened):
    page = opened(folder, "methods.html")
    page.wait_for_load_state("networkidle")
    assert not [url for url in page.asked if "runtime" in url]


def test_without_the_runtime_the_static_chart_stays(folder, opened, tmp_path):
    import shutil

    shutil.copytree(folder, tmp_path / "site")
    (tmp_path / "site/runtime/chart-runtime.js").write_text("throw new Error('broken');", "utf-8")
    page = opened(tmp_path / "site")
    figure = page.locator("figure.chart-plate").first
    figure.scroll_into_view_if_needed()
    page.wait_for_timeout(500)
    assert figure.locator("svg").is_visible()


def test_printing_opens_what_is_folded_and_keeps_every_caveat(folder, opened):
    page = opened(folder)
    page.emulate_media(media="print")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    for text in ("Other cards of the model may differ.", "Watts saved carry its gain error.", "NOTICE", "invented"):
        assert page.get_by_text(text).first.is_visible(), text
    assert page.locator("details:not([open])").count() == 0
    assert not page.locator("nav").first.is_visible()


def test_text_spacing_cuts_nothing(folder, opened):
    """WCAG 2.2, 1.4.12: line 1.5, paragraph 2, letter 0.12, word 0.16 em."""
    page = opened(folder, viewport={"width": 360, "height": 800})
    rules = (
        "* { line-height: 1.5 !important; letter-spacing: 0.12em !important; word-spacing: 0.16em !important }"
        "p { margin-bottom: 2em !important }"
    )
    page.evaluate(
        "rules => { const s = new CSSStyleSheet(); s.replaceSync(rules); document.adoptedStyleSheets = [s]; }",
        rules,
    )
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    cut = """[...document.querySelectorAll('main p, main dd, main td')]
        .filter(e => getComputedStyle(e).overflow === 'hidden').length"""
    assert page.evaluate(cut) == 0


def test_controls_are_large_enough_to_hit(folder, opened):
    """WCAG 2.2, 2.5.8: 24 by 24 px; links and numbers within a sentence or table are excepted."""
    page = opened(folder, viewport={"width": 360, "height": 800})
    page.locator(f".prose {NUMBER}").first.click()
    small = page.evaluate("""() => [...document.querySelectorAll('nav a, summary, .close, .sort, input')]
        .filter(e => e.checkVisibility()).map(e => [e.outerHTML.slice(0, 60), e.getBoundingClientRect().height])
        .filter(([_, h]) => h < 23.5)""")
    assert small == []


def test_hostile_content_is_inert(opened, tmp_path):
    """A script in title, notes, YAML and alternative texts runs nowhere and the policy is never even tried."""
    site = poisoned()
    write_site(print_site(site), tmp_path / "site")
    for name in (PAGE, "index.html", "ledger.html", "data.html", "cards/lantern-60/index.html", "compare.html"):
        page = opened(tmp_path / "site", name)
        page.on("dialog", lambda d: pytest.fail("a hostile script ran"))
        page.wait_for_timeout(100)
        assert page.noted == [], name
        assert page.locator("img[src=x]").count() == 0
        assert all(url.startswith("file:") for url in page.asked), name


def test_hostile_links_lead_nowhere(opened, tmp_path):
    site = small_site()
    settings = replace(site.settings, contact=EVIL)
    write_site(print_site(replace(site, settings=settings)), tmp_path / "site")
    page = opened(tmp_path / "site", "index.html")
    bad = "[...document.links].filter(a => !['https:', 'http:', 'mailto:', 'file:'].includes(a.protocol)).length"
    assert page.evaluate(bad) == 0
