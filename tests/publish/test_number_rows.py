"""Rows of the tables of numbers: every budget is found, in the row itself or in the row it leads to."""

import re
from dataclasses import replace

import pytest
from lxml import html

from benchgalley.derive import evaluate
from benchgalley.publish.typesetting import typeset
from benchgalley.publish.workings import Workings, budget_lines
from benchgalley.records.results import Number
from benchgalley.records.site import Site
from tests.publish.factory import print_site
from tests.publish.test_card_page import CARD, with_second_sample

PAGES = {"quiet-lantern": "write-ups/quiet-lantern/numbers.html", "lantern-60": CARD}
"""Write-up or card → the page with the working of its numbers."""


def lists_in(row: html.HtmlElement) -> list[list[str]]:
    """The lists of contributions in a row, without the line of their sum."""
    return [
        [line.text_content() for line in terms.iter("li")][:-1] for terms in row.xpath('.//details[@class="terms"]')
    ]


def as_listed(number: Number) -> list[str]:
    """The contributions of a number as a row must list them."""
    return [
        f"{typeset(line.name)}: type {line.evaluation}, u = {line.size}, ν = {line.degrees_of_freedom}, "
        f"{line.share}; {typeset(line.origin)}"
        for line in budget_lines(number)
    ]


def two_samples() -> Site:
    """The small site with another sample of its card that differs in every figure."""
    site = with_second_sample("Reader R")
    again = site.write_ups["again"]
    trials = [
        replace(t, measured={c: v * (1.01 + 0.001 * at) for at, (c, v) in enumerate(t.measured.items())})
        for t in again.trials
    ]
    return replace(site, write_ups={**site.write_ups, "again": replace(again, trials=tuple(trials))})


@pytest.mark.parametrize("scope", PAGES)
def test_every_budget_is_found_and_each_list_stands_once(scope):
    site = two_samples()
    results = evaluate(site)
    page = html.document_fromstring(print_site(site, results, dict.fromkeys(site.write_ups, ()))[PAGES[scope]].decode())
    rows = {row.get("id"): row for row in page.iter("tr") if row.get("id")}
    held = [tuple(lines) for row in rows.values() for lines in lists_in(row)]
    assert len(held) == len(set(held)), "no list twice"
    elsewhere = 0
    for number in filter(None, map(results.find, results.addresses(scope))):
        if number.standard_uncertainty is None or not as_listed(number):
            continue
        row, shown = rows[number.address.local()], Workings("", ()).of(number)
        own, remarks = lists_in(row), [r for r in row.find_class("origin") if r.text_content().startswith("Budget: ")]
        if own:
            (told,) = row.xpath(".//summary/text()")
            told += row.xpath('string(.//details[@class="terms"]//li[last()])')
            assert not remarks
        else:
            ((remark,), (link,)) = remarks, remarks[0].xpath(".//a/@href")
            told, own = remark.text_content(), lists_in(rows[link.removeprefix("#")])
            elsewhere += 1
        assert own == [as_listed(number)], number.address
        assert f"Budget: u = {shown.combined}" in told
        known = re.search(r", k = (.*?), expanded (.*?)(?:, |: |combined|$)", told)
        assert (known.groups() if known else ("", "")) == (shown.coverage_factor, shown.expanded)
        assert f", ν = {shown.degrees_of_freedom}" in told
    assert elsewhere > 0.2 * len(held), "numbers of one measurement share their contributions"
