"""What the figures read from a write-up and its results: numbers, runs, looks, axis ranges, words."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..records.address import Address
from ..records.bench import Sequence as RunSequence
from ..records.bench import Trial
from ..records.membership import runs_along
from ..records.quantity import MEASURED
from ..records.results import Interval, Number, Results
from ..records.write_up import WriteUp

NAMES: dict[str, str] = {
    **{q.key: q.name for q in MEASURED},
    "score-per-watt": "score per watt",
    "score-per-wall-watt": "score per watt at the wall",
    "power-limit": "power limit",
}
"""Quantity key -> its name on an axis."""
COLUMNS: dict[str, str] = {q.key: q.column for q in MEASURED}

NBSP = "\u00a0"
MINUS = "\u2212"
UNBOUNDED = "unbounded"
NOT_KNOWN = "not determined"


def find(results: Results, scope: str, subject: str, quantity: str, relation: str = "") -> Number | None:
    """The number at an address if it has a value, else None."""
    number = results.find(Address(scope=scope, subject=subject, quantity=quantity, relation=relation))
    return number if number is not None and number.value is not None else None


def looks(write_up: WriteUp) -> dict[str, int]:
    """Setpoint name -> look, the same in every figure of the write-up; the baseline has look 0."""
    others = [name for name in write_up.setpoints if name != write_up.baseline]
    return {write_up.baseline: 0, **{name: i for i, name in enumerate(others, start=1)}}


def setpoint_label(write_up: WriteUp, name: str) -> str:
    """Label of a setpoint as printed."""
    return write_up.setpoints[name].label or name.replace("-", " ")


def runs_behind(write_up: WriteUp, number: Number) -> tuple[Trial, ...]:
    """The runs that feed a number, in file order."""
    ids = {run for _, group in number.groups for run in group}
    return tuple(trial for trial in write_up.trials if trial.id in ids)


def members(write_up: WriteUp, sequence: RunSequence) -> list[Trial]:
    """Runs of a sequence, excluded ones left out."""
    return [trial for trial in runs_along(sequence, write_up.trials) if not trial.excluded]


def at_setting(quantity: str, value: float) -> str:
    """Address key of a mean at one setting of a sequence: `score-at-84`, `score-at-minus-110`, `score-at-82-5`."""
    digits = f"{abs(value):g}".replace(".", "-")
    return f"{quantity}-at-{'minus-' if value < 0 else ''}{digits}"


def axis_title(quantity: str, number: Number) -> str:
    """Quantity, then unit in brackets: `Board power (W)`."""
    return titled(NAMES.get(quantity, quantity.replace("-", " ")), number.unit.symbol)


def titled(name: str, unit: str) -> str:
    """A name with a capital, and the unit in brackets when there is one."""
    name = name[:1].upper() + name[1:]
    return f"{name} ({unit})" if unit else name


def ends(interval: Interval | None, low: float, high: float) -> tuple[float | None, float | None]:
    """The two ends of an interval for drawing; an unbounded side is drawn to the end of the axis."""
    if interval is None:
        return None, None
    return (
        low if interval.low is None else interval.low,
        high if interval.high is None else interval.high,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Span:
    """Range of an axis."""

    low: float
    high: float

    def share(self, value: float) -> float:
        """Position inside the range, 0 at the low end and 1 at the high end."""
        return (value - self.low) / (self.high - self.low)

    def at(self, share: float) -> float:
        """Value at a position inside the range."""
        return self.low + share * (self.high - self.low)


def span(values: Iterable[float | None], margin: float = 0.07, least: float = 0.0) -> Span:
    """A range that holds the values with some room around; `least` is its smallest width in axis units."""
    known = [value for value in values if value is not None]
    low, high = min(known), max(known)
    width = max(high - low, least, 1e-9 * max(abs(low), abs(high)), 1e-12)
    middle = (low + high) / 2
    return Span(low=middle - width * (0.5 + margin), high=middle + width * (0.5 + margin))


def reach(numbers: Iterable[Number]) -> list[float | None]:
    """Every finite value, interval end and repeat interval end of the numbers: what an axis must hold."""
    found: list[float | None] = []
    for number in numbers:
        found.append(number.value)
        for interval in (number.interval, number.repeatability_interval):
            if interval is not None:
                found += [interval.low, interval.high]
    return found


def has_parts(numbers: Iterable[Number]) -> bool:
    """Whether the interval from repeats alone is drawn apart from the whole interval somewhere."""
    return any(
        n.interval is not None
        and n.repeatability_interval is not None
        and (n.interval.low, n.interval.high) != (n.repeatability_interval.low, n.repeatability_interval.high)
        for n in numbers
    )


def bars_explained(numbers: Sequence[Number]) -> str:
    """The sentence of the caption that says what the bars are; empty when there are none."""
    intervals = [n.interval for n in numbers if n.interval is not None]
    if not intervals:
        return "No bars: these runs allow no interval."
    confidence = f"{intervals[0].confidence_pct:g}{NBSP}%"
    sentence = f"Bars: {confidence} interval"
    if has_parts(numbers):
        sentence += "; the thick part from repeats alone, the thin part with the meter's limits too"
    # a share of the baseline at the baseline itself is 100 % by definition and needs no interval
    missing = sum(n.interval is None and not n.exact and sum(n.runs) == 1 for n in numbers)
    return sentence + (f"; none where there is a single run ({counted(missing, 'value')})." if missing else ".")


def interval_text(number: Number) -> str:
    """The printed interval, or the words for none."""
    return number.printed.interval or NOT_KNOWN


def told(number: Number, label: str) -> str:
    """Words shown when a mark is pointed at: label, value, interval, runs."""
    lines = [label, number.printed.text]
    if number.printed.interval and number.interval is not None:
        lines.append(f"{number.interval.confidence_pct:g}{NBSP}% interval {number.printed.interval}")
    if number.runs:
        lines.append(" and ".join(str(n) for n in number.runs) + (" run" if number.runs == (1,) else " runs"))
    return "\n".join(lines)


def told_pair(label: str, named: str, power: Number, score: Number) -> str:
    """Words for a mark that stands for two numbers."""
    lines = [label]
    for number, what in ((score, "score"), (power, named)):
        between = f" ({number.printed.interval})" if number.printed.interval else ""
        lines.append(f"{what} {number.printed.text}{between}")
    return "\n".join((*lines, " and ".join(str(n) for n in score.runs) + (" run" if score.runs == (1,) else " runs")))


def counted(count: int, noun: str) -> str:
    """`1 run`, `3 runs`."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def listed(words: Sequence[str]) -> str:
    """`a, b and c`."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def said(parts: Iterable[tuple[str, str]]) -> str:
    """`a: 1 W; b: 2 W.`, for alternative texts."""
    return "; ".join(f"{label}: {words}" for label, words in parts) + "."


def plain(value: float, decimals: int) -> str:
    """A single reading as the file shows it, with U+2212 for minus."""
    return f"{value:.{max(decimals, 0)}f}".replace("-", MINUS)


def shortest(value: float) -> str:
    """An exact setting in its shortest form, with U+2212 for minus."""
    return f"{value:g}".replace("-", MINUS)
