"""How heavy a page is and how soon it shows (issue 6): under 150 kB compressed, painted without scripts."""

import gzip
import re

import pytest

from tests.publish.page_reading import read_page, resolve

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser-second")]

RUNTIME = "runtime/chart-runtime.js"
LIMIT = 150_000
"""Bytes, gzip, without the chart runtime."""


def packed(content: bytes) -> int:
    return len(gzip.compress(content, 9, mtime=0))


def parts_of(built_demo, name: str) -> dict[str, int]:
    """What a browser fetches for a page, without the runtime: path -> bytes with gzip."""
    content = (built_demo / name).read_bytes()
    page, found = read_page(content), {name: packed(content)}
    for tag, attributes in page.elements:
        loaded = attributes.get("src") if tag in ("script", "img") else None
        if tag == "link" and attributes.get("rel") in ("stylesheet", "icon"):
            loaded = attributes["href"]
        if loaded and (goal := resolve(loaded, name)):
            found[goal[0]] = packed((built_demo / goal[0]).read_bytes())
    return found


def test_the_heaviest_write_up_stays_light(built_demo, write_up_names):
    weights = {name: parts_of(built_demo, name) for name in write_up_names}
    heaviest = max(weights, key=lambda name: sum(weights[name].values()))
    parts = weights[heaviest]
    assert RUNTIME not in parts and len(parts) >= 6
    total = sum(parts.values())
    print(f"\nheaviest write-up {heaviest}: {total / 1000:.1f} kB with gzip, without the chart runtime")
    for path, size in sorted(parts.items(), key=lambda part: -part[1]):
        print(f"  {size / 1000:6.1f} kB  {path}")
    print(f"chart runtime: {packed((built_demo / RUNTIME).read_bytes()) / 1000:.1f} kB, once a visit")
    assert total < LIMIT


def test_what_is_counted_is_what_the_browser_fetches(demo, built_demo, heaviest, open_tab):
    """The list of parts above is true: the browser asks for these and, before a chart is near, for nothing else."""
    watched = open_tab(demo.base + heaviest, height=500)
    watched.page.wait_for_load_state("networkidle")
    asked = {url.removeprefix(demo.base) for url in watched.requests if not url.startswith("data:")}
    parts = set(parts_of(built_demo, heaviest))
    assert asked - {RUNTIME} <= parts
    assert parts - asked <= {"favicon.ico", "favicon.svg"}, "of two icons the browser takes one"


@pytest.mark.parametrize("name", ["index.html", None])
def test_the_first_paint_needs_no_script(name, served, heaviest, open_tab):
    """Scripts off: text, numbers and pictures are painted; the time is printed, the parts are on the page."""
    watched = open_tab(served + (name or heaviest), width=390, java_script_enabled=False)
    first = None
    for _ in range(100):  # the entry comes with the first frame, which may be later than the load event
        entries = "performance.getEntriesByName('first-contentful-paint').map(e => e.startTime)"
        if painted := watched.page.evaluate(entries):
            first = painted[0]
            break
        watched.page.wait_for_timeout(50)
    assert first is not None
    print(f"\nfirst contentful paint of {name or heaviest}, scripts off: {first:.0f} ms on this machine")
    assert watched.page.locator("h1").is_visible()
    assert not [url for url in watched.requests if url.endswith(".js")], "scripts are not even fetched"


def test_no_script_blocks_the_first_paint(built_demo, page_names):
    """Every script waits until the page is read (defer)."""
    for name in page_names:
        scripts = re.findall(r"<script[^>]*\ssrc=[^>]*>", (built_demo / name).read_text("utf-8"))
        assert scripts and all(re.search(r"\sdefer\b", tag) for tag in scripts), (name, scripts)
