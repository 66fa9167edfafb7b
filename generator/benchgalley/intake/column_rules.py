"""Columns of trials.csv: their canonical names, the map from other headers and units, and margins by quantity."""

import re
from dataclasses import dataclass

from ..records.findings import Location
from ..records.quantity import BY_COLUMN, MEASURED, SETTING_BY_COLUMN, Quantity
from ..records.units import PERCENT, Unit, find_unit
from ..records.write_up import Margins
from .fields import Fields
from .number_text import read_number
from .problem_list import clip, nearest, offer

OTHER_COLUMNS = ("trial", "outcome", "started", "driver", "note", "log", "sequence", "excluded")
"""Columns of trials.csv that are neither a setting nor measured."""
COLUMNS = ("trial", *SETTING_BY_COLUMN, "outcome", *BY_COLUMN, *OTHER_COLUMNS[2:])
"""Every canonical column."""
_QUANTITY_BY_KEY = {quantity.key: quantity for quantity in MEASURED}


@dataclass(frozen=True, kw_only=True, slots=True)
class ColumnRule:
    """Where a canonical column is found in trials.csv."""

    header: str
    unit: Unit | None
    """None: the canonical unit."""
    where: Location


def read_columns(outer: Fields | None) -> dict[str, ColumnRule]:
    """The column map: canonical column → where it is found."""
    rules: dict[str, ColumnRule] = {}
    if outer is None:
        return rules
    for column, (key_node, node) in outer.node.entries.items():
        path = outer.path(column)
        if column not in COLUMNS:
            outer.complain(
                "unknown-column",
                key_node,
                f"`{clip(column)}` is no column of trials.csv",
                offer(column, COLUMNS, "Columns"),
            )
            continue
        if node.kind == "scalar":
            header, unit = outer.text_of(node, path), None
        else:
            inner = outer.fields_of(node, path)
            if inner is None:
                continue
            header = inner.text("header", required=True)
            unit = read_unit(inner, column)
            inner.finish()
        rules[column] = ColumnRule(header=header, unit=unit, where=outer.source.at(node.line, node.column, node.length))
    return rules


def read_margins(outer: Fields | None) -> Margins:
    """How much counts as the same, by quantity."""
    margins: dict[str, tuple[float, bool]] = {}
    for key, (key_node, node) in (outer.node.entries if outer else {}).items():
        assert outer is not None
        quantity = _QUANTITY_BY_KEY.get(key)
        if quantity is None and (close := nearest(key, _QUANTITY_BY_KEY)) and not _is_derived_name(key):
            outer.complain("unknown-quantity", key_node, f"`{clip(key)}` is no quantity", f"Did you mean `{close}`?")
            continue
        text = outer.text_of(node, outer.path(key))
        margin = _margin(text, quantity)
        if isinstance(margin, str):
            outer.complain(
                "wrong-type",
                node,
                f"`{outer.path(key)}` is `{clip(text)}`; {margin} was expected",
                "Write such as `1 %`.",
            )
        else:
            margins[key] = margin
    return Margins(by_quantity=margins)


def read_unit(fields: Fields, column: str) -> Unit | None:
    """The unit a mapped column is written in; None: the canonical one. A problem when it does not convert."""
    if not (spelling := fields.text("unit")):
        return None
    own = BY_COLUMN[column].unit if column in BY_COLUMN else None
    if column in SETTING_BY_COLUMN:
        own = SETTING_BY_COLUMN[column].unit
    unit = find_unit(spelling)
    path = fields.path("unit")
    if own is None or column == "score":
        fields.wrong(
            "unit",
            "wrong-unit",
            f"`{path}` is `{clip(spelling)}`, but `{column}` has {'its unit from the load' if own else 'no unit'}",
            "Remove the key.",
        )
    elif unit is None:
        fields.wrong(
            "unit",
            "unknown-unit",
            f"`{path}` is `{clip(spelling)}`, which is no unit known here",
            f"Write such as {own.symbol}.",
        )
    elif unit.dimension != own.dimension:
        fields.wrong(
            "unit",
            "wrong-unit",
            f"`{path}` is {unit.symbol}, which does not convert into {own.symbol}",
            f"Write such as {own.symbol}.",
        )
    else:
        return unit
    return None


def _is_derived_name(key: str) -> bool:
    """Derived quantities are not known to this room: compound names pass, near misses of measured ones do not."""
    return any(part in key for part in ("-per-", "energy", "rise", "resistance", "cost"))


def _margin(text: str, quantity: Quantity | None) -> tuple[float, bool] | str:
    """(margin, whether percent of baseline), or what was expected instead."""
    match = re.fullmatch(r"([0-9.eE+-]+)[ \u00a0\u202f]*(.*)", text)
    value = read_number(match[1]) if match else None
    if match is None or value is None or value <= 0:
        return "a margin above zero with its unit"
    spelling = match[2].strip()
    unit = find_unit(spelling) if spelling else None
    if unit == PERCENT:
        return value, True
    if quantity is None:
        return "percent of the baseline"
    own = quantity.difference_unit or quantity.unit
    if quantity.column == "score":
        return (value, False) if spelling else "percent, or a number with the load's score unit"
    if unit is None:
        return f"a margin in {own.symbol} or percent"
    # A margin is a difference: one degree Celsius of it is one kelvin, and no zero shift applies.
    if unit.dimension not in (own.dimension, quantity.unit.dimension):
        return f"a margin in {own.symbol} or percent"
    return value * unit.factor / own.factor, False
