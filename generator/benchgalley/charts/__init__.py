"""Figures: every number arrives computed, every picture is drawn once for readers with and without scripts."""

from .draw import draw, draw_card, draw_comparison
from .picture import SvgCache

__all__ = ["SvgCache", "draw", "draw_card", "draw_comparison"]
