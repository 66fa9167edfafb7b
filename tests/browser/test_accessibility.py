"""WCAG 2.2 A and AA on the pages of the demo, in a real browser (reference: open-standards, 4.1).

axe-core finds a part only; contrast of drawn marks, target sizes, visible focus and text spacing are measured here.
"""

import json
from pathlib import Path

import pytest

from tests.browser.test_every_page import OVERFLOW

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser-second")]

# axe takes time with the square of a table's length. Rows built alike (same elements, same classes) are judged alike:
# two of each make stay, the others are taken out before it looks.
THIN = """() => {
  const make = e => e.tagName + '.' + (e.className.baseVal ?? e.className) + '(' + [...e.children].map(make) + ')';
  for (const body of document.querySelectorAll('tbody, .formulae, .facts, .picture g')) {
    const seen = {};
    for (const row of [...body.children]) {
      const key = make(row);
      seen[key] = (seen[key] ?? 0) + 1;
      if (seen[key] > 2 || Object.keys(seen).length > 25) row.remove();
    }
  }
  // Workings are closed and looked at by a test of their own.
  for (const working of [...document.querySelectorAll('.working[popover]')].slice(2)) {
    const openers = document.querySelectorAll(`[popovertarget="${CSS.escape(working.id)}"]`);
    openers.forEach(b => b.removeAttribute('popovertarget'));
    working.remove();
  }
  for (const details of document.querySelectorAll('details')) details.open = true;
}"""


def axe_source() -> str:
    import axe_playwright_python

    return next(Path(axe_playwright_python.__file__).parent.rglob("axe.min.js")).read_text("utf-8")


def kinds_of(page_names):
    """Every page, but of the pages of all numbers, which are long and built alike, one."""
    numbers = [name for name in page_names if name.endswith("numbers.html")]
    return [name for name in page_names if name not in numbers[:-1]]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_violation(scheme, served, page_names, open_tab):
    """axe-core's rules for WCAG 2.2 A and AA and its best practices, disclosures open; in the dark, those on colour."""
    source, found, judged = axe_source(), {}, 0
    watched = open_tab(color_scheme=scheme, reduced_motion="reduce")
    rules = "" if scheme == "light" else ", runOnly: ['color-contrast', 'link-in-text-block']"
    for name in kinds_of(page_names):
        watched.goto(served + name)
        watched.page.evaluate(THIN)
        watched.page.evaluate(source)
        report = watched.page.evaluate(f"axe.run(document, {{resultTypes: ['violations']{rules}}})")
        judged += len(report["passes"])
        if report["violations"]:
            found[name] = [(v["id"], [n["target"] for n in v["nodes"]][:3]) for v in report["violations"]]
    assert not found, json.dumps(found, indent=1)
    assert judged > 20, "axe must have had something to judge"


def test_axe_finds_no_violation_in_an_open_working(served, heaviest, tab):
    tab.goto(served + heaviest)
    tab.page.locator(".prose .number[popovertarget]").first.click()
    tab.page.evaluate(axe_source())
    report = tab.page.evaluate("axe.run(document.querySelector(':popover-open'), {resultTypes: ['violations']})")
    assert report["violations"] == [] and len(report["passes"]) >= 5


# Contrast of what is painted against the page, WCAG 2.2 relative luminance; opacity is blended with the paper.
PAINTED = """() => {
  const canvas = document.createElement('canvas').getContext('2d', {willReadFrequently: true});
  const rgb = (colour) => { canvas.clearRect(0, 0, 1, 1); canvas.fillStyle = colour; canvas.fillRect(0, 0, 1, 1);
    return [...canvas.getImageData(0, 0, 1, 1).data].slice(0, 3); };
  const light = (c) => { const [r, g, b] = c.map(v => v / 255).map(v => v <= 0.04045 ? v / 12.92
    : ((v + 0.055) / 1.055) ** 2.4); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const ratio = (a, b) => { const [x, y] = [light(a), light(b)].sort((p, q) => q - p);
    return (x + 0.05) / (y + 0.05); };
  const paper = rgb(getComputedStyle(document.body).backgroundColor);
  const found = {};
  for (const part of document.querySelectorAll('svg.chart path, svg.chart line, svg.chart text, svg.chart rect')) {
    const style = getComputedStyle(part), text = part.tagName === 'text';
    const quiet = '.chart-stroke-line, .chart-fill-line, .chart-fill-note[opacity], clipPath *';
    if (part.matches(quiet)) continue;  // grids and bands carry no meaning of their own
    const paints = [[style.fill, style.fillOpacity], ...(text ? [] : [[style.stroke, style.strokeOpacity]])]
      .filter(([colour, opacity]) => colour !== 'none' && Number(opacity) > 0);
    const ratios = paints.map(([colour, opacity]) => { const o = Number(opacity) * Number(style.opacity);
      return ratio(rgb(colour).map((v, i) => o * v + (1 - o) * paper[i]), paper); });
    if (!ratios.length) continue;
    const kind = (text ? 'text ' : 'mark ') + paints.map(String).join(' ') + ' ' + style.opacity;
    found[kind] = Math.max(...ratios);
  }
  return found;
}"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_what_charts_paint_stands_out_from_the_page(scheme, served, built_demo, page_names, open_tab):
    """WCAG 2.2, 1.4.3 and 1.4.11: words 4.5, marks 3.0; grid lines carry no meaning and are left out."""
    watched = open_tab(color_scheme=scheme, java_script_enabled=True)
    faint, least = {}, {"text": 99.0, "mark": 99.0}
    for name in page_names:
        if "chart-plate" not in (built_demo / name).read_text("utf-8"):
            continue
        watched.goto(served + name)
        for kind, ratio in watched.page.evaluate(PAINTED).items():
            sort = kind.partition(" ")[0]
            least[sort] = min(least[sort], ratio)
            if ratio < {"text": 4.5, "mark": 3.0}[sort]:
                faint[kind] = (round(ratio, 2), name)
    print(scheme, {sort: round(ratio, 2) for sort, ratio in least.items()})
    assert not faint, faint
    assert max(least.values()) < 22


# Boxes of controls that are neither in a sentence or table cell nor spaced so that 24 px circles do not meet.
SMALL_TARGETS = """() => {
  const controls = [...document.querySelectorAll('a[href], button, summary, input, select')]
    .filter(e => e.checkVisibility() && e.getBoundingClientRect().width > 0 && !e.closest('.skip'));
  const boxes = controls.map(e => e.getBoundingClientRect());
  const inText = (e) => {
    const block = e.closest('p, li, dd, td, th, figcaption, h1, h2, h3, caption');
    return block !== null && [...block.childNodes].some(n => n.nodeType === 3 && n.textContent.trim() !== '');
  };
  const far = (b, i) => boxes.every((o, j) => {
    if (i === j || controls[i].contains(controls[j]) || controls[j].contains(controls[i])) return true;
    const x = b.x + b.width / 2, y = b.y + b.height / 2;
    const dx = Math.max(o.left - x, 0, x - o.right), dy = Math.max(o.top - y, 0, y - o.bottom);
    return Math.hypot(dx, dy) >= 12;
  });
  return controls.filter((e, i) => (boxes[i].width < 23.5 || boxes[i].height < 23.5) && !inText(e) && !far(boxes[i], i))
    .map(e => [e.outerHTML.slice(0, 100), Math.round(e.getBoundingClientRect().width),
               Math.round(e.getBoundingClientRect().height)]).slice(0, 6);
}"""


@pytest.mark.parametrize("width", [360, 1280])
def test_targets_are_large_or_far_apart(width, served, page_names, open_tab):
    """WCAG 2.2, 2.5.8: 24 by 24 px, or spaced; targets within a sentence are excepted."""
    watched = open_tab(width=width)
    small = {}
    for name in (n for n in page_names if not n.endswith("numbers.html")):
        watched.goto(served + name)
        if found := watched.page.evaluate(SMALL_TARGETS):
            small[name] = found
    assert not small, json.dumps(small, indent=1)


def test_text_spacing_cuts_nothing(served, page_names, open_tab):
    """WCAG 2.2, 1.4.12: line 1.5, paragraph 2, letter 0.12, word 0.16 em; no word is cut or runs over another box."""
    watched = open_tab(width=360)
    rules = (
        "* { line-height: 1.5 !important; letter-spacing: 0.12em !important; word-spacing: 0.16em !important }"
        "p { margin-bottom: 2em !important }"
    )
    cut = """() => [...document.querySelectorAll('main *, header *, footer *')].filter(e => e.checkVisibility())
      .filter(e => !e.closest('.aside, svg, .skip') && ['hidden', 'clip'].includes(getComputedStyle(e).overflowX)
        && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1))
      .map(e => e.outerHTML.slice(0, 120)).slice(0, 5)"""
    out = """() => [...document.querySelectorAll('main p, main li, main dd, main h1, main h2, main button')]
      .filter(e => e.checkVisibility() && !e.closest('[role=region]'))
      .filter(e => e.getBoundingClientRect().right > innerWidth + 1)
      .map(e => e.outerHTML.slice(0, 120)).slice(0, 5)"""
    for name in kinds_of(page_names):
        watched.goto(served + name)
        watched.page.evaluate(
            "rules => { const s = new CSSStyleSheet(); s.replaceSync(rules); document.adoptedStyleSheets = [s]; }",
            rules,
        )
        assert watched.page.evaluate(OVERFLOW) <= 0, name
        assert watched.page.evaluate(cut) == [], name
        assert watched.page.evaluate(out) == [], name


@pytest.mark.parametrize("name", ["index.html", "compare.html", "ledger.html", "worksheet.html", None])
def test_the_tab_key_goes_through_everything_in_order_and_shows_where_it_is(name, served, heaviest, open_tab):
    """WCAG 2.2, 2.1.1, 2.1.2, 2.4.3, 2.4.7, 2.4.11: reached, no trap, in order, focus seen and in the window."""
    watched = open_tab(served + (name or heaviest), height=700)
    page = watched.page
    seen = []
    for _ in range(60):
        page.keyboard.press("Tab")
        state = page.evaluate("""() => {
          const e = document.activeElement;
          if (e === document.body || e === null) return null;
          window.order ??= [...document.querySelectorAll('*')];
          const b = e.getBoundingClientRect(), s = getComputedStyle(e);
          const x = Math.min(Math.max(b.x + Math.min(b.width, 20) / 2, 1), innerWidth - 1);
          const y = Math.min(Math.max(b.y + b.height / 2, 1), innerHeight - 1);
          const top = document.elementFromPoint(x, y);
          return {what: e.outerHTML.slice(0, 90), place: window.order.indexOf(e), outline: s.outlineStyle,
            width: parseFloat(s.outlineWidth), seen: b.bottom > 0 && b.top < innerHeight,
            covered: !(top === e || e.contains(top) || top?.contains(e))};
        }""")
        if state is None:
            break
        assert state["outline"] != "none" and state["width"] >= 2, state
        assert state["seen"], state
        assert not state["covered"], state
        seen.append(state["place"])
    assert len(seen) >= 12
    assert seen == sorted(seen), "the focus follows the order of the page"
    assert len(set(seen)) == len(seen), "no trap"


def test_the_skip_link_comes_first_and_leads_to_the_content(served, page_names, tab):
    for name in kinds_of(page_names)[::2]:
        tab.goto(served + name)
        tab.page.keyboard.press("Tab")
        link = tab.page.locator(":focus")
        assert link.get_attribute("href") == "#content"
        box = link.bounding_box()
        assert box["x"] >= 0 and box["y"] >= 0 and box["height"] >= 24
        tab.page.keyboard.press("Enter")
        tab.page.keyboard.press("Tab")
        assert tab.page.evaluate("document.activeElement.closest('main, footer') !== null"), name


def test_nothing_moves_where_motion_is_not_wanted(served, heaviest, open_tab):
    """WCAG 2.2, 2.3.3 (kept although AAA) and 2.2.2: with reduced motion no element has a transition or animation."""
    count = """() => [...document.querySelectorAll('*')].filter(e => { const s = getComputedStyle(e);
        return s.transitionDuration.split(',').some(d => parseFloat(d) > 0)
          || (s.animationName !== 'none' && parseFloat(s.animationDuration) > 0)
          || s.scrollBehavior === 'smooth'; }).length"""
    still = open_tab(served + heaviest, reduced_motion="reduce")
    assert still.page.evaluate(count) == 0
    moving = open_tab(served + heaviest, reduced_motion="no-preference")
    assert moving.page.evaluate(count) > 0, "the check itself sees transitions"
    endless = """() => document.getAnimations().filter(a => a.effect.getComputedTiming().endTime > 5000).length"""
    assert moving.page.evaluate(endless) == 0
