"""Intervals and bounds from a budget: parts of like degrees of freedom together, unlike ones apart."""

from benchgalley.metrology.by_parts import Piece, half_width, one_sided, pieces_of
from benchgalley.records.results import Interval

from . import budget
from .budget import Combined

PARTS_METHOD = "Student t part by part (Banerjee)"


def pieces(combined: Combined, *, repeats_only: bool = False) -> tuple[Piece, ...]:
    """The budget's terms, or those that repeats show, by like degrees of freedom; empty when all are zero."""
    kept = [
        (term.contribution * combined.factor, term.degrees_of_freedom)
        for term in combined.terms
        if term.contribution and (not repeats_only or term.kind in budget.FROM_REPEATS)
    ]
    return pieces_of([part for part, _ in kept], [freedom for _, freedom in kept]) if kept else ()


def method_of(found: tuple[Piece, ...]) -> str:
    """How an interval from these pieces is made, as printed."""
    if len(found) > 1:
        return PARTS_METHOD
    return budget.T_METHOD if len(found[0].members) == 1 else budget.WELCH_METHOD


def two_sided(
    value: float, combined: Combined, confidence_pct: float, method: str = "", *, repeats_only: bool = False
) -> Interval | None:
    """value ± half-width; None without a spread to speak of. Without a method named, that of its pieces."""
    found = pieces(combined, repeats_only=repeats_only)
    if not found:
        return None
    half = half_width(found, confidence_pct / 100)
    method = (method or method_of(found)) + (budget.REPEATS_ONLY if repeats_only else "")
    return Interval(low=value - half, high=value + half, confidence_pct=confidence_pct, method=method)


def bound_of_mean(combined: Combined, confidence_pct: float) -> tuple[float, str]:
    """Distance of a one-sided bound from the estimate, and how it is made."""
    found = pieces(combined)
    return one_sided(found, confidence_pct / 100), f"one-sided {method_of(found)}"
