"""Numbers with everything that stands behind them, and the ledger that finds them by address."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import cast

from .address import Address
from .units import Unit


@dataclass(frozen=True, kw_only=True, slots=True)
class Component:
    """One named contribution to an uncertainty. Kept apart to the end: see `Number.components`."""

    name: str
    """E.g. "repeatability of tuned", "gain of clamp"."""
    evaluation: str
    """`A` from repeats, `B` from the instrument's stated limits (GUM 4.2, 4.3)."""
    standard_uncertainty: float
    """Contribution |c u| in the unit of the number."""
    degrees_of_freedom: float
    """`inf` for type B."""
    origin: str
    """What it was taken from: "5 runs at tuned", "gain error 1.5 % of clamp, rectangular"."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Interval:
    """A two-sided interval or one-sided bound."""

    low: float | None
    """None: unbounded on this side."""
    high: float | None
    confidence_pct: float
    method: str
    """E.g. "Student t with Welch-Satterthwaite degrees of freedom", "Fieller"."""

    def contains(self, value: float) -> bool:
        """Whether a value lies inside, ends included."""
        return (self.low is None or self.low <= value) and (self.high is None or value <= self.high)


class Equivalence(StrEnum):
    """Result of an equivalence question."""

    SHOWN = "shown"
    REFUTED = "refuted"
    NOT_SETTLED = "not settled"


@dataclass(frozen=True, kw_only=True, slots=True)
class Printed:
    """The one printed form of a number: text, tables, tooltips and dataset agree because they all take this."""

    value: str
    """Digits as the uncertainty carries them, with U+2212 for minus: `38.2`. "not determined" without a value."""
    text: str
    """Value and unit: `38.2 W` (no-break space)."""
    interval: str
    """E.g. "36.9 W to 39.5 W"; empty without an interval."""
    plus_minus: str
    """E.g. "38.2 W ± 1.3 W"; equals `text` where the interval is one-sided or absent."""
    decimals: int
    """Decimals the uncertainty carries (negative: place before the decimal point)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Number:
    """One computed number, with its working."""

    address: Address
    name: str
    """What it is, in words: "board power saved by tuned against stock"."""
    value: float | None
    """None: not determined, see `reason`. One-sided relations hold the bound."""
    unit: Unit
    printed: Printed
    components: tuple[Component, ...] = ()
    degrees_of_freedom: float | None = None
    """Effective (Welch-Satterthwaite); None when there is no uncertainty; may be `inf`."""
    standard_uncertainty: float | None = None
    """Combined, in the unit."""
    repeatability_interval: Interval | None = None
    """Interval from repeats alone, without the instrument's limits; what two setpoints are told apart by."""
    interval: Interval | None = None
    """Interval with every component."""
    groups: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """(setpoint or sequence, run ids) that feed it."""
    formula: str = ""
    """Plain text formula."""
    substitution: str = ""
    """The formula with the figures in it: "255.31 W - 214.02 W"."""
    source: str = ""
    """Where formula and method come from."""
    reason: str = ""
    """Why it is not determined, or a limit that must be said with it."""
    finding: Equivalence | None = None
    """For `equivalent`."""
    exact: bool = False
    """A setting or rated value: carries no uncertainty."""
    estimate: bool = False
    """A model's estimate, to be labelled so wherever it is shown."""
    adjusted: str = ""
    """Empty, or how the interval allows for several comparisons: "Dunnett, 4 settings against stock"."""
    no_budget: str = ""
    """Why a number with an interval has no contributions that add up to it, in one sentence without a full stop."""
    higher_is_better: bool | None = None
    """Direction of good news; None when neither is."""

    @property
    def runs(self) -> tuple[int, ...]:
        """Number of runs of each group."""
        return tuple(len(ids) for _, ids in self.groups)


_NOT_ASKED = object()
"""Stands for an address nobody asked for yet; None is an answer."""


class Results:
    """Finds a number by its address; computes it on first demand and keeps it.

    The function that computes comes from the derive room; every other room only looks up.
    """

    __slots__ = ("_compute", "_kept", "_list_addresses", "_rival_groups")

    def __init__(
        self,
        *,
        compute: Callable[[Address], Number | None],
        list_addresses: Callable[[str], Iterable[Address]],
        rival_groups: Callable[[Address], tuple[Address, ...]],
    ) -> None:
        self._compute = compute
        self._list_addresses = list_addresses
        self._rival_groups = rival_groups
        self._kept: dict[Address, Number | object | None] = {}

    def find(self, address: Address) -> Number | None:
        """The number, or None when no such address exists. "Not determined" is a Number with value None."""
        found = self._kept.get(address, _NOT_ASKED)
        if found is _NOT_ASKED:
            found = self._kept[address] = self._compute(address)
        return cast("Number | None", found)

    def addresses(self, scope: str) -> tuple[Address, ...]:
        """Every address of a write-up or card that has data, in table order."""
        return tuple(self._list_addresses(scope))

    def rivals(self, address: Address) -> tuple[Address, ...]:
        """Same quantity at the other setpoints (or the other points of the sequence): whom "best" is told against."""
        return self._rival_groups(address)
