"""What is read in a text: statements with a number, and words that claim something."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from benchgalley.records.units import Unit

from .numerals import Numeral
from .vocabulary import Bound, Hedge, Word


class Form(StrEnum):
    """Shape of a statement with numbers."""

    VALUE = "value"
    PLUS_MINUS = "plus-minus"
    """Value and half-width."""
    RANGE = "range"
    """ "30 to 35 W": low and high."""
    CHAIN = "chain"
    """ "from 262 to 214 W": baseline and setpoint."""
    SHARE = "share"
    """ "80 % of 255 W": a percentage and what it is taken of."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Direction:
    """A word that turns a number into a difference to one side."""

    word: Word
    start: int
    end: int
    firm: bool
    """Joined to the number so that it must be a difference; otherwise the nearest such word before it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class NumberMention:
    """One statement with a number."""

    start: int
    end: int
    """Its whole extent: hedge, digits, unit."""
    form: Form
    numerals: tuple[Numeral, ...]
    """One, or two for all forms but a plain value."""
    unit: Unit | None
    unit_text: str
    """As written, empty when none stands there."""
    unit_known: bool = True
    """Whether the unit is in the tables."""
    counted: str = ""
    """Noun counted: "runs", "cards"."""
    second_unit: Unit | None = None
    """Unit of the second numeral of a share."""
    hedge: Hedge = Hedge.NONE
    bound: Bound = Bound.NONE
    direction: Direction | None = None
    levelled: str = ""
    """The word before it that makes it a level, not a difference: "drew", "to"."""
    denied: str = ""
    """The word that denies it: "not", "hardly"."""
    yearly: bool = False
    """Whether its sentence speaks of a year: money and energy may be meant a year."""

    @property
    def core(self) -> tuple[int, int]:
        """From the first digit to the last."""
        return self.numerals[0].start, self.numerals[-1].end

    @property
    def value(self) -> Decimal:
        """The first number, signed as written."""
        return self.numerals[0].value


@dataclass(frozen=True, kw_only=True, slots=True)
class WordMention:
    """A word that is a claim wherever it stands."""

    start: int
    end: int
    word: Word
    free: bool
    """Whether it claims something outside a link too, by the rules of its table line."""
    denied: str = ""
    """The word that denies it: "not", "hardly"."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TextReading:
    """Everything read in one text."""

    numbers: tuple[NumberMention, ...]
    words: tuple[WordMention, ...]
    dates: tuple[tuple[int, int], ...]
    """Dates, times of day, versions with two points."""
    names: tuple[tuple[int, int], ...]
    """Digits that belong to a name: `8-pin`, `3D`."""
