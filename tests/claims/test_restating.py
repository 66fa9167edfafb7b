"""Rewriting stated numbers after the data changed, and writing chosen links: digits only, all else byte for byte."""

import difflib
import re
from dataclasses import replace

import pytest

from benchgalley.claims import bind, judge, left_over, restate, suggest
from benchgalley.derive import evaluate
from benchgalley.intake import read_site

from .world import PLANS, SLUG, world, write_site

BODY = """\
Against stock the tuned card drew **[41 W](claim:tuned/board-power/saved)** less, or
[16.2 %](claim:tuned/board-power/saved-percent) less.
It drew [214.0 W](claim:tuned/board-power) (some say [0.214 kW](claim:tuned/board-power)),
about [210 watts](claim:tuned/board-power).
Board power fell [from 255 to 214 W](claim:tuned/board-power/saved);
the change is [−41 W](claim:tuned/board-power/change).

## A saving of [forty-one watts](claim:saving)

- It scored [6\u202f249 points](claim:tuned/score), [6,249](claim:tuned/score) or [6249](claim:tuned/score).
- [Forty-one W](claim:saving) is, [41.4 W ± 1.2 W](claim:saving).

| what | value |
| --- | ---: |
| power | [214](claim:tuned/board-power) |

![Saves [41 W](claim:saving)](chart:trade-front "It saves [41 W](claim:saving)")
"""


def changed_plans():
    """Tuned draws 3.4 W less and scores 17 points less than before."""
    return tuple(replace(p, power_w=p.power_w - 3.4, score=p.score - 17) if p.name == "t" else p for p in PLANS)


def test_after_a_change_of_data_restating_mends_every_number(tmp_path):
    site, problems = read_site(write_site(tmp_path / "before", body=BODY))
    assert site is not None and not problems
    assert not judge(site.write_ups[SLUG], site, evaluate(site)).problems
    root = write_site(tmp_path / "after", body=BODY, plans=changed_plans())
    site, _ = read_site(root)
    assert site is not None
    write_up, results = site.write_ups[SLUG], evaluate(site)
    assert len(judge(write_up, site, results).problems) >= 10
    fresh = restate(write_up, site, results)
    (root / f"content/write-ups/{SLUG}/write-up.md").write_text(fresh, encoding="utf-8")
    again, _ = read_site(root)
    assert again is not None
    left = judge(again.write_ups[SLUG], again, evaluate(again)).problems
    assert [p.message for p in left] == []
    assert "[45 W](claim:tuned/board-power/saved)" in fresh
    assert "[−45 W](claim:tuned/board-power/change)" in fresh
    assert "[forty-five watts](claim:saving)" in fresh and "[Forty-five W](claim:saving)" in fresh
    assert "[6\u202f232 points](claim:tuned/score), [6,232](claim:tuned/score) or [6232](claim:tuned/score)" in fresh
    assert "[from 255 to 211 W](claim:tuned/board-power/saved)" in fresh


def test_restating_touches_numbers_only(tmp_path):
    site, _ = read_site(write_site(tmp_path, body=BODY, plans=changed_plans()))
    assert site is not None
    write_up = site.write_ups[SLUG]
    fresh = restate(write_up, site, evaluate(site))
    matcher = difflib.SequenceMatcher(None, write_up.source, fresh, autojunk=False)
    number = re.compile(r"[\d.,\u202f]*|(?:[a-z]+-)?[a-z]+")
    changes = [(write_up.source[a:b], fresh[c:d]) for tag, a, b, c, d in matcher.get_opcodes() if tag != "equal"]
    assert changes
    for old, new in changes:
        assert number.fullmatch(old) and number.fullmatch(new), (old, new)
    assert re.sub(r"\d|one|five", "", write_up.source) == re.sub(r"\d|one|five", "", fresh)


def test_nothing_to_restate_gives_the_same_bytes(tmp_path):
    for ends in ("\n", "\r\n"):
        root = write_site(tmp_path / str(len(ends)), body=BODY)
        path = root / f"content/write-ups/{SLUG}/write-up.md"
        path.write_bytes(path.read_text(encoding="utf-8").replace("\n", ends).encode())
        site, _ = read_site(root)
        assert site is not None
        write_up = site.write_ups[SLUG]
        assert restate(write_up, site, evaluate(site)) == write_up.source


def test_carriage_returns_survive_restating(tmp_path):
    root = write_site(tmp_path, body=BODY, plans=changed_plans())
    path = root / f"content/write-ups/{SLUG}/write-up.md"
    path.write_bytes(path.read_text(encoding="utf-8").replace("\n", "\r\n").encode())
    site, _ = read_site(root)
    assert site is not None
    fresh = restate(site.write_ups[SLUG], site, evaluate(site))
    assert fresh.count("\r\n") == site.write_ups[SLUG].source.count("\r\n") > 20
    assert "[45 W](claim:tuned/board-power/saved)" in fresh


@pytest.mark.parametrize(
    "prose",
    [
        "It drew [43 W](claim:saving) more than stock.",  # the direction is wrong: words, not digits
        "It drew [5 W](claim:eased/wall-power/bogus).",  # no such number
        "It drew [at least 50 W](claim:saving) less than stock.",  # a bound is the author's to choose
        "It drew [50 to 60 W](claim:saving) less than stock.",
        "It drew [half](claim:tuned/board-power/of-baseline) of stock.",
        "It ran [hotter](claim:tuned/core-temperature/change) than stock.",
        "It drew [4*3* W](claim:saving) less than stock.",  # markup splits the number
    ],
)
def test_what_cannot_be_restated_is_left_alone(prose):
    here = world()
    write_up = here.with_prose(prose + "\n")
    assert judge(write_up, here.site, here.results).problems
    assert restate(write_up, here.site, here.results) == write_up.source


@pytest.mark.parametrize(
    ("prose", "fresh"),
    [
        ("[about 50 W](claim:saving)", "[about 41 W](claim:saving)"),
        ("[38.123 W](claim:saving)", "[41.4 W](claim:saving)"),
        ("[0.050 kW](claim:saving)", "[0.041 kW](claim:saving)"),
        ("[−50 W](claim:tuned/board-power/change)", "[−41 W](claim:tuned/board-power/change)"),
        ("[1.3 times](claim:tuned/score-per-watt/ratio)", "[1.2 times](claim:tuned/score-per-watt/ratio)"),
        ("[at most 300 W](claim:tuned/board-power/at-most)", "[at most 216 W](claim:tuned/board-power/at-most)"),
        ("[50 ± 2 W](claim:saving)", "[41 ± 1 W](claim:saving)"),
        ("[nine runs](claim:tuned/score/runs)", "[eight runs](claim:tuned/score/runs)"),
        ("[90 %](claim:tuned/power-limit)", "[84 %](claim:tuned/power-limit)"),
    ],
)
def test_style_is_kept(prose, fresh):
    here = world()
    write_up = here.with_prose(f"Stock was the base: {prose}.\n")
    assert restate(write_up, here.site, here.results).endswith(f"Stock was the base: {fresh}.\n")


def test_suggested_links_written_into_the_file_make_it_pass(tmp_path):
    body = (
        "The tuned card drew 214 W, 41 W less than stock, and **scored 6249 points**.\n\n"
        "- Its fans turned at 1004 rpm.\n"
    )
    root = write_site(tmp_path, body=body)
    site, _ = read_site(root)
    assert site is not None
    write_up, results = site.write_ups[SLUG], evaluate(site)
    found = suggest(write_up, site, results)
    assert [s.text for s in found] == ["214 W", "41 W", "6249 points", "1004 rpm"]
    source = bind(write_up.source, {s.where: s.candidates[0].address for s in found})
    assert source.endswith(
        "The tuned card drew [214 W](claim:tuned/board-power), [41 W](claim:tuned/board-power/saved) less than stock, "
        "and **scored [6249 points](claim:tuned/score)**.\n\n- Its fans turned at [1004 rpm](claim:tuned/fan-speed).\n"
    )
    (root / f"content/write-ups/{SLUG}/write-up.md").write_text(source, encoding="utf-8")
    again, _ = read_site(root)
    assert again is not None
    assert not judge(again.write_ups[SLUG], again, evaluate(again)).problems


def test_a_number_that_fits_nothing_has_no_candidates():
    here = world()
    (found,) = suggest(here.with_prose("The card drew 987654 W.\n"), here.site, here.results)
    assert (found.text, found.candidates) == ("987654 W", ())


def test_binding_leaves_plain_yaml_values_alone(tmp_path):
    here = world()
    write_up = here.with_prose("Text.\n")
    from benchgalley.records.findings import Location

    line = next(k for k, text in enumerate(write_up.source.split("\n"), 1) if text.startswith("title:"))
    where = Location(file=write_up.file, line=line, column=8, end_line=line, end_column=15)
    assert bind(write_up.source, {where: "tuned/score"}) == write_up.source


def test_what_restating_leaves_to_the_author_is_told():
    here = world()
    write_up = here.with_prose(
        "Against stock it drew [50 W](claim:saving) less.\n"
        "It drew [at least 50 W](claim:saving) less than stock and ran [hotter](claim:tuned/core-temperature).\n"
        "It drew [5 W](claim:eased/wall-power/bogus) and [214 W](claim:tuned/board-power).\n"
    )
    left = left_over(write_up, here.site, here.results)
    assert [(c.stated, c.verdict.value) for c in left] == [
        ("at least 50 W", "disagrees"),
        ("hotter", "disagrees"),
        ("5 W", "unjudged"),
    ]
    assert all(c.message and c.where.line for c in left)
    assert "[41 W](claim:saving) less." in restate(write_up, here.site, here.results)


def test_nothing_is_left_where_everything_agrees():
    here = world()
    write_up = here.with_prose("It drew [41 W](claim:saving) less than stock.\n")
    assert left_over(write_up, here.site, here.results) == ()
