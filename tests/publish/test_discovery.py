"""Feed, sitemap, robots file and canonical addresses."""

import re
from dataclasses import replace

from lxml import etree

from tests.publish.factory import print_site, printed, small_site
from tests.publish.page_reading import read_page

ATOM = "{http://www.w3.org/2005/Atom}"
BASE = "https://bench.example/"


def canonical(name: str) -> str:
    (link,) = [a["href"] for a in read_page(printed()[name]).all("link") if a["rel"] == "canonical"]
    return link


def test_feed_keeps_rfc_4287():
    """RFC 4287 4.1: exactly one id, title, updated for feed and entries; an author; alternate links."""
    feed = etree.fromstring(printed()["feed.xml"])
    assert feed.tag == f"{ATOM}feed"
    for part in (feed, *feed.findall(f"{ATOM}entry")):
        for name in ("id", "title", "updated"):
            assert len(part.findall(ATOM + name)) == 1
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", part.findtext(f"{ATOM}updated"))
        assert [x for x in part.findall(f"{ATOM}link") if x.get("rel") == "alternate"]
    assert feed.find(f"{ATOM}author/{ATOM}name").text == "Ada Quill"
    ids = [e.findtext(f"{ATOM}id") for e in feed.findall(f"{ATOM}entry")]
    assert len(set(ids)) == len(ids) == 2


def test_updated_follows_the_revision_not_the_build():
    feed = etree.fromstring(printed()["feed.xml"])
    dates = {e.findtext(f"{ATOM}id"): e.findtext(f"{ATOM}updated") for e in feed.findall(f"{ATOM}entry")}
    assert dates[f"{BASE}write-ups/quiet-lantern/"] == "2026-09-28T00:00:00Z"


def test_hazards_are_kept_in_the_feed():
    assert b"NOTICE: A lower voltage" in printed()["feed.xml"]


def test_sitemap_names_every_page_by_its_canonical_address():
    sitemap = etree.fromstring(printed()["sitemap.xml"])
    space = "{http://www.sitemaps.org/schemas/sitemap/0.9}"
    found = [url.findtext(f"{space}loc") for url in sitemap]
    assert sorted(found) == sorted(canonical(n) for n in printed() if n.endswith(".html"))
    feed = etree.fromstring(printed()["feed.xml"])
    assert {e.findtext(f"{ATOM}id") for e in feed.findall(f"{ATOM}entry")} <= set(found)


def test_robots_file_keeps_rfc_9309():
    lines = printed()["robots.txt"].decode("utf-8").splitlines()
    assert lines == ["User-agent: *", "Allow: /", f"Sitemap: {BASE}sitemap.xml"]


def test_open_graph_properties_are_whole():
    """ogp.me: title, type, image, url; an image has a text."""
    for name in (n for n in printed() if n.endswith(".html")):
        found = {a["property"]: a["content"] for a in read_page(printed()[name]).all("meta") if "property" in a}
        assert {"og:title", "og:type", "og:image", "og:url", "og:image:alt"} <= set(found)
        assert found["og:url"] == canonical(name)
        assert found["og:image"].removeprefix(BASE) in printed()


def test_a_hostile_title_stays_text_in_the_feed():
    site = small_site()
    title = replace(site.settings.title, text="</title><script>&", links=())
    feed = etree.fromstring(print_site(replace(site, settings=replace(site.settings, title=title)))["feed.xml"])
    assert feed.findtext(f"{ATOM}title") == "</title><script>&"
