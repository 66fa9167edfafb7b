"""From what a derivation found to the record every other room reads."""

import math
from typing import Any

from benchgalley.records.address import Address
from benchgalley.records.results import Component, Interval, Number, Printed
from benchgalley.records.units import Unit

from .budget import Draft, Groups, Said, said
from .printing import printed, printed_absent, printed_exact

_set: Any = object.__setattr__


class ComputedNumber(Number):
    """A number whose figures are there and whose texts are made when somebody reads them.

    A site has tens of thousands of numbers and prints some hundreds: names, workings and printed forms cost more
    than the figures.
    """

    __slots__ = ("_draft", "_formula", "_name", "_printed", "_source")
    _draft: Draft
    _formula: Said
    _name: Said
    _printed: Printed | None
    _source: Said

    def __init__(
        self,
        draft: Draft,
        address: Address,
        name: Said,
        unit: Unit,
        formula: Said,
        source: Said,
        higher_is_better: bool | None,
        estimate: bool,
    ) -> None:
        _set(self, "address", address)
        _set(self, "unit", unit)
        _set(self, "value", draft.value)
        _set(self, "degrees_of_freedom", draft.degrees_of_freedom)
        _set(self, "standard_uncertainty", draft.standard_uncertainty)
        _set(self, "repeatability_interval", draft.repeatability_interval)
        _set(self, "interval", draft.interval)
        _set(self, "finding", draft.finding)
        _set(self, "exact", draft.exact)
        _set(self, "estimate", estimate)
        _set(self, "adjusted", draft.adjusted)
        _set(self, "no_budget", draft.no_budget)
        _set(self, "higher_is_better", higher_is_better)
        _set(self, "_draft", draft)
        _set(self, "_name", name)
        _set(self, "_formula", formula)
        _set(self, "_source", source)
        _set(self, "_printed", None)

    @property  # type: ignore[misc]
    def __class__(self) -> type[Number]:  # type: ignore[override]
        """A plain number to `dataclasses.replace` and to comparisons: nobody need know that texts come late."""
        return Number

    @property
    def name(self) -> str:
        return said(self._name)

    @property
    def printed(self) -> Printed:
        if (found := self._printed) is None:
            found = _printed_form(self._draft, self.unit)
            _set(self, "_printed", found)
        return found

    @property
    def components(self) -> tuple[Component, ...]:
        combined = self._draft.combined
        return combined.components if combined is not None else ()

    @property
    def groups(self) -> Groups:
        groups = self._draft.groups
        return groups if isinstance(groups, tuple) else groups()

    @property
    def formula(self) -> str:
        return said(self._formula)

    @property
    def substitution(self) -> str:
        return said(self._draft.substitution)

    @property
    def source(self) -> str:
        return said(self._source)

    @property
    def reason(self) -> str:
        return said(self._draft.reason)


def _printed_form(draft: Draft, unit: Unit) -> Printed:
    if draft.exact:
        return printed_exact(draft.value, unit)
    return printed(
        draft.value, unit, interval=draft.interval, spread=draft.spread_for_printing, decimals=draft.decimals
    )


def _in_range(interval: Interval | None) -> bool:
    """Whether both ends can be written down."""
    return interval is None or (math.isfinite(interval.low or 0.0) and math.isfinite(interval.high or 0.0))


def number_from(
    draft: Draft,
    address: Address,
    name: Said,
    unit: Unit,
    *,
    formula: Said,
    source: Said,
    higher_is_better: bool | None = None,
    estimate: bool = False,
) -> Number:
    """A number with its printed form; one that is not finite becomes "not determined"."""
    if not (
        math.isfinite(draft.value)
        and math.isfinite(draft.standard_uncertainty or 0.0)
        and _in_range(draft.interval)
        and (draft.repeatability_interval is draft.interval or _in_range(draft.repeatability_interval))
    ):
        groups = draft.groups
        return not_determined(
            address, said(name), unit, "the values are too large to compute with", formula=said(formula),
            source=said(source), groups=groups if isinstance(groups, tuple) else groups(),
        )  # fmt: skip
    return ComputedNumber(draft, address, name, unit, formula, source, higher_is_better, estimate)


def not_determined(
    address: Address,
    name: str,
    unit: Unit,
    reason: str,
    *,
    formula: str = "",
    source: str = "",
    groups: Groups = (),
) -> Number:
    """A number that cannot be given, with the reason."""
    return Number(
        address=address, name=name, value=None, unit=unit, printed=printed_absent(), groups=groups,
        formula=formula, source=source, reason=reason,
    )  # fmt: skip
