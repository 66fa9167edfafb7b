"""What the build has to say: problems that stop it, caveats and hazard notes that go on the page."""

from dataclasses import dataclass
from enum import StrEnum


@dataclass(frozen=True, kw_only=True, slots=True, order=True)
class Location:
    """A region of a source file, for people and for code hosts."""

    file: str
    """Path relative to the site's root, with forward slashes."""
    line: int = 1
    """Counted from 1."""
    column: int = 1
    """In code points, counted from 1."""
    end_line: int = 0
    """Line of the last character; 0 means the same line."""
    end_column: int = 0
    """One past the last character, as SARIF counts; 0 means unknown."""


class Severity(StrEnum):
    """How a problem weighs: an error stops the build, a warning is printed."""

    ERROR = "error"
    WARNING = "warning"


@dataclass(frozen=True, kw_only=True, slots=True)
class Problem:
    """One thing wrong in the content, with its place and how to mend it."""

    rule: str
    """Stable kebab-case name, e.g. `unknown-key`, `disagrees`, `unbound-number`: the SARIF rule id."""
    where: Location
    """The region the caret points at."""
    message: str
    """One sentence: what stands there and what was expected or computed."""
    mend: str = ""
    """One sentence: what to write instead or where to look."""
    source_line: str = ""
    """The source line, for the caret display; empty when it makes no sense to show one."""
    severity: Severity = Severity.ERROR
    """Errors fail the build."""
    address: str = ""
    """The address concerned, where there is one."""
    stated: str = ""
    """The text as stated, where a claim is concerned."""
    computed: str = ""
    """The printed computed value with unit, where a claim is concerned."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Caveat:
    """A limit of the data, found by rule: what is missing, what it does to which claim, what would remove it."""

    code: str
    """Stable kebab-case name of the rule, e.g. `single-sample`."""
    title: str
    """A few words, e.g. "One sample of this card"."""
    missing: str
    """What is missing or was noticed, with its figures."""
    effect: str
    """What it does to the claims concerned."""
    remedy: str
    """What would remove it."""
    standing: bool = False
    """A standing note holds for the whole write-up; otherwise it bears on `addresses`."""
    addresses: tuple[str, ...] = ()
    """Addresses (or address prefixes ending in `/`) it bears on; empty: all."""
    source: str = ""
    """Where the rule comes from, e.g. a paper; empty: common practice."""


class SignalWord(StrEnum):
    """ANSI Z535.6. The upper three are for injury only; NOTICE is for damage and loss of data."""

    DANGER = "DANGER"
    WARNING = "WARNING"
    CAUTION = "CAUTION"
    NOTICE = "NOTICE"


@dataclass(frozen=True, kw_only=True, slots=True)
class Hazard:
    """A hazard note: kind and source of the hazard, what happens, how to avoid it, in that order."""

    code: str
    """Stable kebab-case name of the rule."""
    word: SignalWord
    """The signal word."""
    source: str
    """Kind and source of the hazard."""
    consequence: str
    """What happens."""
    avoidance: str
    """How to avoid it."""
