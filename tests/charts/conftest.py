"""Figures of the made write-ups, drawn once for the whole folder."""

import pytest

from benchgalley.charts import draw, draw_card, draw_comparison
from benchgalley.records.bench import MeasuringPoint, Sample

from . import factory


def all_figures():
    """Every kind the room can draw: of one write-up, of the comparison, of a card."""
    write_up = factory.make_full_write_up()
    site = factory.make_site(write_up)
    figures = list(draw(write_up, site, factory.MadeResults(site, factory.extra_numbers()).ledger()))
    many = factory.make_site(*several())
    results = factory.MadeResults(many).ledger()
    figures += draw_comparison(many, results)
    figures += draw_card(many.cards["quillon-42"], many, results)
    return tuple(figures)


def several():
    """Three samples of one card, another card, and two write-ups that cannot be compared with them."""
    samples = [
        factory.make_write_up(f"sample-{c}", sample=Sample(id=c, contributed="a reader" if c == "c" else ""))
        for c in "abc"
    ]
    return (
        *samples,
        factory.make_write_up("brisk", card=factory.make_card("brisk-7")),
        factory.make_write_up("older-load", card=factory.make_card("tarry-9"), load=factory.make_load("2.0")),
        factory.make_write_up(
            "other-meter", card=factory.make_card("tarry-9"), bench=factory.make_bench(MeasuringPoint.SLOT_AND_CABLE)
        ),
    )


@pytest.fixture(scope="session")
def figures():
    return all_figures()


@pytest.fixture(scope="session")
def by_kind(figures):
    found = {}
    for figure in figures:
        found.setdefault(figure.kind, figure)
    return found
