"""Every page of the small site: valid, linked, safe and quiet.

Sources beside the checks: HTML Living Standard (html5lib is its parsing algorithm), WCAG 2.2, design section 6.
"""

import itertools
import re
import zlib
from datetime import date

import html5lib
import pytest

from tests.publish.factory import print_site, printed, small_site, without_address
from tests.publish.page_reading import read_page, resolve

PAGES = [name for name in printed() if name.endswith(".html")]
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; require-trusted-types-for 'script'"
)


def test_every_kind_of_page_is_there():
    assert set(PAGES) >= {
        "index.html", "compare.html", "ledger.html", "methods.html", "data.html", "corrections.html",
        "write-ups/quiet-lantern/index.html", "write-ups/quiet-lantern/numbers.html",
        "write-ups/pebble-by-log/index.html", "write-ups/pebble-by-log/numbers.html",
        "cards/lantern-60/index.html", "cards/pebble-4/index.html",
    }  # fmt: skip


@pytest.mark.parametrize("name", PAGES)
def test_page_parses_without_an_error(name):
    """HTML Living Standard 13.2, as html5lib implements it, with parse errors raised."""
    # Two things html5lib (2020) does not know: the popover attribute is fine to it, numeric references are checked.
    html5lib.HTMLParser(strict=True).parse(printed()[name].decode())


@pytest.mark.parametrize("name", PAGES)
def test_page_has_one_of_each_and_headings_without_gaps(name):
    page = read_page(printed()[name])
    assert len(page.all("main")) == len(page.all("h1")) == len(page.all("title")) == 1
    assert page.all("html")[0]["lang"] == "en"
    levels = [int(tag[1]) for tag, _ in page.elements if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert all(b - a <= 1 for a, b in itertools.pairwise(levels)), levels


def test_titles_differ():
    titles = [re.search("<title>(.*?)</title>", printed()[name].decode())[1] for name in PAGES]
    assert len(set(titles)) == len(titles)


@pytest.mark.parametrize("name", PAGES)
def test_ids_are_unique(name):
    ids = read_page(printed()[name]).ids()
    assert sorted(set(ids)) == sorted(ids)


def test_every_internal_link_and_fragment_resolves():
    pages = {name: read_page(printed()[name]) for name in PAGES}
    ids = {name: set(page.ids()) for name, page in pages.items()}
    checked = 0
    for name, page in pages.items():
        for link in page.links():
            if (goal := resolve(link, name)) is None:
                continue
            path, fragment = goal
            assert path in printed(), (name, link)
            assert not fragment or fragment in ids[path], (name, link)
            checked += 1
    print(f"{checked} links resolve")
    assert checked > 300


@pytest.mark.parametrize("name", PAGES)
def test_popovers_exist_for_every_number_that_opens_one(name):
    page = read_page(printed()[name])
    wanted = {b["popovertarget"] for b in page.all("button") if "popovertarget" in b}
    assert wanted <= set(page.ids())


@pytest.mark.parametrize("name", PAGES)
def test_policy_comes_first_and_nothing_breaks_it(name):
    """CSP in a meta element holds only for what follows it; no inline style, script or event handler (5.1)."""
    text = printed()[name].decode()
    page = read_page(printed()[name])
    head = text.index("<head>")
    assert text[head:].split("\n")[1].startswith('<meta http-equiv="Content-Security-Policy"')
    assert page.all("meta")[0]["content"] == POLICY
    assert text.encode()[:1024].find(b"charset") > 0
    assert not page.all("style")
    for tag, attributes in page.elements:
        assert "style" not in attributes, (tag, attributes)
        assert not [a for a in attributes if a.startswith("on")], (tag, attributes)
        if tag == "script":
            assert "src" in attributes or attributes["type"] in ("application/json", "application/ld+json")


@pytest.mark.parametrize("name", PAGES)
def test_nothing_is_loaded_from_another_host(name):
    page = read_page(printed()[name])
    loaded = [a.get("src") or a.get("href") for t, a in page.elements if t in ("script", "img", "link", "source")]
    own = "https://bench.example/"
    assert not [x for x in loaded if x and re.match(r"(?:[a-z]+:)?//", x) and not x.startswith(own)]


@pytest.mark.parametrize("name", PAGES)
def test_notice_stands_on_every_page(name):
    assert "All data on this site are invented." in read_page(printed()[name]).text


@pytest.mark.parametrize("name", PAGES)
def test_tables_say_what_they_are_and_scroll_in_their_own_box(name):
    """WCAG 2.2: 1.3.1 header cells, 1.4.10 reflow, 2.1.1 a box that scrolls can be reached by keyboard."""
    tree = html5lib.parse(printed()[name].decode(), namespaceHTMLElements=False)
    parents = {child: parent for parent in tree.iter() for child in parent}
    for table in tree.iter("table"):
        assert all(th.get("scope") in ("col", "row") for th in table.iter("th"))
        box = parents[table]
        if box.get("class") == "wide":
            assert box.get("tabindex") == "0" and box.get("role") == "region"
            assert box.get("aria-label") or box.get("aria-labelledby")
        else:
            assert table.get("class") == "budget"
        assert table.find("caption") is not None or box.get("aria-label") == "Table in the text"


@pytest.mark.parametrize("name", PAGES)
def test_dates_are_valid(name):
    for element in read_page(printed()[name]).all("time"):
        date.fromisoformat(element["datetime"])


@pytest.mark.parametrize("name", PAGES)
def test_no_number_is_parted_from_its_unit(name):
    """SI Brochure 5.4.3: a space, which must not break."""
    broken = re.findall(r"\d (?:W|kW|mV|MHz|GHz|°C|K|dB|J|kJ|%)(?![\w/])", read_page(printed()[name]).text)
    assert not broken


def test_a_write_up_is_light():
    """Below 150 kB compressed without the chart runtime (issue: a page its audience would rather read)."""
    name = "write-ups/quiet-lantern/index.html"
    own = ["assets/site.css", "assets/charts.css", "assets/page.js", "assets/charts.js", "favicon.svg", name]
    sizes = {n: len(zlib.compress(printed()[n], 9)) for n in own}
    print(sizes, sum(sizes.values()))
    assert sum(sizes.values()) < 150_000


def test_without_an_address_there_is_nothing_absolute_of_the_site():
    files = print_site(without_address(small_site()))
    assert "feed.xml" not in files and "sitemap.xml" not in files and "robots.txt" in files
    for name in PAGES:
        page = read_page(files[name])
        assert not [a for a in page.all("link") if a["rel"] in ("canonical", "alternate")]
        assert not [a for a in page.all("meta") if a.get("property", "").startswith("og:")]
        assert b"ld+json" not in files[name]


def test_printing_twice_gives_the_same_bytes():
    assert print_site(small_site()) == printed()


def test_hazards_and_limits_stand_before_the_text():
    text = printed()["write-ups/quiet-lantern/index.html"].decode()
    assert text.index('id="glance"') < text.index('id="hazards"') < text.index('class="prose"')
    assert text.index('id="caveats"') < text.index('class="prose"')
    assert "NOTICE" in text[: text.index('id="hazards"')], "the first screen names the signal word"


def test_a_number_in_the_text_opens_its_working():
    text = printed()["write-ups/quiet-lantern/index.html"].decode()
    assert 'popovertarget="working:tuned/board-power/saved"' in text
    popover = text[text.index('id="working:tuned/board-power/saved"') :]
    popover = popover[: popover.index("</div>\n</div>") if "</div>\n</div>" in popover else 6000]
    for word in ("Interval", "Formula", "Runs", "Uncertainty budget", "Combined", "Expanded, k = ", "#run-"):
        assert word in popover, word


def test_a_caveat_stands_at_its_sentence_as_well_as_on_top():
    text = printed()["write-ups/quiet-lantern/index.html"].decode()
    body = text[text.index('class="prose"') : text.index('id="results"')]
    assert '<sup class="mark"><a href="#caveat-own-sensor"' in body
    assert 'id="caveat-own-sensor"' in text


def test_charts_of_the_text_are_set_once_and_the_others_follow():
    text = printed()["write-ups/quiet-lantern/index.html"].decode()
    assert text.count('id="figure-score-against-power"') == text.count('id="figure-log-window"') == 1
    assert text.index('id="figure-score-against-power"') < text.index('id="charts"')
    assert text.index('id="charts"') < text.index('id="figure-log-window"')


def test_every_address_has_its_row():
    text = printed()["write-ups/quiet-lantern/numbers.html"].decode()
    for address in ("tuned/score", "tuned/board-power/saved", "stock/board-power", "tuned/score/equivalent"):
        assert f'id="{address}"' in text


def test_a_chart_as_a_file_stands_alone():
    """Named for assistive technology (WCAG 2.2, 1.1.1), on white, with the line that says where it comes from."""
    from lxml import etree

    space = "{http://www.w3.org/2000/svg}"
    root = etree.fromstring(printed()["write-ups/quiet-lantern/figures/score-against-power.svg"])
    assert root.get("viewBox") == "0 0 640 320" and (root.get("width"), root.get("height")) == ("640", "320")
    assert root[0].tag == f"{space}title" and root[1].tag == f"{space}desc"
    assert root[2].get("fill") == "#ffffff"
    last = root[-1].text
    assert "Ada Quill" in last and "CC0-1.0" in last and "Invented data." in last


def test_a_chart_set_twice_is_drawn_once():
    from dataclasses import replace

    site = small_site()
    w = site.write_ups["quiet-lantern"]
    site = replace(site, write_ups={**site.write_ups, w.slug: replace(w, tokens=(*w.tokens, *w.tokens))})
    text = print_site(site)["write-ups/quiet-lantern/index.html"].decode()
    assert text.count('id="figure-score-against-power"') == 1
    assert '<a href="#figure-score-against-power">Score against board power</a> (above)' in text
