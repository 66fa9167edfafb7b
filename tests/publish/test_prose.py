"""Prose of a write-up as HTML."""

import re
from dataclasses import replace

import pytest
from markdown_it import MarkdownIt
from markupsafe import Markup

from benchgalley.publish import prose
from benchgalley.publish.typesetting import typeset
from tests.publish.factory import reading_of, small_site


def galley(source: str, marks=(), **claim_changes) -> prose.Galley:
    """The small site's write-up with another body."""
    parser = MarkdownIt("commonmark", {"html": False}).enable("table")
    parser.validateLink = lambda url: True
    write_up = replace(small_site().write_ups["quiet-lantern"], tokens=tuple(parser.parse(source)))
    claims = tuple(replace(c, **claim_changes) for c in reading_of(write_up).claims)
    return prose.Galley(
        write_up=write_up,
        claims=claims,
        marks=lambda address: marks,
        chart=lambda kind, words, caption: (
            Markup(f"<figure>{kind}|{words}|{caption}</figure>") if kind == "score-per-watt" else None
        ),
    )


def rendered(source: str, **changes) -> str:
    return str(prose.render(galley(source, **changes)))


def test_a_claim_becomes_a_number_that_opens_its_working():
    assert rendered("It drew [41 W](claim:tuned/board-power/saved) less.") == (
        '<p>It drew <button type="button" class="number" id="claim-0" '
        'popovertarget="working:tuned/board-power/saved">41\u00a0W</button> less.</p>\n'
    )


def test_a_named_claim_opens_the_working_of_its_address():
    assert 'popovertarget="working:tuned/board-power/saved"' in rendered("[38 W](claim:saving)")


def test_claims_are_numbered_over_the_whole_text_without_alternative_texts():
    text = rendered(
        "[a](https://x.example) [1 W](claim:tuned/board-power)\n\n![[x](y)](images/none.png)\n\n[2](claim:tuned/score)"
    )
    assert re.findall(r'id="claim-(\d+)"', text) == ["1", "2"]


def test_an_accepted_word_carries_its_reason():
    text = rendered("It was [stable](claim:soak/failure-rate/at-most).", accepted="one hour only", kind="word")
    assert 'class="number word accepted"' in text
    assert "kept because: one hour only" in text


def test_a_caveat_is_marked_at_the_number():
    text = rendered("[41 W](claim:tuned/board-power/saved)", marks=(("b", "own-sensor", "Own sensor"),))
    assert '<sup class="mark"><a href="#caveat-own-sensor" aria-label="Caveat b: Own sensor">b</a></sup>' in text


def test_a_given_value_is_marked_lightly_with_its_source():
    assert rendered("[8 GB](given:card)") == (
        '<p><span class="given">8\u00a0GB<span class="aside"> (given: card)</span></span></p>\n'
    )


def test_a_chart_takes_the_place_of_its_image_and_its_caption_is_prose():
    text = rendered('![what it shows](chart:score-per-watt "About [41 W](claim:tuned/board-power/saved)")')
    assert text.startswith('<div class="plate">\n<figure>score-per-watt|what it shows|About <button')


def test_a_chart_that_was_not_drawn_is_said_to_be_absent():
    assert "No chart: what it shows" in rendered("![what it shows](chart:trade-front)")


def test_headings_are_shifted_below_the_title_without_gaps():
    assert re.findall(r"<h(\d)", rendered("# One\n\n#### Two\n\n# Three")) == ["2", "3", "2"]


def test_equal_headings_get_different_anchors():
    assert re.findall(r'id="(part-[^"]+)"', rendered("## Same\n\n## Same")) == ["part-same", "part-same-2"]


def test_columns_are_aligned_without_a_style_attribute():
    text = rendered("| a |\n| --: |\n| 1 |")
    assert '<td class="right">1</td>' in text and "style" not in text


def test_a_neighbour_is_linked_as_a_page():
    assert 'href="../other-card/index.html"' in rendered("[x](../other-card/write-up.md)")


@pytest.mark.parametrize(
    "destination",
    ["javascript:alert(1)", "JaVaScRiPt:alert(1)", "data:text/html,x", "vbscript:x", "//evil.example/x", "file:///etc/passwd",
     "../../outside", "/absolute", "java\tscript:alert(1)", "&#106;avascript:alert(1)"],
)  # fmt: skip
def test_a_destination_that_is_no_link_is_plain_text(destination):
    text = rendered(f"[word](<{destination}>)")
    assert "<a" not in text and "href" not in text and "word" in text


@pytest.mark.parametrize(
    "hostile",
    ["<script>alert(1)</script>", "<img src=x onerror=alert(1)>", "<!--<script>", "a</p><script>alert(1)</script>",
     "`</code><script>alert(1)</script>`", "<svg/onload=alert(1)>"],
)  # fmt: skip
def test_markup_in_prose_is_text(hostile):
    text = rendered(f"Before {hostile} after\n\n{hostile}\n")
    assert not re.search(r"<(?:script|svg|img|!--)", text)


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("drew 41 W less", "drew 41\u00a0W less"),
        ("at 84 %", "at 84\u00a0%"),
        ("an offset of -130 mV", "an offset of \u2212130\u00a0mV"),
        ("from 30-35 W", "from 30-35\u00a0W"),
        ("in 2026-10-02", "in 2026-10-02"),
        ("5 Winters", "5 Winters"),
        ("run 7 was", "run 7 was"),
        ("took 3 h 20 min", "took 3\u00a0h 20\u00a0min"),
        ("ran at 1950 MHz.", "ran at 1950\u00a0MHz."),
    ],
)
def test_quantities_are_set_as_the_si_brochure_says(typed, shown):
    """SI Brochure (2019) 5.4.3 space before the unit, also before %: 5.4.7."""
    assert typeset(typed) == shown


def test_a_number_pooled_over_samples_leads_to_the_page_of_its_card():
    from benchgalley.derive import evaluate
    from benchgalley.publish.workings import Workings

    site = small_site()
    results = evaluate(site)
    pooled = results.find(results.addresses("lantern-60")[0])
    shown = Workings("quiet-lantern", site.cards).of(pooled)
    assert shown.href.startswith("cards/lantern-60/index.html#")
    assert shown.address.startswith("lantern-60:")
    assert shown.runs and not any("<a" in named for _, _, named in shown.runs)
