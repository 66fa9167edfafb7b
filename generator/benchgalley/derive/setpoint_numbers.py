"""Numbers whose subject is a setpoint: exact settings, means and relations, figures that need the baseline."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial

from benchgalley.metrology.sample import NotDetermined
from benchgalley.records import units
from benchgalley.records.address import Address
from benchgalley.records.quantity import LOWER_IS_BETTER, MEASURED, SETTINGS, Quantity
from benchgalley.records.results import Number

from . import budget, front
from .against_baseline import RELATION_BY_KEY, RELATIONS, Relation
from .at_setpoint import DERIVED, MEASURED_BY_KEY, QUANTITIES, formula_of, has_data, quantity_of
from .budget import Draft
from .estimating import estimate_at
from .further import FURTHER
from .numbers import About, number_from
from .pairs import Pair, pair
from .relating import fan_draft
from .session import Session
from .sheet import ZERO_BASELINE

POWER_LIMIT_WATTS = Quantity(
    key="power-limit-watts", name="power limit in watts", unit=units.WATT,
    definition="Power limit in percent of the card's stock board power, in watts.",
    formula="power limit × stock board power / 100", source="Common practice, no published source",
)  # fmt: skip

_SETTING_BY_KEY = {setting.key: setting for setting in SETTINGS if setting.unit is not None}

_SETTINGS = {
    **{s.key: Quantity(key=s.key, name=s.name, unit=s.unit or units.ONE) for s in _SETTING_BY_KEY.values()},
    POWER_LIMIT_WATTS.key: POWER_LIMIT_WATTS,
}

_EVERY_RELATION = {relation.key: relation for relation in (*RELATIONS, *FURTHER)}

EXACT_RELATIONS = frozenset({"", "of-baseline", "change", "change-percent", "saved", "saved-percent", "ratio"})
"""Relations that make sense between settings."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Compared:
    """A quantity that exists only against the baseline and has no relations of its own."""

    quantity: Quantity
    of: str
    """Key of the quantity it is computed from."""
    compute: Callable[[Pair], Draft]
    words: str
    estimate: bool = False


COMPARED: tuple[Compared, ...] = (
    Compared(
        quantity=Quantity(
            key="fan-sound-change", name="change of fan sound", unit=units.DECIBEL_A, lower_is="quieter",
            definition="Change of the fans' sound power level that their speeds lead one to expect; an estimate.",
            formula="50 × log10(fan speed / fan speed at baseline)",
            source="Fan sound law (ASHRAE and AMCA literature)",
        ),
        of="fan-speed", compute=lambda both: fan_draft(both, "fan-sound-change"), estimate=True,
        words="expected change of fan sound from {baseline} to {setpoint}",
    ),
)  # fmt: skip
"""In the order tables show them."""

_COMPARED_BY_KEY = {compared.quantity.key: compared for compared in COMPARED}


def setpoint_addresses(session: Session) -> Iterator[Address]:
    """Every address whose subject is a setpoint, in table order."""
    slug, present = session.write_up.slug, present_quantities(session)
    for subject in session.write_up.setpoints:
        at_baseline = subject == session.baseline
        yield from _settings_of(slug, subject)
        for quantity in present:
            for relation in RELATIONS:
                if relation.against_baseline and at_baseline:
                    continue
                if relation.key != "equivalent" or quantity in session.write_up.margins.by_quantity:
                    yield Address(scope=slug, subject=subject, quantity=quantity, relation=relation.key)
        if not at_baseline:
            for compared in COMPARED:
                if has_data(session, compared.of):
                    yield Address(scope=slug, subject=subject, quantity=compared.quantity.key)
        yield from _front_of(session, subject)


def _settings_of(slug: str, subject: str) -> Iterator[Address]:
    for quantity in (*_SETTING_BY_KEY, POWER_LIMIT_WATTS.key):
        yield Address(scope=slug, subject=subject, quantity=quantity)


def _front_of(session: Session, subject: str) -> Iterator[Address]:
    if len(session.write_up.setpoints) > 1 and session.columns.issuperset(front.COLUMNS):
        yield Address(scope=session.write_up.slug, subject=subject, quantity=front.TRADE_FRONT.key)


def present_quantities(session: Session) -> list[str]:
    """Quantities of setpoints that the write-up recorded, in table order."""
    return [key for key in QUANTITIES if has_data(session, key)]


def addresses_beside_relations(session: Session) -> Iterator[Address]:
    """Those of `setpoint_addresses` that are not computed in arrays: settings, the trade front, equivalence."""
    slug, margins = session.write_up.slug, session.write_up.margins.by_quantity
    for subject in session.write_up.setpoints:
        yield from _settings_of(slug, subject)
        if subject != session.baseline:
            for quantity in present_quantities(session):
                if quantity in margins:
                    yield Address(scope=slug, subject=subject, quantity=quantity, relation="equivalent")
        yield from _front_of(session, subject)


def setpoint_number(session: Session, address: Address) -> Number | None:
    """The number at a setpoint's address; None when there is no such quantity or relation."""
    if address.quantity in _SETTING_BY_KEY or address.quantity == POWER_LIMIT_WATTS.key:
        return _setting_number(session, address)
    if (compared := _COMPARED_BY_KEY.get(address.quantity)) is not None:
        return _compared_number(session, address, compared)
    if address.quantity == front.TRADE_FRONT.key:
        return _front_number(session, address)
    quantity = quantity_of(session, address.quantity)
    relation = _EVERY_RELATION.get(address.relation)
    if quantity is None or relation is None:
        return None
    if relation.against_baseline and address.subject == session.baseline:
        return None

    def name() -> str:
        return relation.words.format(
            quantity=quantity.name,
            setpoint=session.label(address.subject),
            baseline=session.label(session.baseline),
        )

    return number_from(
        lambda: relation.compute(pair(session, quantity, address.subject, relation.against_baseline)),
        address,
        name,
        _about(session, quantity, relation),
        lambda: _groups(session, address),
    )


def _about(session: Session, quantity: Quantity, relation: Relation) -> About:
    asked = (quantity.key, relation.key)
    if (found := session.abouts.get(asked)) is None:
        unit = relation.unit_of(quantity)
        found = session.abouts[asked] = About(
            _margin_unit(session, quantity, unit) if relation.key == "equivalent" else unit,
            _formula(relation, quantity),
            _source(relation, quantity),
            direction_of(session, quantity.key, relation.direction),
        )
    return found


def _source(relation: Relation, quantity: Quantity) -> str:
    return relation.source if relation.key or not quantity.source else f"{quantity.source}; {relation.source}"


def _margin_unit(session: Session, quantity: Quantity, plain: units.Unit) -> units.Unit:
    margin = session.write_up.margins.by_quantity.get(quantity.key)
    return units.PERCENT if margin is not None and margin[1] else plain


def _formula(relation: Relation, quantity: Quantity) -> str:
    """The relation's formula; for a derived quantity its own comes first."""
    if relation.key == "" and quantity.formula:
        return quantity.formula
    if quantity.formula and relation.key not in ("runs", "spread"):
        return f"{relation.formula}, each {quantity.formula}"
    return relation.formula


def _groups(session: Session, address: Address) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Runs behind a number that cannot be given, as far as there are any."""
    try:
        found = estimate_at(session, address.subject, address.quantity)
    except NotDetermined:
        return ((address.subject, ()),)
    return ((address.subject, found.run_ids),)


def direction_of(session: Session, key: str, direction: int) -> bool | None:
    """Whether more of a number is good news; None when neither is."""
    if direction == 0:
        return None
    better: bool | None = None
    if key in ("score", "score-per-watt", "score-per-wall-watt"):
        better = session.write_up.load.higher_is_better
    elif key in LOWER_IS_BETTER:
        better = False
    return better if better is None or direction > 0 else not better


def _exact_value(session: Session, subject: str, key: str) -> float:
    settings = session.write_up.setpoints[subject].settings
    if key == POWER_LIMIT_WATTS.key:
        stock_w = session.write_up.card.stock_board_power_w
        return stock_w * float(settings["power_limit_pct"]) / 100
    setting = _SETTING_BY_KEY[key]
    return float(settings.get(setting.column, setting.default))


def _setting_number(session: Session, address: Address) -> Number | None:
    write_up = session.write_up
    if address.relation not in EXACT_RELATIONS:
        return None
    if address.relation and address.subject == write_up.baseline:
        return None
    relation = RELATION_BY_KEY[address.relation]
    quantity = _SETTINGS[address.quantity]
    unit = relation.unit_of(quantity)
    if unit == units.PERCENT and address.relation in ("change", "saved"):
        # a difference of two percentages is not a percentage of anything
        unit = units.PERCENTAGE_POINT

    def name() -> str:
        label, baseline = session.label(address.subject), session.label(write_up.baseline)
        return relation.words.format(quantity=quantity.name, setpoint=label, baseline=baseline)

    about = About(
        unit,
        relation.formula if address.relation else quantity.formula,
        quantity.source or "As set: front matter of the write-up",
    )
    return number_from(lambda: _setting_draft(session, address, quantity), address, name, about)


def _setting_draft(session: Session, address: Address, quantity: Quantity) -> Draft:
    value = _exact_value(session, address.subject, address.quantity)
    substitution: budget.Said = ""
    if quantity is POWER_LIMIT_WATTS:
        substitution = partial(_watts_working, session, address.subject)
    if address.relation:
        base = _exact_value(session, session.baseline, address.quantity)
        if base == 0 and address.relation not in ("change", "saved"):
            raise NotDetermined(ZERO_BASELINE)
        value, substitution = _exact_relation(address.relation, value, base)
    return Draft(value=value, exact=True, substitution=substitution)


def _watts_working(session: Session, subject: str) -> str:
    pct, stock_w = _exact_value(session, subject, "power-limit"), session.write_up.card.stock_board_power_w
    return f"{budget.figure(pct)}\u00a0% × {budget.figure(stock_w)}\u00a0W / 100"


def _exact_relation(key: str, value: float, base: float) -> tuple[float, str]:
    at, stock = budget.figure(value), budget.figure(base)
    if key == "change":
        return value - base, f"{at} \u2212 {stock}"
    if key == "saved":
        return base - value, f"{stock} \u2212 {at}"
    if key == "ratio":
        return value / base, f"{at} / {stock}"
    share = 100 * value / base
    if key == "of-baseline":
        return share, f"100 × {at} / {stock}"
    change = 100 * (value - base) / base
    if key == "change-percent":
        return change, f"100 × ({at} \u2212 {stock}) / {stock}"
    return -change, f"100 × ({stock} \u2212 {at}) / {stock}"


def _compared_number(session: Session, address: Address, compared: Compared) -> Number | None:
    if address.relation or address.subject == session.baseline:
        return None
    quantity = compared.quantity
    name = compared.words.format(setpoint=session.label(address.subject), baseline=session.label(session.baseline))
    about = About(quantity.unit, quantity.formula, quantity.source, False, compared.estimate)
    return number_from(
        lambda: compared.compute(pair(session, MEASURED_BY_KEY[compared.of], address.subject, True)),
        address,
        name,
        about,
    )


def _front_number(session: Session, address: Address) -> Number | None:
    if address.relation:
        return None
    quantity = front.TRADE_FRONT
    name = f"chance that {session.label(address.subject)} lies on the trade front"
    about = About(quantity.unit, quantity.formula, quantity.source, estimate=True)
    return number_from(lambda: front.front_draft(session, address.subject), address, name, about)


def setpoint_glossary() -> tuple[Quantity, ...]:
    """Every quantity at a setpoint, with definition, formula and source."""
    measured = tuple(
        replace(q, definition=q.definition or f"Mean {q.name} over completed runs that are not excluded.",
                formula="Σx / n", source=RELATION_BY_KEY[""].source)
        for q in MEASURED
    )  # fmt: skip
    derived = tuple(replace(d.quantity, formula=formula_of(d)) for d in DERIVED)
    return (*measured, POWER_LIMIT_WATTS, *derived, *(c.quantity for c in COMPARED), front.TRADE_FRONT)
