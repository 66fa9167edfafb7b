"""Rows of the tables of numbers, as ready markup.

A site has tens of thousands of them with a dozen texts each: here each kind of text is made for all rows of a table
in turn, so that signs are looked for in a column at once, and a remark that comes again in row after row is set once
and kept, where a template would set it in every row.
"""

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

from markupsafe import Markup

from benchgalley.records.results import Component, Number

from .typesetting import all_escaped, all_typeset, escaped, safe, typeset, typeset_safe
from .workings import counted, degrees, expanded, interval_words, marks, plain, run_count, unit_after

_AT_A_TIME = 32
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
        unit = _after(number.unit.symbol)
        if not (lines := self._list(number.components, unit)):
            return _unlisted(number.no_budget)
        factor, half = expanded(number)
        known = f"Budget: u = {plain(combined)}{unit}" + (f", k = {factor}, expanded {half}{unit}" if half else "")
        freedom = "" if (found := number.degrees_of_freedom) is None else f", ν = {degrees(found)}"
        first = self._listed.setdefault(lines, anchor)
        if first != anchor:
            return in_small_type(f'{known}{freedom}: contributions as for <a href="#{first}">{first}</a>')
        return (
            f'<details class="terms"><summary>{known}</summary><ul>\n{lines}'
            f"<li>combined: u = {plain(combined)}{unit}{freedom}</li></ul></details>\n"
        )

    def _list(self, components: tuple[Component, ...], unit: str) -> str:
        """Each in one line of words; a bound has those of the figure it is about."""
        key = (id(components), unit)
        if key not in self._lists:
            self._lists[key] = (components, _contributions(components, unit))
        return self._lists[key][1]


def rows_with_working(numbers: Sequence[Number], budgets: Budgets) -> Iterator[Markup]:
    """Rows of the page of all numbers of a write-up, some at a time."""
    addresses = all_escaped([number.address.local() for number in numbers])
    columns = (
        addresses,
        _names(numbers),
        _values(numbers),
        _between(numbers),
        [_formula(number.formula) for number in numbers],
        _substitutions(numbers),
        [_runs(number.groups) for number in numbers],
        [budgets.of(number, address) for number, address in zip(numbers, addresses, strict=True)],
        _remarks([number.adjusted for number in numbers]),
        _remarks([number.reason for number in numbers]),
        [_origin(number.source) for number in numbers],
    )
    rows = [
        f'<tr id="{address}"><th scope="row">{name}<a class="address" href="#{address}">{address}</a></th>'
        f'<td class="right figure">{value}</td><td>{between}</td>'
        f"<td>{formula}{substitution}{runs}{budget}{adjusted}{reason}{source}</td></tr>\n"
        for address, name, value, between, formula, substitution, runs, budget, adjusted, reason, source in zip(
            *columns, strict=True
        )
    ]
    return _some(rows)


def rows_of_results(numbers: Iterable[tuple[Number, str]], here: str) -> Markup:
    """Rows of the results on the page of the write-up `here`; each number with a link to the row with its working."""
    shown, links = zip(*numbers, strict=True)
    columns = (
        all_escaped([number.address.within(here) for number in shown]),
        _names(shown),
        all_escaped(list(links)),
        _values(shown),
        all_escaped([interval_words(number) for number in shown]),
        [run_count(number) for number in shown],
    )
    rows = [
        f'<tr id="{address}"><th scope="row">{name}<a class="address" href="{link}">{address}</a></th>'
        f'<td class="right figure">{value}</td><td>{interval}</td><td>{runs}</td></tr>\n'
        for address, name, link, value, interval, runs in zip(*columns, strict=True)
    ]
    return Markup("".join(rows))


def rows_over_samples(numbers: Sequence[Number], budgets: Budgets) -> Iterator[Markup]:
    """Rows of figures pooled over the samples of a card, on the card's page, some at a time."""
    addresses = all_escaped([number.address.local() for number in numbers])
    columns = (
        addresses,
        _names(numbers),
        all_escaped([str(number.address) for number in numbers]),
        all_escaped([number.printed.text for number in numbers]),
        _between(numbers),
        [_samples(number.groups) for number in numbers],
        _remarks([number.reason for number in numbers]),
        [budgets.of(number, address) for number, address in zip(numbers, addresses, strict=True)],
    )
    rows = [
        f'<tr id="{address}"><th scope="row">{name}<a class="address" href="#{address}">{full}</a></th>'
        f'<td class="right figure">{text}</td><td>{between}</td><td>{samples}{reason}{budget}</td></tr>\n\n'
        for address, name, full, text, between, samples, reason, budget in zip(*columns, strict=True)
    ]
    return _some(rows)


def _some(rows: Sequence[str]) -> Iterator[Markup]:
    """A few after the other: a whole table of working, joined and copied by a template, calls for memory each time."""
    return (Markup("".join(rows[start : start + _AT_A_TIME])) for start in range(0, len(rows), _AT_A_TIME))


# Columns: a text for each number


def _names(numbers: Sequence[Number]) -> list[str]:
    return all_escaped([number.name for number in numbers])


def _values(numbers: Sequence[Number]) -> list[str]:
    """The value with what must be said wherever it is shown."""
    texts = all_escaped([number.printed.text for number in numbers])
    return [
        text + "".join([f' <span class="tag">{mark}</span>' for mark in told]) if (told := marks(number)) else text
        for number, text in zip(numbers, texts, strict=True)
    ]


def _between(numbers: Sequence[Number]) -> list[str]:
    """The interval and how it was found."""
    words = all_escaped([interval_words(number) for number in numbers])
    return [
        "" if (interval := number.interval) is None else text + _origin(interval.method)
        for number, text in zip(numbers, words, strict=True)
    ]


def _substitutions(numbers: Sequence[Number]) -> list[str]:
    texts = all_escaped(all_typeset([number.substitution for number in numbers]))
    return [f"<br><code>{text}</code>" if text else "" for text in texts]


def _remarks(texts: list[str]) -> list[str]:
    return [_remark(text) if text else "" for text in texts]


# What comes again and again


def _unlisted(reason: str) -> str:
    return _remark(f"No budget: {reason}.") if reason else ""


def in_small_type(words: str) -> str:
    """A remark of ready words; nothing where there are none."""
    return f'<span class="origin">{words}</span>' if words else ""


@lru_cache(maxsize=1024)
def _runs(groups: tuple[tuple[str, tuple[str, ...]], ...]) -> str:
    return in_small_type("runs: " + ", ".join([f"{len(ids)} {safe(group)}" for group, ids in groups])) if groups else ""


@lru_cache(maxsize=1024)
def _samples(groups: tuple[tuple[str, tuple[str, ...]], ...]) -> str:
    return ", ".join([f"{safe(sample)} ({len(runs)} runs)" for sample, runs in groups])


@lru_cache(maxsize=256)
def _after(symbol: str) -> str:
    return escaped(unit_after(symbol))


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
    lines = []
    for (name, evaluation, size, freedom, origin), share in zip(*counted(components), strict=True):
        before, between, after = _about(name, evaluation, freedom, origin)
        lines.append(f"{before}{plain(size)}{unit}{between}{share}{after}")
    return "".join(lines)


@lru_cache(maxsize=4096)
def _about(name: str, evaluation: str, freedom: float, origin: str) -> tuple[str, str, str]:
    """What stands before, between and after the figures of a contribution."""
    return (
        f"<li>{typeset_safe(name)}: type {evaluation}, u = ",
        f", ν = {degrees(freedom)}, ",
        f"; {typeset_safe(origin)}</li>\n",
    )
