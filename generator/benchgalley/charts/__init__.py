"""Figures: every number arrives computed, every picture is drawn once for readers with and without scripts."""

from .across_cards import COMPARED
from .draw import draw, draw_card, draw_comparison
from .picture import SvgCache, kept_picture

__all__ = ["COMPARED", "SvgCache", "draw", "draw_card", "draw_comparison", "kept_picture"]
