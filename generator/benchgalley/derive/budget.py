"""Estimates whose uncertainty contributions stay apart, by name and with sign, to the end."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from benchgalley.metrology.sample import Array
from benchgalley.metrology.uncertainty import combine
from benchgalley.records.results import Component, Equivalence, Interval

from .runs import Runs

T_METHOD = "Student t"
WELCH_METHOD = "Student t with Welch-Satterthwaite degrees of freedom, rounded down"
FIELLER_METHOD = "Fieller"
CHI_SQUARE_METHOD = "chi-square"
REPEATS_ONLY = " (repeatability only)"

EXACT_COUNT = "the bounds follow from the counts alone, by an exact distribution: there are no contributions to add up"
CHI_SQUARE_SPREAD = (
    "the interval of a spread follows from chi-square and the number of runs: there are no contributions to add up"
)
ORDER_STATISTICS = (
    "the ends of the interval are two of the runs themselves, chosen by rank: there are no contributions to add up"
)
TOLERANCE_FACTOR = (
    "the bound lies a tolerance factor times the spread between samples from their mean: it speaks of single cards "
    "and is no sum of contributions to a mean"
)
CANDIDATES = "the interval spans the settings that cannot be told from the best: there are no contributions to add up"
FLAT_CURVE = (
    "the curve is level where it meets the target, so contributions cannot be read off its slope; the interval comes "
    "from the inverted test itself"
)
"""Why a number with an interval has no budget."""

REPEATABILITY = "repeatability"
GAIN = "gain"
OFFSET = "offset"
RESOLUTION = "resolution"
DRIFT = "drift"

FROM_REPEATS = frozenset({REPEATABILITY, DRIFT})
"""Kinds of contributions that repeats themselves show."""


class Term(NamedTuple):
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
        return "A" if self.kind in FROM_REPEATS else "B"

    def scaled(self, factor: float) -> "Term":
        """The same source seen through a sensitivity."""
        name, kind, contribution, freedom, origin = self
        return Term(name, kind, contribution * factor, freedom, origin)

    def of(self, contribution: float) -> "Term":
        """The same source with another contribution."""
        name, kind, _, freedom, origin = self
        return Term(name, kind, contribution, freedom, origin)


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


class Estimate:
    """A quantity at a setpoint: its value, the runs behind it and its error terms."""

    __slots__ = (
        "borrowed", "column", "deviation", "deviations", "group", "runs", "terms", "unknown", "value", "working_of",
    )  # fmt: skip

    def __init__(
        self,
        *,
        value: float,
        group: str,
        runs: Runs,
        deviations: Array,
        deviation: float | None,
        terms: tuple[Term, ...],
        unknown: tuple[UnknownLimit, ...],
        working_of: Callable[[], str],
        column: str = "",
        borrowed: str = "",
    ) -> None:
        self.value = value
        """Unit of the quantity."""
        self.group = group
        """Setpoint it belongs to."""
        self.runs = runs
        """The runs, in file order."""
        self.deviations = deviations
        """Value less mean of each run; for derived quantities linearised about the means. Same unit."""
        self.deviation = deviation
        """Repeatability standard deviation, divisor n - 1; None with one run."""
        self.terms = terms
        """Every known contribution."""
        self.unknown = unknown
        """Limits not stated."""
        self.working_of = working_of
        """Gives the formula with figures in it."""
        self.column = column
        """Measured column; empty for derived values."""
        self.borrowed = borrowed
        """For one run: where its repeatability was taken from, as said beside the number; else empty."""

    @property
    def per_run(self) -> tuple[float, ...]:
        """Value of each run, parallel to `runs`."""
        if self.column:
            return tuple(self.runs.values(self.column))
        return tuple((self.value + self.deviations).tolist())

    @property
    def working(self) -> str:
        """Formula with figures in it."""
        return self.working_of()

    @property
    def typed_decimals(self) -> int | None:
        """Decimals as typed in the trials file; None for logged and derived values."""
        return self.runs.most_decimals(self.column) if self.column else None

    @property
    def count(self) -> int:
        """Number of runs."""
        return len(self.runs.trials)

    @property
    def error(self) -> float:
        """Standard error of the mean from repeats alone; zero with one run."""
        return self.deviation / math.sqrt(self.count) if self.deviation else 0.0

    @property
    def run_ids(self) -> tuple[str, ...]:
        """Ids of the runs."""
        return self.runs.ids

    @property
    def repeated(self) -> bool:
        """Whether its repeatability is known, from its own runs or from those of other setpoints."""
        return self.deviation is not None or bool(self.borrowed)

    def with_terms(self, extra: Iterable[Term], borrowed: str = "") -> "Estimate":
        """The same estimate with further contributions."""
        return Estimate(
            value=self.value, group=self.group, runs=self.runs, deviations=self.deviations, deviation=self.deviation,
            terms=(*self.terms, *extra), unknown=self.unknown, working_of=self.working_of, column=self.column,
            borrowed=borrowed or self.borrowed,
        )  # fmt: skip


class Combined:
    """Terms of one estimate with what they amount to, together and from repeats alone.

    Terms of one estimate carry different names, so their squares add; degrees of freedom after Welch and
    Satterthwaite (JCGM 100:2008, 5.1.2 and G.4.1).
    """

    __slots__ = (
        "_components",
        "degrees_of_freedom",
        "factor",
        "repeats_degrees_of_freedom",
        "repeats_uncertainty",
        "standard_uncertainty",
        "terms",
    )

    def __init__(self, terms: tuple[Term, ...]) -> None:
        self.terms = terms
        self.factor = 1.0
        self._components: tuple[Component, ...] | None = None
        total = below = repeats = repeats_below = 0.0
        for _, kind, contribution, freedom, _ in terms:
            square = contribution * contribution
            total += square
            part = square * square / freedom
            below += part
            if kind in FROM_REPEATS:
                repeats += square
                repeats_below += part
        if (total == 0 or _SMALLEST < total < _LARGEST) and (repeats == 0 or repeats > _SMALLEST):
            self.standard_uncertainty = math.sqrt(total)
            self.degrees_of_freedom = total * total / below if below > 0 else math.inf
            self.repeats_uncertainty = math.sqrt(repeats)
            self.repeats_degrees_of_freedom = repeats * repeats / repeats_below if repeats_below > 0 else math.inf
        else:
            self.standard_uncertainty, self.degrees_of_freedom = uncertainty(terms)
            self.repeats_uncertainty, self.repeats_degrees_of_freedom = uncertainty(of_kinds(terms, *FROM_REPEATS))

    def scaled(self, factor: float) -> "Combined":
        """The same, every contribution times a factor above zero."""
        found = Combined.__new__(Combined)
        found.terms = self.terms
        found.factor = self.factor * factor
        found._components = None
        found.standard_uncertainty = self.standard_uncertainty * factor
        found.degrees_of_freedom = self.degrees_of_freedom
        found.repeats_uncertainty = self.repeats_uncertainty * factor
        found.repeats_degrees_of_freedom = self.repeats_degrees_of_freedom
        return found

    @property
    def components(self) -> tuple[Component, ...]:
        """Terms as the records print them; a cancelled contribution stays in the budget as zero."""
        if self._components is None:
            self._components = components(self.terms, self.factor)
        return self._components


_SMALLEST, _LARGEST = 1e-70, 1e70
"""Sums of squares between these may be squared once more."""

Said = str | Callable[[], str]
"""A text, or what makes it when somebody reads it."""

Groups = tuple[tuple[str, tuple[str, ...]], ...]
"""(Setpoint or sequence, run ids)."""


def said(text: Said) -> str:
    """The text itself."""
    return text if isinstance(text, str) else text()


@dataclass(kw_only=True, slots=True)
class Draft:
    """What a derivation found, before it gets its address, unit and printed form."""

    value: float
    """In the unit of the relation."""
    combined: Combined | None = None
    """Its terms, in the same unit; None where the uncertainty has no budget."""
    standard_uncertainty: float | None = None
    degrees_of_freedom: float | None = None
    interval: Interval | None = None
    repeatability_interval: Interval | None = None
    groups: Groups | Callable[[], Groups] = ()
    substitution: Said = ""
    reason: Said = ""
    finding: Equivalence | None = None
    exact: bool = False
    adjusted: str = ""
    decimals: int | Callable[[], int | None] | None = None
    """Decimals for printing when there is no uncertainty; None: the shortest text."""
    no_budget: str = ""
    """Why an interval is no sum of contributions, in one sentence; see `Number.no_budget`."""
    spread_for_printing: float | None = None
    """Half-width that governs the printed place when it is not that of `interval`."""


def uncertainty(terms: Sequence[Term]) -> tuple[float, float]:
    """Combined standard uncertainty and Welch-Satterthwaite degrees of freedom of terms of one estimate."""
    if not terms:
        return 0.0, math.inf
    if len(terms) == 1:
        return abs(terms[0].contribution), terms[0].degrees_of_freedom
    found = combine([t.contribution for t in terms], [t.degrees_of_freedom for t in terms])
    return found.standard_uncertainty, found.degrees_of_freedom


def of_kinds(terms: Iterable[Term], *kinds: str) -> tuple[Term, ...]:
    """The terms of certain kinds."""
    return tuple(term for term in terms if term.kind in kinds)


def merge(
    a: Estimate, b: Estimate, factor_a: float, factor_b: float, floor: float = 8 * 2.220446049250313e-16
) -> tuple[Term, ...]:
    """Terms of factor_a · a + factor_b · b: same names add with sign before anything is squared.

    A sum that is only rounding of two equal parts counts as zero: that contribution cancels exactly
    (JCGM 100:2008, 5.2.2 and F.1.2.3).
    """
    merged = {
        name: Term(name, kind, contribution * factor_a, freedom, origin)
        for name, kind, contribution, freedom, origin in a.terms
    }
    for name, kind, contribution, freedom, origin in b.terms:
        other = contribution * factor_b
        if (first := merged.get(name)) is not None:
            own = first.contribution
            total = own + other
            other = 0.0 if abs(total) <= floor * max(abs(own), abs(other)) else total
            freedom, origin = first.degrees_of_freedom, first.origin
        merged[name] = Term(name, kind, other, freedom, origin)
    return tuple(merged.values())


def components(terms: Iterable[Term], factor: float = 1.0) -> tuple[Component, ...]:
    """Terms, times a factor above zero, as the records print them."""
    return tuple(
        [
            Component(
                name=name,
                evaluation="A" if kind in FROM_REPEATS else "B",
                standard_uncertainty=abs(contribution) * factor,
                degrees_of_freedom=freedom,
                origin=origin,
            )
            for name, kind, contribution, freedom, origin in terms
        ]
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
