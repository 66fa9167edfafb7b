"""Everything the pages are made from, carried in one piece from page to page."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from benchgalley.records.address import Address
from benchgalley.records.bench import Setpoint, Trial
from benchgalley.records.figure import Figure
from benchgalley.records.membership import in_setpoint
from benchgalley.records.quantity import LOWER_IS_BETTER, Quantity
from benchgalley.records.results import Number, Results
from benchgalley.records.site import Reading, Site, Warnings
from benchgalley.records.write_up import Claim, WriteUp

from .templates import Templates


def _no_facts(name: str) -> Mapping[str, Any]:
    return {}


@dataclass(frozen=True, kw_only=True, slots=True)
class Edition:
    """One printing of the site."""

    site: Site
    results: Results
    glossary: Mapping[str, Quantity]
    """Quantity key → quantity, measured and derived."""
    readings: Mapping[str, Reading]
    warnings: Mapping[str, Warnings]
    figures: Mapping[str, tuple[Figure, ...]]
    shared_figures: Mapping[str, tuple[Figure, ...]]
    """`comparison` and card ids → charts that belong to no single write-up."""
    templates: Templates
    facts: Callable[[str], Mapping[str, Any]] = _no_facts
    """Name → slug → what each write-up says of itself under that name (see `pieces`)."""
    about: Callable[[str], str | None] | None = None
    """Slug → name of the setpoint a write-up is about, where its claims are not at hand."""
    kept: dict[str, Any] = field(default_factory=dict)
    """What one page worked out and another needs again, e.g. the bytes of a dataset."""

    def claims(self, slug: str) -> tuple[Claim, ...]:
        """Claims of one write-up, in source order."""
        return self.readings[slug].claims if slug in self.readings else ()

    def cautions(self, slug: str) -> Warnings:
        """Caveats and hazards of one write-up."""
        return self.warnings.get(slug) or Warnings(caveats=(), hazards=())

    def number(self, scope: str, text: str) -> Number | None:
        """The number at an address written inside `scope`, when it exists and is determined."""
        address = Address.parse(text, scope)
        number = None if address is None else self.results.find(address)
        return number if number is not None and number.value is not None else None

    def numbers(self, scope: str) -> tuple[Number, ...]:
        """Every number of a write-up or card, determined or not, in table order."""
        key = f"numbers {scope}"
        if key not in self.kept:
            found = (self.results.find(address) for address in self.results.addresses(scope))
            self.kept[key] = tuple(number for number in found if number is not None)
        numbers: tuple[Number, ...] = self.kept[key]
        return numbers

    def write_ups_of(self, card_id: str) -> tuple[WriteUp, ...]:
        """The write-ups about one card."""
        return self.site.of_card(card_id)

    def headline_setpoint(self, write_up: WriteUp) -> Setpoint | None:
        """The setpoint a write-up is about."""
        if self.about is None:
            return headline_setpoint(write_up, self.claims(write_up.slug))
        name = self.about(write_up.slug)
        return None if name is None else write_up.setpoints[name]


def target(write_up: WriteUp, destination: str) -> Address | None:
    """The address a `claim:` destination means inside its write-up: an address or a name from `claims:`."""
    text = destination.removeprefix("claim:").strip()
    return Address.parse(write_up.claim_names.get(text, text), write_up.slug)


def runs_at(write_up: WriteUp, setpoint: Setpoint) -> tuple[Trial, ...]:
    """Every run made at a setpoint, failed and excluded ones among them."""
    sequences = write_up.sequences
    return tuple([trial for trial in write_up.trials if in_setpoint(trial, setpoint, sequences)])


def headline_setpoint(write_up: WriteUp, claims: Iterable[Claim]) -> Setpoint | None:
    """The setpoint the write-up is about: of those other than the baseline, the one claimed most often."""
    others = [s for name, s in write_up.setpoints.items() if name != write_up.baseline]
    subjects = [c.address.subject for c in claims if c.address and c.address.scope == write_up.slug]
    return max(others, key=lambda s: subjects.count(s.name), default=None)


def less_is_better(quantity: str, write_up: WriteUp) -> bool | None:
    """Whether less of a quantity is welcome; None when neither direction is."""
    if quantity in LOWER_IS_BETTER:
        return True
    if quantity == "score" or quantity.startswith("score-per"):
        return not write_up.load.higher_is_better
    return None


def last_changed(write_up: WriteUp) -> str:
    """ISO date of the latest revision, or of publication."""
    return max([write_up.published, *(r.date for r in write_up.revisions)])
