"""A write-up as read from its folder, and the claims found in its prose."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from .address import Address
from .bench import Bench, Card, Load, Sample, Sequence, Setpoint, Trial
from .findings import Location


@dataclass(frozen=True, kw_only=True, slots=True)
class Text:
    """A piece of text a reader will see, with the place of each of its characters in the source."""

    place: str
    """`title`, `summary`, `heading`, `paragraph`, `list`, `table`, `caption`, `alt`, `revision`, `label`, `meta`."""
    text: str
    """As read: markup removed, entities and escapes resolved, line breaks as spaces."""
    positions: tuple[tuple[int, int], ...]
    """(line, column) of each character of `text` in the file, from 1."""
    file: str
    """Relative to the site's root."""
    links: tuple["TextLink", ...] = ()
    """Links inside the text, in order."""
    code: tuple[tuple[int, int], ...] = ()
    """(start, end) stretches of `text` that are code."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TextLink:
    """A link's stretch of text and its destination."""

    start: int
    end: int
    destination: str
    """As written: `claim:tuned/board-power/saved`, `given:card`, `https://…`."""
    token: int = -1
    """Number of the `link_open` token, counted over the whole document in order: ties a claim to its rendering."""
    destination_at: tuple[int, int, int] | None = None
    """(line, column, length) of the destination in the source, where it could be found."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Margins:
    """How much counts as "the same", declared before the comparison."""

    by_quantity: Mapping[str, tuple[float, bool]]
    """Quantity key → (margin, whether it is percent of baseline)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Revision:
    """A dated correction."""

    date: str
    what: Text
    addresses: tuple[str, ...]
    """Addresses (local) whose published number it explains."""
    where: Location
    was: Mapping[str, str] = field(default_factory=dict)
    """Address → what the page stated before, as it stood there: `41 W`."""


@dataclass(frozen=True, kw_only=True, slots=True)
class AcceptedWord:
    """An unsupported word the author keeps, with the reason printed beside it."""

    word: str
    address: str
    reason: Text
    where: Location


@dataclass(frozen=True, kw_only=True, slots=True)
class LogRules:
    """How the sensor logs of a write-up are read and cut."""

    columns: Mapping[str, Any]
    """Canonical column → (header, unit spelling)."""
    settings: Mapping[str, Any]
    """Time header and format, zone, separator, decimal sign, encoding, window, cut: as validated by intake."""


@dataclass(frozen=True, kw_only=True, slots=True)
class WriteUp:
    """One write-up with its trials, cross-references resolved."""

    slug: str
    folder: str
    """Relative to the site's root: `content/write-ups/quiet-desk`."""
    title: Text
    summary: Text
    published: str
    """ISO 8601 date."""
    card: Card
    sample: Sample
    bench: Bench
    load: Load
    setpoints: Mapping[str, Setpoint]
    """In file order, the baseline among them."""
    baseline: str
    """Name of the baseline setpoint."""
    sequences: Mapping[str, Sequence]
    margins: Margins
    trials: tuple[Trial, ...]
    """In file order, every row."""
    claim_names: Mapping[str, str]
    """Front-matter claim name → address text."""
    accepted: tuple[AcceptedWord, ...]
    revisions: tuple[Revision, ...]
    logs: LogRules | None
    invented: bool
    """The data are invented; the page says so."""
    stopping_rule: str
    """How the number of runs was decided, as stated; empty: not recorded."""
    tokens: tuple[Any, ...] = field(repr=False)
    """markdown-it tokens of the body: what is checked is what is printed."""
    texts: tuple[Text, ...] = field(repr=False)
    """Every readable text of the write-up: title, summary, then the body in order, then captions and so on."""
    source: str = field(repr=False)
    """The whole of write-up.md."""
    body_line: int
    """Line of write-up.md on which the body starts."""
    images: Mapping[str, bytes] = field(repr=False)
    """images/<name> → bytes, checked."""
    files: Mapping[str, bytes] = field(repr=False)
    """Every file of the folder, relative path → bytes, for the dataset. Logs are given by path only (see publish)."""
    front: Mapping[str, Any] = field(repr=False)
    """The front matter as plain data."""

    @property
    def file(self) -> str:
        """Path of write-up.md relative to the site's root."""
        return f"{self.folder}/write-up.md"

    @property
    def drivers(self) -> tuple[str, ...]:
        """Drivers of its runs, sorted."""
        return tuple(sorted({trial.driver for trial in self.trials if trial.driver}))

    @property
    def drivers_counted(self) -> tuple[str, ...]:
        """Drivers of the runs that count, sorted."""
        return tuple(sorted({trial.driver for trial in self.trials if trial.counts and trial.driver}))

    @property
    def columns_counted(self) -> tuple[str, ...]:
        """Columns that at least one run that counts has a value for, sorted."""
        return tuple(sorted({column for trial in self.trials if trial.counts for column in trial.measured}))


class Verdict(StrEnum):
    """What the data say of a claim. Only the first lets the build pass."""

    AGREES = "agrees"
    DISAGREES = "disagrees"
    UNSUPPORTED = "unsupported"
    UNJUDGED = "unjudged"


@dataclass(frozen=True, kw_only=True, slots=True)
class Claim:
    """One bound statement, judged."""

    write_up: str
    where: Location
    place: str
    """Place of its text: `title`, `paragraph` ..."""
    stated: str
    """The linked text as read."""
    sentence: str
    """The sentence it stands in."""
    address: Address | None
    """None when the destination is no address."""
    verdict: Verdict
    message: str
    """Empty when it agrees; else one sentence."""
    mend: str = ""
    token: int = -1
    """Number of the `link_open` token it came from; -1 for texts outside the body."""
    text_index: int = -1
    """Index of its text in `WriteUp.texts`."""
    accepted: str = ""
    """Reason under which an unsupported word was accepted; printed beside it."""
    rule: str = ""
    """Problem rule when it does not agree."""
    kind: str = "number"
    """`number`, `word`, `setting` (bound by the build) or `given`."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Exemption:
    """A number in the prose that needs no address, and the rule that says so; listed in the methods."""

    write_up: str
    where: Location
    text: str
    rule: str
    """`date`, `version`, `list number`, `code`, `name`, `setting`, `given`."""
    source: str = ""
    """For given numbers: where it comes from."""
