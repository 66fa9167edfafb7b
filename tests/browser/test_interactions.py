"""Everything a reader can do on a page, by mouse, by keyboard and by touch."""

import itertools

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]

MEANS = ("mouse", "keyboard", "touch")


class Hand:
    """Presses things in one of the three ways."""

    def __init__(self, watched, means):
        self.watched, self.page, self.means = watched, watched.page, means

    def press(self, locator, key="Enter"):
        locator.scroll_into_view_if_needed()
        if self.means == "mouse":
            locator.click()
        elif self.means == "touch":
            locator.tap()
        else:
            locator.focus()
            self.page.keyboard.press(key)

    def away(self):
        """Press where nothing is, or Escape."""
        if self.means == "keyboard":
            self.page.keyboard.press("Escape")
        elif self.means == "touch":
            self.page.touchscreen.tap(4, 4)
        else:
            self.page.mouse.click(4, 4)


@pytest.fixture(scope="module", params=MEANS)
def hand(request, open_tab):
    touch = request.param == "touch"
    return Hand(open_tab(width=390 if touch else 1280, height=800, has_touch=touch, is_mobile=touch), request.param)


def test_a_number_opens_its_working_and_closes_again(hand, served, heaviest):
    hand.watched.goto(served + heaviest)
    page = hand.page
    number = page.locator(".prose .number[popovertarget]").first
    working = page.locator(f"[id='{number.get_attribute('popovertarget')}']")
    for close in ("away", "button", "again"):
        hand.press(number, "Space" if close == "button" else "Enter")
        assert working.is_visible() and page.locator(":popover-open").count() == 1, close
        box, window = working.bounding_box(), page.viewport_size
        assert box["x"] >= -0.5 and box["x"] + box["width"] <= window["width"] + 0.5
        assert box["y"] >= -0.5 and box["y"] + box["height"] <= window["height"] + 0.5
        if close == "away":
            hand.away()
        elif close == "button":
            hand.press(working.get_by_role("button", name="Close"))
        else:
            page.keyboard.press("Escape")
        assert working.is_hidden(), close
        if hand.means == "keyboard":
            focused = page.evaluate("document.activeElement.getAttribute('popovertarget')")
            assert focused == number.get_attribute("popovertarget"), "the focus comes back to the number"
    assert hand.watched.noted() == {}


def test_every_working_of_a_page_opens_and_holds_what_it_must(served, heaviest, tab):
    """Formula, runs, interval, budget, link to the rows: all in the working, or the reason why not."""
    tab.goto(served + heaviest)
    page = tab.page
    targets = page.locator("main .number[popovertarget]").evaluate_all(
        "bs => [...new Set(bs.map(b => b.getAttribute('popovertarget')))]"
    )
    assert len(targets) >= 20
    thin, with_budget, with_runs = [], 0, 0
    for target in targets:
        page.locator(f".number[popovertarget='{target}']").first.evaluate("b => b.click()")
        opened = page.locator(":popover-open")
        assert opened.count() == 1, target
        words = opened.inner_text()
        with_budget += opened.locator("table.budget").count()
        with_runs += opened.locator(".run-list a").count() > 0
        if not any(f"{word}\n" in words for word in ("Formula", "Runs", "Note", "Source")):
            thin.append((target, words))
        page.keyboard.press("Escape")
    assert not thin, thin[:5]
    assert with_runs > 0.5 * len(targets) and with_budget > 0.3 * len(targets)


def test_a_run_named_in_a_working_leads_to_its_row(hand, served, heaviest):
    hand.watched.goto(served + heaviest)
    page = hand.page
    number = page.locator(".number[popovertarget$='/board-power/saved']").first
    hand.press(number)
    run = page.locator(":popover-open .run-list a").first
    name = run.inner_text()
    hand.press(run)
    page.wait_for_function("document.querySelector('tr:target') !== null")
    row = page.locator("tr:target")
    assert row.is_visible(), "the closed table opens for the row"
    assert row.locator("th").inner_text() == name
    assert page.locator(":popover-open").count() == 0
    box = row.bounding_box()
    assert -1 <= box["y"] <= page.viewport_size["height"], "the row is in the window"


def cells(table, at):
    """(as sorted, as shown) of a column's visible cells."""
    return table.locator(f"tbody tr:visible > :nth-child({at + 1})").evaluate_all(
        "cs => cs.map(c => [c.getAttribute('data-value') ?? c.textContent.trim(), c.textContent.trim()])"
    )


def as_sorted(values):
    """The order a reader expects: numbers by size, words by letter, absent ones last in both directions."""
    present = [v for v, _ in values if v not in ("", "–")]
    try:
        return present, [float(v) for v in present]
    except ValueError:
        return present, [v.lower() for v in present]


def tables_to_sort(page):
    for details in page.locator("details:has(table[data-sort])").all():
        details.evaluate("d => { d.open = true; }")
    return page.locator("table[data-sort]").all()


@pytest.mark.parametrize("where", ["compare.html", "ledger.html", None])
def test_tables_sort_in_both_directions(where, hand, served, heaviest):
    """APG sortable table: aria-sort on one header only, the header's button does it, direction shown by a sign."""
    hand.watched.goto(served + (where or heaviest))
    page, sorted_numbers = hand.page, 0
    tables = tables_to_sort(page)
    assert tables
    for table in tables[:2]:
        for header in table.locator("thead th").all()[:7]:
            at = header.evaluate("h => h.cellIndex")
            before = cells(table, at)
            signs = [header.locator(".sort").evaluate("b => getComputedStyle(b, '::after').content")]
            for direction in ("ascending", "descending"):
                hand.press(header.get_by_role("button"))
                assert header.get_attribute("aria-sort") == direction
                assert table.locator("[aria-sort]").count() == 1
                signs.append(header.locator(".sort").evaluate("b => getComputedStyle(b, '::after').content"))
                after = cells(table, at)
                assert sorted(after) == sorted(before), "sorting loses no row"
                present, keys = as_sorted(after)
                if keys and isinstance(keys[0], float):
                    assert keys == sorted(keys, reverse=direction == "descending"), header.inner_text()
                    sorted_numbers += len(set(keys)) > 2
                shown = [v for v, _ in after]
                assert [v for v in shown[: len(present)]] == present, "absent ones stay at the end"
            assert len(set(signs)) == 3, "unsorted, rising and falling differ in shape"
    assert sorted_numbers >= (2 if where != "ledger.html" else 0)
    assert hand.watched.noted() == {}


def test_numbers_with_units_sort_by_size(served, tab):
    """The ledger's computed values are numbers with units: sorted as such, not as words."""
    tab.goto(served + "ledger.html")
    table = tab.page.locator("table[data-sort]").first
    header = table.locator("thead th").filter(has_text="The runs give")
    header.get_by_role("button").click()
    at = header.evaluate("h => h.cellIndex")
    values = table.locator(f"tbody tr > :nth-child({at + 1})").evaluate_all(
        "cs => cs.map(c => c.getAttribute('data-value')).filter(v => v !== null && v !== '')"
    )
    assert len(values) > 100, "each computed value carries its number for sorting"
    numbers = [float(v) for v in values]
    assert numbers == sorted(numbers)


SHOWN = "es => es.filter(e => e.checkVisibility()).map(e => e.textContent.replace(/\\s+/g, ' '))"


def test_filters_hide_rows_and_say_how_many_are_left(hand, served, page_names, heaviest):
    """Reference 4.1, 4.1.3: the outcome of a filter is announced by a status."""
    for where in ("ledger.html", "compare.html", "index.html", heaviest):
        hand.watched.goto(served + where)
        page = hand.page
        tables_to_sort(page)
        box = page.locator(".filter").first
        field, status = box.get_by_role("searchbox"), box.get_by_role("status")
        assert field.evaluate("f => f.labels.length") == 1 and status.inner_text() == ""
        entries = page.locator("[data-filter]").first.locator("tbody tr, :scope > li")
        total = entries.count()
        assert total >= 4, where
        word = entries.last.locator("th, a").first.inner_text().split(",")[0].split("\n")[0]
        hand.press(field, "Shift")
        page.keyboard.type(word)
        left = entries.evaluate_all(SHOWN)
        assert 1 <= len(left) <= total
        assert all(all(part in text.lower() for part in word.lower().split()) for text in left), where
        assert status.inner_text() == f"{len(left)} of {total} shown"
        field.fill("no such word anywhere")
        assert entries.evaluate_all(SHOWN) == [] and status.inner_text() == f"0 of {total} shown"
        field.fill("")
        assert len(entries.evaluate_all(SHOWN)) == total and status.inner_text() == ""


def test_a_filtered_table_keeps_its_filter_when_sorted(served, tab):
    tab.goto(served + "compare.html")
    table = tab.page.locator(".compared table").first
    tab.page.get_by_role("searchbox").first.fill(table.locator("tbody td").first.inner_text().split("\n")[0])
    before = table.locator("tbody tr:visible").count()
    assert 0 < before < table.locator("tbody tr").count()
    table.locator(".sort").nth(2).click()
    assert table.locator("tbody tr:visible").count() == before


@pytest.mark.parametrize("where", ["index.html", "compare.html"])
def test_cards_and_loads_are_chosen_by_list(where, hand, served):
    """Gallery and comparison: a card and a load can be chosen; the status says how many are left; all come back."""
    hand.watched.goto(served + where)
    page = hand.page
    search = page.get_by_role("search").first
    status = search.get_by_role("status")
    listed = page.locator("[data-filter]").first.locator("[data-card]")
    total = listed.count()
    assert total >= 6
    for key in ("card", "load"):
        select = search.locator(f"select[data-key={key}]")
        assert select.evaluate("s => s.labels.length") == 1
        options = [o for o in select.locator("option").evaluate_all("os => os.map(o => o.value)") if o]
        assert len(options) >= 2
        left = 0
        for option in options:
            if hand.means == "keyboard":
                select.focus()
                page.keyboard.press("Home")
                for _ in range(len(options)):
                    page.keyboard.press("ArrowDown")
                    if select.input_value() == option:
                        break
            else:
                select.select_option(option)
            shown = listed.evaluate_all(
                "(es, key) => es.filter(e => e.checkVisibility()).map(e => e.getAttribute('data-' + key))", key
            )
            assert shown and set(shown) == {option}, (key, option)
            assert status.inner_text() == f"{len(shown)} of {total} shown"
            left += len(shown)
        assert left == total, "each entry belongs to one of the choices"
        select.select_option("")
        assert status.inner_text() == ""
    assert hand.watched.noted() == {}


def test_disclosures_open_and_close(hand, served, heaviest):
    for where in (heaviest, "data.html"):
        hand.watched.goto(served + where)
        closed = hand.page.evaluate(
            "() => [...document.querySelectorAll('main details')].flatMap((d, i) => d.open ? [] : [i])"
        )
        assert closed
        for at in dict.fromkeys([*closed[:2], closed[-1]]):
            details = hand.page.locator("main details").nth(at)
            summary = details.locator("summary").first
            hand.press(summary)
            assert details.evaluate("d => d.open")
            hand.press(summary, "Space")
            assert not details.evaluate("d => d.open")


def test_a_permanent_address_opens_what_hides_it(served, heaviest, tab):
    """An address in the URL leads to a row inside a closed disclosure, which opens, and to the working of a number."""
    tab.goto(served + heaviest)
    hidden = tab.page.locator("details:not([open]) tr[id]")
    ids = hidden.evaluate_all("rs => rs.map(r => r.id)")
    assert len(ids) > 5
    for anchor in itertools.islice(ids, 0, None, max(1, len(ids) // 4)):
        tab.page.goto("about:blank")
        tab.goto(f"{served}{heaviest}#{anchor}")
        row = tab.page.locator(f"tr[id='{anchor}']")
        assert row.is_visible(), anchor
        box = row.bounding_box()
        assert -1 <= box["y"] <= 900, anchor


def test_a_row_that_is_led_to_shows_its_name_on_a_narrow_screen(served, heaviest, open_tab):
    """Links to contributions stand in the last column, to which the table is scrolled; name and value come first."""
    watched = open_tab(width=360, height=740)
    watched.goto(served + heaviest.replace("index.html", "numbers.html"))
    link = watched.page.locator(".wide td .origin a[href^='#']").first
    scrolled = "l => { const f = l.closest('.wide'); f.scrollLeft = f.scrollWidth; return f.scrollLeft; }"
    assert link.evaluate(scrolled) > 0, "the table is wider than the screen"
    anchor = link.get_attribute("href").removeprefix("#")
    link.click()
    name = watched.page.locator(f"tr[id='{anchor}'] > th")
    name.evaluate("n => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    box = name.bounding_box()
    assert box["x"] >= 0 and box["x"] + box["width"] <= 360 and 0 <= box["y"] <= 740
    assert watched.noted() == {}


def test_navigation_names_the_page_it_is_on(served, page_names, tab):
    for name in ("index.html", "compare.html", "ledger.html", "methods.html", "data.html", "corrections.html"):
        tab.goto(served + name)
        here = tab.page.locator("nav[aria-label=Site] [aria-current=page]")
        if name == "index.html" and here.count() == 0:
            continue  # the site's name leads there
        assert here.count() == 1, name
