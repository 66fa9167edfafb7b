"""The page: by mouse and by keyboard, kept over a reload, files out and in, nothing sent, nothing hostile run."""

import json
import re
from pathlib import Path

import pytest

from benchgalley import pipeline

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]

ROOT = Path(__file__).parents[2]
RUNS = (
    *((100, 0, "completed", score, power) for score, power in
      ((6203, 185.2), (6192, 185.5), (6211, 184.7), (6200, 185.1), (6205, 184.8))),
    (100, -20, "completed", 6207, 180.0),
    (100, -40, "crashed", None, None),
)  # fmt: skip


SMALL_TARGETS = """() => [...document.querySelectorAll('#worksheet :is(button, input, select, summary)')]
    .filter(e => e.checkVisibility()).filter(e => {
        const box = e.getBoundingClientRect();
        return box.width < 24 || box.height < 24;
    }).map(e => e.id || e.textContent)"""


@pytest.fixture(scope="session")
def worksheet(tmp_path_factory):
    """The small site, built once: the worksheet works from a folder on disk."""
    import shutil

    site = tmp_path_factory.mktemp("worksheet") / "small"
    shutil.copytree(ROOT / "tests" / "fixtures" / "small_site", site)
    assert pipeline.build(site, site / "site").passes
    return site / "site" / "worksheet.html"


@pytest.fixture
def opened(browser, worksheet):
    context = browser.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True)
    page = context.new_page()
    page.complaints, page.asked = [], []
    page.on("console", lambda m: page.complaints.append(m.text) if m.type in ("error", "warning") else None)
    page.on("pageerror", lambda e: page.complaints.append(str(e)))
    page.on("request", lambda r: page.asked.append(r.url))
    page.goto(worksheet.as_uri())
    yield page
    assert page.complaints == []
    assert [u for u in page.asked if not u.startswith(("file:", "blob:", "data:"))] == []
    context.close()


def enter(page, limit, offset, outcome, score, power):
    page.fill("#run-power_limit_pct", str(limit))
    page.fill("#run-voltage_offset_mv", str(offset))
    page.select_option("#run-outcome", outcome)
    page.fill("#run-score", "" if score is None else str(score))
    page.fill("#run-board_power_w", "" if power is None else str(power))
    page.click("#add")


def enter_all(page):
    for run in RUNS:
        enter(page, *run)


def downloaded(page, button):
    with page.expect_download() as waiting:
        page.click(button)
    return Path(waiting.value.path()).read_bytes(), waiting.value.suggested_filename


def test_cautions_come_first(opened):
    heads = opened.locator("main h2").all_inner_texts()
    assert heads[0] == "Before you start"
    assert opened.locator("#cautions ~ .hazard .signal").all_inner_texts() == ["NOTICE", "NOTICE"]


def test_figures_and_next_step_follow_each_run(opened):
    assert opened.inner_text("#next-title") == "Run at stock: 1 of 5"
    enter_all(opened)
    rows = opened.locator("#figures tbody tr")
    assert rows.count() == 3
    assert rows.nth(0).locator("th").inner_text() == "Stock"
    cells = rows.nth(1).locator("td").all_inner_texts()
    assert cells[0].startswith("100.1") and "three runs each needed" in cells[2]
    assert rows.nth(2).locator("td").nth(4).inner_text() == "0, 1 failed"
    assert opened.inner_text("#next-title") == "Lower the power limit to 96\u00a0%"
    assert opened.locator("[aria-current=step]").count() == 1
    assert opened.locator("#runs tbody tr").count() == len(RUNS)


def test_a_whole_run_by_keyboard_alone(opened):
    opened.focus("#use-step")
    opened.keyboard.press("Enter")
    assert opened.evaluate("document.activeElement.id") == "run-score"
    opened.keyboard.type("6203")
    opened.keyboard.press("Tab")
    opened.keyboard.type("185.2")
    opened.keyboard.press("Enter")
    assert opened.locator("#runs tbody tr").count() == 1
    assert opened.evaluate("document.activeElement.id") == "run-score", "ready for the next run"
    assert opened.input_value("#run-power_limit_pct") == "100"
    assert opened.inner_text("#next-title") == "Run at stock: 2 of 5"


def test_runs_are_entered_by_touch_on_a_phone(browser, worksheet):
    context = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True)
    page = context.new_page()
    page.goto(worksheet.as_uri())
    for score, power in ((6203, 185.2), (6192, 185.5), (6211, 184.7)):
        for field, value in (("#run-score", score), ("#run-board_power_w", power)):
            page.tap(field)
            page.keyboard.type(str(value))
        page.tap("#add")
    assert page.locator("#runs tbody tr").count() == 3
    assert "4 of 5" in page.locator("#next-step").inner_text()
    page.get_by_role("button", name="Change run 1").tap()
    assert page.input_value("#run-score") == "6203"
    context.close()


def test_what_is_wrong_is_told_at_once_and_where(opened):
    enter(opened, "ninety", "0", "completed", "8,412", "185 W")
    assert opened.locator("#run-faults li").count() == 3
    assert opened.evaluate("document.activeElement.id") == "run-power_limit_pct"
    told = opened.inner_text("#run-score-fault")
    assert "Write 8412, or 8.412 if the comma is a decimal sign" in told
    assert opened.get_attribute("#run-score", "aria-describedby") == "run-score-fault"
    opened.locator("#run-faults a").nth(2).click()
    assert opened.evaluate("document.activeElement.id") == "run-board_power_w"
    assert opened.locator("#runs tbody tr").count() == 0
    enter(opened, "90", "\u221240", "completed", "8412", "185")
    assert opened.locator("#run-faults li").count() == 0
    assert "−40" in opened.locator("#runs tbody td").first.inner_text()


def test_a_completed_run_needs_a_score_and_a_failed_one_does_not(opened):
    enter(opened, 100, 0, "completed", None, None)
    assert opened.locator("#run-faults li").count() == 1
    enter(opened, 100, -20, "hung", None, None)
    assert opened.locator("#runs tbody tr.failed").count() == 1


def test_a_run_is_changed_left_out_and_removed(opened):
    enter_all(opened)
    opened.get_by_role("button", name="Change run 6").click()
    opened.locator("#more summary").click() if not opened.locator("#more").get_attribute("open") else None
    opened.fill("#run-excluded", "an update ran meanwhile")
    opened.click("#add")
    assert "left out: an update ran meanwhile" in opened.locator("#runs tbody tr").nth(5).inner_text()
    opened.once("dialog", lambda dialog: dialog.accept())
    opened.get_by_role("button", name="Remove run 7").click()
    assert opened.locator("#runs tbody tr").count() == len(RUNS) - 1
    opened.once("dialog", lambda dialog: dialog.dismiss())
    opened.get_by_role("button", name="Remove run 1").click()
    assert opened.locator("#runs tbody tr").count() == len(RUNS) - 1


def test_it_is_kept_over_a_reload_and_cleared_on_request(opened):
    opened.select_option("#about-card", "lantern-60")
    enter_all(opened)
    opened.reload()
    assert opened.locator("#runs tbody tr").count() == len(RUNS)
    assert opened.input_value("#about-card") == "lantern-60"
    opened.once("dialog", lambda dialog: dialog.accept())
    opened.click("#clear")
    opened.reload()
    assert opened.locator("#runs tbody tr").count() == 0 and opened.is_visible("#nothing-yet")


def test_files_go_out_and_come_back_the_same(opened, tmp_path):
    opened.select_option("#about-card", "lantern-60")
    opened.select_option("#about-load", "harbour-scene")
    opened.fill("#about-alias", "Fennel")
    enter_all(opened)
    everything, name = downloaded(opened, "#save-all")
    assert name == "worksheet.json"
    table, name = downloaded(opened, "#save-csv")
    assert name == "trials.csv"
    held = json.loads(everything)
    assert held["trials_csv"].encode() == table
    assert held["about"]["card"] == "lantern-60" and held["about"]["alias"] == "Fennel"
    shown = opened.inner_text("#figures")
    opened.once("dialog", lambda dialog: dialog.accept())
    opened.click("#clear")
    for content, file in ((everything, "worksheet.json"), (table, "trials.csv")):
        (tmp_path / file).write_bytes(content)
        opened.once("dialog", lambda dialog: dialog.accept())
        opened.set_input_files("#load-file", tmp_path / file)
        opened.locator("#runs tbody tr").nth(len(RUNS) - 1).wait_for()
        assert opened.inner_text("#figures") == shown
    assert downloaded(opened, "#save-csv")[0] == table


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ("{", "cannot be read"),
        ('{"worksheet": 2}', "no file of this worksheet"),
        ("a,b\n1,2\n", "no trials file"),
        ("power_limit_pct,voltage_offset_mv,outcome,score\n100,0,completed\n", "Row 1 has 3 cells"),
        ("power_limit_pct,voltage_offset_mv,outcome,score\n100,0,completed,=1+1\n", "Row 1: Write a number"),
    ],
)
def test_a_file_that_is_none_is_refused_with_a_sentence(opened, tmp_path, content, told):
    (tmp_path / "file.json").write_text(content)
    opened.set_input_files("#load-file", tmp_path / "file.json")
    opened.locator("#file-faults p").wait_for()
    assert told in opened.inner_text("#file-faults")
    assert opened.locator("#runs tbody tr").count() == 0


def test_hostile_text_is_text(opened, tmp_path):
    note = "<img src=x onerror=alert(1)><script>alert(1)</script>"
    rows = f'power_limit_pct,voltage_offset_mv,outcome,score,note\n100,0,completed,8412,"{note}"\n'
    (tmp_path / "hostile.csv").write_text(rows)
    opened.on("dialog", lambda dialog: pytest.fail("a dialog opened"))
    opened.set_input_files("#load-file", tmp_path / "hostile.csv")
    opened.locator("#runs tbody tr").wait_for()
    assert note in opened.locator("#runs tbody td").nth(5).inner_text()
    assert opened.locator("#runs img, #runs script").count() == 0


def test_the_download_is_a_trials_file_of_ours(opened, tmp_path, small_site):
    """It passes `check` unchanged in a write-up, awkward notes included."""
    enter_all(opened)
    opened.locator("#more summary").click()
    opened.fill("#run-note", 'fans up, "loud"; 2nd try')
    enter(opened, 100, 0, "completed", 6201, 185.0)
    table, _ = downloaded(opened, "#save-csv")
    folder = small_site / "content" / "write-ups" / "mine"
    folder.mkdir()
    (folder / "trials.csv").write_bytes(table)
    (folder / "write-up.md").write_text(
        "---\ntitle: Mine\nsummary: My own runs.\npublished: 2026-10-01\ncard: lantern-60\nsample: b\nbench: shed\n"
        "load: harbour-scene\nsetpoints: {stock: {}}\nbaseline: stock\n"
        "sequences: {ladder: {kind: ladder, setting: voltage_offset_mv}}\n---\n\nRuns.\n"
    )
    checked = pipeline.check(small_site, only="mine")
    assert [p for p in checked.problems if "mine" in p.where.file] == []
    trials = checked.site.write_ups["mine"].trials
    assert len(trials) == len(RUNS) + 1 and trials[-1].note == 'fans up, "loud"; 2nd try'


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 768, 1280])
def test_it_fits_and_is_accessible_with_entries(browser, worksheet, width, scheme):
    """axe-core's rules for WCAG 2.2 A and AA; no sideways scrolling; targets of at least 24 CSS px (WCAG 2.5.8)."""
    import axe_playwright_python

    context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
    page = context.new_page()
    page.goto(worksheet.as_uri())
    enter_all(page)
    enter(page, "x", 0, "completed", 1, 1)
    page.locator("#about summary").click()
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
    source = next(Path(axe_playwright_python.__file__).parent.rglob("axe.min.js")).read_text("utf-8")
    page.evaluate(source)
    report = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    assert [(v["id"], [n["target"] for n in v["nodes"]][:3]) for v in report["violations"]] == []
    small = page.evaluate(SMALL_TARGETS)
    assert small == []
    context.close()


def test_without_scripts_the_method_can_be_read(browser, worksheet):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(worksheet.as_uri())
    assert page.is_visible("#method-steps") and page.is_visible("noscript p")
    assert not page.is_visible("#worksheet")
    context.close()


def test_the_script_keeps_to_what_the_policy_allows():
    """Classic scripts, no markup from text, no inline handlers, no requests, no evaluation."""
    assets = ROOT / "layouts" / "assets"
    for path in sorted(assets.glob("worksheet*.js")):
        text = path.read_text("utf-8")
        for banned in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "fetch(", "XMLHttp",
                       "WebSocket", "sendBeacon", "import(", "new Function"):  # fmt: skip
            assert banned not in text, (path.name, banned)
    page = (ROOT / "layouts" / "worksheet.html").read_text("utf-8")
    assert not re.search(r"\s(on\w+|style)=", page)
    assert "connect-src 'none'" in page
