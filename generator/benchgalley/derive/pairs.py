"""A setpoint beside the baseline: what the two estimates give together."""

from collections.abc import Iterable
from functools import cached_property
from typing import NamedTuple

from benchgalley.metrology.sample import NotDetermined
from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Component, Interval

from . import budget
from .allowance import Adjustment, allowance_for
from .at_setpoint import QUANTITIES, columns_needed, has_data, quantity_of
from .combining import METHODS, component, interval_of
from .drifting import Drift, drift_of
from .estimate import OWN, REPEATS, Estimate
from .estimating import estimate_at, with_unit
from .pair_sheet import PAIR_BLOCKS, PairSheet
from .session import Session
from .sheet import MEAN_BLOCKS, Block, Cell, MeanSheet, Sheets


class PairBudget(NamedTuple):
    """The budget of one relation of a pair, read from its arrays when somebody asks."""

    pair: "Pair"
    relation: str

    @property
    def components(self) -> tuple[Component, ...]:
        return self.pair.components(SAME_SOURCES.get(self.relation, self.relation))


SAME_SOURCES = {
    "at-most": "", "at-least": "", "saved": "change", "change-percent": "of-baseline",
    "saved-percent": "of-baseline",
}  # fmt: skip
"""Relations whose contributions are those of another but for the sign, which no budget prints."""

REPEATS_FIELLER = budget.FIELLER_METHOD + budget.REPEATS_ONLY


class PairSheets(Sheets):
    """The arrays of many pairs: of their means, or of their comparisons."""

    __slots__ = ("means", "pairs")

    def __init__(self, means: MeanSheet | None = None, pairs: PairSheet | None = None) -> None:
        self.means, self.pairs = means, pairs

        def compute(relation: str) -> Block:
            if means is not None:
                return MEAN_BLOCKS[relation](means)
            assert pairs is not None
            return PAIR_BLOCKS[relation](pairs)

        super().__init__(compute)


class Pair:
    """What a relation is computed from: one quantity at a setpoint, and at the baseline where it needs one."""

    def __init__(
        self,
        session: Session,
        quantity: Quantity,
        setpoint: str,
        at: Estimate,
        base: Estimate | None = None,
        drift: Drift | None = None,
        note: str = "",
    ) -> None:
        self.session = session
        self.quantity = quantity
        """With the unit it has in this write-up."""
        self.setpoint = setpoint
        self.at = at
        self.base = base
        """None for relations without a baseline. Its runs and the setpoint's never overlap."""
        self.drift = drift
        """What may have drifted between the two; None where there is no baseline or nothing can be said."""
        self.drift_note = note
        """Why drift since the baseline is not in the interval; empty when it is."""
        self._sheets: PairSheets | None = None
        self.place = 0
        """In those arrays."""
        self._components: dict[str, tuple[Component, ...]] = {}

    @property
    def baseline(self) -> Estimate:
        """The baseline's estimate where the relation needs one."""
        if self.base is None:
            raise NotDetermined("there is no baseline to compare with")
        return self.base

    @property
    def confidence_pct(self) -> float:
        """Confidence of the site, percent."""
        return self.session.confidence_pct

    @cached_property
    def repeated(self) -> bool:
        """Whether the repeatability of every side is known."""
        return self.at.repeated and (self.base is None or self.base.repeated)

    @cached_property
    def groups(self) -> budget.Groups:
        """Setpoint and baseline with their run ids."""
        own = (self.at.group, self.at.run_ids)
        return (own,) if self.base is None else (own, (self.base.group, self.base.run_ids))

    @cached_property
    def at_text(self) -> str:
        """The setpoint's mean inside a working."""
        return with_unit(budget.figure(self.at.value), self.quantity.unit)

    @cached_property
    def base_text(self) -> str:
        """The baseline's mean inside a working."""
        return with_unit(budget.figure(self.baseline.value), self.quantity.unit)

    @cached_property
    def single_run_note(self) -> str:
        """What to say when one side was run once; empty otherwise."""
        sides = [e for e in (self.at, self.base) if e is not None and e.deviation is None]
        once = [e.group for e in sides if not e.borrowed]
        borrowed = dict.fromkeys(e.borrowed for e in sides if e.borrowed)
        unknown = [f"one run at {' and at '.join(once)}: repeatability cannot be determined"] if once else []
        return "; ".join([*unknown, *borrowed])

    @cached_property
    def unknown(self) -> list[tuple[str, str]]:
        """Kind of each limit not stated, of either side, and the sentence that says so."""
        base = self.base.unknown if self.base is not None else ()
        return [(limit.kind, limit.sentence()) for limit in sorted({*self.at.unknown, *base})]

    def put(self, sheets: PairSheets, place: int) -> None:
        """Where the arrays hold this pair."""
        self._sheets, self.place = sheets, place

    @property
    def sheets(self) -> PairSheets:
        """Its arrays, made when first asked for: for every quantity of the write-up."""
        if self._sheets is None:
            sheets_of(pairs_of(self.session, self.base is not None))
        assert self._sheets is not None
        return self._sheets

    def cell(self, relation: str) -> Cell:
        """The figures of one relation; see `Sheets.cell`."""
        return self.sheets.cell(relation, self.place)

    def repeats_of(self, relation: str) -> float:
        """Standard uncertainty of a difference or ratio from repeats alone."""
        sheet, place, factor = self.sheets.pairs, self.place, self.sheets.block(relation).factor
        assert sheet is not None
        return factor * float(sheet.sums_of(relation).repeats_uncertainty[place])

    def components(self, relation: str) -> tuple[Component, ...]:
        """The budget of one relation as the records print it, made once."""
        if (found := self._components.get(relation)) is None:
            found = self._components[relation] = self._budget(relation)
        return found

    def _budget(self, relation: str) -> tuple[Component, ...]:
        """Contributions by name.

        They stand in the order of `PairSheet`, or of `MeanSheet` without a baseline.
        """
        parts, base = self.sheets.block(relation).contributions(self.place), self.base
        if base is None:
            return tuple([component(term, parts[place - REPEATS]) for place, term in self.at.places])
        found = [component(term, parts[0 if place == REPEATS else place - 1]) for place, term in self.at.places]
        if self.drift is not None:
            found.append(component(self.drift.term(), parts[1]))
        for place, term in base.places:
            if place == REPEATS:
                found.append(component(term, parts[2]))
            elif place >= OWN:
                found.append(component(term, parts[place + 2]))
        return tuple(found)

    def parts(self, relation: str) -> list[tuple[float, float]]:
        """Contribution and degrees of freedom of every source of a comparison; first those that repeats show."""
        block, sheet = self.sheets.block(relation), self.sheets.pairs
        assert sheet is not None
        return list(zip(block.contributions(self.place), sheet.freedoms_of(self.place), strict=True))

    def plain_half(self) -> float:
        """Half-width of the difference from repeats alone, not adjusted for several comparisons."""
        sheet = self.sheets.pairs
        assert sheet is not None
        return sheet.plain_half(self.place)

    def interval(self, cell: Cell, method: str = "") -> Interval | None:
        """The interval of a relation; unbounded where it has no ends. Without a method named, that of its pieces."""
        method = method or METHODS[cell.method]
        if cell.unbounded:
            return self._unbounded(method)
        return interval_of(cell.low, cell.high, self.confidence_pct, method)

    def repeats(self, cell: Cell, method: str = "", adjusted_method: str = "") -> Interval | None:
        """The interval from repeats alone; as `interval`."""
        method = method or METHODS[cell.repeats_method] + budget.REPEATS_ONLY
        if cell.adjusted:
            allowance = adjustment(self)
            assert allowance is not None
            method = adjusted_method.format(allowance=allowance.words)
        if cell.repeats_unbounded:
            return self._unbounded(method)
        return interval_of(cell.repeats_low, cell.repeats_high, self.confidence_pct, method)

    def _unbounded(self, method: str) -> Interval:
        return Interval(
            low=None, high=None, confidence_pct=self.confidence_pct,
            method=f"{method}: unbounded, the baseline is not clearly different from zero",
        )  # fmt: skip

    def adjusted(self, cell: Cell) -> str:
        """How the repeats' interval allows for several comparisons; empty when it does not."""
        allowance = adjustment(self) if cell.adjusted else None
        return allowance.words if allowance is not None else ""


def pair(session: Session, quantity: Quantity, setpoint: str, with_baseline: bool) -> Pair:
    """Gather the estimates of one comparison, once.

    Raises
    ------
    NotDetermined
        One side has no value.
    """
    kept = session.pairs.get((setpoint, quantity.key, with_baseline))
    if isinstance(kept, Pair):
        return kept
    at = estimate_at(session, setpoint, quantity.key)
    if not with_baseline:
        both = Pair(session, quantity, setpoint, at)
    else:
        base = estimate_at(session, session.baseline, quantity.key)
        both = Pair(session, quantity, setpoint, at, base, *drift_of(session, quantity, at, base))
    session.pairs[setpoint, quantity.key, with_baseline] = both
    return both


Missing = tuple[Session, str, str, bool]
"""Write-up, setpoint, quantity, whether beside the baseline: what no number can be had for."""


def every_pair(sessions: Iterable[Session]) -> tuple[list[Pair], list[Pair], list[Missing]]:
    """(Every setpoint and quantity alone, each beside its baseline, those that have no value)."""
    alone: list[Pair] = []
    both: list[Pair] = []
    missing: list[Missing] = []
    for session in sessions:
        baseline, setpoints = session.baseline, list(session.write_up.setpoints)
        for key in QUANTITIES:
            if not has_data(session, key):
                continue
            quantity = quantity_of(session, key)
            assert quantity is not None
            for setpoint in setpoints:
                try:
                    alone.append(pair(session, quantity, setpoint, False))
                except NotDetermined:
                    missing.append((session, setpoint, key, False))
                if setpoint == baseline:
                    continue
                try:
                    both.append(pair(session, quantity, setpoint, True))
                except NotDetermined:
                    missing.append((session, setpoint, key, True))
    return alone, both, missing


def pairs_of(session: Session, with_baseline: bool) -> list[Pair]:
    """Every setpoint with every quantity that it has runs with, beside the baseline or alone."""
    found: list[Pair] = []
    names = [name for name in session.setpoints if not with_baseline or name != session.baseline]
    for key in QUANTITIES:
        if (quantity := quantity_of(session, key)) is None or not session.columns.issuperset(columns_needed(key)):
            continue
        for name in names:
            try:
                found.append(pair(session, quantity, name, with_baseline))
            except NotDetermined:
                continue
    return found


def sheets_of(pairs: list[Pair]) -> PairSheets:
    """The arrays of some pairs, all beside a baseline or all alone; each pair then reads its numbers there."""
    pct, at = pairs[0].confidence_pct, [pair.at for pair in pairs]
    if pairs[0].base is None:
        found = PairSheets(means=MeanSheet(at, pct))
    else:
        drifts = [(d.contribution, d.degrees_of_freedom) if (d := p.drift) is not None else NO_DRIFT for p in pairs]
        allowances = [adjustment(pair) for pair in pairs]
        found = PairSheets(pairs=PairSheet(at, [pair.baseline for pair in pairs], drifts, allowances, pct))
    for place, pair_ in enumerate(pairs):
        pair_.put(found, place)
    return found


NO_DRIFT = (0.0, float("inf"))


def shifted(interval: Interval | None, factor: float) -> Interval | None:
    """factor · interval, the factor above zero."""
    if interval is None:
        return None
    low = None if interval.low is None else factor * interval.low
    high = None if interval.high is None else factor * interval.high
    return Interval(low=low, high=high, confidence_pct=interval.confidence_pct, method=interval.method)


def adjustment(both: Pair) -> Adjustment | None:
    """The allowance for several comparisons of this quantity with the baseline, found once."""
    session, key = both.session, both.quantity.key
    if key not in session.allowances:
        others: list[Estimate] = []
        for name in session.write_up.setpoints:
            if name == session.baseline:
                continue
            try:
                others.append(estimate_at(session, name, both.quantity.key))
            except NotDetermined:
                continue
        label = session.label(session.baseline)
        session.allowances[key] = allowance_for(both.baseline, others, label, session.confidence_pct)
    return session.allowances[key]
