"""A number as pages show it: the printed form with everything that stands behind it."""

from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import floor, inf, log10
from typing import NamedTuple

from markupsafe import Markup

from benchgalley.records.address import Address
from benchgalley.records.findings import Caveat
from benchgalley.records.results import Component, Interval, Number

from . import page_paths
from .typesetting import escaped, safe, typeset_safe

NBSP = "\u00a0"
MINUS = "\u2212"


_OF_READINGS = frozenset(
    {
        "short-window", "coarse-log", "partial-window", "not-steady", "stale-readings", "runs-too-short", "own-sensor",
        "own-sensors-compared", "accuracy-unknown", "mixed-channels", "coarse-resolution", "averaging-unknown",
    }
)  # fmt: skip
"""Codes of caveats about instruments and logs."""
_OF_OUTCOMES = frozenset(
    {
        "deepest-completed", "first-failed", "headroom", "completed-runs", "failed-runs", "failure-share", "failures",
        "failure-rate", "manages", "samples", "runs",
    }
)  # fmt: skip
"""Quantities counted from how runs ended: no instrument reading enters them."""
_RUNS_NAMED = 12
"""Runs of a group that are named; of more, the number is told."""


class BudgetLine(NamedTuple):
    """One contribution to the uncertainty, as printed."""

    name: str
    evaluation: str
    size: str
    """Standard uncertainty with unit."""
    degrees_of_freedom: str
    share: str
    """Its part of the combined variance, percent."""
    origin: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Working:
    """A number with its evidence, ready for a template."""

    address: str
    """As written inside the write-up whose page it stands on; the anchor of its row."""
    name: str
    text: str
    """Value and unit."""
    plus_minus: str
    interval: str
    """E.g. "95 % interval 36.9 W to 39.5 W"; empty without one."""
    repeats_interval: str
    """The interval from repeats alone, where it differs."""
    method: str
    runs: tuple[tuple[str, int, Markup], ...]
    """(setpoint or sequence, number of its runs, the first of them, each linked to its row)."""
    formula: str
    substitution: str
    source: str
    budget: Markup
    """The contributions to the uncertainty as rows of a table; empty where there are none."""
    no_budget: str
    """Why an interval has no contributions to list."""
    combined: str
    """Combined standard uncertainty."""
    degrees_of_freedom: str
    """Effective; empty when not estimated."""
    coverage_factor: str
    """k = expanded over combined; empty without a two-sided interval."""
    expanded: str
    """Expanded uncertainty: half of the interval."""
    reason: str
    marks: tuple[str, ...]
    adjusted: str
    caveats: tuple[Caveat, ...]
    href: str
    """Path of its row on the page of all numbers."""


class Workings:
    """The workings of numbers for the page of a write-up."""

    def __init__(self, here: str, cards: Container[str], caveats: Iterable[Caveat] = ()) -> None:
        """`here`: slug of the write-up; `cards`: ids of all cards, whose numbers are pooled over samples."""
        self._here, self._cards, self._bearing = here, cards, Bearing(caveats)

    def of(self, number: Number) -> Working:
        """The working of a number.

        Runs of a number pooled over samples come from several write-ups: they are named, not linked.
        """
        address, printed, interval = number.address, number.printed, number.interval
        combined = number.standard_uncertainty
        here = page_paths.write_up(self._here)
        place = "" if address.scope in self._cards else page_paths.write_up(address.scope)
        factor, half = expanded(number)
        return Working(
            address=address.within(self._here),
            name=number.name,
            text=printed.text,
            plus_minus=printed.plus_minus if printed.plus_minus != printed.text else "",
            interval=interval_words(number),
            repeats_interval=_repeats_only(number),
            method=interval.method if interval else "",
            runs=tuple((group, len(ids), _listed(ids, place, here)) for group, ids in number.groups),
            formula=number.formula,
            substitution=number.substitution,
            source=number.source,
            budget=Markup("".join([_budget_row(*line) for line in budget_lines(number)])),
            no_budget=number.no_budget,
            combined="" if combined is None else plain(combined) + unit_after(number.unit.symbol),
            degrees_of_freedom="" if number.degrees_of_freedom is None else degrees(number.degrees_of_freedom),
            coverage_factor=factor,
            expanded=half and half + unit_after(number.unit.symbol),
            reason=number.reason,
            marks=marks(number),
            adjusted=number.adjusted,
            caveats=self._bearing.on(number),
            href=row_path(address, self._cards),
        )


def row_path(address: Address, cards: Container[str]) -> str:
    """Path of a number's row on the page of all numbers of its write-up or card."""
    page = page_paths.card(address.scope) if address.scope in cards else page_paths.numbers(address.scope)
    return f"{page}#{address.local()}"


class Bearing:
    """Tells which of some caveats concern a number in particular (not the write-up as a whole)."""

    def __init__(self, caveats: Iterable[Caveat]) -> None:
        self._caveats = [
            (
                caveat,
                caveat.code in _OF_READINGS,
                frozenset(caveat.addresses),
                tuple(wanted for wanted in caveat.addresses if wanted.endswith("/")),
            )
            for caveat in caveats
            if caveat.addresses and not caveat.standing
        ]

    def on(self, number: Number) -> tuple[Caveat, ...]:
        """The caveats about this number, in the order given."""
        address = number.address
        local, full, counted = address.local(), str(address), address.quantity in _OF_OUTCOMES
        return tuple(
            caveat
            for caveat, of_readings, exactly, folders in self._caveats
            if not (of_readings and counted)
            and (local in exactly or full in exactly or local.startswith(folders) or full.startswith(folders))
        )


@lru_cache(maxsize=1024)
def _listed(runs: tuple[str, ...], place: str, here: str) -> Markup:
    """Runs by name on the page `here`, linked to their rows on the page `place`, where there is one."""
    named = [(run_anchor(run), safe(run)) for run in runs[:_RUNS_NAMED]]
    if place:
        names = [f'<a href="{page_paths.relative(f"{place}#{anchor}", here)}">{run}</a>' for anchor, run in named]
    else:
        names = [run for _, run in named]
    return Markup(", ".join(names) + (f" and {len(runs) - _RUNS_NAMED} more" if len(runs) > _RUNS_NAMED else ""))


@lru_cache(maxsize=4096)
def run_anchor(run: str) -> str:
    """Id of a run's row in the table of trials."""
    return f"run-{page_paths.anchor(run)}"


def run_count(number: Number) -> str:
    """Runs of each group in words: `5 and 5`; empty for a setting or a rated value."""
    return " and ".join([str(len(ids)) for _, ids in number.groups])


def interval_words(number: Number) -> str:
    """The interval with its confidence: `95 % interval 36.9 W to 39.5 W`; empty without one."""
    if number.interval is None or not number.printed.interval:
        return ""
    low, high, confidence_pct, _ = number.interval
    bounded = low is not None and high is not None
    return f"{_confidence(confidence_pct)} {'interval' if bounded else 'bound'} {number.printed.interval}"


@lru_cache(maxsize=16)
def _confidence(percent: float) -> str:
    return f"{percent:g}{NBSP}%"


def marks(number: Number) -> tuple[str, ...]:
    """What must be said wherever the number is shown: `exact`, `estimate`, a finding."""
    told: tuple[str, ...] = ("exact",) if number.exact else ()
    told += ("estimate",) if number.estimate else ()
    return told if number.finding is None else (*told, number.finding.value)


def plain(value: float, digits: int = 2) -> str:
    """A value to so many significant digits, without an exponent, with a true minus."""
    try:
        decimals = digits - 1 - floor(log10(abs(value)))
    except (ValueError, OverflowError):  # zero and what is not finite have no magnitude
        return "0" if value == 0 else "infinite" if value > 0 else f"{MINUS}infinite"
    text = "%.*f" % (decimals if decimals > 0 else 0, value)  # noqa: UP031 (two thirds of the time of an f-string)
    return text if value > 0 else text.replace("-", MINUS)


def all_plain(values: Sequence[float], digits: int = 2) -> list[str]:
    """The same for many values, each above zero as a rule: set by one call, they take half the time."""
    try:
        places = [digits - 1 - floor(log10(value)) for value in values]
    except (ValueError, OverflowError):
        return [plain(value, digits) for value in values]
    known = [part for place, value in zip(places, values, strict=True) for part in (place if place > 0 else 0, value)]
    return (("%.*f\n" * len(values)) % tuple(known)).split("\n")[:-1]


def unit_after(symbol: str) -> str:
    """The unit as it follows a value."""
    return NBSP + symbol if symbol else ""


def _repeats_only(number: Number) -> str:
    both = (number.repeatability_interval, number.interval)
    if both[0] is None or both[1] is None or (both[0].low, both[0].high) == (both[1].low, both[1].high):
        return ""
    return _ends(both[0], number)


def _ends(interval: Interval, number: Number) -> str:
    decimals = max(0, number.printed.decimals)
    ends = [
        "unbounded" if end is None else f"{end:.{decimals}f}".replace("-", MINUS)
        for end in (interval.low, interval.high)
    ]
    return " to ".join(end if end == "unbounded" else end + unit_after(number.unit.symbol) for end in ends)


def counted(components: Iterable[Component]) -> tuple[list[Component], list[str]]:
    """The contributions without those that cancel or are nothing, and what each makes of the variance."""
    found = [c for c in components if c.standard_uncertainty > 0]
    sizes = [c.standard_uncertainty for c in found]
    largest = max(sizes, default=1.0)
    if largest == inf:
        return found, [""] * len(found)
    if not 1e-100 < largest < 1e100:  # squares would leave the range of numbers
        sizes = [size / largest for size in sizes]
    squares = [size * size for size in sizes]
    variance = sum(squares)
    return found, [_SHARES[round(100 * square / variance)] for square in squares]


_SHARES = [f"{percent}{NBSP}%" for percent in range(101)]


def budget_lines(number: Number) -> tuple[BudgetLine, ...]:
    """The contributions to the uncertainty of a number."""
    unit = unit_after(number.unit.symbol)
    return tuple(
        [
            BudgetLine(name, evaluation, plain(size) + unit, degrees(freedom), share, origin)
            for (name, evaluation, size, freedom, origin), share in zip(*counted(number.components), strict=True)
        ]
    )


def _budget_row(name: str, evaluation: str, size: str, freedom: str, part: str, origin: str) -> str:
    return (
        f'<tr><th scope="row">{typeset_safe(name)}<span class="origin">{typeset_safe(origin)}</span></th>'
        f'<td>{evaluation}</td><td class="right">{escaped(size)}</td><td class="right">{freedom}</td>'
        f'<td class="right">{part}</td></tr>\n'
    )


def expanded(number: Number) -> tuple[str, str]:
    """(coverage factor, expanded uncertainty without its unit) of a two-sided interval about the value."""
    half, combined = half_width(number), number.standard_uncertainty
    return ("", "") if half is None or not combined else (plain(half / combined, 3), plain(half))


def half_width(number: Number) -> float | None:
    """Half of a two-sided interval."""
    interval = number.interval
    if interval is None or interval.low is None or interval.high is None:
        return None
    return (interval.high - interval.low) / 2


@lru_cache(maxsize=4096)
def degrees(count: float) -> str:
    """Degrees of freedom as printed: beyond a thousand the quantile no longer changes in any printed digit."""
    return "∞" if count == inf else "over 1000" if count > 1000 else plain(count, 2)
