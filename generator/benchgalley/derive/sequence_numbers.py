"""Numbers whose subject is a sequence, and the counts of runs at a setpoint."""

import re
from collections.abc import Callable, Iterator
from dataclasses import replace

from benchgalley.metrology.sample import NotDetermined
from benchgalley.records import units
from benchgalley.records.address import Address
from benchgalley.records.bench import SequenceKind
from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Number

from . import expanding
from .at_setpoint import has_data, quantity_of
from .budget import Draft, Groups
from .combining import Combined
from .estimate import Estimate, say_unknown
from .failure_plans import DEFINITION, further_runs, plan_for, wanted_of
from .numbers import About, number_from
from .over_failures import (
    COMPLETED_RUNS,
    FAILED_RUNS,
    FAILURE_LINES,
    FAILURE_RATE,
    FAILURE_SHARE,
    RUNS,
    count_all,
    count_completed,
    count_failed,
    failure_share,
    failure_share_bound,
)
from .over_sequence import SWEEP_LINES, point_estimate
from .sequence_runs import ALL_KINDS, SWEEPS, SequenceLine, Walk
from .session import Group, Session

SEQUENCE_LINES: tuple[SequenceLine, ...] = (*SWEEP_LINES, *FAILURE_LINES)
"""Every number over a sequence, in the order tables show them."""

_BY_KEY = {(line.quantity.key, line.relation): line for line in SEQUENCE_LINES}

POINT_QUANTITIES = ("score", "board-power", "score-per-watt")
"""Quantities listed at each setting of a sweep, as `score-at-84`; others are found, not listed."""

_POINT = re.compile(r"^(?P<quantity>[a-z0-9-]+)-at-(?P<minus>minus-)?(?P<whole>\d+)(?:-(?P<part>\d+))?$")

GroupLine = tuple[Quantity, str, Callable[[Group, float], Draft], str, bool | None]

SETPOINT_COUNTS: tuple[GroupLine, ...] = (
    (RUNS, "", lambda g, _: count_all(g), "runs at {setpoint}", None),
    (COMPLETED_RUNS, "", lambda g, _: count_completed(g), "completed runs at {setpoint}", None),
    (FAILED_RUNS, "", lambda g, _: count_failed(g), "failed runs at {setpoint}", None),
    (FAILURE_SHARE, "", failure_share, "share of runs at {setpoint} that failed", False),
    (
        FAILURE_SHARE,
        "at-most",
        failure_share_bound,
        "upper bound of the share of runs at {setpoint} that fail",
        False,
    ),
)
"""Counts of runs at a setpoint, in the order tables show them."""

_COUNTS_BY_KEY = {(line[0].key, line[1]): line for line in SETPOINT_COUNTS}


def walk_of(session: Session, name: str) -> Walk:
    """The runs of a sequence, sorted once."""
    found = session.kept.get(("walk", name))
    if not isinstance(found, Walk):
        found = session.kept["walk", name] = Walk(session, session.write_up.sequences[name])
    return found


def count_addresses(session: Session) -> Iterator[Address]:
    """Counts of runs at each setpoint, in table order."""
    for subject in session.write_up.setpoints:
        for quantity, relation, *_ in SETPOINT_COUNTS:
            yield Address(scope=session.write_up.slug, subject=subject, quantity=quantity.key, relation=relation)


def count_number(session: Session, address: Address) -> Number | None:
    """A count or failure share at a setpoint; None when the address is none."""
    line = _COUNTS_BY_KEY.get((address.quantity, address.relation)) or _count_plan(address)
    if line is None:
        return None
    quantity, _, compute, words, better = line
    name = words.format(setpoint=session.label(address.subject))
    about = About(quantity.unit, quantity.formula, quantity.source, better)
    return number_from(
        lambda: compute(session.setpoints[address.subject], session.confidence_pct), address, name, about
    )


def sequence_addresses(session: Session) -> Iterator[Address]:
    """Every address whose subject is a sequence, in table order."""
    for name in session.write_up.sequences:
        if name in session.write_up.setpoints:
            continue
        walk = walk_of(session, name)
        for line in SEQUENCE_LINES:
            if line.applies(walk):
                yield Address(
                    scope=session.write_up.slug,
                    subject=name,
                    quantity=line.quantity.key,
                    relation=line.relation,
                )
        if walk.sequence.kind in SWEEPS:
            yield from _point_addresses(session, walk)


def _point_addresses(session: Session, walk: Walk) -> Iterator[Address]:
    for key in POINT_QUANTITIES:
        if not has_data(session, key):
            continue
        for value, _ in walk.points:
            yield Address(
                scope=session.write_up.slug,
                subject=walk.sequence.name,
                quantity=f"{key}-at-{setting_text(value)}",
            )


def setting_text(value: float) -> str:
    """A setting inside an address: 84, minus-110, 82-5."""
    text = f"{abs(value):.10g}".replace(".", "-")
    return f"minus-{text}" if value < 0 else text


def sequence_number(session: Session, address: Address) -> Number | None:
    """The number at a sequence's address; None when there is no such quantity or relation."""
    walk = walk_of(session, address.subject)
    line = _BY_KEY.get((address.quantity, address.relation)) or _plan_line(address)
    if line is None:
        return _point_number(session, walk, address)
    if walk.sequence.kind not in line.kinds or (line.setting and walk.sequence.setting != line.setting):
        return None
    quantity = line.quantity
    name = line.words.format(sequence=walk.label)
    unit = line.unit_of(walk) if line.unit_of is not None else quantity.unit
    about = About(unit, quantity.formula, quantity.source, line.higher_is_better)

    def find() -> Draft:
        if line.counts_work and not session.write_up.load.higher_is_better:
            raise NotDetermined(f"a lower score is better with this load, so {quantity.name} has no meaning")
        return line.compute(walk)

    def groups() -> Groups:
        return ((walk.sequence.name, tuple(trial.id for trial in walk.trials)),)

    return number_from(find, address, name, about, groups)


def _plan_line(address: Address) -> SequenceLine | None:
    """The line of `soak/failure-rate/hours-needed` and its like, which are found and not listed."""
    if (plan := plan_for(address.quantity, address.relation)) is None:
        return None
    what, compute = plan
    of, unit = (FAILURE_RATE, units.HOUR) if what == "hours" else (FAILURE_SHARE, units.RUNS)
    kinds = frozenset({SequenceKind.SOAK}) if what == "hours" else ALL_KINDS
    return SequenceLine(
        quantity=replace(
            of, unit=unit, definition=DEFINITION.format(what=what), formula=f"{what} needed \u2212 {what} made"
        ),
        compute=compute, words=f"further {what} of {{sequence}} without a failure", kinds=kinds,
        relation=address.relation,
    )  # fmt: skip


def _count_plan(address: Address) -> GroupLine | None:
    """As `_plan_line`, at a setpoint."""
    wanted = wanted_of(address.relation)
    if wanted is None or wanted[0] != "runs" or address.quantity != FAILURE_SHARE.key:
        return None
    quantity = replace(FAILURE_SHARE, unit=units.RUNS, formula="runs needed \u2212 runs made")
    return (
        quantity, address.relation, lambda group, pct: further_runs(group, wanted[1], pct),
        "further runs at {setpoint} without a failure", None,
    )  # fmt: skip


def _point_number(session: Session, walk: Walk, address: Address) -> Number | None:
    """Mean at one setting of a sequence, `score-at-84`."""
    match = _POINT.match(address.quantity)
    if match is None or address.relation or walk.sequence.kind is SequenceKind.SOAK:
        return None
    quantity = quantity_of(session, match["quantity"])
    if quantity is None:
        return None
    setting = float(f"{match['whole']}.{match['part'] or 0}") * (-1 if match["minus"] else 1)
    if all(value != setting for value, _ in walk.points):
        return None
    name = f"{quantity.name} of {walk.label} at {walk.point_name(setting)}"
    about = About(quantity.unit, quantity.formula or "Σx / n", quantity.source or "JCGM 100:2008, 4.2")
    return number_from(
        lambda: _mean_draft(point_estimate(walk, setting, quantity.key), session.confidence_pct), address, name, about
    )


def _mean_draft(found: Estimate, confidence_pct: float) -> Draft:
    combined = Combined(found.terms)
    u, dof = combined.standard_uncertainty, combined.degrees_of_freedom
    unknown, several = say_unknown(found.unknown), found.deviation is not None
    once = "" if several else f"one run at {found.group}: repeatability cannot be determined"
    whole, repeats = (
        expanding.two_sided(found.value, combined, confidence_pct, repeats_only=alone) if several else None
        for alone in (False, True)
    )
    return Draft(
        value=found.value,
        combined=combined,
        standard_uncertainty=u or None,
        degrees_of_freedom=dof if u else None,
        interval=whole,
        repeatability_interval=repeats,
        groups=((found.group, found.run_ids),),
        substitution=found.working,
        decimals=found.typed_decimals,
        reason="; ".join(part for part in (once, unknown) if part),
    )


def sequence_glossary() -> tuple[Quantity, ...]:
    """Every quantity over a sequence or of counts, with definition, formula and source."""
    return tuple({line.quantity.key: line.quantity for line in SEQUENCE_LINES}.values())
