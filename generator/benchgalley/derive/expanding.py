"""Intervals and bounds from one budget: parts of like degrees of freedom together, unlike ones apart."""

from collections.abc import Iterable, Sequence

from benchgalley.metrology.by_parts import Piece, half_width, pieces_of
from benchgalley.records.results import Interval

from . import budget
from .combining import Combined, method_of


def pieces(combined: Combined, *, repeats_only: bool = False) -> tuple[Piece, ...]:
    """The budget's terms, or those that repeats show, by like degrees of freedom; empty when all are zero."""
    return pieces_from(
        (term.contribution * combined.factor, term.degrees_of_freedom)
        for term in combined.terms
        if not repeats_only or term.kind in budget.FROM_REPEATS
    )


def pieces_from(parts: Iterable[tuple[float, float]]) -> tuple[Piece, ...]:
    """(Contribution, degrees of freedom) by like degrees of freedom; empty when all contributions are zero."""
    kept = [part for part in parts if part[0]]
    return pieces_of([part for part, _ in kept], [freedom for _, freedom in kept]) if kept else ()


def words_of(found: Sequence[Piece]) -> str:
    """How an interval from these pieces is made, as printed."""
    return method_of(len(found), len(found[0].members))


def two_sided(
    value: float, combined: Combined, confidence_pct: float, method: str = "", *, repeats_only: bool = False
) -> Interval | None:
    """value ± half-width; None without a spread to speak of. Without a method named, that of its pieces."""
    return around(value, pieces(combined, repeats_only=repeats_only), confidence_pct, method, repeats_only=repeats_only)


def around(
    value: float, found: Sequence[Piece], confidence_pct: float, method: str = "", *, repeats_only: bool = False
) -> Interval | None:
    """As `two_sided`, from pieces."""
    if not found:
        return None
    half = half_width(found, confidence_pct / 100)
    method = (method or words_of(found)) + (budget.REPEATS_ONLY if repeats_only else "")
    return Interval(low=value - half, high=value + half, confidence_pct=confidence_pct, method=method)
