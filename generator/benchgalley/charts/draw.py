"""The doors of the room: every figure of a write-up, of the comparison, of a card."""

from ..records.bench import Card
from ..records.figure import Figure
from ..records.results import Results
from ..records.site import Site
from ..records.write_up import WriteUp
from . import across_cards, at_setpoints, from_logs, over_limits, over_sequence, trade
from .picture import SvgCache, picture, prefix_of

OF_WRITE_UP = (
    *at_setpoints.FIGURES,
    *over_limits.FIGURES,
    *trade.FIGURES,
    *over_sequence.FIGURES,
    *from_logs.FIGURES,
)
"""Every kind drawn for a write-up, in page order."""


def draw(write_up: WriteUp, site: Site, results: Results, cache: SvgCache | None = None) -> tuple[Figure, ...]:
    """Every figure the data of a write-up allow, in page order; a kind without data is left out."""
    drawings = [prepare(write_up, site, results) for _, prepare in OF_WRITE_UP]
    return tuple(picture(d, prefix_of(write_up.slug, d.id), cache) for d in drawings if d is not None)


def draw_comparison(site: Site, results: Results, cache: SvgCache | None = None) -> tuple[Figure, ...]:
    """Cards side by side, one figure for each set of write-ups that can be compared."""
    drawings = [d for _, prepare in across_cards.OVER_SITE for d in prepare(site, results)]
    return tuple(picture(d, d.id, cache) for d in drawings)


def draw_card(card: Card, site: Site, results: Results, cache: SvgCache | None = None) -> tuple[Figure, ...]:
    """The samples of one card."""
    drawings = [d for _, prepare in across_cards.OVER_CARD for d in prepare(card, site, results)]
    return tuple(picture(d, prefix_of(card.id, d.id), cache) for d in drawings)
