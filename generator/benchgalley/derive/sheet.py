"""Means of many setpoints at once, and what a relation of many is: every array has one element a number."""

import math
from collections.abc import Callable, Mapping, Sequence
from functools import cached_property, lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from benchgalley.metrology.cells import TROUBLES
from benchgalley.metrology.mean_interval import deviation_interval
from benchgalley.metrology.sample import Array, NotDetermined

from .combining import Sums, half_widths, half_widths_at, sums
from .estimate import COUNT, DEVIATION, REPEATS, VALUE, Estimate, rows_of

ZERO_BASELINE = "the baseline is zero, so nothing can be said in proportion to it"
TOO_LARGE = "the values are too large to compute with"
NO_SPREAD = "every run gave the same value: the spread cannot be estimated"
FAR_FANS = "the fan speeds lie too far apart for their ratio to be computed"
STILL_FAN = "a fan stood still, and the fan law says nothing of that"
ONE_RUN = "one run"
"""Stands for what is said of single runs, which names them."""

ONE_SAMPLE = "one sample: nothing can be said about the spread between samples"
ONE_SAMPLE_WITHIN = "one sample: see the spread of its own runs"
NONE_TWICE = "no sample was run twice: the spread within samples cannot be estimated"
SAME_MEANS = "all samples have the same mean: the spread between them cannot be estimated"
SAME_VALUES = "all samples gave the same value: the spread between them cannot be estimated"
NO_SAMPLE = "no sample has a value"

REASONS = (
    *TROUBLES, ZERO_BASELINE, TOO_LARGE, NO_SPREAD, STILL_FAN, FAR_FANS, ONE_RUN, ONE_SAMPLE, ONE_SAMPLE_WITHIN,
    NONE_TWICE, SAME_MEANS, SAME_VALUES, NO_SAMPLE,
)  # fmt: skip
"""What `Cell.trouble` means; 0: none."""

CODE = {reason: code for code, reason in enumerate(REASONS)}


class Cell(NamedTuple):
    """One number; not a number (nan) stands for what it has not. In a block the same fields hold arrays."""

    value: float
    standard_uncertainty: float
    degrees_of_freedom: float
    low: float
    high: float
    repeats_low: float
    repeats_high: float
    half_width: float
    """Distance of a one-sided bound from the mean."""
    trouble: int
    """Place in `REASONS`; 0: determined."""
    unbounded: bool
    """Every value belongs to the interval."""
    repeats_unbounded: bool
    adjusted: bool
    """Whether the repeats' interval allows for several comparisons."""
    method: int
    """Place in `METHODS` of how the interval is made; 0: not by Student's t."""
    repeats_method: int


class Block:
    """One relation of every setpoint of a sheet."""

    __slots__ = ("_cells", "_contributions", "_methods", "columns", "factor", "one_sided", "sources")

    def __init__(
        self,
        columns: dict[str, NDArray[Any]],
        sources: Array | None = None,
        factor: float = 1.0,
        one_sided: float = 0.0,
        methods: Callable[[], tuple[NDArray[np.int_], NDArray[np.int_]]] | None = None,
    ) -> None:
        size = len(columns["value"])
        absent, no = np.full(size, math.nan), np.zeros(size, dtype=bool)
        codes = columns.pop("trouble", np.zeros(size, dtype=np.int8))
        flags = {name: columns.pop(name, no) for name in ("unbounded", "repeats_unbounded", "adjusted")}
        # what overflowed is no number for a page, whichever figure of it did
        fine = np.isfinite(columns["value"])
        for name, figure in columns.items():
            if name not in ("value", "degrees_of_freedom"):
                fine &= ~np.isinf(figure)
        codes = np.where((codes == 0) & ~fine, CODE[TOO_LARGE], codes)
        figures = {name: columns.get(name, absent) for name in Cell._fields[:8]}
        self.columns: Mapping[str, NDArray[Any]] = {**figures, "trouble": codes, **flags}
        self.sources = sources if sources is None or factor == 1.0 else sources * factor
        """Signed contributions, sources by numbers; None where the number has no budget."""
        self.factor = factor
        """What they were multiplied by."""
        self.one_sided = one_sided
        """1 where the interval is an upper bound, -1 for a lower one, else 0."""
        self._methods = methods
        self._cells: list[Cell] | None = None
        self._contributions: list[list[float]] | None = None

    def cell(self, place: int) -> Cell:
        """One element of every column."""
        if self._cells is None:
            none = np.zeros(len(self.columns["value"]), dtype=np.int8)
            columns = [*self.columns.values(), *(self._methods() if self._methods is not None else (none, none))]
            self._cells = list(map(Cell._make, zip(*[column.tolist() for column in columns], strict=True)))
        return self._cells[place]

    def contributions(self, place: int) -> list[float]:
        """Signed contributions to one number."""
        if self._contributions is None:
            assert self.sources is not None
            self._contributions = self.sources.T.tolist()
        return self._contributions[place]


def known(found: Sums) -> dict[str, Array]:
    """Uncertainty and degrees of freedom where there is any."""
    u = found.standard_uncertainty
    some = u != 0
    return {
        # what overflowed on the way has none that could be written down
        "standard_uncertainty": np.where(some, np.where(np.isnan(u), math.inf, u), math.nan),
        "degrees_of_freedom": np.where(some, found.degrees_of_freedom, math.nan),
    }


class Sheets:
    """Arrays of many numbers and the relations found from them so far."""

    __slots__ = ("_blocks", "_compute")

    def __init__(self, compute: Callable[[str], Block]) -> None:
        self._compute = compute
        self._blocks: dict[str, Block] = {}

    def block(self, relation: str) -> Block:
        """One relation of every number, found once."""
        if (found := self._blocks.get(relation)) is None:
            # what cannot be computed shows in the block as trouble
            with np.errstate(all="ignore"):
                found = self._blocks[relation] = self._compute(relation)
        return found

    def cell(self, relation: str, place: int) -> Cell:
        """The figures of one relation of one number.

        Raises
        ------
        NotDetermined
            There are none.
        """
        found = self.block(relation).cell(place)
        if found.trouble:
            raise NotDetermined(REASONS[found.trouble])
        return found


class MeanSheet:
    """Means of many setpoints, each with what it says of itself."""

    def __init__(self, estimates: Sequence[Estimate], confidence_pct: float) -> None:
        self._rows = rows_of(estimates)
        self._pct = confidence_pct
        self.value, self.deviation, self.count = self._rows[VALUE], self._rows[DEVIATION], self._rows[COUNT]
        self.repeated = ~np.isnan(self.deviation)
        self.sources = self._rows[REPEATS:]
        freedoms = np.maximum(self.count - 1, 1.0)
        with np.errstate(all="ignore"):
            self.sums = sums(self.sources[:1], freedoms[None], self.sources[1:])

    def mean(self) -> Block:
        """Mean with its expanded uncertainty."""
        whole, repeats = (np.where(self.repeated, half, math.nan) for half in half_widths(self.sums, self._pct))
        return Block(
            {
                "value": self.value, **known(self.sums), "low": self.value - whole, "high": self.value + whole,
                "repeats_low": self.value - repeats, "repeats_high": self.value + repeats,
            },
            self.sources,
            methods=self.sums.methods,
        )  # fmt: skip

    @cached_property
    def _one_sided(self) -> Array:
        return half_widths_at(self.sums, 1 - self._pct / 100)[0]

    def bound(self, side: float) -> Block:
        """One-sided bound of the mean: upper with side 1, lower with side -1."""
        u, half = self.sums.standard_uncertainty, self._one_sided
        bound = self.value + side * half
        some = u > 0
        trouble = np.where(self.repeated, np.where(some, 0, CODE[NO_SPREAD]), CODE[ONE_RUN])
        return Block(
            {
                "value": np.where(some, bound, 0.0), **known(self.sums), "high" if side > 0 else "low": bound,
                "half_width": half, "trouble": trouble,
            },
            self.sources,
            one_sided=side,
            methods=self.sums.methods,
        )  # fmt: skip

    def spread(self) -> Block:
        """Repeatability standard deviation with its chi-square interval."""
        count, place = np.unique(self.count, return_inverse=True)
        factors = np.array([deviation_factors(int(n) - 1, self._pct) for n in count]).reshape(-1, 2)[place]
        some = self.deviation > 0
        low, high = (np.where(some, factors[:, k] * self.deviation, math.nan) for k in (0, 1))
        return Block(
            {
                "value": np.where(self.repeated, self.deviation, 0.0), "degrees_of_freedom": self.count - 1,
                "low": low, "high": high, "repeats_low": low, "repeats_high": high,
                "trouble": np.where(self.repeated, 0, CODE[ONE_RUN]),
            }
        )  # fmt: skip

    def runs(self) -> Block:
        """Number of completed runs that have a value."""
        return Block({"value": self.count})


@lru_cache(maxsize=4096)
def deviation_factors(degrees_of_freedom: int, confidence_pct: float) -> tuple[float, float]:
    """Ends of the chi-square interval of a standard deviation of one."""
    if degrees_of_freedom < 1:
        return math.nan, math.nan
    found = deviation_interval(1.0, degrees_of_freedom, confidence_pct / 100)
    return found.low, found.high


MEAN_BLOCKS: Mapping[str, Callable[[MeanSheet], Block]] = {
    "": lambda sheet: sheet.mean(),
    "spread": lambda sheet: sheet.spread(),
    "runs": lambda sheet: sheet.runs(),
    "at-most": lambda sheet: sheet.bound(1.0),
    "at-least": lambda sheet: sheet.bound(-1.0),
}
"""Relation → its numbers, for relations of a setpoint alone."""
