"""Numbers whose scope is a card model: pooled over its samples."""

import math
from collections.abc import Iterator, Sequence

from benchgalley.metrology.repeatability import mean
from benchgalley.metrology.sample import NotDetermined
from benchgalley.records import units
from benchgalley.records.address import Address
from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Number

from . import budget
from .across_loads import (
    LOAD_LINE_BY_KEY,
    LOAD_LINES,
    SOURCE,
    SUFFIX,
    SUMMARISED,
    across_glossary,
    across_quantity,
    loads_of,
)
from .against_baseline import RELATION_BY_KEY, Relation
from .at_setpoint import QUANTITIES, has_data, quantity_of
from .budget import Draft
from .combining import interval_of
from .numbers import About, number_from
from .over_samples import BETWEEN_METHOD, SAMPLE_RELATIONS, SampleRelation
from .pairs import Pair, pair
from .sample_counts import POOL_LINES, SAMPLES
from .sample_runs import Pool, pool, pool_columns
from .samples import SampleBudget, Samples, samples_of
from .session import Session
from .setpoint_numbers import direction_of

_RELATION_BY_KEY = {relation.key: relation for relation in SAMPLE_RELATIONS}
_POOL_LINE_BY_KEY = {(line[0].key, line[1]): line for line in POOL_LINES}

COMPARED_BY_SAMPLE = ("of-baseline", "change", "change-percent", "saved", "saved-percent", "ratio")
"""Relations to the baseline that are averaged over samples, each sample against its own baseline."""


def sample_addresses(sessions: Sequence[Session], card: str) -> Iterator[Address]:
    """Every address of a card model, in table order."""
    for setpoint in _setpoints(sessions):
        yield from _about_samples(card, setpoint)
        for key in QUANTITIES:
            yield from _of_quantity(sessions, card, setpoint, key)
        yield from _load_addresses(sessions, card, setpoint)


def addresses_beside_samples(sessions: Sequence[Session], card: str) -> Iterator[Address]:
    """Those of `sample_addresses` that are not computed in arrays, once those that are have been gathered."""
    gathered = sessions[0].samples.get(card, {}) if sessions else {}
    for setpoint in _setpoints(sessions):
        yield from _about_samples(card, setpoint)
        for key in QUANTITIES:
            if (setpoint, key) not in gathered:
                yield from _of_quantity(sessions, card, setpoint, key)
        yield from _load_addresses(sessions, card, setpoint)


def _setpoints(sessions: Sequence[Session]) -> list[str]:
    return list(dict.fromkeys(name for session in sessions for name in session.write_up.setpoints))


def _about_samples(card: str, setpoint: str) -> Iterator[Address]:
    for quantity, relation, *_ in POOL_LINES:
        yield Address(scope=card, subject=setpoint, quantity=quantity.key, relation=relation)


def _of_quantity(sessions: Sequence[Session], card: str, setpoint: str, key: str) -> Iterator[Address]:
    found = pool(sessions, card, setpoint, pool_columns(key))
    if found is None or not any(has_data(session, key) for session in found.sessions):
        return
    for line in SAMPLE_RELATIONS:
        if len(found.samples) >= line.fewest:
            yield Address(scope=card, subject=setpoint, quantity=key, relation=line.key)
    if setpoint != found.first.baseline:
        for name in COMPARED_BY_SAMPLE:
            yield Address(scope=card, subject=setpoint, quantity=key, relation=name)


def _load_addresses(sessions: Sequence[Session], card: str, setpoint: str) -> Iterator[Address]:
    """Summaries over loads, where the card was run under two or more."""
    if len({(s.write_up.load.id, s.write_up.load.version, s.write_up.load.preset) for s in sessions}) < 2:
        return
    for key in SUMMARISED:
        try:
            loads_of(sessions, setpoint, key)
        except NotDetermined:
            continue
        for relation, _, _, _, listed in LOAD_LINES:
            if listed:
                yield Address(scope=card, subject=setpoint, quantity=f"{key}{SUFFIX}", relation=relation)


def _load_number(sessions: Sequence[Session], address: Address, card_name: str) -> Number | None:
    line = LOAD_LINE_BY_KEY.get(address.relation)
    having = [s for s in sessions if address.subject in s.write_up.setpoints]
    if line is None or not having or (quantity := across_quantity(having[0], address.quantity)) is None:
        return None
    _, compute, unit, words, _ = line
    name = f"{words.format(quantity=quantity.name, setpoint=having[0].label(address.subject))}, {card_name}"
    about = About(unit, across_glossary()[0].formula, SOURCE, True)
    return number_from(lambda: compute(loads_of(sessions, address.subject, quantity.key)), address, name, about)


def sample_number(sessions: Sequence[Session], address: Address, card_name: str) -> Number | None:
    """The number at a card's address; None when there is no such setpoint, quantity or relation."""
    line = _POOL_LINE_BY_KEY.get((address.quantity, address.relation))
    if line is not None:
        return _pool_number(sessions, address, card_name)
    if address.quantity.endswith(SUFFIX):
        return _load_number(sessions, address, card_name)
    first = pool(sessions, address.scope, address.subject, ())
    if first is None or (quantity := quantity_of(first.first, address.quantity)) is None:
        return None
    found = pool(sessions, address.scope, address.subject, pool_columns(address.quantity))
    if found is None:
        return None
    if (over := _RELATION_BY_KEY.get(address.relation)) is not None:
        return _relation_number(sessions, found, address, card_name, quantity, over)
    if address.relation in COMPARED_BY_SAMPLE and address.subject != found.first.baseline:
        return _compared_number(sessions, found, address, card_name, quantity, RELATION_BY_KEY[address.relation])
    return None


def _relation_number(
    sessions: Sequence[Session],
    found: Pool,
    address: Address,
    card_name: str,
    quantity: Quantity,
    relation: SampleRelation,
) -> Number:

    def name() -> str:
        label = found.first.label(address.subject)
        return relation.words.format(quantity=quantity.name, setpoint=label, card=card_name)

    about = _about(found, quantity, relation, relation.formula, relation.source)
    return number_from(lambda: relation.compute(samples_of(sessions, found, quantity.key)), address, name, about)


def _about(found: Pool, quantity: Quantity, relation: SampleRelation | Relation, formula: str, source: str) -> About:
    """What all numbers of a relation over samples have in common."""
    session, asked = found.first, ("over samples", quantity.key, relation.key)
    if (about := session.abouts.get(asked)) is None:
        direction = direction_of(session, quantity.key, relation.direction)
        about = session.abouts[asked] = About(relation.unit_of(quantity), formula, source, direction)
    return about


def _pool_number(sessions: Sequence[Session], address: Address, card_name: str) -> Number | None:
    found = pool(sessions, address.scope, address.subject, ())
    if found is None:
        return None
    quantity, _, compute, words = _POOL_LINE_BY_KEY[address.quantity, address.relation]
    name = words.format(setpoint=found.first.label(address.subject), card=card_name)
    better = None if quantity is SAMPLES else True
    about = About(quantity.unit, quantity.formula, quantity.source, better)
    return number_from(lambda: compute(found), address, name, about)


def _compared_number(
    sessions: Sequence[Session], found: Pool, address: Address, card_name: str, quantity: Quantity, relation: Relation
) -> Number:
    """Mean over samples of a relation to the baseline, each sample against its own baseline runs."""

    def name() -> str:
        label, baseline = found.first.label(address.subject), found.first.label(found.first.baseline)
        words = relation.words.format(quantity=quantity.name, setpoint=label, baseline=baseline)
        return f"{words}, mean over samples of {card_name}"

    formula = f"mean over samples of {relation.formula}"
    about = _about(found, quantity, relation, formula, f"{relation.source}; over samples: ISO 5725-2, 7.4.5")
    return number_from(
        lambda: _compared_draft(samples_of(sessions, found, quantity.key), relation), address, name, about
    )


def _compared_draft(samples: Samples, relation: Relation) -> Draft:
    """Mean over samples; a sample's own value is the mean over its write-ups."""
    values: list[float] = []
    parts: list[tuple[str, list[Pair]]] = []
    reason = ""
    for name, pairs in samples.against:
        own: list[tuple[Pair, float]] = []
        for both in pairs:
            try:
                own.append((both, both.cell(relation.key).value))
            except NotDetermined as problem:
                reason = problem.reason
        if own:
            values.append(mean([value for _, value in own]))
            parts.append((f"sample {name}", [both for both, _ in own]))
    if not values:
        raise NotDetermined(reason or _why_not_compared(samples))
    cell, count = samples.cell(relation.key), len(values)
    # a spread of nothing is no spread
    some = cell.standard_uncertainty == cell.standard_uncertainty
    pct = samples.pool.confidence_pct
    notes = (samples.few_note(count), samples.pool.left_out_note())
    every = [both for _, own in parts for both in own]
    interval = interval_of(cell.low, cell.high, pct, BETWEEN_METHOD)

    def words() -> str:
        shown = " + ".join(budget.figure(value) for value in values)
        return f"({shown}) / {count}" if count > 1 else shown

    def origin() -> str:
        return f"{count} samples, s = {budget.figure(cell.standard_uncertainty * math.sqrt(count))}"

    return Draft(
        value=cell.value,
        combined=SampleBudget(samples, relation.key, count, origin) if some else None,
        standard_uncertainty=cell.standard_uncertainty if some else None,
        degrees_of_freedom=cell.degrees_of_freedom if some else None,
        interval=interval,
        repeatability_interval=interval,
        spread_for_printing=_half_width(relation.compute(every[0])) if len(every) == 1 else None,
        groups=lambda: tuple(
            [(name, tuple([run for both in own for _, ids in both.groups for run in ids])) for name, own in parts]
        ),
        substitution=words,
        reason=lambda: "; ".join(note for note in notes if note),
    )


def _why_not_compared(samples: Samples) -> str:
    """Why a sample has no comparison with its baseline, if one has none."""
    reason, pooled = "no sample has a value", samples.pool
    for session in pooled.sessions:
        try:
            pair(session, samples.quantity, pooled.setpoint, True)
        except NotDetermined as problem:
            reason = problem.reason
    return reason


def _half_width(draft: Draft) -> float | None:
    """Half-width of a single sample's own interval: what its digits are worth."""
    interval = draft.interval
    if interval is None or interval.low is None or interval.high is None:
        return None
    return (interval.high - interval.low) / 2


def sample_glossary() -> tuple[Quantity, ...]:
    """Quantities and relations over samples; keys of relations begin with a slash."""
    lines = tuple({line[0].key: line[0] for line in POOL_LINES}.values())
    relations = tuple(
        Quantity(
            key=f"/{relation.key}", name=relation.key.replace("-", " "), unit=units.ONE,
            definition=relation.definition, formula=relation.formula, source=relation.source,
        )
        for relation in SAMPLE_RELATIONS if relation.key
    )  # fmt: skip
    return (*lines, *across_glossary(), *relations)
