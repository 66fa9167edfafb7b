"""Sources of error, kept apart by name and with sign to the end, and what a derivation finds."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from benchgalley.records.results import Component, Equivalence, Interval

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


Said = str | Callable[[], str]
"""A text, or what makes it when somebody reads it."""

Groups = tuple[tuple[str, tuple[str, ...]], ...]
"""(Setpoint or sequence, run ids)."""


def said(text: Said) -> str:
    """The text itself."""
    return text if isinstance(text, str) else text()


class Budget(Protocol):
    """Contributions as the records print them."""

    @property
    def components(self) -> tuple[Component, ...]:
        """One a source; a cancelled contribution stays as zero."""
        ...


@dataclass(kw_only=True, slots=True)
class Draft:
    """What a derivation found, before it gets its address, unit and printed form."""

    value: float
    """In the unit of the relation."""
    combined: Budget | None = None
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
    """Decimals for printing when there is no uncertainty, or what finds them; None: the shortest text."""
    no_budget: str = ""
    """Why an interval is no sum of contributions, in one sentence; see `Number.no_budget`."""
    spread_for_printing: float | None = None
    """Half-width that governs the printed place when it is not that of `interval`."""


def figure(value: float, digits: int = 6) -> str:
    """A number inside a working: six significant digits, true minus."""
    text = f"{value:.{digits}g}"
    if "e" in text and 1e-4 <= abs(value) < 1e12:
        text = f"{value:.0f}"
    return text.replace("-", "\u2212")
