"""The whole content tree as read, and what each later room made of it."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from .bench import Bench, Card, Load
from .findings import Caveat, Hazard, Problem, Severity
from .noted import NotedWriteUps
from .results import Results
from .units import Unit
from .write_up import Claim, Exemption, Text, WriteUp


@dataclass(frozen=True, kw_only=True, slots=True)
class Running:
    """For yearly energy and cost."""

    hours_a_day: float
    days_a_year: float
    tariff_per_kwh: float
    currency: Unit


@dataclass(frozen=True, kw_only=True, slots=True)
class SiteSettings:
    """site.yaml."""

    title: Text
    summary: Text
    address: str
    """Base URL with a trailing slash, or empty: then no canonical links, feed or sitemap."""
    author: str
    contact: str
    text_licence: str
    """SPDX expression."""
    data_licence: str
    """SPDX expression."""
    language: str
    """BCP 47."""
    confidence_pct: float
    hedge_share_pct: float
    """How much of a value a hedge may cover at most, percent."""
    running: Running | None
    notice: str
    """Printed on every page, e.g. that all data are invented."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Site:
    """The content tree."""

    settings: SiteSettings
    benches: Mapping[str, Bench]
    loads: Mapping[str, Load]
    cards: Mapping[str, Card]
    write_ups: Mapping[str, WriteUp]
    """Slug → write-up, sorted by slug."""
    files: Mapping[str, bytes] = field(repr=False)
    """Path relative to the site's root → bytes, for site.yaml and the bench, load and card files."""
    root: str = ""
    """Absolute path of the site's root; for reading logs and for messages to the person at the terminal only."""
    refused: frozenset[str] = frozenset()
    """Scopes whose numbers are missing because of problems told elsewhere: slugs of write-ups that could not be read,
    ids of cards that could not, and of the cards of such write-ups."""

    def of_card(self, card_id: str) -> tuple[WriteUp, ...]:
        """The write-ups about one card, in the order of slugs."""
        if isinstance(self.write_ups, NotedWriteUps):
            return self.write_ups.of_card(card_id)
        return tuple(w for w in self.write_ups.values() if w.card.id == card_id)

    def numbered_slugs(self) -> tuple[str, ...]:
        """Slugs of write-ups with a digit in them: numbers in the prose that are names."""
        if isinstance(self.write_ups, NotedWriteUps):
            return self.write_ups.numbered()
        return tuple(slug for slug in self.write_ups if any(map(str.isdigit, slug)))


@dataclass(frozen=True, kw_only=True, slots=True)
class Reading:
    """What the claims room made of one write-up."""

    claims: tuple[Claim, ...]
    """In source order."""
    exemptions: tuple[Exemption, ...]
    problems: tuple[Problem, ...]
    """Every claim that does not agree, every unbound number or word."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Warnings:
    """What the caveats room made of one write-up."""

    caveats: tuple[Caveat, ...]
    hazards: tuple[Hazard, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Built:
    """What a build did."""

    problems: tuple[Problem, ...]
    """All of them, by file and line; with an error among them nothing was written."""
    readable: bool = True
    """False when there was nothing to judge; the problems say why."""
    write_ups: int = 0
    claims: int = 0
    """Claims that were judged, in this build or in an earlier one from the same data."""
    made: tuple[str, ...] = ()
    """What was made afresh: `write-up/<slug>`, `card/<id>`, `site/<page>`; the rest stands from earlier builds."""

    @property
    def passes(self) -> bool:
        """Whether the site was published."""
        return self.readable and not any(p.severity is Severity.ERROR for p in self.problems)


@dataclass(frozen=True, kw_only=True, slots=True)
class Checked:
    """Content read, computed and judged: what the commands are handed."""

    site: Site | None
    """None when there is nothing to judge; the problems say why."""
    results: Results | None
    readings: Mapping[str, Reading] = field(default_factory=dict)
    """Slug of the write-up to its claims."""
    problems: tuple[Problem, ...] = ()
    """All of them, by file and line."""

    @property
    def passes(self) -> bool:
        """Whether a site may be built from it."""
        return self.site is not None and not any(p.severity is Severity.ERROR for p in self.problems)
