"""Uncertainty budgets in the rows of the tables of numbers: each list of contributions stands once on a page."""

from collections.abc import Iterable, Sequence
from functools import lru_cache

from benchgalley.records.results import Component, Number

from .typesetting import escaped, typeset, typeset_safe
from .workings import all_plain, counted, degrees, half_width, unit_after


class Budgets:
    """The budgets on one page."""

    def __init__(self) -> None:
        self._lists: dict[tuple[int, str], tuple[tuple[Component, ...], str]] = {}
        """(`id` of contributions, unit) → the contributions, so that the id stays theirs, and their list as printed."""
        self._listed: dict[str, str] = {}
        """List as printed → anchor of the row that holds it."""

    def of_each(self, numbers: Sequence[Number], anchors: Iterable[str]) -> list[str]:
        """The budgets of numbers in rows with these anchors: the contributions, or the row that lists them."""
        units = [_after(number.unit.symbol) for number in numbers]
        lists = self._lists_of(numbers, units)
        totals = _for_each([number.standard_uncertainty for number in numbers])
        expansions = _expansions(numbers, units)
        rows = zip(numbers, anchors, units, lists, totals, expansions, strict=True)
        return [self._budget(*row) for row in rows]

    def _budget(self, number: Number, anchor: str, unit: str, lines: str, total: str, expansion: str) -> str:
        if not lines:
            return remark(f"No budget: {number.no_budget}.") if number.no_budget else ""
        freedom = "" if (found := number.degrees_of_freedom) is None else f", ν = {degrees(found)}"
        known = f"Budget: u = {total}{unit}{expansion}"
        first = self._listed.setdefault(lines, anchor)
        if first != anchor:
            return in_small_type(f'{known}{freedom}: contributions as for <a href="#{first}">{first}</a>')
        return (
            f'<details class="terms"><summary>{known}</summary><ul>\n{lines}'
            f"<li>combined: u = {total}{unit}{freedom}</li></ul></details>\n"
        )

    def _lists_of(self, numbers: Sequence[Number], units: Sequence[str]) -> list[str]:
        """The contributions of each number, one in a line; a bound has those of the figure it is about."""
        known = [number.components if number.standard_uncertainty is not None else () for number in numbers]
        keys = [(id(components), unit) for components, unit in zip(known, units, strict=True)]
        fresh = {key: found for key, found in zip(keys, known, strict=True) if key not in self._lists}
        parts = [counted(components) for components in fresh.values()]
        sizes = iter(all_plain([part.standard_uncertainty for found, _ in parts for part in found]))
        for (key, components), (found, shares) in zip(fresh.items(), parts, strict=True):
            lines = []
            for (name, evaluation, _, freedom, origin), share in zip(found, shares, strict=True):
                before, between, after = _about(name, evaluation, freedom, origin)
                lines.append(f"{before}{next(sizes)}{key[1]}{between}{share}{after}")
            self._lists[key] = (components, "".join(lines))
        return [self._lists[key][1] for key in keys]


def _expansions(numbers: Sequence[Number], units: Sequence[str]) -> list[str]:
    """Coverage factor and expanded uncertainty of each; empty without a two-sided interval."""
    halves = [half_width(number) for number in numbers]
    factors = _for_each(
        [
            None if half is None or not number.standard_uncertainty else half / number.standard_uncertainty
            for number, half in zip(numbers, halves, strict=True)
        ],
        3,
    )
    return [
        f", k = {factor}, expanded {half}{unit}" if factor else ""
        for factor, half, unit in zip(factors, _for_each(halves), units, strict=True)
    ]


def _for_each(values: Sequence[float | None], digits: int = 2) -> list[str]:
    """The printed values; empty where there is none."""
    texts = iter(all_plain([value for value in values if value is not None], digits))
    return ["" if value is None else next(texts) for value in values]


@lru_cache(maxsize=256)
def _after(symbol: str) -> str:
    return escaped(unit_after(symbol))


@lru_cache(maxsize=4096)
def _about(name: str, evaluation: str, freedom: float, origin: str) -> tuple[str, str, str]:
    """What stands before, between and after the figures of a contribution."""
    return (
        f"<li>{typeset_safe(name)}: type {evaluation}, u = ",
        f", ν = {degrees(freedom)}, ",
        f"; {typeset_safe(origin)}</li>\n",
    )


@lru_cache(maxsize=1024)
def remark(text: str) -> str:
    """A remark in small type."""
    return in_small_type(escaped(typeset(text)))


def in_small_type(words: str) -> str:
    """A remark of ready words; nothing where there are none."""
    return f'<span class="origin">{words}</span>' if words else ""
