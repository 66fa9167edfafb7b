"""From what a derivation found to the record every other room reads."""

import math

from benchgalley.records.address import Address
from benchgalley.records.results import Number
from benchgalley.records.units import Unit

from .budget import Draft, components
from .printing import printed, printed_absent, printed_exact

Groups = tuple[tuple[str, tuple[str, ...]], ...]


def number_from(
    draft: Draft,
    address: Address,
    name: str,
    unit: Unit,
    *,
    formula: str,
    source: str,
    higher_is_better: bool | None = None,
) -> Number:
    """A number with its printed form; one that is not finite becomes "not determined"."""
    if not math.isfinite(draft.value):
        return not_determined(
            address, name, unit, "the values are too large to compute with", formula=formula, source=source,
            groups=draft.groups,
        )  # fmt: skip
    if draft.exact:
        text = printed_exact(draft.value, unit)
    else:
        text = printed(
            draft.value,
            unit,
            interval=draft.interval,
            spread=draft.spread_for_printing,
            decimals=draft.decimals,
        )
    return Number(
        address=address,
        name=name,
        value=draft.value,
        unit=unit,
        printed=text,
        components=components(draft.terms),
        degrees_of_freedom=draft.degrees_of_freedom,
        standard_uncertainty=draft.standard_uncertainty,
        repeatability_interval=draft.repeatability_interval,
        interval=draft.interval,
        groups=draft.groups,
        formula=formula,
        substitution=draft.substitution,
        source=source,
        reason=draft.reason,
        finding=draft.finding,
        exact=draft.exact,
        adjusted=draft.adjusted,
        higher_is_better=higher_is_better,
    )


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
