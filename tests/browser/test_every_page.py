"""Every page of the demo in a real browser: quiet, narrow enough, reachable, and whole without scripts."""

import json
from pathlib import Path

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]

WIDTHS = (360, 1280)

OVERFLOW = "document.documentElement.scrollWidth - document.documentElement.clientWidth"

BROKEN_OUT = """() => [...document.querySelectorAll('main *')]
  .filter(e => e.checkVisibility() && e.getBoundingClientRect().right > innerWidth + 1)
  .filter(e => !e.closest('[role=region],pre,svg,.visually-hidden')).slice(0, 5).map(e => e.outerHTML.slice(0, 120))"""


def axe_source() -> str:
    import axe_playwright_python

    return next(Path(axe_playwright_python.__file__).parent.rglob("axe.min.js")).read_text("utf-8")


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_are_quiet_and_fit(width, scheme, served, page_names, open_page):
    """No console message, no request off the site, no sideways scrolling."""
    for name in page_names:
        watched = open_page(served + name, width=width, color_scheme=scheme)
        watched.page.wait_for_load_state("networkidle")
        assert watched.console == [], name
        assert [u for u in watched.requests if not u.startswith((served, "data:"))] == [], name
        assert watched.page.evaluate(OVERFLOW) <= 0, (name, width, watched.page.evaluate(BROKEN_OUT))
        watched.page.context.close()


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts on", "scripts off"])
@pytest.mark.parametrize("width", WIDTHS)
def test_charts_are_visible(scripts, width, served, page_names, open_page):
    """Every figure shows a picture of some size with a name, with scripts and without."""
    seen = 0
    for name in page_names:
        watched = open_page(served + name, width=width, java_script_enabled=scripts)
        figures = watched.page.locator("figure:has([role=img], svg, canvas)")
        for at in range(figures.count()):
            picture = figures.nth(at).locator("svg, canvas, img").first
            picture.scroll_into_view_if_needed()
            box = picture.bounding_box()
            assert box and box["width"] > 200 and box["height"] > 80, (name, at, box)
            seen += 1
        watched.page.context.close()
    assert seen >= 10


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_violation(scheme, served, page_names, open_page):
    """axe-core's rules for WCAG 2.2 A and AA and its best practices."""
    source = axe_source()
    found = {}
    for name in page_names:
        watched = open_page(served + name, color_scheme=scheme)
        watched.page.evaluate(source)
        report = watched.page.evaluate("axe.run(document, {resultTypes: ['violations']})")
        if report["violations"]:
            found[name] = [(v["id"], [n["target"] for n in v["nodes"]][:3]) for v in report["violations"]]
        watched.page.context.close()
    assert not found, json.dumps(found, indent=1)


def test_pages_work_from_a_folder_on_disk(built_demo, page_names, open_page):
    """Opened with file:, scripts run, the policy is kept, nothing is missing."""
    for name in page_names:
        watched = open_page((built_demo / name).as_uri())
        assert watched.console == [], name
        assert [u for u in watched.requests if not u.startswith(("file:", "data:"))] == [], name
        watched.page.context.close()


def test_without_scripts_every_number_still_opens_its_working(served, built_demo, open_page):
    """A bound number on a write-up page leads to its formula and runs by keyboard alone, scripts off."""
    slug = sorted(p.name for p in (built_demo / "write-ups").iterdir() if p.is_dir())[0]
    watched = open_page(f"{served}write-ups/{slug}/index.html", java_script_enabled=False)
    opener = watched.page.locator("main [popovertarget], main a.number, main summary").first
    opener.focus()
    watched.page.keyboard.press("Enter")
    assert watched.page.locator("[popover]:popover-open, details[open], :target").count() >= 1
