"""Numbers with everything that stands behind them, and the ledger that finds them by address."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple, cast

from .address import Address
from .units import Unit


class Component(NamedTuple):
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


class Interval(NamedTuple):
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


class Printed(NamedTuple):
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
        return tuple([len(ids) for _, ids in self.groups])


class Table:
    """Figures of many numbers, one column a figure; nan stands for what a number has not."""

    __slots__ = (
        "_addresses", "_list_addresses", "contributions", "degrees_of_freedom", "high", "low", "repeats_high",
        "repeats_low", "sources", "standard_uncertainty", "value",
    )  # fmt: skip

    def __init__(
        self,
        *,
        list_addresses: Callable[[], tuple[Address, ...]],
        value: Sequence[float],
        standard_uncertainty: Sequence[float],
        degrees_of_freedom: Sequence[float],
        low: Sequence[float],
        high: Sequence[float],
        repeats_low: Sequence[float],
        repeats_high: Sequence[float],
        contributions: Sequence[Sequence[float]],
        sources: tuple[str, ...],
    ) -> None:
        self._list_addresses = list_addresses
        self._addresses: tuple[Address, ...] | None = None
        self.value = value
        """`Number.value`; nan: not determined, and then every other figure too."""
        self.standard_uncertainty = standard_uncertainty
        self.degrees_of_freedom = degrees_of_freedom
        self.low = low
        """Lower end of `Number.interval`, minus infinity where it is unbounded on this side."""
        self.high = high
        self.repeats_low = repeats_low
        """Ends of `Number.repeatability_interval`."""
        self.repeats_high = repeats_high
        self.contributions = contributions
        """Signed contributions, unit of the number: one row a number, one column a source, 0 where it is none."""
        self.sources = sources
        """What the columns of `contributions` are; names and origins of one number's: `Number.components`."""

    def __len__(self) -> int:
        return len(self.value)

    @property
    def addresses(self) -> tuple[Address, ...]:
        """Which number each row is."""
        if self._addresses is None:
            self._addresses = self._list_addresses()
        return self._addresses


_NOT_ASKED = object()
"""Stands for an address nobody asked for yet; None is an answer."""


class Results:
    """Finds a number by its address; computes it on first demand and keeps it.

    The function that computes comes from the derive room; every other room only looks up.
    """

    __slots__ = ("_compute", "_kept", "_let_go", "_list_addresses", "_rival_groups", "_tabulate")

    def __init__(
        self,
        *,
        compute: Callable[[Address], Number | None],
        list_addresses: Callable[[str], Iterable[Address]],
        rival_groups: Callable[[Address], tuple[Address, ...]],
        tabulate: Callable[[Iterable[str], Callable[[Address], Number | None]], Table] | None = None,
        let_go: Callable[[], None] | None = None,
    ) -> None:
        self._compute = compute
        self._list_addresses = list_addresses
        self._rival_groups = rival_groups
        self._tabulate = tabulate
        self._let_go = let_go
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

    def forget(self) -> None:
        """Drop every number that was computed; one that is asked for again is computed again."""
        self._kept.clear()
        if self._let_go is not None:
            self._let_go()

    def table(self, scopes: Iterable[str]) -> Table:
        """The figures of every address of some write-ups and cards, computed together; in no order to rely on."""
        if self._tabulate is None:
            raise LookupError("this ledger finds single numbers only")
        return self._tabulate(scopes, self.find)

    def rivals(self, address: Address) -> tuple[Address, ...]:
        """Same quantity at the other setpoints (or the other points of the sequence): whom "best" is told against."""
        return self._rival_groups(address)
