"""Rows of the tables of numbers, as ready markup.

A site has tens of thousands of them with a dozen texts each, and the same texts come again and again: here each text
is escaped once and kept, where a template would escape it in every row. A page gets its rows one by one: to join them
first would copy all of them twice more.
"""

from collections.abc import Iterable
from functools import lru_cache

from markupsafe import Markup

from benchgalley.records.results import Component, Number

from .typesetting import escaped, safe, typeset, typeset_safe
from .workings import degrees, expanded, interval_words, marks, plain, run_count, shares, unit_after


class Budgets:
    """The budgets on one page: each list of contributions stands once, with the first number that has it."""

    def __init__(self) -> None:
        self._listed: dict[str, str] = {}
        """List as printed → anchor of the row that holds it."""

    def of(self, number: Number, anchor: str) -> str:
        """The budget of the number whose row has this anchor: with its contributions or the row that lists them."""
        combined, unit = number.standard_uncertainty, safe(unit_after(number))
        lines = "" if combined is None else _contributions(number.components, unit)
        if combined is None or not lines:
            return _origin(f"No budget: {typeset_safe(number.no_budget)}.") if number.no_budget else ""
        total, (factor, half) = plain(combined) + unit, expanded(number)
        known = f"Budget: u = {total}" + (f", k = {factor}, expanded {half}{unit}" if half else "")
        freedom = "" if number.degrees_of_freedom is None else f", ν = {degrees(number.degrees_of_freedom)}"
        first = self._listed.setdefault(lines, anchor)
        if first != anchor:
            return _origin(f'{known}{freedom}: contributions as for <a href="#{first}">{first}</a>')
        return (
            f'<details class="terms"><summary>{known}</summary><ul>\n{lines}'
            f"<li>combined: u = {total}{freedom}</li></ul></details>\n"
        )


def rows_with_working(numbers: Iterable[Number], here: str, budgets: Budgets) -> list[Markup]:
    """Rows of the page of all numbers of the write-up `here`."""
    return [Markup(_with_working(number, here, budgets)) for number in numbers]


def rows_of_results(numbers: Iterable[tuple[Number, str]], here: str) -> list[Markup]:
    """Rows of the results on the page of the write-up `here`; each number with a link to the row with its working."""
    return [Markup(_of_results(number, here, link)) for number, link in numbers]


def rows_over_samples(numbers: Iterable[Number], budgets: Budgets) -> list[Markup]:
    """Rows of figures pooled over the samples of a card, on the card's page."""
    return [Markup(_over_samples(number, budgets)) for number in numbers]


def _with_working(number: Number, here: str, budgets: Budgets) -> str:
    address = safe(number.address.within(here))
    formula, substitution = number.formula, number.substitution
    runs = ", ".join([f"{len(ids)} {safe(group)}" for group, ids in number.groups])
    return (
        f'<tr id="{address}">{_named(number, address, f"#{address}")}{_valued(number)}'
        f"<td>{escaped(interval_words(number))}{_method(number)}</td><td>"
        f"{f'<code>{safe(formula)}</code>' if formula else ''}"
        f"{f'<br><code>{escaped(typeset(substitution))}</code>' if substitution else ''}"
        f"{_origin('runs: ' + runs) if runs else ''}{budgets.of(number, address)}"
        f"{_origin(typeset_safe(number.adjusted))}{_origin(typeset_safe(number.reason))}{_origin(safe(number.source))}</td></tr>"
    )


def _of_results(number: Number, here: str, href: str) -> str:
    address = safe(number.address.within(here))
    return (
        f'<tr id="{address}">{_named(number, address, safe(href))}{_valued(number)}'
        f"<td>{escaped(interval_words(number))}</td><td>{run_count(number)}</td></tr>"
    )


def _over_samples(number: Number, budgets: Budgets) -> str:
    address, full = safe(number.address.local()), safe(str(number.address))
    samples = ", ".join([f"{safe(sample)} ({len(runs)} runs)" for sample, runs in number.groups])
    return (
        f'<tr id="{address}">{_named(number, full, f"#{address}")}'
        f'<td class="right figure">{escaped(number.printed.text)}</td>'
        f"<td>{escaped(interval_words(number))}{_method(number)}</td>"
        f"<td>{samples}{_origin(typeset_safe(number.reason))}{budgets.of(number, address)}</td></tr>"
    )


def _named(number: Number, address: str, href: str) -> str:
    return f'<th scope="row">{safe(number.name)}<a class="address" href="{href}">{address}</a></th>'


def _valued(number: Number) -> str:
    """The cell of the value, with what must be said wherever it is shown."""
    tags = "".join([f' <span class="tag">{mark}</span>' for mark in marks(number)])
    return f'<td class="right figure">{escaped(number.printed.text)}{tags}</td>'


def _method(number: Number) -> str:
    return _origin(safe(number.interval.method)) if number.interval is not None else ""


def _origin(words: str) -> str:
    """A remark in small type; `words` are escaped."""
    return f'<span class="origin">{words}</span>' if words else ""


@lru_cache(maxsize=1024)
def _contributions(components: tuple[Component, ...], unit: str) -> str:
    """Each in one line of words; a bound has those of the figure it is about."""
    return "".join(
        [
            f"<li>{typeset_safe(c.name)}: type {c.evaluation}, u = {plain(c.standard_uncertainty)}{unit}, "
            f"ν = {degrees(c.degrees_of_freedom)}, {share}; {typeset_safe(c.origin)}</li>\n"
            for c, share in shares(components)
        ]
    )
