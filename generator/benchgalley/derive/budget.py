"""Estimates whose uncertainty contributions stay apart, by name and with sign, to the end."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from benchgalley.metrology.distribution import coverage_factor, t_quantile
from benchgalley.metrology.uncertainty import combine
from benchgalley.records.results import Component, Equivalence, Interval

from .runs import Runs

T_METHOD = "Student t"
WELCH_METHOD = "Student t with Welch-Satterthwaite degrees of freedom"
FIELLER_METHOD = "Fieller"
CHI_SQUARE_METHOD = "chi-square"
REPEATS_ONLY = " (repeatability only)"

REPEATABILITY = "repeatability"
GAIN = "gain"
OFFSET = "offset"
RESOLUTION = "resolution"
DRIFT = "drift"


@dataclass(frozen=True, kw_only=True, slots=True)
class Term:
    """One source of error in one estimate. Terms of the same name are the same error and add with sign."""

    name: str
    """E.g. "repeatability of tuned", "gain of clamp for board power"."""
    kind: str
    """`repeatability`, `gain`, `offset`, `resolution` or `drift`."""
    contribution: float
    """Signed c u, in the unit of the estimate."""
    degrees_of_freedom: float
    """`inf` for limits taken from the instrument."""
    origin: str
    """What it was taken from."""

    @property
    def evaluation(self) -> str:
        """`A` from repeats, `B` from stated limits (GUM 4.2, 4.3)."""
        return "A" if self.kind in (REPEATABILITY, DRIFT) else "B"

    def scaled(self, factor: float) -> "Term":
        """The same source seen through a sensitivity."""
        return self.of(self.contribution * factor)

    def of(self, contribution: float) -> "Term":
        """The same source with another contribution."""
        return Term(
            name=self.name,
            kind=self.kind,
            contribution=contribution,
            degrees_of_freedom=self.degrees_of_freedom,
            origin=self.origin,
        )


@dataclass(frozen=True, kw_only=True, slots=True, order=True)
class UnknownLimit:
    """An instrument limit nobody stated: the interval lacks it, and the page says so."""

    kind: str
    """`gain` or `offset`, or `instrument` when no instrument is named at all."""
    source: str
    """Name of the instrument, or of the quantity when no instrument is named."""

    def sentence(self) -> str:
        """As printed beside the number, without a full stop."""
        if self.kind == "instrument":
            return f"no instrument is named for {self.source}, so its limits are not in the interval"
        return f"the {self.kind} error of {self.source} is not known and not in the interval"


@dataclass(frozen=True, kw_only=True, slots=True)
class Estimate:
    """A quantity at a setpoint: its value, the runs behind it and its error terms."""

    value: float
    """Unit of the quantity."""
    group: str
    """Setpoint it belongs to."""
    per_run: tuple[float, ...]
    """Value of each run; for derived quantities linearised about the means. Same unit."""
    runs: Runs
    """The runs, in file order, parallel to `per_run`."""
    deviation: float | None
    """Repeatability standard deviation, divisor n - 1; None with one run."""
    terms: tuple[Term, ...]
    """Every known contribution."""
    unknown: tuple[UnknownLimit, ...] = ()
    """Limits not stated."""
    working: str = ""
    """Formula with figures in it."""
    typed_decimals: int | None = None
    """Decimals as typed in the trials file; None for logged and derived values."""

    @property
    def count(self) -> int:
        """Number of runs."""
        return len(self.per_run)

    @property
    def run_ids(self) -> tuple[str, ...]:
        """Ids of the runs."""
        return self.runs.ids

    def with_terms(self, extra: Iterable[Term]) -> "Estimate":
        """The same estimate with further contributions."""
        return replace(self, terms=(*self.terms, *extra))


@dataclass(frozen=True, kw_only=True, slots=True)
class Draft:
    """What a derivation found, before it gets its address, unit and printed form."""

    value: float
    """In the unit of the relation."""
    terms: tuple[Term, ...] = ()
    """In the same unit."""
    standard_uncertainty: float | None = None
    degrees_of_freedom: float | None = None
    interval: Interval | None = None
    repeatability_interval: Interval | None = None
    groups: tuple[tuple[str, tuple[str, ...]], ...] = ()
    substitution: str = ""
    reason: str = ""
    finding: Equivalence | None = None
    exact: bool = False
    adjusted: str = ""
    decimals: int | None = None
    """Decimals for printing when there is no uncertainty; None: the shortest text."""
    spread_for_printing: float | None = None
    """Half-width that governs the printed place when it is not that of `interval`."""


def uncertainty(terms: Sequence[Term]) -> tuple[float, float]:
    """Combined standard uncertainty and Welch-Satterthwaite degrees of freedom of terms of one estimate.

    Terms of one estimate carry different names, so their squares add (JCGM 100:2008, 5.1.2 and G.4.1).
    """
    if not terms:
        return 0.0, math.inf
    if len(terms) == 1:
        return abs(terms[0].contribution), terms[0].degrees_of_freedom
    found = combine([t.contribution for t in terms], [t.degrees_of_freedom for t in terms])
    return found.standard_uncertainty, found.degrees_of_freedom


def of_kinds(terms: Iterable[Term], *kinds: str) -> tuple[Term, ...]:
    """The terms of certain kinds."""
    return tuple(term for term in terms if term.kind in kinds)


def two_sided(value: float, u: float, dof: float, confidence_pct: float, method: str) -> Interval | None:
    """value ± t u; None without a spread to speak of."""
    if not u > 0 or not dof > 0:
        return None
    half = coverage_factor(confidence_pct / 100, dof) * u
    return Interval(low=value - half, high=value + half, confidence_pct=confidence_pct, method=method)


def one_sided_half_width(u: float, dof: float, confidence_pct: float) -> float:
    """Distance of a one-sided bound from the estimate: t at the full confidence on one side."""
    return t_quantile(confidence_pct / 100, dof) * u


def merge(
    a: Estimate, b: Estimate, factor_a: float, factor_b: float, floor: float = 8 * 2.220446049250313e-16
) -> tuple[Term, ...]:
    """Terms of factor_a · a + factor_b · b: same names add with sign before anything is squared.

    A sum that is only rounding of two equal parts counts as zero: that contribution cancels exactly
    (JCGM 100:2008, 5.2.2 and F.1.2.3).
    """
    merged: dict[str, Term] = {term.name: term.scaled(factor_a) for term in a.terms}
    for term in b.terms:
        other = term.scaled(factor_b)
        if (first := merged.get(term.name)) is None:
            merged[term.name] = other
            continue
        total = first.contribution + other.contribution
        if abs(total) <= floor * max(abs(first.contribution), abs(other.contribution)):
            total = 0.0
        merged[term.name] = first.of(total)
    return tuple(merged.values())


def components(terms: Iterable[Term]) -> tuple[Component, ...]:
    """Terms as the records print them; a cancelled contribution stays in the budget as zero."""
    return tuple(
        Component(
            name=term.name,
            evaluation=term.evaluation,
            standard_uncertainty=abs(term.contribution),
            degrees_of_freedom=term.degrees_of_freedom,
            origin=term.origin,
        )
        for term in terms
    )


def say_unknown(unknown: Iterable[UnknownLimit]) -> str:
    """One sentence on every limit that is not stated; empty when all are."""
    return "; ".join(limit.sentence() for limit in sorted(set(unknown)))


def figure(value: float, digits: int = 6) -> str:
    """A number inside a working: six significant digits, true minus."""
    text = f"{value:.{digits}g}"
    if "e" in text and 1e-4 <= abs(value) < 1e12:
        text = f"{value:.0f}"
    return text.replace("-", "\u2212")
