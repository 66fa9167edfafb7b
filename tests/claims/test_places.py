"""Every place that reaches a reader: a loose number there is a problem, a true claim agrees, a false one does not."""

import re

import pytest

from benchgalley.claims import judge, judge_settings
from benchgalley.derive import evaluate
from benchgalley.intake import read_site
from benchgalley.records.findings import Problem

from .world import FRONT, SITE, SLUG, write_site

LOOSE, TRUE, FALSE = "41 W", "[41 W](claim:tuned/board-power/saved)", "[43 W](claim:tuned/board-power/saved)"

FRONT_PLACES = {
    "title": ("title: Skiff 7", 'title: "It drew {} less than stock"'),
    "summary": ("summary: An invented card.", 'summary: "It drew {} less than stock."'),
    "stopping rule": (
        "stopping_rule: Fixed before the first run.",
        'stopping_rule: "When it drew {} less than stock."',
    ),
    "revision": (
        "invented: true",
        'invented: true\nrevisions: [{{date: 2026-10-05, what: "It drew {} less than stock."}}]',
    ),
}
BODY_PLACES = {
    "heading": "## It drew {} less than stock\n",
    "list": "- It drew {} less than stock\n",
    "numbered list": "3. It drew {} less than stock\n",
    "quotation": "> It drew {} less than stock\n",
    "table": "| what | how |\n| --- | --- |\n| tuned | {} less than stock |\n",
    "table head": "| {} less than stock | how |\n| --- | --- |\n| tuned | so |\n",
    "alternative text": "![It drew {} less than stock](chart:trade-front)\n",
    "caption": '![A chart](chart:trade-front "It drew {} less than stock")\n',
    "emphasis": "**It drew {} less than stock**\n",
}


def problems_of(folder, front: str = FRONT, body: str = "Nothing.\n", site: str = SITE) -> list[Problem]:
    read, problems = read_site(write_site(folder, front=front, body=body, site=site))
    assert read is not None and not problems, problems
    results = evaluate(read)
    return [*judge_settings(read, results), *judge(read.write_ups[SLUG], read, results).problems]


@pytest.mark.parametrize("place", FRONT_PLACES)
def test_places_of_the_front_matter(place, tmp_path):
    old, new = FRONT_PLACES[place]
    found = [
        [p.rule for p in problems_of(tmp_path / str(k), front=FRONT.replace(old, new.format(stated)))]
        for k, stated in enumerate((LOOSE, TRUE, FALSE))
    ]
    assert found == [["unbound-number"], [], ["disagrees"]]


@pytest.mark.parametrize("place", BODY_PLACES)
def test_places_of_the_body(place, tmp_path):
    found = [
        [p.rule for p in problems_of(tmp_path / str(k), body=BODY_PLACES[place].format(stated))]
        for k, stated in enumerate((LOOSE, TRUE, FALSE))
    ]
    assert found == [["unbound-number"], [], ["disagrees"]]


def test_the_site_s_own_texts(tmp_path):
    """They go into the feed and the metadata of every page; an address there names its write-up."""
    for key in ("title: Brackwater bench", "summary: One invented card on one invented bench."):
        name = key.partition(":")[0]
        for k, (stated, expected) in enumerate(
            (
                ("41 W", ["unbound-number"]),
                (f"[41 W](claim:{SLUG}:tuned/board-power/saved)", []),
                (f"[43 W](claim:{SLUG}:tuned/board-power/saved)", ["disagrees"]),
            )
        ):
            site = SITE.replace(key, f'{name}: "It drew {stated} less than stock"')
            assert [p.rule for p in problems_of(tmp_path / f"{name}{k}", site=site)] == expected


@pytest.mark.parametrize("label", ["Saves 41 W", "A third less"])
def test_a_label_of_a_setpoint_is_read(label, tmp_path):
    front = re.sub(r"label: Tuned\b", f"label: {label}", FRONT)
    assert problems_of(tmp_path, front=front)


def test_a_label_may_name_its_setting(tmp_path):
    front = re.sub(r"label: Tuned\b", 'label: "84 % at −130 mV"', FRONT)
    assert not problems_of(tmp_path, front=front, body="The 84 % at −130 mV setting is the one I kept.\n")
