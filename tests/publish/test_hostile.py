"""Hostile strings in every text a page prints end up as text (reference: OWASP; HTML scripting states)."""

import json
import re
from dataclasses import replace

import html5lib
import pytest

from benchgalley.publish.templates import data_block
from benchgalley.records.site import Warnings
from tests.publish.factory import CAVEATS, HAZARD, figure_of, print_site, small_site

EVIL = "</script><!--<script>alert('\u2028')</script>\"><img src=x onerror=alert(1)>&{{7*7}}"


def poisoned():
    """The small site with the string in every field a person types."""
    site = small_site()

    def text(old):
        return replace(old, text=EVIL, links=(), positions=((1, 1),) * len(EVIL))

    cards = {
        key: replace(
            c, maker=EVIL, model=EVIL, ratings={EVIL: EVIL}, connectors=(EVIL,),
            samples=tuple(replace(s, note=EVIL, contributed=EVIL) for s in c.samples),
        )
        for key, c in site.cards.items()
    }  # fmt: skip
    write_ups = {}
    for slug, w in site.write_ups.items():
        bench = replace(
            w.bench,
            name=EVIL,
            facts={EVIL: EVIL},
            instruments=tuple(replace(i, name=EVIL) for i in w.bench.instruments),
        )
        load = replace(w.load, name=EVIL, version=EVIL, preset=EVIL)
        trials = tuple(replace(t, note=EVIL, driver=EVIL, excluded=t.excluded and EVIL) for t in w.trials)
        setpoints = {n: replace(s, label=EVIL) for n, s in w.setpoints.items()}
        write_ups[slug] = replace(
            w, title=text(w.title), summary=text(w.summary), card=cards[w.card.id], sample=cards[w.card.id].samples[0],
            bench=bench, load=load, trials=trials, setpoints=setpoints, stopping_rule=EVIL,
            revisions=tuple(replace(r, what=text(r.what)) for r in w.revisions),
        )  # fmt: skip
    settings = replace(
        site.settings, title=text(site.settings.title), summary=text(site.settings.summary), author=EVIL,
        contact="javascript:alert(1)", notice=EVIL,
    )  # fmt: skip
    return replace(site, settings=settings, cards=cards, write_ups=write_ups)


@pytest.fixture(scope="module")
def files():
    figure = replace(
        figure_of("x"),
        title=EVIL,
        caption=EVIL,
        alternative=EVIL,
        columns=(EVIL,),
        rows=((EVIL,),),
        spec=json.dumps({"data": EVIL}),
    )
    warnings = Warnings(
        caveats=tuple(replace(c, title=EVIL, missing=EVIL, effect=EVIL, remedy=EVIL, source=EVIL) for c in CAVEATS),
        hazards=(replace(HAZARD, source=EVIL, consequence=EVIL, avoidance=EVIL),),
    )
    site = poisoned()
    return print_site(
        site, warnings=dict.fromkeys(site.write_ups, warnings), figures=dict.fromkeys(site.write_ups, (figure,))
    )


def test_no_element_comes_out_of_a_text(files):
    for name in (n for n in files if n.endswith(".html")):
        text = files[name].decode()
        tree = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text)
        assert not [e for e in tree.iter("img") if e.get("src") == "x"], name
        assert not [e for e in tree.iter() if any(str(a).startswith("on") for a in e.attrib)], name
        for script in tree.iter("script"):
            assert script.get("src") or script.get("type") in ("application/json", "application/ld+json"), name
        assert not re.search(r"""href=["']\s*javascript:""", text), name
        assert "49" not in re.findall(r"&amp;(\d\d)", text), "a text is no template"


def test_data_blocks_read_back_to_the_text(files):
    text = files["write-ups/quiet-lantern/index.html"].decode()
    blocks = re.findall(r'<script type="application/(?:ld\+)?json"[^>]*>(.*?)</script>', text, re.S)
    assert len(blocks) == 2
    assert json.loads(blocks[0])["name"].startswith("</script>")
    assert json.loads(blocks[1]) == {"data": EVIL}


def test_a_data_block_cannot_hold_what_is_no_json():
    with pytest.raises(ValueError, match="not JSON compliant"):
        data_block({"x": float("nan")})


def test_text_cells_do_not_start_a_formula():
    site = small_site()
    w = site.write_ups["quiet-lantern"]
    trials = tuple(replace(t, note="=HYPERLINK(1)") for t in w.trials)
    files = print_site(replace(site, write_ups={**site.write_ups, w.slug: replace(w, trials=trials)}))
    assert b",'=HYPERLINK(1)" in files["write-ups/quiet-lantern/trials.csv"]
