"""All figures of many write-ups and cards at once, in columns."""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, TypeVar, cast

import numpy as np

from benchgalley.metrology.sample import Array
from benchgalley.records.address import Address
from benchgalley.records.results import Interval, Number, Table

from .estimate import MOST_COLUMNS
from .over_samples import SAMPLE_RELATIONS
from .pair_sheet import FAN_SOUND, PAIR_BLOCKS
from .pairs import Pair, PairSheets, every_pair, sheets_of
from .sample_numbers import COMPARED_BY_SAMPLE, addresses_beside_samples
from .samples import Samples, gather_samples, put_samples
from .sequence_numbers import count_addresses, sequence_addresses
from .session import Session
from .setpoint_numbers import addresses_beside_relations
from .sheet import MEAN_BLOCKS, Block

SOURCES = (
    "repeats of the setpoint, or spread between samples",
    "drift since the baseline",
    "repeats of the baseline",
    *[f"{kind} of reading {k + 1}" for k in range(MOST_COLUMNS) for kind in ("gain", "offset")],
    *[f"resolution of reading {k + 1}" for k in range(MOST_COLUMNS)],
    *[f"resolution of reading {k + 1} at the baseline" for k in range(MOST_COLUMNS)],
    "all sources together, where they are others",
)
"""Columns of `Table.contributions`; the first to the last but one as `PairSheet` has them."""

_OF_MEANS = (0, *range(3, 3 + 3 * MOST_COLUMNS))
"""Columns of what `MeanSheet` has."""

FIGURES = (
    "value", "standard_uncertainty", "degrees_of_freedom", "low", "high", "repeats_low", "repeats_high",
)  # fmt: skip

FAN_SPEED = "fan-speed"

Row = tuple[float, ...]
P = TypeVar("P", Pair, Samples)
"""What has a place in a block."""


class Parts:
    """Blocks of rows, one after another."""

    def __init__(self) -> None:
        self.figures: list[Array] = []
        self.contributions: list[Array] = []
        self.addresses: list[Callable[[], Iterable[Address]]] = []

    def add(self, figures: Array, contributions: Array, addresses: Callable[[], Iterable[Address]]) -> None:
        """Rows: figures by numbers, sources by numbers."""
        self.figures.append(figures)
        self.contributions.append(contributions)
        self.addresses.append(addresses)

    def add_block(
        self,
        block: Block,
        columns: Sequence[int],
        chosen: Sequence[P],
        address_of: Callable[[P, str], Address],
        relation: str,
    ) -> None:
        """Some numbers of a block; `columns` are the places of its sources among `SOURCES`."""
        found = block.columns
        figures = np.stack([found[name] for name in FIGURES])
        figures[3:5, found["unbounded"]] = ((-math.inf,), (math.inf,))
        figures[5:7, found["repeats_unbounded"]] = ((-math.inf,), (math.inf,))
        if block.one_sided:
            figures[3 if block.one_sided > 0 else 4] = -math.inf * block.one_sided
        contributions = np.zeros((len(SOURCES), figures.shape[1]))
        if block.sources is not None:
            with np.errstate(over="ignore"):
                contributions[list(columns)] = block.sources
        none = found["trouble"] != 0
        if none.any():
            figures[:, none], contributions[:, none] = math.nan, 0.0
        if len(chosen) < figures.shape[1]:
            places = [one.place for one in chosen]
            figures, contributions = figures[:, places], contributions[:, places]
        self.add(figures, contributions, lambda: [address_of(one, relation) for one in chosen])

    def add_numbers(self, numbers: Sequence[Number]) -> None:
        """Numbers computed one by one."""
        rows = np.array([_row(number) for number in numbers], dtype=np.float64).reshape(-1, len(FIGURES)).T
        contributions = np.zeros((len(SOURCES), len(numbers)))
        contributions[-1] = [number.standard_uncertainty or 0.0 if number.components else 0.0 for number in numbers]
        self.add(rows, contributions, lambda: [number.address for number in numbers])

    def table(self) -> Table:
        """The whole."""
        figures: Any = np.concatenate(self.figures, axis=1)
        contributions: Any = np.concatenate(self.contributions, axis=1)
        return Table(
            list_addresses=lambda: tuple(address for made in self.addresses for address in made()),
            contributions=cast(Sequence[Sequence[float]], contributions.T), sources=SOURCES,
            **dict(zip(FIGURES, figures, strict=True)),
        )  # fmt: skip


def _row(number: Number) -> Row:
    if (value := number.value) is None:
        return (math.nan,) * len(FIGURES)
    u, freedom = number.standard_uncertainty, number.degrees_of_freedom
    return (
        value, math.nan if u is None else u, math.nan if freedom is None else freedom, *_ends(number.interval),
        *_ends(number.repeatability_interval),
    )  # fmt: skip


def _ends(interval: Interval | None) -> tuple[float, float]:
    if interval is None:
        return math.nan, math.nan
    return (
        -math.inf if interval.low is None else interval.low,
        math.inf if interval.high is None else interval.high,
    )  # fmt: skip


def tabulate(
    sessions: Sequence[Session],
    cards: Mapping[str, Sequence[Session]],
    find: Callable[[Address], Number | None],
) -> Table:
    """The figures of every number of some write-ups and cards, in one pass over all of them.

    Parameters
    ----------
    sessions : sequence of Session
        The write-ups.
    cards : mapping
        Card → every write-up about it.
    find : callable
        Computes what no array holds: settings, counts, sequences, equivalence, the trade front.
    """
    parts = Parts()
    every = list(dict.fromkeys([*sessions, *(session for found in cards.values() for session in found)]))
    alone, both, missing = every_pair(every)
    wanted = frozenset(sessions)
    means = sheets_of(alone) if alone else None
    pairs = sheets_of(both) if both else None
    if means is not None:
        chosen = [pair for pair in alone if pair.session in wanted]
        for relation in MEAN_BLOCKS:
            parts.add_block(means.block(relation), _OF_MEANS, chosen, _of_pair, relation)
    if pairs is not None:
        chosen = [pair for pair in both if pair.session in wanted]
        fans = [pair for pair in chosen if pair.quantity.key == FAN_SPEED]
        for relation in PAIR_BLOCKS:
            found = fans if relation == FAN_SOUND else chosen
            parts.add_block(pairs.block(relation), range(len(SOURCES) - 1), found, _of_pair, relation)
    loose = [address for found in missing if found[0] in wanted for address in _unknown(*found)]
    for session in sessions:
        loose += [*addresses_beside_relations(session), *count_addresses(session), *sequence_addresses(session)]
    if means is not None:
        _tabulate_cards(parts, cards, means, pairs)
    for card, found_sessions in cards.items():
        loose += addresses_beside_samples(found_sessions, card)
    parts.add_numbers([number for address in loose if (number := find(address)) is not None])
    return parts.table()


def _tabulate_cards(
    parts: Parts, cards: Mapping[str, Sequence[Session]], means: PairSheets, pairs: PairSheets | None
) -> None:
    """Numbers over samples, of every card at once."""
    samples: list[Samples] = []
    for card, sessions in cards.items():
        if sessions:
            found = gather_samples(sessions, card)
            sessions[0].samples[card] = dict(found)
            samples += found.values()
    if not samples:
        return
    sheets = put_samples(samples, means, pairs)
    several = [found for found in samples if len(found.pool.samples) > 1]
    for line in SAMPLE_RELATIONS:
        columns = _OF_MEANS[: 1 + 2 * MOST_COLUMNS] if not line.key else (0,)
        listed = samples if line.fewest < 2 else several
        parts.add_block(sheets.block(line.key), columns, listed, _of_samples, line.key)
    against = [found for found in samples if found.pool.setpoint != found.pool.first.baseline]
    if against and pairs is not None:
        for relation in COMPARED_BY_SAMPLE:
            parts.add_block(sheets.block(relation), (0,), against, _of_samples, relation)


def _of_samples(found: Samples, relation: str) -> Address:
    pool = found.pool
    return Address(scope=pool.card, subject=pool.setpoint, quantity=found.quantity.key, relation=relation)


def _of_pair(pair: Pair, relation: str) -> Address:
    return _address(pair.session, pair.setpoint, pair.quantity.key, relation)


def _unknown(session: Session, setpoint: str, key: str, with_baseline: bool) -> list[Address]:
    """Addresses at which there is no estimate to begin with."""
    if not with_baseline:
        return [_address(session, setpoint, key, relation) for relation in MEAN_BLOCKS]
    relations = [relation for relation in PAIR_BLOCKS if relation != FAN_SOUND or key == FAN_SPEED]
    return [_address(session, setpoint, key, relation) for relation in relations]


def _address(session: Session, setpoint: str, quantity: str, relation: str) -> Address:
    if relation == FAN_SOUND:
        quantity, relation = FAN_SOUND, ""
    return Address(scope=session.write_up.slug, subject=setpoint, quantity=quantity, relation=relation)
