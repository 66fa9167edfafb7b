"""The runs behind the numbers a write-up states, put in groups and in order for the checks on them."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from benchgalley.records.address import Address
from benchgalley.records.bench import Trial
from benchgalley.records.quantity import MEASURED, Quantity
from benchgalley.records.results import Number
from benchgalley.records.write_up import WriteUp

from .edition import Edition

SESSION_PAUSE_H = 6.0
"""Hours without a run, after which a new session begins."""


@dataclass(frozen=True, kw_only=True, slots=True)
class RunGroup:
    """The counted runs of one setpoint in one measured column, in the order they were made."""

    subject: str
    quantity: Quantity
    values: tuple[float, ...]

    @property
    def words(self) -> str:
        """E.g. "score at tuned"."""
        return f"{self.quantity.name} at {self.subject}"


@dataclass(frozen=True, kw_only=True, slots=True)
class Evidence:
    """What a check is given."""

    edition: Edition
    write_up: WriteUp
    numbers: tuple[Number, ...]
    """Those stated in the write-up that rest on the assumption."""
    groups: tuple[RunGroup, ...]
    """The runs behind them."""


def evidence(edition: Edition, write_up: WriteUp, numbers: Iterable[Number]) -> Evidence:
    """The runs of this write-up that feed the numbers, by setpoint and column."""
    found = tuple(numbers)
    groups: dict[tuple[str, str], RunGroup] = {}
    known: dict[Address, dict[tuple[str, str], RunGroup]] = edition.kept.setdefault(f"behind {write_up.slug}", {})
    for number in found:
        if number.address.scope == write_up.slug:
            if (behind := known.get(number.address)) is None:  # every assumption asks for those of the same numbers
                behind = known[number.address] = _behind(edition, write_up, number)
            for key, group in behind.items():
                groups.setdefault(key, group)
    return Evidence(
        edition=edition, write_up=write_up, numbers=found, groups=tuple(g for g in groups.values() if g.values)
    )


def _behind(edition: Edition, write_up: WriteUp, number: Number) -> dict[tuple[str, str], RunGroup]:
    """The runs of one number by setpoint and column."""
    return {
        (name, quantity.key): RunGroup(
            subject=label_of(write_up, name),
            quantity=quantity,
            values=tuple(t.measured[quantity.column] for t in made if quantity.column in t.measured),
        )
        for name, made in [(name, _counted(edition, write_up, runs)) for name, runs in number.groups]
        for quantity in _columns_of(number, edition.glossary)
    }


def _counted(edition: Edition, write_up: WriteUp, runs: tuple[str, ...]) -> list[Trial]:
    """Those of some runs that enter a mean, in the order they were made; many numbers rest on the same ones."""
    known: dict[tuple[str, ...], list[Trial]] = edition.kept.setdefault(f"counted {write_up.slug}", {})
    if runs not in known:
        wanted = set(runs)
        known[runs] = in_time(t for t in write_up.trials if t.id in wanted and t.counts)
    return known[runs]


def in_time(trials: Iterable[Trial]) -> list[Trial]:
    """Runs in the order they were made: by their start where every run has one, else by file order."""
    listed = list(trials)
    if all(t.started is not None for t in listed):
        return sorted(listed, key=lambda t: (t.started.timestamp() if t.started else 0.0, t.order))
    return sorted(listed, key=lambda t: t.order)


def sessions(trials: Iterable[Trial]) -> int | None:
    """Stretches of runs without a long pause between the end of one and the next; None when a start is missing."""
    made = list(trials)
    spans = sorted(
        (start := t.started.timestamp(), start + t.measured.get("duration_s", 0.0))
        for t in made
        if t.started is not None
    )
    if not made or len(spans) < len(made):
        return None
    return 1 + sum(after[0] - before[1] > SESSION_PAUSE_H * 3600 for before, after in pairwise(spans))


def _columns_of(number: Number, glossary: Mapping[str, Quantity]) -> Iterator[Quantity]:
    """The measured columns a number is computed from: its own, or those its formula names."""
    own = glossary.get(number.address.quantity)
    words = own.formula if own is not None and not own.column else ""
    for quantity in MEASURED:
        if quantity.key == number.address.quantity or (words and quantity.name in words):
            yield quantity


def label_of(write_up: WriteUp, name: str) -> str:
    """A setpoint or sequence as printed."""
    if name in write_up.setpoints:
        return write_up.setpoints[name].label
    return write_up.sequences[name].label if name in write_up.sequences else name
