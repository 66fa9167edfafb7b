"""Rows of the tables of numbers, as ready markup.

A site has tens of thousands of them with a dozen texts each: here a remark that comes again in row after row is set
once and kept, where a template would set it in every row.
"""

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

from markupsafe import Markup

from benchgalley.records.results import Component, Number

from .typesetting import escaped, safe, typeset, typeset_once, typeset_safe
from .workings import counted, degrees, expanded, interval_words, marks, plain, run_count, share, unit_after

_AT_A_TIME = 8
"""Rows with working that are handed on in one piece."""


class Budgets:
    """The budgets on one page: each list of contributions stands once, with the first number that has it."""

    def __init__(self) -> None:
        self._lists: dict[tuple[int, str], tuple[tuple[Component, ...], str]] = {}
        """(`id` of contributions, unit) → the contributions, so that the id stays theirs, and their list as printed."""
        self._listed: dict[str, str] = {}
        """List as printed → anchor of the row that holds it."""

    def of(self, number: Number, anchor: str) -> str:
        """The budget of the number whose row has this anchor: with its contributions or the row that lists them."""
        if (combined := number.standard_uncertainty) is None:
            return _unlisted(number.no_budget)
        unit = safe(unit_after(number))
        if not (lines := self._list(number.components, unit)):
            return _unlisted(number.no_budget)
        total, (factor, half) = plain(combined) + unit, expanded(number)
        known = f"Budget: u = {total}" + (f", k = {factor}, expanded {half}{unit}" if half else "")
        freedom = "" if number.degrees_of_freedom is None else f", ν = {degrees(number.degrees_of_freedom)}"
        first = self._listed.setdefault(lines, anchor)
        if first != anchor:
            return in_small_type(f'{known}{freedom}: contributions as for <a href="#{first}">{first}</a>')
        return (
            f'<details class="terms"><summary>{known}</summary><ul>\n{lines}'
            f"<li>combined: u = {total}{freedom}</li></ul></details>\n"
        )

    def _list(self, components: tuple[Component, ...], unit: str) -> str:
        """Each in one line of words; a bound has those of the figure it is about."""
        key = (id(components), unit)
        if key not in self._lists:
            self._lists[key] = (components, _contributions(components, unit))
        return self._lists[key][1]


def rows_with_working(numbers: Sequence[Number], budgets: Budgets) -> Iterator[Markup]:
    """Rows of the page of all numbers of a write-up, some at a time."""
    for some in _some(numbers):
        yield Markup("".join([_with_working(number, budgets) for number in some]))


def rows_of_results(numbers: Iterable[tuple[Number, str]], here: str) -> Markup:
    """Rows of the results on the page of the write-up `here`; each number with a link to the row with its working."""
    return Markup("".join([_of_results(number, here, link) for number, link in numbers]))


def rows_over_samples(numbers: Sequence[Number], budgets: Budgets) -> Iterator[Markup]:
    """Rows of figures pooled over the samples of a card, on the card's page, some at a time."""
    for some in _some(numbers):
        yield Markup("".join([_over_samples(number, budgets) for number in some]))


def _some(numbers: Sequence[Number]) -> Iterator[Sequence[Number]]:
    """A few after the other: a whole table of working, joined and copied by a template, calls for memory each time."""
    return (numbers[start : start + _AT_A_TIME] for start in range(0, len(numbers), _AT_A_TIME))


def _with_working(number: Number, budgets: Budgets) -> str:
    address = escaped(number.address.local())
    substitution = number.substitution
    return (
        f'<tr id="{address}">{_named(number, address, f"#{address}")}{_valued(number)}'
        f"<td>{_between(number)}</td><td>{_formula(number.formula)}"
        f"{f'<br><code>{escaped(typeset_once(substitution))}</code>' if substitution else ''}"
        f"{_runs(number.groups)}{budgets.of(number, address)}"
        f"{_remark(number.adjusted)}{_remark(number.reason)}{_origin(number.source)}</td></tr>\n"
    )


def _of_results(number: Number, here: str, href: str) -> str:
    address = escaped(number.address.within(here))
    return (
        f'<tr id="{address}">{_named(number, address, escaped(href))}{_valued(number)}'
        f"<td>{escaped(interval_words(number))}</td><td>{run_count(number)}</td></tr>\n"
    )


def _over_samples(number: Number, budgets: Budgets) -> str:
    address, full = escaped(number.address.local()), escaped(str(number.address))
    samples = ", ".join([f"{safe(sample)} ({len(runs)} runs)" for sample, runs in number.groups])
    return (
        f'<tr id="{address}">{_named(number, full, f"#{address}")}'
        f'<td class="right figure">{escaped(number.printed.text)}</td><td>{_between(number)}</td>'
        f"<td>{samples}{_remark(number.reason)}{budgets.of(number, address)}</td></tr>\n\n"
    )


def _named(number: Number, address: str, href: str) -> str:
    return f'<th scope="row">{escaped(number.name)}<a class="address" href="{href}">{address}</a></th>'


def _valued(number: Number) -> str:
    """The cell of the value, with what must be said wherever it is shown."""
    tags = [f' <span class="tag">{mark}</span>' for mark in told] if (told := marks(number)) else ()
    return f'<td class="right figure">{escaped(number.printed.text)}{"".join(tags)}</td>'


def _between(number: Number) -> str:
    """The interval and how it was found."""
    return "" if number.interval is None else escaped(interval_words(number)) + _origin(number.interval.method)


def _unlisted(reason: str) -> str:
    return _remark(f"No budget: {reason}.") if reason else ""


def in_small_type(words: str) -> str:
    """A remark of ready words; nothing where there are none."""
    return f'<span class="origin">{words}</span>' if words else ""


@lru_cache(maxsize=1024)
def _runs(groups: tuple[tuple[str, tuple[str, ...]], ...]) -> str:
    return in_small_type("runs: " + ", ".join([f"{len(ids)} {safe(group)}" for group, ids in groups])) if groups else ""


@lru_cache(maxsize=1024)
def _formula(formula: str) -> str:
    return f"<code>{escaped(formula)}</code>" if formula else ""


@lru_cache(maxsize=1024)
def _remark(text: str) -> str:
    """A remark in small type."""
    return in_small_type(escaped(typeset(text)))


@lru_cache(maxsize=1024)
def _origin(text: str) -> str:
    """The same for what names a method or a source: it stands as it was written."""
    return in_small_type(escaped(text))


def _contributions(components: tuple[Component, ...], unit: str) -> str:
    found, variance = counted(components)
    return "".join(
        [
            f"<li>{typeset_safe(name)}: type {evaluation}, u = {plain(size)}{unit}, "
            f"ν = {degrees(freedom)}, {share(size, variance)}; {typeset_safe(origin)}</li>\n"
            for name, evaluation, size, freedom, origin in found
        ]
    )
