"""Rows of the tables of numbers, as ready markup.

A site has tens of thousands of them with a dozen texts each: here each kind of text is made for all rows of a table
in turn, so that signs are looked for in a column at once, and a remark that comes again in row after row is set once
and kept, where a template would set it in every row.
"""

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

from markupsafe import Markup

from benchgalley.records.results import Number

from .budgets import Budgets, in_small_type, remark
from .typesetting import all_escaped, all_typeset, escaped, safe
from .workings import interval_words, marks, run_count

_AT_A_TIME = 32
"""Rows with working that are handed on in one piece."""


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
        budgets.of_each(numbers, addresses),
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
        budgets.of_each(numbers, addresses),
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
    return [remark(text) if text else "" for text in texts]


# What comes again and again


@lru_cache(maxsize=1024)
def _runs(groups: tuple[tuple[str, tuple[str, ...]], ...]) -> str:
    return in_small_type("runs: " + ", ".join([f"{len(ids)} {safe(group)}" for group, ids in groups])) if groups else ""


@lru_cache(maxsize=1024)
def _samples(groups: tuple[tuple[str, tuple[str, ...]], ...]) -> str:
    return ", ".join([f"{safe(sample)} ({len(runs)} runs)" for sample, runs in groups])


@lru_cache(maxsize=1024)
def _formula(formula: str) -> str:
    return f"<code>{escaped(formula)}</code>" if formula else ""


@lru_cache(maxsize=1024)
def _origin(text: str) -> str:
    """A remark that names a method or a source: it stands as it was written."""
    return in_small_type(escaped(text))
