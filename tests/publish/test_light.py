"""In a browser: number, row and point light up together; filters; addresses that stand on the other page."""

import pytest

from tests.publish.test_in_browser import NUMBER, PAGE, folder, opened  # noqa: F401  fixtures

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]

ADDRESS = "tuned/score"
ROW = f"tr[id='{ADDRESS}']"
CHART = "figure[id='figure-score-against-power']"


def live_chart(page):
    page.locator(CHART).scroll_into_view_if_needed()
    page.wait_for_selector(f"{CHART}.is-live", timeout=10_000)


def marked(page):
    return page.locator(f"{CHART} .chart-marked").count()


def test_a_number_in_the_text_lights_its_row_and_its_point(folder, opened):  # noqa: F811
    page = opened(folder)
    live_chart(page)
    number = page.locator(f".prose button[popovertarget='working:{ADDRESS}']").first
    number.hover()
    assert "lit" in page.locator(ROW).get_attribute("class") and marked(page) == 1
    page.mouse.move(0, 0)
    assert page.locator(".lit").count() == 0 and marked(page) == 0
    number.focus()
    assert marked(page) == 1, "by keyboard as by pointer"
    assert page.noted == []


def test_a_row_of_a_table_lights_the_text_and_the_point(folder, opened):  # noqa: F811
    page = opened(folder)
    live_chart(page)
    page.locator(f"{ROW} a.address").focus()
    assert marked(page) == 1
    lit = page.locator(f".prose .number.lit[popovertarget='working:{ADDRESS}']")
    assert lit.count() >= 1
    page.locator(f"{CHART} summary").click()
    page.locator(f"{CHART} tr[data-address~='tuned/board-power']").hover()
    assert page.locator(".prose .number.lit[popovertarget='working:tuned/board-power']").count() >= 1


def test_a_point_of_the_chart_lights_text_and_rows(folder, opened):  # noqa: F811
    page = opened(folder)
    live_chart(page)
    page.locator(f"{CHART} .picture").focus()
    seen = set()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
        seen |= set(page.locator("tr.lit[id]").evaluate_all("rows => rows.map(r => r.id)"))
    assert ADDRESS in seen
    page.keyboard.press("Tab")
    assert page.locator(".lit").count() <= 3


def test_a_number_without_a_point_of_its_own_lights_that_of_its_setting(folder, opened):  # noqa: F811
    page = opened(folder)
    live_chart(page)
    page.locator(f".prose {NUMBER}").first.hover()
    assert marked(page) == 1


def test_an_address_that_is_not_stated_leads_to_the_page_of_all_numbers(folder, opened):  # noqa: F811
    page = opened(folder, PAGE)
    page.goto(page.url + "#tuned/wall-power/ratio")
    page.wait_for_function("location.pathname.endsWith('numbers.html') && location.hash", timeout=10_000)
    assert page.locator("tr:target").is_visible()


def test_a_row_leads_to_the_one_that_lists_its_contributions(folder, opened):  # noqa: F811
    page = opened(folder, "write-ups/quiet-lantern/numbers.html")
    link = page.locator(".results .origin a").first
    row = page.locator(f"tr[id='{link.get_attribute('href').removeprefix('#')}']")
    words = link.locator("xpath=ancestor::tr").get_attribute("id")
    link.locator("xpath=ancestor::section").get_by_role("searchbox").fill(words)
    assert row.is_hidden(), "filtered away"
    link.click()
    assert row.locator("details.terms li").first.is_visible()
    assert page.noted == []


def test_comparison_filters_by_choice_and_word_and_says_so(folder, opened):  # noqa: F811
    page = opened(folder, "compare.html")
    rows = page.locator(".compared tbody tr:visible")
    every = rows.count()
    page.get_by_label("Words").fill("tuned")
    few = rows.count()
    assert 0 < few < every
    assert page.get_by_role("status").filter(has_text=f"{few} of {every} shown").count() == 1
    page.get_by_label("Words").fill("no such card")
    assert rows.count() == 0 and page.locator(".compared section:visible").count() == 0
    page.get_by_label("Words").fill("")
    assert rows.count() == every
