"""A site whose every text is an attack: it is refused with a plain problem, or built and inert in the browser.

Reference: open-standards 5.2 to 5.5 (OWASP; scripting states of the HTML Living Standard). Nothing here is built by
hand: the small site's own files are spoiled and go through the command, as a reader's would.
"""

import csv
import io
import json
import re
import subprocess
import sys

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser-second")]

EVIL = "</script><!--<script>&\"'<img src=x onerror=alert(1)>{{7*7}}"
"""Closes a data block, opens a comment and a script, leaves an attribute, runs an image's handler, fills a template."""

SCRIPTED_SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="40" height="40" onload="alert(1)"><script>alert(2)</script>'
    '<image href="https://elsewhere.example/x.png"/><foreignObject><iframe src="https://elsewhere.example/"/>'
    "</foreignObject><rect width='9' height='9'/></svg>"
)
WRITE_UP = "content/write-ups/quiet-lantern/write-up.md"
TRIALS = "content/write-ups/quiet-lantern/trials.csv"


BROUGHT = ", ".join(
    (
        "script:not([src], [type$=json])", "iframe", "object", "embed", "base", "form:not([id], .vega-bindings)",
        "img[src=x]", "[onerror]", "[onload]", "[onclick]", "meta[http-equiv=refresh]", "style",
    )
)  # fmt: skip
"""What no page of ours holds: if it is there, a text brought it."""


def build(site, expect=0):
    """Build by the command; the problems as text."""
    done = subprocess.run(
        [sys.executable, "-m", "benchgalley", "build", str(site), "--to", str(site / "site")],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    said = done.stdout + done.stderr
    assert "Traceback" not in said, said[-3000:]
    assert done.returncode == expect, said[-3000:]
    return said


def spoil(site, path, *changes):
    file = site / path
    text = file.read_text("utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    file.write_text(text, "utf-8")


def as_yaml(text: str) -> str:
    """A double-quoted YAML scalar: JSON's form is one."""
    return json.dumps(text, ensure_ascii=False)


def every_page_is_inert(site, serve, open_tab, only=""):
    """Open every page: no dialog, no console message, no breach of the policy, no request off the site, no element
    that the text brought with it."""
    served = serve(site / "site")
    tab = open_tab()
    names = sorted(p.relative_to(site / "site").as_posix() for p in (site / "site").rglob("*.html"))
    assert len(names) >= 8
    for name in (n for n in names if only in n):
        tab.goto(served.base + name)
        tab.page.evaluate("() => document.querySelectorAll('details').forEach(d => { d.open = true; })")
        for plate in tab.page.locator("figure.chart-plate").all():
            plate.scroll_into_view_if_needed()
        tab.page.wait_for_load_state("load")
        tab.page.wait_for_timeout(100)
        assert tab.noted() == {}, name
        assert tab.strangers(served.base) == [], name
        assert not [path for path, status in served.sent if status == 404], served.sent
        loose = tab.page.locator(BROUGHT).evaluate_all("es => es.map(e => e.outerHTML.slice(0, 120))")
        assert loose == [], name
        bad = tab.page.evaluate("[...document.links].map(a => a.href).filter(h => !/^(https?:|mailto:|file:)/.test(h))")
        assert bad == [], name
        away = tab.page.evaluate("[...document.links].map(a => a.host).filter(h => h.includes('elsewhere'))")
        assert away == [], name
        assert "49" not in tab.page.title(), "a text is no template"
    return served


def test_every_text_of_the_content_may_hold_it(small_site, serve, open_tab):
    """Titles, names, labels, ratings, facts, notes, drivers, reasons, revisions: printed as the text it is."""
    quoted = as_yaml(EVIL)
    in_prose = EVIL.replace("7*7", "a*b").replace("1", "a")  # a bare number in prose would be refused as unbound
    spoil(
        small_site, "content/site.yaml",
        ("title: The small bench", f"title: {quoted}"),
        ("author: {name: Ada Quill,", f"author: {{name: {quoted},"),
        ("notice: All data on this site are invented.", f"notice: {as_yaml('All invented. ' + EVIL)}"),
    )  # fmt: skip
    spoil(
        small_site, "content/cards/lantern-60.yaml",
        ("maker: Marrowby", f"maker: {quoted}"), ("connectors: [8-pin]", f"connectors: [{quoted}]"),
        ("note: Bought new", f"note: {quoted}"),
    )  # fmt: skip
    spoil(
        small_site, WRITE_UP,
        ("stock: {label: Stock}", f"stock: {{label: {quoted}}}"),
        ("reason: One hour is all there was time for.", f"reason: {quoted}"),
        ("stopping_rule: Five runs a setpoint, fixed before the first run.", f"stopping_rule: {quoted}"),
        ("what: Board power of the tuned", f"what: {as_yaml(in_prose)}\n    # Board power of the tuned"),
        ("title: \"Lantern 60:", f"title: \"{in_prose.replace(chr(34), '')}:"),
        ("A lower power limit", in_prose + " A lower power limit"),
    )  # fmt: skip
    file = small_site / TRIALS
    rows = list(csv.reader(io.StringIO(file.read_text("utf-8"))))
    at = {name: rows[0].index(name) for name in ("note", "driver", "excluded")}
    for row in rows[1:]:
        row[at["note"]] = EVIL
        row[at["driver"]] = EVIL
        row[at["excluded"]] = row[at["excluded"]] and EVIL
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    file.write_text(text.getvalue(), "utf-8")
    build(small_site)
    every_page_is_inert(small_site, serve, open_tab)
    tab = open_tab((small_site / "site/write-ups/quiet-lantern/index.html").as_uri())
    shown = tab.page.locator("main").inner_text()
    assert "<img src=x onerror=alert(1)>" in shown and "{{7*7}}" in shown, "shown as the text it is"
    tab.page.locator(".prose .number[popovertarget]").first.click()
    assert tab.noted() == {}


@pytest.mark.parametrize("sign", ["\u2028", "\u2029", "\u202e", "\x07"])
def test_signs_nobody_sees_are_refused_where_they_stand(sign, small_site):
    """Line separators end a script's string, reversed text shows what it is not: refused with line and column."""
    spoil(small_site, "content/site.yaml", ("The small bench", f"The small{sign} bench"))
    spoil(small_site, WRITE_UP, ("The card is a Lantern", f"The card{sign} is a Lantern"))
    said = build(small_site, expect=2)
    assert "content/site.yaml:1:" in said and f"{WRITE_UP}:45:9" in said, said


LINKS = (
    "[click](javascript:alert(1))",
    "[click](JaVaScRiPt:alert(1))",
    "[click](java\nscript:alert(1))",
    "[click](data:text/html,<script>alert(1)</script>)",
    "[click](vbscript:x)",
    "[click](//elsewhere.example/x)",
    "[click](file:///etc/passwd)",
    "[click](&#106;avascript:alert(1))",
    "<javascript:alert(1)>",
    "![words](javascript:alert(1))",
    "![words](https://elsewhere.example/x.png)",
    "![words](//elsewhere.example/x.png)",
    "![words](../../../../etc/passwd)",
    "<img src=x onerror=alert(1)>",
    "<script>alert(1)</script>",
    "<iframe src=https://elsewhere.example/></iframe>",
    '<a href="https://elsewhere.example/" onclick="alert(1)">x</a>',
    "<style>body { background: url(https://elsewhere.example/) }</style>",
    '<meta http-equiv="refresh" content="0; url=https://elsewhere.example/">',
)


def test_hostile_words_in_the_prose_are_refused_or_inert(small_site, serve, open_tab):
    """Each is either refused, naming file and line, or printed without effect."""
    write_up, heading = small_site / WRITE_UP, "## What [38 W]"
    plain = write_up.read_text("utf-8")
    head, tail = plain[: plain.index(heading)], plain[plain.index(heading) :]
    left = {words: f"Some words {chr(97 + at)}. {words}\n\n" for at, words in enumerate(LINKS)}
    for expect in (1, 1, 0):  # what reading refuses, then what judging refuses, then what may be printed
        write_up.write_text(head + "".join(left.values()) + tail, "utf-8")
        said = build(small_site, expect=expect)
        named = {int(line) for line in re.findall(rf"{WRITE_UP}:(\d+):", said)}
        line = head.count("\n") + 1
        for words, paragraph in list(left.items()):
            if named & set(range(line, line + paragraph.count("\n"))):
                del left[words]
            line += paragraph.count("\n")
    print(f"{len(LINKS) - len(left)} of {len(LINKS)} refused by line; printed as text: {list(left)}")
    served = serve(small_site / "site")
    tab = open_tab(served.base + "write-ups/quiet-lantern/index.html")
    tab.page.wait_for_load_state("networkidle")
    assert tab.noted() == {} and tab.strangers(served.base) == []
    prose = tab.page.locator(".prose")
    assert tab.page.locator(BROUGHT).count() == 0
    ends = prose.locator("a").evaluate_all("as => as.map(a => a.getAttribute('href'))")
    assert not [e for e in ends if e is not None and ("script:" in e.lower() or e.startswith(("//", "data:", "file:")))]
    for click in prose.get_by_text("click", exact=True).all():
        click.click()
    assert tab.noted() == {} and tab.page.url.startswith(served.base)


def test_a_scripted_svg_is_refused_or_shown_as_a_picture_only(small_site, serve, open_tab):
    """An SVG inside an image element runs nothing and fetches nothing; opened by itself it must not either."""
    images = small_site / "content/write-ups/quiet-lantern/images"
    images.mkdir()
    (images / "trap.svg").write_text(SCRIPTED_SVG)
    spoil(small_site, WRITE_UP, ("## What [38 W]", '![A trap](images/trap.svg "A trap")\n\n## What [38 W]'))
    done = subprocess.run(
        [sys.executable, "-m", "benchgalley", "build", str(small_site), "--to", str(small_site / "site")],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "Traceback" not in done.stdout + done.stderr
    if done.returncode == 1:
        assert "trap.svg" in done.stdout + done.stderr
        return
    served = every_page_is_inert(small_site, serve, open_tab)
    for file in (small_site / "site").rglob("*.svg"):
        tab = open_tab()
        tab.page.goto(served.base + file.relative_to(small_site / "site").as_posix())
        tab.page.wait_for_timeout(200)
        assert tab.dialogs == [] and tab.strangers(served.base) == [], file.name


@pytest.mark.parametrize("name", ["a b.csv", "x\"'><img src=x onerror=alert(1)>.csv", "</script>.csv", "\u2028.csv"])
def test_hostile_file_names_are_refused_or_inert(name, small_site, serve, open_tab):
    """A log named like an attack: the name is printed in tables, data blocks, the archive's list."""
    folder = small_site / "content/write-ups/pebble-by-log"
    if "/" in name:
        (folder / "logs" / name).parent.mkdir(parents=True, exist_ok=True)
    (folder / "logs/evening.csv").rename(folder / "logs" / name)
    rows = list(csv.reader(io.StringIO((folder / "trials.csv").read_text("utf-8"))))
    for row in rows[1:]:
        row[rows[0].index("log")] = f"logs/{name}"
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    (folder / "trials.csv").write_text(text.getvalue(), "utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "benchgalley", "build", str(small_site), "--to", str(small_site / "site")],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "Traceback" not in done.stdout + done.stderr
    if done.returncode == 1:
        assert "pebble-by-log" in done.stdout + done.stderr
        return
    every_page_is_inert(small_site, serve, open_tab, only="pebble-by-log")


def test_text_cells_that_start_a_formula_are_refused_one_by_one(small_site):
    """OWASP, CSV Injection: = + - @ tab return at the head of a text cell; each is named, and nothing is written."""
    file = small_site / TRIALS
    rows = list(csv.reader(io.StringIO(file.read_text("utf-8"))))
    note = rows[0].index("note")
    starts = ["=HYPERLINK(1)", "+1", "-1+1", "@SUM(1)", "\tx"]
    for row, start in zip(rows[1:], [*starts, 'plain, "quoted"'], strict=False):
        row[note] = start
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    file.write_text(text.getvalue(), "utf-8")
    said = build(small_site, expect=1)
    assert [f"{TRIALS}:{line}:" in said for line in range(2, 8)] == [True] * 5 + [False]
    assert not (small_site / "site").exists()


def test_published_tables_start_no_formula_and_keep_their_numbers(built_demo):
    """The same for what comes out: text cells start with no sign, negative numbers stay numbers."""
    negative = 0
    for path in sorted(built_demo.rglob("*.csv")):
        for row in csv.DictReader(io.StringIO(path.read_text("utf-8"))):
            for column, cell in row.items():
                try:
                    negative += float(cell) < 0
                except ValueError:
                    assert not cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n")), (path.name, column, cell)
    assert negative > 100
