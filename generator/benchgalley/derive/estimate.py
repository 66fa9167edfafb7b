"""A quantity at a setpoint: its value, the runs behind it and its sources of error, kept apart by name and sign."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from benchgalley.metrology.sample import Array

from . import budget
from .budget import Term
from .runs import Runs


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


class Channel(NamedTuple):
    """Limits of the instrument behind a column, as they enter every estimate from it."""

    column: str
    quantity: str
    """Name of what the column holds."""
    shared: str
    """Instrument and quantity, as gain and offset carry them: every reading of the channel has the same error."""
    source: str
    """Name of the instrument."""
    gain: float | None
    """Standard uncertainty of the gain as a share of the reading; None: no such contribution."""
    gain_origin: str
    offset: float | None
    """Standard uncertainty of the offset, unit of the column; None: no such contribution."""
    offset_origin: str
    step: float
    """Resolution, unit of the column; 0: none stated."""
    unknown: tuple[UnknownLimit, ...]
    """Limits nobody stated."""


MOST_COLUMNS = 3
"""Readings a derived quantity is made from, at most."""

VALUE, DEVIATION, COUNT, REPEATS, SHARED = 0, 1, 2, 3, 4
OWN = SHARED + 2 * MOST_COLUMNS
WIDTH = OWN + MOST_COLUMNS
"""Places in `Estimate.row`: gain and offset of each column from `SHARED`, resolution of each from `OWN`."""


class Estimate:
    """A quantity at a setpoint: its value, the runs behind it and its error terms."""

    __slots__ = (
        "_places", "borrowed", "channels", "column", "deviation", "deviations", "extra", "group", "quantity", "row",
        "runs", "value", "working_of",
    )  # fmt: skip

    def __init__(
        self,
        *,
        value: float,
        group: str,
        quantity: str,
        runs: Runs,
        deviations: list[float],
        deviation: float | None,
        channels: tuple[Channel, ...],
        row: tuple[float, ...],
        working_of: Callable[[], str],
        column: str = "",
        extra: tuple[Term, ...] = (),
        borrowed: str = "",
    ) -> None:
        self.value = value
        """Unit of the quantity."""
        self.group = group
        """Setpoint it belongs to."""
        self.quantity = quantity
        """Name of the quantity."""
        self.runs = runs
        """The runs, in file order."""
        self.deviations = deviations
        """Value less mean of each run; for derived quantities linearised about the means. Same unit."""
        self.deviation = deviation
        """Repeatability standard deviation, divisor n - 1; None with one run."""
        self.channels = channels
        """Where each column comes from."""
        self.row = row
        """Value, deviation, number of runs and signed contributions, by place: see `VALUE` and the following."""
        self.working_of = working_of
        """Gives the formula with figures in it."""
        self.column = column
        """Measured column; empty for derived values."""
        self.extra = extra
        """Further contributions."""
        self.borrowed = borrowed
        """For one run: where its repeatability was taken from, as said beside the number; else empty."""
        self._places: list[tuple[int, Term]] | None = None

    @property
    def places(self) -> list[tuple[int, Term]]:
        """Every known contribution with its place in `row`."""
        if self._places is None:
            self._places = self._named()
        return self._places

    def _named(self) -> list[tuple[int, Term]]:
        row = self.row
        found: list[tuple[int, Term]] = []
        if self.deviation is not None:
            origin = f"{self.count} runs at {self.group}, s = {budget.figure(self.deviation)}"
            name = f"repeatability of {self.quantity} at {self.group}"
            found.append((REPEATS, Term(name, budget.REPEATABILITY, row[REPEATS], float(self.count - 1), origin)))
        for k, channel in enumerate(self.channels):
            for place, kind, known, origin in (
                (SHARED + 2 * k, budget.GAIN, channel.gain, channel.gain_origin),
                (SHARED + 2 * k + 1, budget.OFFSET, channel.offset, channel.offset_origin),
            ):
                if known is not None:
                    found.append((place, Term(f"{kind} of {channel.shared}", kind, row[place], math.inf, origin)))
            if (step := self._step(channel)) > 0:
                source = channel.source if channel.step else "trials file"
                name = f"resolution of {channel.quantity} at {self.group}"
                origin = f"{source}: steps of {budget.figure(step)}, rectangular"
                found.append((OWN + k, Term(name, budget.RESOLUTION, row[OWN + k], math.inf, origin)))
        return found

    def _step(self, channel: Channel) -> float:
        """Resolution of a column; that of the trials file where repeats show no spread and no other is known."""
        return channel.step or (self.runs.typed_step(channel.column) if self.deviation == 0 else 0.0)

    @property
    def terms(self) -> tuple[Term, ...]:
        """Every known contribution."""
        return (*[term for _, term in self.places], *self.extra)

    @property
    def unknown(self) -> tuple[UnknownLimit, ...]:
        """Limits not stated."""
        return tuple([limit for channel in self.channels for limit in channel.unknown])

    @property
    def per_run(self) -> tuple[float, ...]:
        """Value of each run, parallel to `runs`."""
        if self.column:
            return tuple(self.runs.values(self.column))
        return tuple([self.value + deviation for deviation in self.deviations])

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
        return self.row[REPEATS]

    @property
    def run_ids(self) -> tuple[str, ...]:
        """Ids of the runs."""
        return self.runs.ids

    @property
    def repeated(self) -> bool:
        """Whether its repeatability is known, from its own runs or from those of other setpoints."""
        return self.deviation is not None or bool(self.borrowed)

    def with_terms(self, extra: Iterable[Term], borrowed: str) -> "Estimate":
        """The same estimate with further contributions."""
        return Estimate(
            value=self.value, group=self.group, quantity=self.quantity, runs=self.runs, deviations=self.deviations,
            deviation=self.deviation, channels=self.channels, row=self.row, working_of=self.working_of,
            column=self.column, extra=(*self.extra, *extra), borrowed=borrowed,
        )  # fmt: skip


def row_of(
    value: float, deviation: float | None, count: int, shared: Sequence[float], own: Sequence[float]
) -> tuple[float, ...]:
    """`Estimate.row`; repeats contribute s/√n with n - 1 degrees of freedom (JCGM 100:2008, 4.2.3).

    Parameters
    ----------
    shared : sequence of float
        Gain and offset of each column in turn.
    own : sequence of float
        Resolution of each column.
    """
    rest = MOST_COLUMNS - len(own)
    repeats = deviation / math.sqrt(count) if deviation else 0.0
    spread = math.nan if deviation is None else deviation
    return (value, spread, count, repeats, *shared, *(0.0, 0.0) * rest, *own, *(0.0,) * rest)


def rows_of(estimates: Sequence[Estimate]) -> Array:
    """Rows of many estimates as columns: first axis the places, second the estimates."""
    return np.ascontiguousarray(np.array([found.row for found in estimates], dtype=np.float64).reshape(-1, WIDTH).T)


def say_unknown(unknown: Iterable[UnknownLimit]) -> str:
    """One sentence on every limit that is not stated; empty when all are."""
    return "; ".join(limit.sentence() for limit in sorted(set(unknown)))
