"""Charts of the built demo where scripts run: loaded once and late, tips by every means, lit together with the text."""

import re

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]

RUNTIME = "runtime/chart-runtime.js"
PLATES = "figure.chart-plate"

# Middle of the n-th largest drawn point that is in the window and lies on top, in window coordinates.
POINT = """([figure, at]) => {
  const middle = m => { const b = m.getBoundingClientRect(); return [b.x + b.width / 2, b.y + b.height / 2, b.width]; };
  const marks = [...figure.querySelectorAll('svg .mark-symbol path')]
    .filter(m => document.elementFromPoint(...middle(m).slice(0, 2)) === m);
  return marks.map(middle).sort((a, b) => b[2] - a[2])[at].slice(0, 2);
}"""


def enliven(page, plate):
    """Bring a chart into view and wait until it answers."""
    plate.scroll_into_view_if_needed()
    page.wait_for_function("f => f.classList.contains('is-live')", arg=plate.element_handle())


def center(page, plate):
    """Scroll the chart to the middle and wait until the scrolling is over: a tip closes when the page scrolls."""
    plate.locator("svg").evaluate("s => s.scrollIntoView({block: 'center'})")
    page.evaluate("() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")


def plate_of(page, kind):
    plate = page.locator(f"{PLATES}[id^='figure-{kind}']").first
    enliven(page, plate)
    return plate


def test_the_runtime_is_loaded_late_once_and_kept_for_the_next_page(demo, serve, built_demo, write_up_names, open_tab):
    """Not on pages without charts, not before a chart is near, once a page, its bytes sent once a visit."""
    fresh = serve(built_demo)
    watched = open_tab(height=600)
    watched.goto(fresh.base + "methods.html")
    watched.page.wait_for_load_state("networkidle")
    assert fresh.bodies(RUNTIME) == 0, "a page without charts loads none"
    for visit, name in enumerate(write_up_names[:3]):
        watched.goto(fresh.base + name)
        watched.page.wait_for_load_state("networkidle")
        first = watched.page.locator(PLATES).first
        far = first.bounding_box()["y"] > 600 + 200
        if visit == 0:
            assert far and fresh.bodies(RUNTIME) == 0, "nothing is loaded for a chart that nobody has come near"
        for plate in watched.page.locator(PLATES).all():
            enliven(watched.page, plate)
        asked = [url for url in watched.requests if url.endswith(RUNTIME)]
        assert len(asked) == 1, "one request a page, however many charts"
        assert fresh.bodies(RUNTIME) == 1, "the second page takes it from the cache"
        assert watched.noted() == {}


def test_every_live_chart_shows_the_words_of_its_picture(served, built_demo, page_names, open_tab):
    """Live and static pictures say the same, on the built pages, and the whole picture keeps its one name."""
    watched = open_tab()
    words = "f => [...f.querySelectorAll('.picture svg text')].map(t => t.textContent).filter(t => t)"
    seen = 0
    for name in page_names:
        if "chart-plate" not in (built_demo / name).read_text("utf-8"):
            continue
        watched.goto(served + name)
        plates = watched.page.locator(PLATES)
        still = [plate.evaluate(words) for plate in plates.all()]
        for plate, expected in zip(plates.all(), still, strict=True):
            enliven(watched.page, plate)
            assert plate.evaluate(words) == expected, (name, plate.get_attribute("id"))
            assert plate.locator("[role=img]").count() == 1 and plate.locator("svg").count() == 1
            seen += 1
        assert watched.noted() == {}, name
    assert seen >= 30


def test_arrow_keys_walk_through_the_points_with_their_intervals(served, heaviest, tab):
    tab.goto(served + heaviest)
    page = tab.page
    plate = plate_of(page, "score-against-power")
    picture = plate.locator("[role=img]")
    picture.focus()
    assert picture.evaluate("e => getComputedStyle(e).outlineStyle") != "none"
    told = []
    for _ in range(3):
        page.keyboard.press("ArrowRight")
        tip = page.locator(".chart-tip")
        assert tip.is_visible() and tip.get_attribute("role") == "status"
        told.append(tip.inner_text())
        assert plate.locator(".chart-marked").count() == 1
    assert len(set(told)) == 3, told
    assert all(" to " in text for text in told[:2]), "the means tell their intervals"
    page.keyboard.press("ArrowLeft")
    assert tip.inner_text() == told[1]
    page.keyboard.press("Escape")
    assert tip.is_hidden()
    page.keyboard.press("ArrowRight")
    assert tip.is_visible()
    page.keyboard.press("Tab")
    assert tip.is_hidden() and plate.locator(".chart-marked").count() == 0, "leaving clears what was marked"


@pytest.mark.parametrize("kind", ["score-against-power", "score-per-watt", "differences", "offset-ladder"])
def test_a_tap_and_a_pointer_show_the_tip(kind, served, heaviest, open_tab):
    """The same tip by mouse and by touch, inside the window; it goes away when one points or taps elsewhere."""
    told = {}
    for means in ("mouse", "touch"):
        watched = open_tab(served + heaviest, has_touch=means == "touch")
        page = watched.page
        plate = plate_of(page, kind)
        center(page, plate)
        for at in (0, 1):
            x, y = page.evaluate(POINT, [plate.element_handle(), at])
            if means == "mouse":
                page.mouse.move(x, y)
            else:
                page.touchscreen.tap(x, y)
            tip = page.locator(".chart-tip")
            tip.wait_for(state="visible")
            told.setdefault(at, []).append(tip.inner_text())
            box = tip.bounding_box()
            assert box["x"] >= 0 and box["x"] + box["width"] <= 1280 and box["y"] >= 0
        if means == "mouse":
            page.mouse.move(2, 2)
        else:
            empty = plate.locator("figcaption").bounding_box()
            page.touchscreen.tap(empty["x"] + 2, empty["y"] + 4)
        tip.wait_for(state="hidden")
        assert watched.noted() == {}
    for texts in told.values():
        assert texts[0] == texts[1] and any(character.isdigit() for character in texts[0])


def test_a_phone_shows_tips_inside_its_window(served, heaviest, open_tab):
    watched = open_tab(served + heaviest, width=360, height=640, has_touch=True, is_mobile=True)
    page = watched.page
    plate = plate_of(page, "score-against-power")
    center(page, plate)
    for at in range(4):
        page.touchscreen.tap(*page.evaluate(POINT, [plate.element_handle(), at]))
        page.locator(".chart-tip").wait_for(state="visible")
        box = page.locator(".chart-tip").bounding_box()
        assert box["x"] >= 0 and box["x"] + box["width"] <= 360.5 and box["y"] >= 0, box
    smallest = plate.evaluate(
        "f => Math.min(...[...f.querySelectorAll('svg text')].map(t => { const s = t.ownerSVGElement;"
        " return parseFloat(getComputedStyle(t).fontSize) * s.getBoundingClientRect().width / s.viewBox.baseVal.width;"
        " }))"
    )
    print(f"smallest word of a live chart at 360 px: {smallest:.1f} px")
    assert smallest >= 8


def lit(page, address):
    """What is lit for an address: (numbers in the text, rows)."""
    return page.evaluate(
        """a => [document.querySelectorAll('.number.lit[popovertarget="' + CSS.escape('working:' + a) + '"]').length,
              document.querySelectorAll('tr.lit').length]""",
        address,
    )


def test_a_number_in_the_text_marks_its_point_in_the_chart(served, heaviest, tab):
    """Text to chart and table, by pointer and by focus; gone again when one leaves."""
    tab.goto(served + heaviest)
    page = tab.page
    plate = plate_of(page, "score-against-power")
    drawn = page.evaluate(
        """f => { const s = f.querySelector('.chart-spec').textContent;
           return [...new Set([...s.matchAll(/"address":"([^"]+)"/g)].map(m => m[1]))]; }""",
        plate.element_handle(),
    )
    numbers = [page.locator(f"main .number[popovertarget='working:{a}']").first for a in drawn]
    stated = [(a, n) for a, n in zip(drawn, numbers, strict=True) if n.count()]
    assert stated, drawn
    for address, number in stated:
        for means in ("hover", "focus"):
            number.scroll_into_view_if_needed()
            if means == "hover":
                number.hover()
            else:
                page.mouse.move(2, 2)
                number.focus()
            assert plate.locator(".chart-marked").count() == 1, (address, means)
            assert lit(page, address)[0] >= 1
            page.mouse.move(2, 2)
            number.evaluate("n => n.blur()")
            assert plate.locator(".chart-marked").count() == 0
            assert lit(page, address) == [0, 0]


def test_a_point_in_the_chart_lights_the_number_and_its_row(served, heaviest, tab):
    tab.goto(served + heaviest)
    page = tab.page
    plate = plate_of(page, "score-against-power")
    plate.locator("[role=img]").focus()
    lights = []
    for _ in range(4):
        page.keyboard.press("ArrowRight")
        lights.append(page.evaluate("[...document.querySelectorAll('.number.lit, tr.lit')].length"))
    assert max(lights) >= 1, "points with an address light what states it"
    page.keyboard.press("Tab")
    assert page.evaluate("document.querySelectorAll('.lit').length") == 0


def test_a_row_of_the_results_marks_its_point(served, heaviest, tab):
    """Table to chart: pointing at a row, or reaching its link by keyboard."""
    tab.goto(served + heaviest)
    page = tab.page
    plate = plate_of(page, "score-against-power")
    page.evaluate("() => document.querySelectorAll('details').forEach(d => { d.open = true; })")
    drawn = plate.evaluate(
        """f => [...new Set([...f.querySelector('.chart-spec').textContent.matchAll(/"address":"([^"]+)"/g)]
             .map(m => m[1]))].filter(a => document.getElementById(a))"""
    )
    assert drawn
    for address in drawn[:3]:
        row = page.locator(f"tr[id='{address}']")
        row.locator("a").first.focus()
        assert plate.locator(".chart-marked").count() == 1, address
        row.locator("a").first.evaluate("n => n.blur()")
        row.hover()
        assert plate.locator(".chart-marked").count() == 1, address
        page.mouse.move(2, 2)


def test_a_chart_downloads_as_png_and_svg_with_its_source(served, heaviest, built_demo, tab):
    """Issue 6, 3: the same figure as SVG and PNG, with the line that says where it comes from."""
    tab.goto(served + heaviest)
    page = tab.page
    plate = plate_of(page, "score-against-power")
    with page.expect_download() as caught:
        plate.get_by_role("button", name="PNG").or_(plate.get_by_role("link", name="PNG")).click()
    content = caught.value.path().read_bytes()
    assert content.startswith(b"\x89PNG\r\n") and caught.value.suggested_filename.endswith(".png")
    width, height = (int.from_bytes(content[at : at + 4], "big") for at in (16, 20))
    svg = (built_demo / heaviest).parent / plate.get_by_role("link", name="SVG").get_attribute("href")
    text = svg.read_text("utf-8")
    assert "CC0-1.0" in text and "Fennick" in text, "the file names its source and licence"
    shown = [float(n) for n in re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', text).groups()]
    assert width >= 1200 and abs(width / height - shown[0] / shown[1]) < 0.1, (width, height, shown)
    drawn = page.evaluate(
        """async (data) => {
          const image = await createImageBitmap(new Blob([new Uint8Array(data)], {type: 'image/png'}));
          const canvas = new OffscreenCanvas(image.width, image.height), g = canvas.getContext('2d');
          g.drawImage(image, 0, 0);
          const dots = g.getImageData(0, 0, image.width, image.height).data, colours = new Set();
          for (let i = 0; i < dots.length; i += 4) colours.add((dots[i] << 16) | (dots[i + 1] << 8) | dots[i + 2]);
          return [colours.size, dots[3]];
        }""",
        list(content),
    )
    assert drawn[0] > 50 and drawn[1] == 255, "something is drawn, on a ground that is not transparent"
    assert tab.noted() == {}


@pytest.mark.parametrize("anchor", ["%", "%E0%A4%A", '"]', "<img src=x onerror=alert(1)>", "working:tuned/score'"])
def test_a_hostile_fragment_does_nothing(anchor, served, heaviest, tab):
    tab.page.goto("about:blank")
    tab.goto(f"{served}{heaviest}#{anchor}")
    assert tab.noted() == {}
    assert tab.page.locator(".filter").count() > 0, "the page's script went through to its end"


def test_a_broken_runtime_leaves_every_picture(built_demo, serve, heaviest, open_tab):
    broken = open_tab()
    broken.page.route("**/" + RUNTIME, lambda route: route.fulfill(body="throw new Error('broken')"))
    served = serve(built_demo)
    broken.goto(served.base + heaviest)
    for plate in broken.page.locator(PLATES).all():
        plate.scroll_into_view_if_needed()
        assert plate.locator("svg text").count() > 3
    number = broken.page.locator(".prose .number[popovertarget]").first
    number.click()
    assert broken.page.locator(":popover-open").count() == 1, "the rest of the page does not notice"


def test_a_live_chart_does_not_move(served, heaviest, open_tab):
    """Replacing the picture shifts nothing under the reader's eyes, and nothing is animated."""
    watched = open_tab(served + heaviest, reduced_motion="reduce")
    page = watched.page
    for plate in page.locator(PLATES).all()[:3]:
        before = plate.bounding_box()
        enliven(page, plate)
        after = plate.bounding_box()
        assert abs(before["height"] - after["height"]) < 2, plate.get_attribute("id")
    assert page.evaluate("document.getAnimations().length") == 0
