"""From what a derivation found to the record every other room reads."""

import math
from collections.abc import Callable
from typing import Any, NamedTuple

from benchgalley.metrology.sample import NotDetermined
from benchgalley.records.address import Address
from benchgalley.records.results import Component, Interval, Number, Printed
from benchgalley.records.units import Unit

from .budget import Draft, Groups, Said, said
from .printing import printed, printed_absent, printed_exact

_set: Any = object.__setattr__


class About(NamedTuple):
    """What every number of one quantity and relation has in common; see `Number`."""

    unit: Unit
    formula: str
    source: str
    higher_is_better: bool | None = None
    estimate: bool = False


class ComputedNumber(Number):
    """A number whose figures are there and whose texts are made when somebody reads them.

    A site has tens of thousands of numbers and prints some hundreds: names, workings and printed forms cost more
    than the figures.
    """

    __slots__ = ("_about", "_components", "_draft", "_name", "_printed")
    _about: About
    _components: tuple[Component, ...] | None
    _draft: Draft
    _name: Said
    _printed: Printed | None

    def __init__(self, draft: Draft, address: Address, name: Said, about: About) -> None:
        _set(self, "address", address)
        _set(self, "unit", about.unit)
        _set(self, "value", draft.value)
        _set(self, "degrees_of_freedom", draft.degrees_of_freedom)
        _set(self, "standard_uncertainty", draft.standard_uncertainty)
        _set(self, "repeatability_interval", draft.repeatability_interval)
        _set(self, "interval", draft.interval)
        _set(self, "finding", draft.finding)
        _set(self, "exact", draft.exact)
        _set(self, "adjusted", draft.adjusted)
        _set(self, "no_budget", draft.no_budget)
        _set(self, "_about", about)
        _set(self, "_components", None)
        _set(self, "_draft", draft)
        _set(self, "_name", name)
        _set(self, "_printed", None)

    @property  # type: ignore[misc]
    def __class__(self) -> type[Number]:  # type: ignore[override]
        """A plain number to `dataclasses.replace` and to comparisons: nobody need know that texts come late."""
        return Number

    @property
    def name(self) -> str:
        if not isinstance(found := self._name, str):
            found = found()
            _set(self, "_name", found)
        return found

    @property
    def printed(self) -> Printed:
        if (found := self._printed) is None:
            found = _printed_form(self._draft, self.unit)
            _set(self, "_printed", found)
        return found

    @property
    def components(self) -> tuple[Component, ...]:
        if (found := self._components) is None:
            combined = self._draft.combined
            found = combined.components if combined is not None else ()
            _set(self, "_components", found)
        return found

    @property
    def groups(self) -> Groups:
        if not isinstance(found := self._draft.groups, tuple):
            found = self._draft.groups = found()
        return found

    @property
    def formula(self) -> str:
        return self._about.formula

    @property
    def substitution(self) -> str:
        if not isinstance(found := self._draft.substitution, str):
            found = self._draft.substitution = found()
        return found

    @property
    def source(self) -> str:
        return self._about.source

    @property
    def reason(self) -> str:
        if not isinstance(found := self._draft.reason, str):
            found = self._draft.reason = found()
        return found

    @property
    def estimate(self) -> bool:
        return self._about.estimate

    @property
    def higher_is_better(self) -> bool | None:
        return self._about.higher_is_better


def _printed_form(draft: Draft, unit: Unit) -> Printed:
    if draft.exact:
        return printed_exact(draft.value, unit)
    return printed(
        draft.value, unit, interval=draft.interval, spread=draft.spread_for_printing, decimals=draft.decimals
    )


def _in_range(interval: Interval | None) -> bool:
    """Whether both ends can be written down."""
    return interval is None or (math.isfinite(interval.low or 0.0) and math.isfinite(interval.high or 0.0))


def _listed(groups: Groups | Callable[[], Groups]) -> Groups:
    return groups if isinstance(groups, tuple) else groups()


def number_from(
    find: Callable[[], Draft],
    address: Address,
    name: Said,
    about: About,
    groups: Groups | Callable[[], Groups] = (),
) -> Number:
    """A number with its printed form; "not determined" where it is not finite or cannot be found at all.

    `groups`: the runs that are named with one that cannot be found.
    """
    try:
        draft = find()
    except NotDetermined as problem:
        return _not_determined(address, name, about, problem.reason, groups)
    if not (
        math.isfinite(draft.value)
        and math.isfinite(draft.standard_uncertainty or 0.0)
        and _in_range(draft.interval)
        and (draft.repeatability_interval is draft.interval or _in_range(draft.repeatability_interval))
    ):
        return _not_determined(address, name, about, "the values are too large to compute with", draft.groups)
    return ComputedNumber(draft, address, name, about)


def _not_determined(
    address: Address, name: Said, about: About, reason: str, groups: Groups | Callable[[], Groups]
) -> Number:
    return Number(
        address=address, name=said(name), value=None, unit=about.unit, printed=printed_absent(),
        groups=_listed(groups), formula=about.formula, source=about.source, reason=reason,
    )  # fmt: skip
