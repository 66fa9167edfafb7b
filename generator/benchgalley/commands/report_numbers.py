"""Numbers for people and for scripts: every address with its value, interval, runs and working."""

import difflib
import json
import math
from collections.abc import Iterable
from typing import Any

from benchgalley.records.address import Address
from benchgalley.records.results import Number, Results
from benchgalley.records.site import Site


def select(
    site: Site, results: Results, only: str | None, wanted: Iterable[str]
) -> tuple[tuple[Number, ...], tuple[str, ...]]:
    """The numbers at the wanted addresses (all when none is named), and a line for each unknown one."""
    scopes = [only] if only else [*sorted(site.write_ups), *sorted(site.cards)]
    known = [address for scope in scopes for address in results.addresses(scope)]
    texts = list(wanted)
    if not texts:
        return tuple(n for a in known if (n := results.find(a)) is not None), ()
    found: list[Number] = []
    unknown: list[str] = []
    for text in texts:
        addresses = [Address.parse(text, scope) for scope in scopes]
        numbers = {str(n.address): n for a in addresses if a and (n := results.find(a)) is not None}
        if numbers:
            found += numbers.values()
        else:
            near = difflib.get_close_matches(text, [a.local() for a in known] + [str(a) for a in known], n=3)
            hint = f" Nearest: {', '.join(near)}." if near else " `benchgalley numbers` lists every address."
            unknown.append(f"{text}: no such address.{hint}")
    return tuple(found), tuple(unknown)


def as_table(numbers: Iterable[Number]) -> str:
    """One line a number: address, printed value, interval, runs."""
    rows = [_row(n) for n in numbers]
    widths = [max((len(row[i]) for row in rows), default=0) for i in range(3)]
    return "\n".join(
        "  ".join([*(c.ljust(w) for c, w in zip(row, widths, strict=False)), row[3]]).rstrip() for row in rows
    )


def _row(number: Number) -> tuple[str, str, str, str]:
    interval = number.printed.interval
    if interval and number.interval is not None:
        interval = f"{number.interval.confidence_pct:g} %: {interval}"
    runs = " and ".join(str(n) for n in number.runs)
    last = f"{runs} runs" if runs else ("set" if number.exact else "")
    if number.value is None and number.finding is None:
        last = number.reason
    return str(number.address), number.printed.text, interval, last


def as_working(number: Number) -> str:
    """The whole working of one number."""
    lines = [str(number.address), f"  {number.name}", f"  = {number.printed.plus_minus}"]
    if number.interval is not None and number.printed.interval:
        interval = number.interval
        lines.append(f"  {interval.confidence_pct:g} % interval {number.printed.interval} ({interval.method})")
    if number.finding is not None:
        lines.append(f"  equivalence: {number.finding.value}")
    if number.formula:
        lines.append(f"  formula: {number.formula}")
    if number.substitution:
        lines.append(f"  here: {number.substitution}")
    lines += [f"  runs of {name}: {', '.join(ids)}" for name, ids in number.groups]
    lines += [
        f"  {c.evaluation}  u = {c.standard_uncertainty:.4g} {number.unit.symbol}  {c.name} ({c.origin})"
        for c in number.components
    ]
    if number.no_budget:
        lines.append(f"  no budget: {number.no_budget}")
    if number.adjusted:
        lines.append(f"  {number.adjusted}")
    if number.reason:
        lines.append(f"  {number.reason}")
    if number.source:
        lines.append(f"  source: {number.source}")
    return "\n".join(lines) + "\n"


def as_json(numbers: Iterable[Number]) -> str:
    """Every number with everything behind it; floats in their shortest exact form."""
    return json.dumps([as_data(n) for n in numbers], ensure_ascii=False, indent=1, allow_nan=False)


def as_data(number: Number) -> dict[str, Any]:
    """One number as plain data."""
    interval = number.interval
    return {
        "address": str(number.address),
        "name": number.name,
        "value": number.value,
        "unit": number.unit.symbol,
        "ucum": number.unit.ucum,
        "printed": number.printed.text,
        "printed_interval": number.printed.interval,
        "interval": None
        if interval is None
        else {
            "low": interval.low,
            "high": interval.high,
            "confidence_pct": interval.confidence_pct,
            "method": interval.method,
        },
        "standard_uncertainty": number.standard_uncertainty,
        "degrees_of_freedom": _finite(number.degrees_of_freedom),
        "components": [
            {
                "name": c.name,
                "evaluation": c.evaluation,
                "standard_uncertainty": c.standard_uncertainty,
                "degrees_of_freedom": _finite(c.degrees_of_freedom),
                "origin": c.origin,
            }
            for c in number.components
        ],
        "no_budget": number.no_budget,
        "runs": {name: list(ids) for name, ids in number.groups},
        "finding": number.finding.value if number.finding else None,
        "formula": number.formula,
        "substitution": number.substitution,
        "source": number.source,
        "reason": number.reason,
        "adjusted": number.adjusted,
        "exact": number.exact,
        "estimate": number.estimate,
    }


def _finite(value: float | None) -> float | str | None:
    # JSON knows no infinity.
    return "infinite" if value is not None and math.isinf(value) else value
