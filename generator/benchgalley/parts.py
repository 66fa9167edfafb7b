"""What is kept of a write-up, so that pages about several can be made without reading and computing it again."""

from collections.abc import Iterator, Mapping
from typing import Any, get_type_hints

from . import charts, publish
from .records.address import Address
from .records.noted import KEPT, NotedWriteUps
from .records.results import Number, Results
from .records.site import Warnings
from .records.write_up import Claim, WriteUp

_COMPARED = tuple(dict.fromkeys((*charts.COMPARED, *((q, relation) for q, relation, _ in publish.COMPARED))))
"""(quantity, relation) of the numbers of every setpoint that stand beside those of other cards."""


def _kind_of(name: str) -> Any:
    """The type of a field or property of a write-up."""
    hints = get_type_hints(WriteUp)
    return hints[name] if name in hints else get_type_hints(getattr(WriteUp, name).fget)["return"]


PARTS: Mapping[str, Any] = {
    **{name: _kind_of(name) for name in KEPT},
    "claims": tuple[Claim, ...],
    "warnings": Warnings,
    "about": str | None,
    "compared": tuple[Number, ...],
}
"""Name → type. `about`: name of the setpoint it is about."""


def parts_of(
    write_up: WriteUp, results: Results, claims: tuple[Claim, ...], warnings: Warnings, about: str | None
) -> dict[str, Any]:
    """Name → value of every part."""
    found = {name: getattr(write_up, name) for name in KEPT}
    compared = tuple(_compared(write_up, results))
    return found | {"claims": claims, "warnings": warnings, "about": about, "compared": compared}


def _compared(write_up: WriteUp, results: Results) -> Iterator[Number]:
    """The numbers that stand beside those of other cards, each with all that is shown of it there."""
    for setpoint in write_up.setpoints:
        for quantity, relation in _COMPARED:
            address = Address(scope=write_up.slug, subject=setpoint, quantity=quantity, relation=relation)
            number = results.find(address)
            if number is not None and number.value is not None:
                yield Number(
                    address=address,
                    name=number.name,
                    value=number.value,
                    unit=number.unit,
                    printed=number.printed,
                    repeatability_interval=number.repeatability_interval,
                    interval=number.interval,
                    groups=number.groups,
                    exact=number.exact,
                )


def beside(write_ups: NotedWriteUps) -> Results:
    """A ledger of the numbers that stand beside one another; it gives None for one that is not determined."""
    kept: dict[str, dict[Address, Number]] = {}

    def find(address: Address) -> Number | None:
        if (address.quantity, address.relation) not in _COMPARED:
            raise LookupError(f"{address} is not kept for comparisons")
        if (numbers := kept.get(address.scope)) is None:
            compared = write_ups.attribute(address.scope, "compared")
            numbers = kept[address.scope] = {number.address: number for number in compared}
        return numbers.get(address)

    return Results(compute=find, list_addresses=lambda _: (), rival_groups=lambda _: ())
