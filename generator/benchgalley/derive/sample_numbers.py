"""Numbers whose scope is a card model: pooled over its samples."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from benchgalley.metrology.repeatability import mean, standard_deviation
from benchgalley.metrology.sample import NotDetermined
from benchgalley.records import units
from benchgalley.records.address import Address
from benchgalley.records.quantity import MEASURED, Quantity
from benchgalley.records.results import Number

from . import budget, expanding
from .across_loads import (
    LOAD_LINE_BY_KEY,
    LOAD_LINES,
    QUANTITIES,
    SOURCE,
    SUFFIX,
    across_glossary,
    across_quantity,
    loads_of,
)
from .against_baseline import RELATION_BY_KEY, Relation
from .at_setpoint import DERIVED, has_data, quantity_of
from .budget import Combined, Draft, Groups, Term
from .numbers import not_determined, number_from
from .over_samples import BETWEEN_METHOD, SAMPLE_RELATIONS, SampleRelation
from .pairs import pair
from .sample_counts import POOL_LINES, SAMPLES
from .sample_runs import Pool, pool, pool_columns, samples_of
from .session import Session
from .setpoint_numbers import direction_of

_RELATION_BY_KEY = {relation.key: relation for relation in SAMPLE_RELATIONS}
_POOL_LINE_BY_KEY = {(line[0].key, line[1]): line for line in POOL_LINES}

COMPARED_BY_SAMPLE = ("of-baseline", "change", "change-percent", "saved", "saved-percent", "ratio")
"""Relations to the baseline that are averaged over samples, each sample against its own baseline."""


def sample_addresses(sessions: Sequence[Session], card: str) -> Iterator[Address]:
    """Every address of a card model, in table order."""
    setpoints = list(dict.fromkeys(name for session in sessions for name in session.write_up.setpoints))
    keys = [q.key for q in MEASURED] + [d.quantity.key for d in DERIVED]
    for setpoint in setpoints:
        for quantity, relation, *_ in POOL_LINES:
            yield Address(scope=card, subject=setpoint, quantity=quantity.key, relation=relation)
        for key in keys:
            found = pool(sessions, card, setpoint, pool_columns(key))
            if found is None or not any(has_data(session, key) for session in found.sessions):
                continue
            count = len(found.by_sample())
            for line in SAMPLE_RELATIONS:
                if count >= line.fewest:
                    yield Address(scope=card, subject=setpoint, quantity=key, relation=line.key)
            if setpoint != found.first.write_up.baseline:
                for name in COMPARED_BY_SAMPLE:
                    yield Address(scope=card, subject=setpoint, quantity=key, relation=name)
        yield from _load_addresses(sessions, card, setpoint)


def _load_addresses(sessions: Sequence[Session], card: str, setpoint: str) -> Iterator[Address]:
    """Summaries over loads, where the card was run under two or more."""
    if len({(s.write_up.load.id, s.write_up.load.version, s.write_up.load.preset) for s in sessions}) < 2:
        return
    for key in QUANTITIES:
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
    formula = across_glossary()[0].formula
    try:
        draft = compute(loads_of(sessions, address.subject, quantity.key))
    except NotDetermined as problem:
        return not_determined(address, name, unit, problem.reason, formula=formula, source=SOURCE)
    return number_from(draft, address, name, unit, formula=formula, source=SOURCE, higher_is_better=True)


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
        return _relation_number(found, address, card_name, quantity, over)
    if address.relation in COMPARED_BY_SAMPLE and address.subject != found.first.write_up.baseline:
        return _compared_number(found, address, card_name, quantity, RELATION_BY_KEY[address.relation])
    return None


def _relation_number(
    found: Pool, address: Address, card_name: str, quantity: Quantity, relation: SampleRelation
) -> Number:
    unit = relation.unit_of(quantity)

    def name() -> str:
        label = found.first.label(address.subject)
        return relation.words.format(quantity=quantity.name, setpoint=label, card=card_name)

    try:
        draft = relation.compute(samples_of(found, quantity.key))
    except NotDetermined as problem:
        return not_determined(address, name(), unit, problem.reason, formula=relation.formula, source=relation.source)
    return number_from(
        draft, address, name, unit, formula=relation.formula, source=relation.source,
        higher_is_better=direction_of(found.first, quantity.key, relation.direction),
    )  # fmt: skip


def _pool_number(sessions: Sequence[Session], address: Address, card_name: str) -> Number | None:
    found = pool(sessions, address.scope, address.subject, ())
    if found is None:
        return None
    quantity, _, compute, words = _POOL_LINE_BY_KEY[address.quantity, address.relation]
    name = words.format(setpoint=found.first.label(address.subject), card=card_name)
    try:
        draft = compute(found)
    except NotDetermined as problem:
        return not_determined(
            address, name, quantity.unit, problem.reason, formula=quantity.formula, source=quantity.source
        )
    return number_from(
        draft, address, name, quantity.unit, formula=quantity.formula, source=quantity.source,
        higher_is_better=None if quantity is SAMPLES else True,
    )  # fmt: skip


def _compared_number(found: Pool, address: Address, card_name: str, quantity: Quantity, relation: Relation) -> Number:
    """Mean over samples of a relation to the baseline, each sample against its own baseline runs."""
    unit = relation.unit_of(quantity)
    formula = f"mean over samples of {relation.formula}"
    source = f"{relation.source}; over samples: ISO 5725-2, 7.4.5"

    def name() -> str:
        label, baseline = found.first.label(address.subject), found.first.label(found.first.write_up.baseline)
        words = relation.words.format(quantity=quantity.name, setpoint=label, baseline=baseline)
        return f"{words}, mean over samples of {card_name}"

    try:
        draft = _compared_draft(found, quantity, address.subject, relation)
    except NotDetermined as problem:
        return not_determined(address, name(), unit, problem.reason, formula=formula, source=source)
    return number_from(
        draft, address, name, unit, formula=formula, source=source,
        higher_is_better=direction_of(found.first, quantity.key, relation.direction),
    )  # fmt: skip


def _compared_draft(found: Pool, quantity: Quantity, setpoint: str, relation: Relation) -> Draft:
    values: list[float] = []
    parts: list[tuple[str, list[Draft]]] = []
    single: list[Draft] = []
    reason = ""
    for sample, sessions in found.by_sample().items():
        own: list[Draft] = []
        for session in sessions:
            try:
                own.append(relation.compute(pair(session, quantity, setpoint, True)))
            except NotDetermined as problem:
                reason = problem.reason
        if own:
            values.append(mean([draft.value for draft in own]))
            single += own
            parts.append((f"sample {sample}", own))
    if not values:
        raise NotDetermined(reason or "no sample has a value")
    notes = [found.left_out_note()]
    if len(values) == 1:
        notes.insert(0, "one sample: nothing can be said about other cards of this model")
    elif len(values) == 2:
        notes.insert(0, "two samples: their spread rests on one degree of freedom, hence the width")
    shown = " + ".join(budget.figure(value) for value in values)
    only = single[0] if len(single) == 1 else None
    draft = Draft(
        value=mean(values),
        spread_for_printing=_half_width(only) if only is not None else None,
        groups=lambda: _groups(parts),
        substitution=f"({shown}) / {len(values)}" if len(values) > 1 else shown,
        reason="; ".join(note for note in notes if note),
    )
    if len(values) < 2 or not (spread := standard_deviation(values)) > 0:
        return draft
    term = Term(
        "spread between samples", budget.REPEATABILITY, spread / len(values) ** 0.5, float(len(values) - 1),
        f"{len(values)} samples, s = {budget.figure(spread)}",
    )  # fmt: skip
    combined = Combined((term,))
    u, dof = combined.standard_uncertainty, combined.degrees_of_freedom
    interval = expanding.two_sided(draft.value, combined, found.confidence_pct, BETWEEN_METHOD)
    return replace(
        draft,
        combined=combined,
        standard_uncertainty=u,
        degrees_of_freedom=dof,
        interval=interval,
        repeatability_interval=interval,
    )


def _groups(parts: list[tuple[str, list[Draft]]]) -> Groups:
    """Sample → ids of the runs behind its drafts."""
    return tuple(
        (name, tuple(run for draft in own if isinstance(draft.groups, tuple) for _, ids in draft.groups for run in ids))
        for name, own in parts
    )


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
