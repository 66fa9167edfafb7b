"""Makes sentences about the invented bench that are true, and ones made false by a known falsehood.

Truth is worked out here with decimals, from the numbers and the rules of the design alone: nothing of the claims
room is used. A falsehood that leaves the sentence true by chance is drawn again.
"""

import random
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from decimal import ROUND_FLOOR, ROUND_HALF_EVEN, Decimal

from benchgalley.records.address import Address
from benchgalley.records.results import Number

from .world import SLUG, World

SETPOINTS = ("tuned", "eased", "twin")
LEVELS = (
    "score", "board-power", "wall-power", "core-clock", "core-temperature", "fan-speed", "sound-level",
    "score-per-watt",
    "run-energy", "temperature-rise", "running-energy", "running-cost",
)  # fmt: skip
RELATIONS = (
    "",
    "",
    "",
    "of-baseline",
    "change",
    "change-percent",
    "saved",
    "saved-percent",
    "ratio",
    "spread",
    "runs",
)
SEQUENCE_ADDRESSES = (
    "power-walk/matching-power-limit", "power-walk/best-score-per-watt", "offset-ladder/failed-runs", "soak/hours",
    "power-walk/matching-power-limit-watts", "offset-ladder/deepest-completed", "offset-ladder/first-failed",
    "offset-ladder/headroom", "short-soak/failure-share", "soak/runs", "power-walk/score-at-92",
)  # fmt: skip
UNIT_FORMS: dict[str, tuple[tuple[str, int], ...]] = {
    "W": (("W", 0), ("watts", 0), ("kW", 3)),
    "kJ": (("kJ", 0), ("J", -3), ("kilojoules", 0)),
    "°C": (("°C", 0), ("degrees", 0), ("degrees Celsius", 0)),
    "K": (("K", 0), ("°C", 0), ("kelvin", 0), ("degrees", 0)),
    "MHz": (("MHz", 0), ("GHz", 3), ("megahertz", 0)),
    "mV": (("mV", 0), ("V", 3), ("millivolts", 0)),
    "r/min": (("rpm", 0), ("r/min", 0), ("RPM", 0)),
    "dB": (("dB", 0), ("dB(A)", 0), ("decibels", 0)),
    "%": (("%", 0), ("percent", 0), ("per cent", 0)),
    "times": (("times", 0), ("×", 0)),
    "points": (("points", 0), ("", 0)),
    "points/W": (("points/W", 0), ("points per watt", 0), ("points a watt", 0)),
    "kW h a year": (("kWh a year", 0), ("kW h per year", 0), ("kWh/year", 0)),
    "EUR a year": (("EUR a year", 0), ("EUR per year", 0)),
    "h": (("h", 0), ("hours", 0)),
    "runs": (("runs", 0), ("completed runs", 0), ("repeats", 0)),
}
"""Unit of the number → spellings, each with the power of ten by which the stated number is smaller."""
WRONG_UNITS = {
    "W": ("kW", "mW", "J", "%", "°C"), "kJ": ("J", "W", "kWh"), "°C": ("K", "°F", "W"), "K": ("°F", "W", "%"),
    "MHz": ("GHz", "kHz", "W"), "mV": ("V", "W"), "r/min": ("Hz", "MHz", "dB"), "dB": ("W", "rpm", "K"),
    "%": ("percentage points", "W", "times"), "times": ("W", "dB"), "points": ("W", "points per watt", "fps"),
    "points/W": ("points", "W", "points per kilowatt"), "kW h a year": ("kWh", "W", "EUR a year"),
    "EUR a year": ("EUR", "kWh a year", "USD a year"), "h": ("min", "s", "days"), "runs": ("W", "hours", "%"),
}  # fmt: skip
DIFFERENCES = ("change", "change-percent", "saved", "saved-percent")
LESS = (("", " less than stock"), ("", " lower than stock"), ("", " below stock"), ("saved ", " against stock"),
        ("fell by ", " from stock"), ("a saving of ", " on stock"), ("lost ", " against stock"))  # fmt: skip
MORE = (("", " more than stock"), ("", " higher than stock"), ("", " above stock"), ("gained ", " on stock"),
        ("rose by ", " over stock"), ("a gain of ", " on stock"))  # fmt: skip
ABOUT = ("about", "around", "roughly", "approximately", "some", "close to")
BELOW = ("nearly", "almost", "just under")
ABOVE = ("just over", "slightly more than", "a little over")
LOWER_BOUNDS = ("at least", "more than", "no less than", "over", "upwards of")
UPPER_BOUNDS = ("at most", "less than", "no more than", "under", "up to")
SMALL = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
    "twenty",
]
TENS = ["-", "-", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]


@dataclass(frozen=True, kw_only=True)
class Statement:
    """One sentence with one linked number, in parts."""

    address: str
    form: str
    digits: str
    """As stated, sign left out."""
    unit: str
    sign: str = ""
    before: str = ""
    """Hedge or bound."""
    lead: str = ""
    tail: str = ""
    second: str = ""
    """What stands between the first number and the unit: the other end of a range, a half-width."""
    span: str = "number and unit"
    """What the link covers."""
    marks: tuple[str, ...] = field(default=())
    """Emphasis and other markup."""

    def prose(self) -> str:
        """The sentence as Markdown."""
        number = f"{self.sign}{self.digits}{self.second}"
        if "emphasis" in self.marks and not self.second and len(self.digits) > 1:
            number = f"{self.sign}{self.digits[:1]}*{self.digits[1:]}*" if self.digits.isdigit() else number
        gap = "" if "glued" in self.marks or not self.unit else "\u00a0" if "no-break" in self.marks else " "
        unit = f"{gap}{self.unit}"
        before = f"{self.before} " if self.before else ""
        target = f"](claim:{self.address})"
        if self.span == "number":
            linked = f"{before}[{number}{target}{unit}"
        elif self.span == "all":
            linked = f"[{before}{number}{unit}{target}"
        else:
            linked = f"{before}[{number}{unit}{target}"
        if "strong" in self.marks:
            linked = f"**{linked}**"
        end = "\n" if "line break" in self.marks else " "
        return f"For the record, stock being the base: {self.lead}{linked}{self.tail.replace(' ', end, 1)}.\n"


class Writer:
    """Draws statements from a seeded source of chance."""

    def __init__(self, here: World, seed: int) -> None:
        self.world = here
        self.chance = random.Random(seed)

    def number(self, address: str) -> Number:
        """The number at an address."""
        parsed = Address.parse(address, SLUG)
        found = self.world.results.find(parsed) if parsed else None
        assert found is not None, address
        return found

    # true statements

    def true(self) -> Statement:
        """A true statement of a random form."""
        while True:
            form = self.chance.choice(FORMS)
            if (made := form(self)) is not None:
                return made

    def _address(self) -> str:
        if self.chance.random() < 0.15:
            return self.chance.choice(SEQUENCE_ADDRESSES)
        subject = self.chance.choice((*SETPOINTS, "stock"))
        relation = self.chance.choice(("", "spread", "runs") if subject == "stock" else RELATIONS)
        quantity = self.chance.choice(LEVELS)
        return "/".join(p for p in (subject, quantity, relation) if p)

    def _drawn(self) -> tuple[str, Number, Decimal, int, str, int] | None:
        """Address, number, value in the stated unit, decimals, unit text, power of ten."""
        address = self._address()
        number = self.number(address)
        if number.value is None or address.endswith("sound-level/ratio"):
            return None
        unit, power = self.chance.choice(UNIT_FORMS[number.unit.symbol])
        value = Decimal(repr(number.value)).scaleb(-power)
        finest = number.printed.decimals + power + (0 if number.exact else self.chance.choice((0, 0, 1)))
        decimals = max(0, self.chance.choice((finest, finest, finest - 1, finest - 2)))
        if decimals > finest or rounded(value, decimals) == 0:
            return None
        if number.unit.symbol == "runs":
            decimals = 0
        return address, number, value, decimals, unit, power

    def _dressed(self, address: str, value: Decimal, made: Statement) -> Statement:
        """With sign or direction words, link span and markup."""
        relation = address.split("/")[2] if address.count("/") == 2 else ""
        negative = value < 0
        if relation in DIFFERENCES:
            less = negative is not relation.startswith("saved")
            if self.chance.random() < 0.75:
                lead, tail = self.chance.choice(LESS if less else MORE)
                made = replace(made, lead=lead, tail=tail)
            else:
                made = replace(made, lead="the figure is ", sign=self._minus() if negative else "", tail="")
        else:
            made = replace(made, lead="the figure is ", sign=self._minus() if negative else "")
        marks = [m for m in ("strong", "no-break", "line break", "emphasis") if self.chance.random() < 0.15]
        if made.unit == "%" and self.chance.random() < 0.3:
            marks.append("glued")
        span = self.chance.choice(("number", "number and unit", "number and unit", "all"))
        return replace(made, marks=tuple(marks), span=span)

    def _minus(self) -> str:
        return self.chance.choice(("−", "-", "–", "minus "))

    def _styled(self, value: Decimal, decimals: int) -> str:
        """Digits in one of the ways people write them."""
        text = str(abs(rounded(value, decimals)))
        whole, point, part = text.partition(".")
        if len(whole) > 3 and self.chance.random() < 0.6:
            group = self.chance.choice((" ", "\u00a0", "\u202f", "\u2009", ","))
            head = len(whole) % 3
            pieces = ([whole[:head]] if head else []) + [whole[i : i + 3] for i in range(head, len(whole), 3)]
            whole = group.join(pieces)
        return whole + point + part

    def plain(self) -> Statement | None:
        """Digits with a unit."""
        if (drawn := self._drawn()) is None:
            return None
        address, _, value, decimals, unit, _ = drawn
        made = Statement(address=address, form="digits", digits=self._styled(value, decimals), unit=unit)
        return self._dressed(address, value, made)

    def worded(self) -> Statement | None:
        """Whole numbers in words."""
        if (drawn := self._drawn()) is None:
            return None
        address, _, value, _, unit, _ = drawn
        whole = abs(rounded(value, 0))
        if not 1 <= whole < 100 or unit in ("", "times", "×"):
            return None
        made = Statement(address=address, form="words", digits=in_words(int(whole)), unit=unit)
        made = self._dressed(address, value, made)
        return replace(made, sign="minus " if made.sign else "", marks=())

    def hedged(self) -> Statement | None:
        """Digits with a hedge."""
        if (drawn := self._drawn()) is None or drawn[1].exact:
            return None
        address, _, value, decimals, unit, _ = drawn
        size = abs(value)
        kind = self.chance.choice(("about", "below", "above"))
        step = Decimal(1).scaleb(-decimals)
        stated = rounded(size, decimals)
        if kind == "about":
            stated += step * self.chance.choice((-1, 0, 1))
            if self.chance.random() < 0.4:
                stated = rounded(size, decimals - 1).quantize(step)
        elif kind == "below":
            stated = size.quantize(step, ROUND_FLOOR) + step
        else:
            stated = size.quantize(step, ROUND_FLOOR)
        low, high = hedge_interval(stated, kind)
        if stated <= 0 or not low <= size <= high:
            return None
        word = self.chance.choice({"about": ABOUT, "below": BELOW, "above": ABOVE}[kind])
        made = Statement(address=address, form=f"hedge {kind}", digits=str(stated), unit=unit, before=word)
        made = self._dressed(address, value, made)
        return replace(made, sign="") if not made.sign else None

    def bounded(self) -> Statement | None:
        """A bound that the whole interval keeps."""
        if (ends := self._ends()) is None:
            return None
        address, value, low, high, unit, decimals, exact = ends
        step = Decimal(1).scaleb(-decimals)
        lower = self.chance.random() < 0.5
        edge = low.quantize(step, ROUND_FLOOR) - step if lower else high.quantize(step, ROUND_FLOOR) + 2 * step
        if edge <= 0 or (exact and unit in ("h", "hours")):
            return None
        farthest = max(abs(value) / 4, 3 * (high - low) / 2)  # a true bound farther off is refused as misleading
        if abs(edge - abs(value)) > farthest:
            return None
        words = LOWER_BOUNDS if lower else UPPER_BOUNDS
        if unit in ("h", "hours", "runs", "completed runs", "repeats"):
            words = tuple(w for w in words if w != "over")
        form = "bound below" if lower else "bound above"
        made = Statement(address=address, form=form, digits=str(edge), unit=unit, before=self.chance.choice(words))
        made = self._dressed(address, value, made)
        return None if made.sign else made

    def ranged(self) -> Statement | None:
        """A range that holds the whole interval."""
        if (ends := self._ends()) is None:
            return None
        address, value, low, high, unit, decimals, exact = ends
        step = Decimal(1).scaleb(-decimals)
        bottom, top = low.quantize(step, ROUND_FLOOR), high.quantize(step, ROUND_FLOOR) + step
        if bottom <= 0 or exact:
            return None
        join = self.chance.choice((" to ", "–", " – ", "-"))
        made = Statement(address=address, form="range", digits=str(bottom), second=f"{join}{top}", unit=unit)
        made = self._dressed(address, value, made)
        return None if made.sign else made

    def plus_minus(self) -> Statement | None:
        """Value and expanded uncertainty."""
        if (ends := self._ends()) is None:
            return None
        address, value, low, high, unit, decimals, exact = ends
        half = rounded((high - low) / 2, decimals)
        if exact or half <= 0:
            return None
        join = self.chance.choice((" ± ", "±", " +/- ", " plus or minus "))
        digits = str(abs(rounded(value, decimals)))
        made = Statement(address=address, form="plus-minus", digits=digits, second=f"{join}{half}", unit=unit)
        return self._dressed(address, value, made)

    def _ends(self) -> tuple[str, Decimal, Decimal, Decimal, str, int, bool] | None:
        """Interval of a random number in the sense in which its magnitude is stated."""
        if (drawn := self._drawn()) is None:
            return None
        address, number, value, decimals, unit, power = drawn
        if number.exact:
            return address, value, abs(value), abs(value), unit, 0, True
        if number.interval is None or number.interval.low is None or number.interval.high is None:
            return None
        ends = [Decimal(repr(e)).scaleb(-power) for e in (number.interval.low, number.interval.high)]
        low, high = (-ends[1], -ends[0]) if value < 0 else (ends[0], ends[1])
        return address, value, low, high, unit, decimals, False

    def chain(self) -> Statement | None:
        """From the baseline to the setpoint in one link."""
        subject, quantity = self.chance.choice(SETPOINTS), self.chance.choice(LEVELS)
        relation = self.chance.choice(("", "change", "saved"))
        first, second = self.number(f"stock/{quantity}"), self.number(f"{subject}/{quantity}")
        unit, power = self.chance.choice(UNIT_FORMS[first.unit.symbol])
        if first.value is None or second.value is None or not unit:
            return None
        decimals = min(first.printed.decimals, second.printed.decimals) + power
        a, b = (rounded(Decimal(repr(n.value)).scaleb(-power), decimals) for n in (first, second))
        if a == b or decimals < 0:
            return None
        verb = "it fell from " if b < a else "it rose from "
        address = "/".join(p for p in (subject, quantity, relation) if p)
        return Statement(
            address=address,
            form="from to",
            lead=verb,
            digits=str(a),
            second=f" to {b}",
            unit=unit,
            span="number and unit",
        )

    def share(self) -> Statement | None:
        """A percentage of the baseline's number in one link."""
        subject, quantity = (
            self.chance.choice(SETPOINTS),
            self.chance.choice(("board-power", "wall-power", "run-energy")),
        )
        part, base = self.number(f"{subject}/{quantity}/of-baseline"), self.number(f"stock/{quantity}")
        assert part.value is not None and base.value is not None
        digits = rounded(Decimal(repr(part.value)), self.chance.choice((0, 1)))
        of = rounded(Decimal(repr(base.value)), self.chance.choice((0, 1)))
        return Statement(
            address=f"{subject}/{quantity}/of-baseline", form="share of", lead="it is ", digits=str(digits),
            second=f" % of {of}", unit=base.unit.symbol,
        )  # fmt: skip

    # false statements

    def false(self) -> tuple[Statement, str]:
        """A statement made false, and the falsehood."""
        while True:
            true = self.true()
            name, spoil = self.chance.choice(FALSEHOODS)
            if (made := spoil(self, true)) is not None:
                return made, name

    def value_of(self, made: Statement) -> Decimal:
        """Value at a statement's address in the unit its text uses; the unit must be one of the right ones."""
        number = self.number(made.address)
        power = dict(UNIT_FORMS[number.unit.symbol]).get(made.unit)
        assert power is not None and number.value is not None
        return Decimal(repr(number.value)).scaleb(-power)

    def digit(self, made: Statement) -> Statement | None:
        """Another digit in one place."""
        places = [i for i, c in enumerate(made.digits) if c.isdigit()]
        if not places:
            return None
        place = self.chance.choice(places)
        other = self.chance.choice([d for d in "0123456789" if d != made.digits[place]])
        digits = made.digits[:place] + other + made.digits[place + 1 :]
        spoilt = replace(made, digits=digits)
        return spoilt if self._is_false(spoilt) else None

    def word(self, made: Statement) -> Statement | None:
        """Another number word."""
        if made.form != "words":
            return None
        stated = int(abs(rounded(self.value_of(made), 0))) + self.chance.choice((-7, -2, 2, 3, 10))
        if not 0 < stated < 100:
            return None
        return replace(made, digits=in_words(stated))

    def _is_false(self, made: Statement) -> bool:
        """Whether the digits now contradict the number."""
        stated = Decimal("".join(c for c in made.digits if c.isdigit() or c == "."))
        size = abs(self.value_of(made)) if made.form not in ("from to", "share of") else Decimal(0)
        if made.form == "digits" or made.form == "plus-minus":
            half = Decimal(1).scaleb(exponent(stated)) / 2
            return abs(size - stated) > half * Decimal("1.0001")
        if made.form.startswith("hedge"):
            low, high = hedge_interval(stated, made.form.split()[1])
            return not low * Decimal("0.9999") <= size <= high * Decimal("1.0001")
        slack = Decimal(1).scaleb(exponent(stated))
        if made.form == "bound below":
            return size < stated - slack
        if made.form == "bound above":
            return size > stated + slack
        if made.form == "range":
            other = Decimal("".join(c for c in made.second if c.isdigit() or c == "."))
            return not min(stated, other) - slack <= size <= max(stated, other) + slack
        return self._is_false_pair(made, stated)

    def _is_false_pair(self, made: Statement, stated: Decimal) -> bool:
        """The first number of a chain or share against its own number."""
        subject, quantity = made.address.split("/")[:2]
        address = f"stock/{quantity}" if made.form == "from to" else f"{subject}/{quantity}/of-baseline"
        number = self.number(address)
        assert number.value is not None
        power = 0 if made.form == "share of" else dict(UNIT_FORMS[number.unit.symbol])[made.unit]
        value = Decimal(repr(number.value)).scaleb(-power)
        # a chain may also be read as a range that holds the number: leave those alone
        other = Decimal("".join(c for c in made.second if c.isdigit() or c == ".") or "0")
        if made.form == "from to" and stated <= other:
            return False
        return abs(value - stated) > Decimal(1).scaleb(exponent(stated))

    def sign(self, made: Statement) -> Statement | None:
        """Minus added or taken away."""
        if made.form not in ("digits", "words", "plus-minus") or made.lead != "the figure is ":
            return None
        if not made.sign and made.digits.strip("0., ") == "":
            return None
        return replace(made, sign="" if made.sign else "minus ", marks=())

    def unit_wrong(self, made: Statement) -> Statement | None:
        """Another unit behind the same digits."""
        if made.form in ("from to", "share of") or not made.unit:
            return None
        wrong = WRONG_UNITS[self.number(made.address).unit.symbol]
        unit = self.chance.choice([u for u in wrong if u != made.unit])
        if made.unit in ("kW", "GHz", "V", "J") or made.form.startswith(("bound", "hedge", "range")):
            return None
        return replace(made, unit=unit, marks=())

    def direction(self, made: Statement) -> Statement | None:
        """The opposite word."""
        pair = (made.lead, made.tail)
        if pair in LESS and pair != ("", ""):
            lead, tail = self.chance.choice(MORE)
        elif pair in MORE:
            lead, tail = self.chance.choice(LESS)
        elif made.form == "from to":
            verb = "it rose from " if made.lead.startswith("it fell") else "it fell from "
            return replace(made, lead=verb)
        else:
            return None
        return replace(made, lead=lead, tail=tail)

    def base(self, made: Statement) -> Statement | None:
        """A share bound as a change, a change as a share."""
        swap = {
            "of-baseline": "saved-percent",
            "saved-percent": "of-baseline",
            "change-percent": "of-baseline",
        }
        relation = made.address.rpartition("/")[2]
        if relation not in swap or made.form not in ("digits", "words", "hedge about", "plus-minus"):
            return None
        return replace(made, address=made.address.rpartition("/")[0] + "/" + swap[relation])

    def setpoint(self, made: Statement) -> Statement | None:
        """The address of another setpoint."""
        subject, _, rest = made.address.partition("/")
        if subject not in (*SETPOINTS, "stock") or made.form not in (
            "digits",
            "words",
            "plus-minus",
            "hedge about",
        ):
            return None
        other = self.chance.choice([s for s in SETPOINTS if s != subject])
        swapped = replace(made, address=f"{other}/{rest}")
        if made.form == "words":
            return swapped if abs(abs(self.value_of(swapped)) - abs(self.value_of(made))) > 1 else None
        return swapped if self._is_false(swapped) else None

    def quantity(self, made: Statement) -> Statement | None:
        """The address of another quantity of the same unit."""
        swap = {"board-power": "wall-power", "wall-power": "board-power"}
        parts = made.address.split("/")
        if len(parts) < 2 or parts[1] not in swap or made.form not in ("digits", "plus-minus", "hedge about"):
            return None
        parts[1] = swap[parts[1]]
        swapped = replace(made, address="/".join(parts))
        return swapped if self._is_false(swapped) else None

    def bound(self, made: Statement) -> Statement | None:
        """The bound turned round."""
        if made.form == "bound below":
            return replace(made, before=self.chance.choice(UPPER_BOUNDS))
        if made.form == "bound above":
            words = [w for w in LOWER_BOUNDS if w != "over"]
            return replace(made, before=self.chance.choice(words))
        return None

    def half_width(self, made: Statement) -> Statement | None:
        """Another uncertainty behind the sign."""
        if made.form != "plus-minus":
            return None
        digits = "".join(c for c in made.second if c.isdigit() or c == ".")
        wrong = Decimal(digits) * self.chance.choice((2, 3, 5)) + Decimal(1).scaleb(exponent(Decimal(digits))) * 2
        return replace(made, second=made.second.replace(digits, str(wrong)))

    def unbound(self, made: Statement) -> Statement | None:
        """The link left out: a number bound to nothing (see `prose_without_link`)."""
        if not made.unit or made.unit in ("mV", "V", "millivolts"):  # offsets are bound by the build
            return None
        return replace(made, marks=("unbound",))


FORMS: tuple[Callable[[Writer], Statement | None], ...] = (
    Writer.plain, Writer.plain, Writer.plain, Writer.worded, Writer.hedged, Writer.bounded, Writer.ranged,
    Writer.plus_minus, Writer.chain, Writer.share,
)  # fmt: skip
FALSEHOODS: tuple[tuple[str, Callable[[Writer, Statement], Statement | None]], ...] = (
    ("digit", Writer.digit), ("number word", Writer.word), ("sign", Writer.sign), ("unit", Writer.unit_wrong),
    ("direction", Writer.direction), ("base", Writer.base), ("setpoint swapped", Writer.setpoint),
    ("quantity swapped", Writer.quantity), ("bound turned round", Writer.bound), ("half-width", Writer.half_width),
    ("no link", Writer.unbound),
)  # fmt: skip


def text_of(made: Statement) -> str:
    """The sentence; without its link for the falsehood that leaves it out."""
    if made.marks != ("unbound",):
        return made.prose()
    prose = replace(made, marks=()).prose()
    return prose.replace("[", "").replace(f"](claim:{made.address})", "")


def rounded(value: Decimal, decimals: int) -> Decimal:
    """To a place, half to even, exponent never above zero."""
    found = value.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_EVEN)
    return found.quantize(Decimal(1)) if decimals < 0 else found


def exponent(value: Decimal) -> int:
    """Exponent of the last digit."""
    found = value.as_tuple().exponent
    assert isinstance(found, int)
    return found


def hedge_interval(stated: Decimal, kind: str) -> tuple[Decimal, Decimal]:
    """Design section 4: half a unit of the last non-zero digit, at most 5 %, at least one unit of the last digit."""
    last = Decimal(1).scaleb(exponent(stated))
    nonzero = Decimal(1).scaleb(exponent(stated.normalize())) if stated else last
    width = max(last, min(nonzero / 2, stated * Decimal("0.05")))
    return stated - (0 if kind == "above" else width), stated + (0 if kind == "below" else width)


def in_words(whole: int) -> str:
    """A whole number below a hundred in English words."""
    if whole <= 20:
        return SMALL[whole]
    tens, ones = divmod(whole, 10)
    return TENS[tens] + (f"-{SMALL[ones]}" if ones else "")
