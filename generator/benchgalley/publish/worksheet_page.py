"""The worksheet, "find your own setting": a page that computes in the reader's browser and sends nothing."""

from collections.abc import Mapping
from typing import Any

from benchgalley.records.write_up import WriteUp

from . import page_paths
from .edition import Edition

_SEEN: tuple[tuple[str, str], ...] = (("score", "score"), ("board-power", "board power"))
"""Quantities at stock told beside the reader's own: (key, words)."""


def worksheet_page(edition: Edition) -> Mapping[str, bytes]:
    """The page, with what the site knows of its cards and loads as a starting point."""
    return {page_paths.WORKSHEET: edition.templates.fill("worksheet.html", page_paths.WORKSHEET, known=_known(edition))}


def seen_at_stock(edition: Edition, write_up: WriteUp) -> dict[str, str]:
    """What the page tells of one write-up; empty where nothing was measured at stock."""
    text = _stock_of(edition, write_up)
    return {"card": write_up.card.id, "load": write_up.load.id, "text": text} if text else {}


def _known(edition: Edition) -> dict[str, Any]:
    site = edition.site
    return {
        "site": site.settings.title.text,
        "confidence_pct": f"{site.settings.confidence_pct:g}",
        "cards": [
            {
                "id": card.id,
                "name": f"{card.maker} {card.model}",
                "stock_board_power_w": f"{card.stock_board_power_w:g}",
                "power_low_pct": f"{card.power_limit_range_pct[0]:g}",
            }
            for card in site.cards.values()
        ],
        "loads": [
            {
                "id": load.id,
                "name": " ".join(part for part in (load.name, load.version) if part)
                + (f", {load.preset}" if load.preset else ""),
                "score_unit": load.score_unit.symbol,
                "better": "higher" if load.higher_is_better else "lower",
                "run_length_s": "" if load.run_length_s is None else f"{load.run_length_s:g}",
            }
            for load in site.loads.values()
        ],
        "seen": [seen for _, seen in sorted(edition.facts("at stock").items()) if seen],
    }


def _stock_of(edition: Edition, write_up: WriteUp) -> str:
    """What a sample on this site did at stock, in words: for the reader to compare with."""
    parts = []
    for key, words in _SEEN:
        number = edition.number(write_up.slug, f"{write_up.baseline}/{key}")
        if number is not None:
            parts.append(f"{words} {number.printed.text}")
    return f"Sample {write_up.sample.id} on this site, at stock: {', '.join(parts)}." if parts else ""
