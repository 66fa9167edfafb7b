"""Every page of the demo in a real browser: quiet, narrow enough, reachable, and whole without scripts."""

import pytest
from lxml import html

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]

WIDTHS = (320, 360, 768, 1280)
"""CSS pixels; 320 is the width of WCAG 2.2, 1.4.10."""

OVERFLOW = "document.documentElement.scrollWidth - document.documentElement.clientWidth"

BROKEN_OUT = """() => [...document.querySelectorAll('main *')]
  .filter(e => e.checkVisibility() && e.getBoundingClientRect().right > innerWidth + 1)
  .filter(e => !e.closest('[role=region],pre,svg,.visually-hidden')).slice(0, 5).map(e => e.outerHTML.slice(0, 120))"""

# Every scroll box a keyboard cannot reach (reference, 4.1: tabindex, role and name).
UNREACHABLE = """() => [...document.querySelectorAll('main *')]
  .filter(e => e.checkVisibility() && e.scrollWidth > e.clientWidth + 1)
  .filter(e => ['auto', 'scroll'].includes(getComputedStyle(e).overflowX))
  .filter(e => !(e.tabIndex === 0 && e.getAttribute('role') && (e.ariaLabel || e.getAttribute('aria-labelledby'))))
  .map(e => e.outerHTML.slice(0, 120))"""


def test_pages_are_quiet_and_fit_at_every_width(served, page_names, tab):
    """No console message, no breach of the policy, no request off the site, no sideways scrolling."""
    faults = {}
    for name in page_names:
        tab.page.set_viewport_size({"width": WIDTHS[-1], "height": 900})
        tab.goto(served + name)
        tab.page.evaluate("() => new Promise(done => requestAnimationFrame(() => setTimeout(done, 50)))")
        noted = {**tab.noted(), "strangers": tab.strangers(served)}
        for width in WIDTHS:
            tab.page.set_viewport_size({"width": width, "height": 900})
            if tab.page.evaluate(OVERFLOW) > 0:
                noted[f"wider than {width}"] = tab.page.evaluate(BROKEN_OUT) or ["?"]
            noted[f"out of reach at {width}"] = tab.page.evaluate(UNREACHABLE)
        noted = {what: found for what, found in noted.items() if found}
        if noted:
            faults[name] = noted
    assert not faults, faults


def test_pages_work_from_a_folder_on_disk(built_demo, page_names, open_tab):
    """Opened with file:, scripts run, the policy is kept, nothing is missing."""
    disk = open_tab()
    for name in page_names:
        disk.goto((built_demo / name).as_uri())
        assert disk.noted() == {}, name
        assert disk.strangers("file:") == [], name
        filters = disk.page.locator("[data-filter]").count()
        assert not filters or disk.page.locator("input[type=search]").count() > 0, f"scripts did not run on {name}"


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts on", "scripts off"])
def test_charts_are_visible(scripts, served, built_demo, page_names, open_tab):
    """Every figure shows a picture of some size with a name, with scripts and without, narrow and wide."""
    watched = open_tab(java_script_enabled=scripts)
    boxes = "fs => fs.map(f => f.querySelector('svg').getBoundingClientRect()).map(b => [b.width, b.height])"
    seen = 0
    for name in page_names:
        if 'class="plate chart-plate"' not in (built_demo / name).read_text("utf-8"):
            continue
        watched.goto(served + name)
        for width in (320, 1280):
            watched.page.set_viewport_size({"width": width, "height": 900})
            if scripts:
                for plate in watched.page.locator("figure.chart-plate").all():
                    plate.scroll_into_view_if_needed()
                watched.page.wait_for_function(
                    "() => [...document.querySelectorAll('figure.chart-plate:has(.chart-spec)')]"
                    ".every(f => f.classList.contains('is-live'))"
                )
            for box in watched.page.locator("figure.chart-plate").evaluate_all(boxes):
                assert box[0] > 200 and box[1] > 80, (name, width, box)
                seen += 1
            unnamed = watched.page.locator("figure.chart-plate .picture:not([aria-label]), .picture[aria-label='']")
            assert unnamed.count() == 0, name
        assert watched.console == [], name
    assert seen >= 60
    print(f"{seen} pictures seen")


def test_without_scripts_every_stated_number_opens_its_working(served, write_up_names, open_tab):
    """Scripts off, by keyboard: each number of the text opens its formula and runs, and Escape closes it."""
    watched = open_tab(java_script_enabled=False)
    for name in write_up_names:
        watched.goto(served + name)
        numbers = watched.page.locator("main .number[popovertarget]")
        targets = numbers.evaluate_all("bs => bs.map(b => b.getAttribute('popovertarget'))")
        assert len(targets) >= 10, name
        for target in dict.fromkeys(targets[:3] + targets[-3:]):
            watched.page.locator(f".number[popovertarget='{target}']").first.focus()
            watched.page.keyboard.press("Enter")
            opened = watched.page.locator(":popover-open")
            assert opened.count() == 1 and opened.get_attribute("id") == target, (name, target)
            assert opened.get_by_text("Runs", exact=True).count() or opened.get_by_text("Formula", exact=True).count()
            watched.page.keyboard.press("Escape")
            assert opened.count() == 0, (name, target)


def test_every_chart_has_a_table_of_what_it_draws(built_demo, page_names):
    """WCAG 2.2, 1.1.1 and reference 4.1: name, sentence, and the numbers as a table, all in the HTML itself."""
    seen = 0
    for name in page_names:
        for plate in html.parse(built_demo / name).xpath("//figure[contains(@class, 'chart-plate')]"):
            (alternative,) = plate.xpath(".//*[@role='img']/@aria-label")
            assert len(alternative) > 20, name
            caption = plate.find(".//figcaption").text_content()
            assert len(caption.split()) > 5, (name, caption)
            cells = [cell.text_content() for cell in plate.xpath(".//td")]
            assert any(any(c.isdigit() for c in cell) for cell in cells), (name, plate.get("id"))
            seen += 1
    assert seen >= 30
