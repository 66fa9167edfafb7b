"""One quantity at one setpoint, sample by sample, and the arrays its figures stand in."""

from collections.abc import Callable, Sequence
from itertools import chain
from typing import NamedTuple

import numpy as np

from benchgalley.metrology.sample import NotDetermined
from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Component

from . import budget
from .at_setpoint import QUANTITIES, quantity_of
from .budget import Term
from .combining import component
from .estimate import MOST_COLUMNS, OWN, SHARED
from .estimating import estimate_at
from .pairs import Pair, PairSheets, every_pair, sheets_of
from .sample_runs import Pool, pool, pool_columns
from .sample_sheet import SAMPLE_BLOCKS, SampleSheet
from .session import Session
from .sheet import Block, Cell, Sheets


class SampleSheets(Sheets):
    """The arrays of many samples."""

    __slots__ = ("sheet",)

    def __init__(self, sheet: SampleSheet) -> None:
        self.sheet = sheet

        def compute(relation: str) -> Block:
            found = SAMPLE_BLOCKS.get(relation)
            return found(sheet) if found is not None else sheet.against_baseline(relation)

        super().__init__(compute)


class Samples:
    """One quantity at one setpoint, sample by sample."""

    __slots__ = ("_groups", "_sheets", "against", "own", "place", "pool", "quantity")

    def __init__(
        self,
        pool: Pool,
        quantity: Quantity,
        own: list[tuple[str, list[Pair]]],
        against: list[tuple[str, list[Pair]]],
    ) -> None:
        self.pool = pool
        self.quantity = quantity
        self.own = own
        """Sample id and its means, one a write-up; samples that have one."""
        self.against = against
        """Sample id and its comparisons with the baseline, one a write-up."""
        self.place = 0
        """In the arrays."""
        self._sheets: SampleSheets | None = None
        self._groups: budget.Groups | None = None

    def put(self, sheets: SampleSheets, place: int) -> None:
        """Where the arrays hold it."""
        self._sheets, self.place = sheets, place

    @property
    def sheets(self) -> SampleSheets:
        """Its arrays."""
        assert self._sheets is not None
        return self._sheets

    def cell(self, relation: str) -> Cell:
        """The figures of one relation; see `Sheets.cell`."""
        return self.sheets.cell(relation, self.place)

    @property
    def means(self) -> list[float]:
        """Mean of each sample."""
        found: list[float] = self.sheets.sheet.mean_of[self.place, : len(self.own)].tolist()
        return found

    @property
    def centre(self) -> float:
        """Mean of the sample means."""
        return float(self.sheets.sheet.centre[self.place])

    @property
    def spread(self) -> float:
        """Standard deviation of the sample means."""
        return float(self.sheets.sheet.spread[self.place])

    @property
    def counts(self) -> list[float]:
        """Runs of each sample."""
        found: list[float] = self.sheets.sheet.count[self.place, : len(self.own)].tolist()
        return found

    def variance(self, name: str) -> float:
        """One of the figures of `Variances`."""
        return float(getattr(self.sheets.sheet.variances, name)[self.place])

    def groups(self) -> budget.Groups:
        """Samples with their run ids, listed once."""
        if self._groups is None:
            self._groups = tuple(
                [(f"sample {name}", tuple(chain(*[pair.at.run_ids for pair in found]))) for name, found in self.own]
            )
        return self._groups

    def own_half_width(self) -> float | None:
        """Half-width of the interval of a single sample's own mean: what its digits are worth."""
        if len(self.own) != 1 or len(self.own[0][1]) != 1:
            return None
        try:
            cell = self.own[0][1][0].cell("")
        except NotDetermined:
            return None
        half = (cell.high - cell.low) / 2
        return half if half > 0 else None

    def few_note(self, count: int) -> str:
        """The plain statement for one or two samples; empty for more."""
        if count == 1:
            return "one sample: nothing can be said about other cards of this model"
        if count == 2:
            return "two samples: their spread rests on one degree of freedom, hence the width"
        return ""

    def components(self, relation: str, count: int, origin: str) -> tuple[Component, ...]:
        """The budget of one relation over `count` samples as the records print it."""
        spread, *limits = self.sheets.block(relation).contributions(self.place)
        term = Term("spread between samples", budget.REPEATABILITY, spread, float(count - 1), origin)
        found = [component(term, spread)]
        if limits:
            shared = shared_limits(self)
            found += [
                component(term, limits[place - SHARED])
                for place, term in self.own[0][1][0].at.places
                if SHARED <= place < OWN and shared[place - SHARED]
            ]
        return tuple(found)


class SampleBudget(NamedTuple):
    """The budget of one relation over samples, read from its arrays when somebody asks."""

    samples: Samples
    relation: str
    entering: int
    """How many samples enter."""
    origin_of: Callable[[], str]
    """What the spread between samples was taken from."""

    @property
    def components(self) -> tuple[Component, ...]:
        return self.samples.components(self.relation, self.entering, self.origin_of())


def shared_limits(samples: Samples) -> list[bool]:
    """Gain and offset of each column: whether one instrument of the bench measured every sample.

    A card's own sensor is part of the spread.
    """
    every = [found[0].at.channels for _, found in samples.own]
    own = samples.pool.card_instruments
    found: list[bool] = []
    for channels in zip(*every, strict=True):
        one = channels[0]
        same = one.source not in own and all(channel.shared == one.shared for channel in channels)
        found.append(same and all(channel.gain is not None for channel in channels))
        found.append(same and all(channel.offset is not None for channel in channels))
    return found + [False] * (2 * MOST_COLUMNS - len(found))


def gather_samples(sessions: Sequence[Session], card: str) -> dict[tuple[str, str], Samples]:
    """(Setpoint, quantity) → its samples, for all that a card has; their pairs must have been gathered."""
    found: dict[tuple[str, str], Samples] = {}
    for setpoint in dict.fromkeys(name for session in sessions for name in session.write_up.setpoints):
        for key in QUANTITIES:
            pooled = pool(sessions, card, setpoint, pool_columns(key))
            if pooled is None or (quantity := quantity_of(pooled.first, key)) is None:
                continue
            own = _pairs(pooled, setpoint, key, False)
            if own:
                found[setpoint, key] = Samples(pooled, quantity, own, _pairs(pooled, setpoint, key, True))
    return found


def _pairs(pooled: Pool, setpoint: str, key: str, with_baseline: bool) -> list[tuple[str, list[Pair]]]:
    asked = (setpoint, key, with_baseline)
    found = []
    for name, sessions in pooled.samples:
        if own := [pair for session in sessions if isinstance(pair := session.pairs.get(asked), Pair)]:
            found.append((name, own))
    return found


def put_samples(samples: Sequence[Samples], means: PairSheets, pairs: PairSheets | None) -> SampleSheets:
    """The arrays of some samples, made from those of their means and comparisons."""
    assert means.means is not None
    own = _places([found.own for found in samples])
    shared = np.array([shared_limits(found) for found in samples], dtype=bool)
    against = _places([found.against for found in samples])

    def compared(relation: str) -> Block:
        assert pairs is not None
        return pairs.block(relation)

    with np.errstate(all="ignore"):
        sheet = SampleSheet(means.means, own, shared, against, compared, samples[0].pool.confidence_pct)
    sheets = SampleSheets(sheet)
    for place, found in enumerate(samples):
        found.put(sheets, place)
    return sheets


def _places(samples: Sequence[list[tuple[str, list[Pair]]]]) -> "np.ndarray[tuple[int, ...], np.dtype[np.intp]]":
    """Places of pairs in their arrays: numbers by samples by write-ups, -1 for none."""
    most = max(map(len, samples), default=0) or 1
    widest = max((len(pairs) for found in samples for _, pairs in found), default=0) or 1
    nobody = [-1] * widest
    rows = [
        [*[[*[pair.place for pair in pairs], *nobody[len(pairs) :]] for _, pairs in found],
         *[nobody] * (most - len(found))]
        for found in samples
    ]  # fmt: skip
    return np.array(rows, dtype=np.intp).reshape(-1, most, widest)


def samples_of(sessions: Sequence[Session], found: Pool, key: str) -> Samples:
    """Estimates of every sample that has one, gathered once for the whole card.

    Raises
    ------
    NotDetermined
        No sample has a value.
    """
    kept, name = sessions[0].samples, found.card
    if name not in kept:
        alone, both, _ = every_pair(sessions)
        gathered = gather_samples(sessions, found.card)
        kept[name] = dict(gathered)
        if gathered:
            put_samples(list(gathered.values()), sheets_of(alone), sheets_of(both) if both else None)
    samples = kept[name].get((found.setpoint, key))
    if not isinstance(samples, Samples):
        raise NotDetermined(_why_none(found, key))
    return samples


def _why_none(found: Pool, key: str) -> str:
    quantity = quantity_of(found.first, key)
    reason = f"no sample has a value for {quantity.name if quantity is not None else key}"
    for _, sessions in found.samples:
        for session in sessions:
            try:
                estimate_at(session, found.setpoint, key)
            except NotDetermined as problem:
                reason = problem.reason
    return reason
