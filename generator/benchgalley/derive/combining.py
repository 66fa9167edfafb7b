"""What contributions amount to: combined uncertainty, degrees of freedom and half-widths, one element a number."""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from benchgalley.metrology.cells import gathered, root_sum, root_sums, t_factors
from benchgalley.metrology.sample import Array
from benchgalley.metrology.uncertainty import combine
from benchgalley.records.results import Component, Interval

from .budget import FROM_REPEATS, T_METHOD, WELCH_METHOD, Term

PARTS_METHOD = "Student t part by part (Banerjee)"

METHODS = ("", T_METHOD, WELCH_METHOD, PARTS_METHOD)
"""How an interval is made, by `Sums.methods`; the first for none."""


def method_of(pieces: int, members: int) -> str:
    """How an interval from so many pieces is made, as printed; `members` counts the contributions in all."""
    return METHODS[3 if pieces > 1 else min(members, 2)]


class Sums(NamedTuple):
    """What contributions amount to, together and from repeats alone; one element a number."""

    standard_uncertainty: Array
    degrees_of_freedom: Array
    """After Welch and Satterthwaite, not rounded."""
    repeats_uncertainty: Array
    repeats: Array
    """Contributions that repeats show, sources by numbers."""
    piece_freedoms: Array
    """Degrees of freedom of the piece each of them belongs to, rounded down."""
    pieces: NDArray[np.int_]
    """How many pieces they have."""
    limits: Array
    """Contributions of instruments, sources by numbers: always a piece of their own, taken as known."""
    limits_uncertainty: Array

    def methods(self) -> tuple[NDArray[np.int_], NDArray[np.int_]]:
        """Places in `METHODS` of the whole interval and of that from repeats alone."""
        own = np.count_nonzero(self.repeats, axis=0)
        every = own + np.count_nonzero(self.limits, axis=0)
        pieces = self.pieces + (self.limits_uncertainty > 0)
        return (
            np.where(pieces > 1, 3, np.minimum(every, 2)),
            np.where(self.pieces > 1, 3, np.minimum(own, 2)),
        )


def sums(repeats: Array, freedoms: Array, limits: Array) -> Sums:
    """Root sums of squares and degrees of freedom after Welch and Satterthwaite (JCGM 100:2008, 5.1.2 and G.4.1).

    Parameters
    ----------
    repeats, freedoms : 2-D, sources by numbers
        Signed contributions that repeats themselves show, and their degrees of freedom.
    limits : 2-D, sources by numbers
        Signed contributions of instruments.
    """
    own, own_freedoms = root_sums(repeats, freedoms)
    found = gathered(repeats, freedoms)
    if not len(limits):
        return Sums(own, own_freedoms, own, repeats, *found, limits, np.zeros_like(own))
    known = root_sum(limits)
    whole = np.hypot(own, known)
    # what is taken as known adds to the sum of squares only
    more = (whole / np.where(own > 0, own, 1.0)) ** 2
    freedom = np.where(own > 0, own_freedoms * more * more, math.inf)
    return Sums(whole, freedom, own, repeats, *found, limits, known)


def half_widths(of: Sums, confidence_pct: float) -> tuple[Array, Array]:
    """Half-widths of two-sided intervals, whole and from repeats alone; not a number without a spread to speak of."""
    return half_widths_at(of, (1 - confidence_pct / 100) / 2)


def half_widths_at(of: Sums, tail: float) -> tuple[Array, Array]:
    """As `half_widths`, so much of the confidence left out on one side; see `by_parts.half_width`."""
    own = root_sum(t_factors(tail, of.piece_freedoms) * of.repeats)
    whole = np.hypot(own, normal_factor(tail) * of.limits_uncertainty)
    return (
        np.where(of.standard_uncertainty > 0, whole, math.nan),
        np.where(of.repeats_uncertainty > 0, own, math.nan),
    )


def normal_factor(tail: float) -> float:
    """Factor of what is taken as known."""
    return float(t_factors(tail, np.array(math.inf)))


class Combined:
    """Terms of one estimate with what they amount to, together and from repeats alone.

    Terms of one estimate carry different names, so their squares add; degrees of freedom after Welch and
    Satterthwaite (JCGM 100:2008, 5.1.2 and G.4.1).
    """

    __slots__ = (
        "_components",
        "degrees_of_freedom",
        "factor",
        "repeats_uncertainty",
        "standard_uncertainty",
        "terms",
    )

    def __init__(self, terms: tuple[Term, ...]) -> None:
        self.terms = terms
        self.factor = 1.0
        self._components: tuple[Component, ...] | None = None
        total = below = repeats = 0.0
        for _, kind, contribution, freedom, _ in terms:
            square = contribution * contribution
            total += square
            below += square * square / freedom
            if kind in FROM_REPEATS:
                repeats += square
        if (total == 0 or _SMALLEST < total < _LARGEST) and (repeats == 0 or repeats > _SMALLEST):
            self.standard_uncertainty = math.sqrt(total)
            self.degrees_of_freedom = total * total / below if below > 0 else math.inf
            self.repeats_uncertainty = math.sqrt(repeats)
        else:
            self.standard_uncertainty, self.degrees_of_freedom = _uncertainty(terms)
            self.repeats_uncertainty, _ = _uncertainty([t for t in terms if t.kind in FROM_REPEATS])

    def scaled(self, factor: float) -> "Combined":
        """The same, every contribution times a factor above zero."""
        found = Combined.__new__(Combined)
        found.terms = self.terms
        found.factor = self.factor * factor
        found._components = None
        found.standard_uncertainty = self.standard_uncertainty * factor
        found.degrees_of_freedom = self.degrees_of_freedom
        found.repeats_uncertainty = self.repeats_uncertainty * factor
        return found

    @property
    def components(self) -> tuple[Component, ...]:
        """Terms as the records print them; a cancelled contribution stays in the budget as zero."""
        if self._components is None:
            self._components = tuple([component(term, term.contribution * self.factor) for term in self.terms])
        return self._components


_SMALLEST, _LARGEST = 1e-70, 1e70
"""Sums of squares between these may be squared once more."""


def _uncertainty(terms: Sequence[Term]) -> tuple[float, float]:
    """Combined standard uncertainty and Welch-Satterthwaite degrees of freedom of terms of one estimate."""
    if not terms:
        return 0.0, math.inf
    if len(terms) == 1:
        return abs(terms[0].contribution), terms[0].degrees_of_freedom
    found = combine([t.contribution for t in terms], [t.degrees_of_freedom for t in terms])
    return found.standard_uncertainty, found.degrees_of_freedom


def component(term: Term, contribution: float) -> Component:
    """A source as the records print it, with what it contributes to a number."""
    name, kind, _, freedom, origin = term
    return Component(name, "A" if kind in FROM_REPEATS else "B", abs(contribution), freedom, origin)


def interval_of(low: float, high: float, confidence_pct: float, method: str) -> Interval | None:
    """The interval between two ends; None where they are no numbers."""
    if low != low or high != high:
        return None
    return Interval(low, high, confidence_pct, method)
