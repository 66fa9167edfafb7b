"""What a write-up found, in the first screen's five answers: gained, cost, how sure, for which cards, is it safe.

Each is chosen from the data by rule; nothing is typed.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from markupsafe import Markup

from benchgalley.records.bench import Outcome, SequenceKind, Setpoint
from benchgalley.records.quantity import SETTINGS
from benchgalley.records.results import Equivalence, Interval, Number
from benchgalley.records.write_up import WriteUp

from .edition import Edition, headline_setpoint, less_is_better, runs_at
from .workings import NBSP, interval_words

_CANDIDATES: tuple[tuple[str, str, str], ...] = (
    ("board-power", "saved", "less board power"),
    ("wall-power", "saved", "less at the wall"),
    ("score", "change-percent", "in score"),
    ("score-per-watt", "change-percent", "in score per watt"),
    ("core-temperature", "change", "core temperature"),
    ("hotspot-temperature", "change", "hotspot temperature"),
    ("fan-speed", "change", "fan speed"),
    ("sound-level", "change", "sound level"),
)
"""(quantity, relation, what the figure is called) in order of interest."""

_AT_MOST = 3
"""Figures shown under one question: more would bury the answer."""


@dataclass(frozen=True, kw_only=True, slots=True)
class HeadlineNumber:
    """One figure of the first screen."""

    number: Number
    text: str
    """Value and unit; a change carries its sign."""
    label: str
    address: str
    interval: str
    news: str
    """`better`, `worse`, or `not shown` when the interval holds zero."""
    strip: Markup
    """The interval drawn against zero."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Headline:
    """The five answers."""

    setpoint: Setpoint | None
    settings: str
    """What was set: "power limit 80 %, voltage offset −110 mV"."""
    gained: tuple[HeadlineNumber, ...]
    cost: tuple[HeadlineNumber, ...]
    sureness: tuple[str, ...]
    cards: tuple[str, ...]
    safety: tuple[str, ...]
    words: tuple[str, ...]
    """Signal words of the hazards, gravest first."""


def headline(edition: Edition, write_up: WriteUp) -> Headline:
    """The five answers of one write-up."""
    key = f"headline {write_up.slug}"
    if key not in edition.kept:
        edition.kept[key] = _headline(edition, write_up)
    answers: Headline = edition.kept[key]
    return answers


def _headline(edition: Edition, write_up: WriteUp) -> Headline:
    setpoint = headline_setpoint(write_up, edition.claims(write_up.slug))
    found = [] if setpoint is None else list(_figures(edition, write_up, setpoint))
    gained = [f for f in found if f.news == "better"][:_AT_MOST]
    cost = [f for f in found if f.news == "worse"][:_AT_MOST]
    unsure_score = [f for f in found if f.news == "not shown" and f.number.address.quantity == "score"]
    hazards = edition.cautions(write_up.slug).hazards
    return Headline(
        setpoint=setpoint,
        settings=settings_words(setpoint, write_up) if setpoint else "",
        gained=tuple(gained),
        cost=tuple(cost or unsure_score),
        sureness=tuple(_sureness(edition, write_up, setpoint)),
        cards=tuple(_cards(edition, write_up)),
        safety=tuple(_safety(edition, write_up, setpoint)),
        words=tuple(dict.fromkeys(h.word.value for h in hazards)),
    )


def settings_words(setpoint: Setpoint, write_up: WriteUp) -> str:
    """The settings in which a setpoint differs from the baseline."""
    base = write_up.setpoints[write_up.baseline].settings
    words = []
    for kind in SETTINGS:
        value = setpoint.settings.get(kind.column)
        if value is None or value == base.get(kind.column):
            continue
        shown = f"{value:g}".replace("-", "\u2212") if isinstance(value, float | int) else str(value)
        words.append(f"{kind.name} {shown}" + (f"{NBSP}{kind.unit.symbol}" if kind.unit else ""))
    return ", ".join(words)


def strip(interval: Interval | None, value: float) -> Markup:
    """A small picture of an interval against zero; decorative, the figures stand beside it."""
    low = value if interval is None or interval.low is None else interval.low
    high = value if interval is None or interval.high is None else interval.high
    span = max(high, 0.0) - min(low, 0.0)
    if span <= 0:
        return Markup("")
    left = min(low, 0.0)

    def x(position: float) -> str:
        return f"{6 + 108 * (position - left) / span:.1f}"

    return Markup(
        '<svg class="strip" viewBox="0 0 120 14" aria-hidden="true" focusable="false">'
        f'<line class="strip-zero" x1="{x(0.0)}" y1="1" x2="{x(0.0)}" y2="13"/>'
        f'<line class="strip-base" x1="{x(0.0)}" y1="7" x2="{x(value)}" y2="7"/>'
        f'<line class="strip-bar" x1="{x(low)}" y1="7" x2="{x(high)}" y2="7"/>'
        f'<circle class="strip-dot" cx="{x(value)}" cy="7" r="3.5"/></svg>'
    )


def _figures(edition: Edition, write_up: WriteUp, setpoint: Setpoint) -> Iterator[HeadlineNumber]:
    for quantity, relation, label in _CANDIDATES:
        number = edition.number(write_up.slug, f"{setpoint.name}/{quantity}/{relation}")
        if number is None or number.value is None:
            continue
        told = number.repeatability_interval or number.interval
        yield HeadlineNumber(
            number=number,
            text=("+" if relation.startswith("change") and number.value > 0 else "") + number.printed.text,
            label=_label(label, relation, number.value) + _direction(quantity, write_up),
            address=number.address.local(),
            interval=interval_words(number),
            news=_news(number.value, told, relation, less_is_better(quantity, write_up)),
            strip=strip(number.interval or told, number.value),
        )


def _label(label: str, relation: str, value: float) -> str:
    return label.replace("less ", "saved in ") if relation == "saved" and value < 0 else label


def _direction(quantity: str, write_up: WriteUp) -> str:
    # A rise of the score is good news with most loads; where it is not, the reader must be told.
    return " (less is better)" if quantity == "score" and not write_up.load.higher_is_better else ""


def _news(value: float, told: Interval | None, relation: str, less: bool | None) -> str:
    if told is None or told.contains(0.0) or less is None:
        return "not shown"
    fell = value > 0 if relation == "saved" else value < 0
    return "better" if fell == less else "worse"


def _sureness(edition: Edition, write_up: WriteUp, setpoint: Setpoint | None) -> Iterator[str]:
    base = write_up.setpoints[write_up.baseline]
    if setpoint is not None:
        counts = [sum(t.counts for t in runs_at(write_up, s)) for s in (setpoint, base)]
        yield f"{counts[0]} completed runs at {setpoint.label}, {counts[1]} at {base.label}."
        number = edition.number(write_up.slug, f"{setpoint.name}/score/equivalent")
        if number is not None and number.finding is not None:
            yield _equality(number.finding, write_up, base.label)
    yield f"Ranges are {edition.site.settings.confidence_pct:g}{NBSP}% intervals."
    claims = edition.claims(write_up.slug)
    kept = sum(bool(c.accepted) for c in claims)
    yield f"{len(claims) - kept} statements of the text agree with the trials" + (
        f", {kept} kept with a stated reason." if kept else "."
    )


def _equality(finding: Equivalence, write_up: WriteUp, base: str) -> str:
    size, relative = write_up.margins.by_quantity.get("score", (0.0, True))
    unit = "%" if relative else write_up.load.score_unit.symbol
    margin = f"the margin of {size:g}{NBSP}{unit} declared beforehand"
    return {
        Equivalence.SHOWN: f"The score is that of {base} within {margin}.",
        Equivalence.REFUTED: f"The score differs from that of {base} by more than {margin}.",
        Equivalence.NOT_SETTLED: f"Whether the score is that of {base} within {margin} is not settled.",
    }[finding]


def _cards(edition: Edition, write_up: WriteUp) -> Iterator[str]:
    samples = {w.sample.id for w in edition.write_ups_of(write_up.card.id)}
    yield f"{write_up.card.maker} {write_up.card.model}, sample {write_up.sample.id}."
    if len(samples) > 1:
        yield f"{len(samples)} samples of this card were on the bench; the card's page puts them side by side."
    else:
        yield "One sample: how far other cards of this model differ is not known from it."


def _safety(edition: Edition, write_up: WriteUp, setpoint: Setpoint | None) -> Iterator[str]:
    if setpoint is not None:
        runs = [t for t in runs_at(write_up, setpoint) if not t.excluded]
        failed = sum(t.outcome is not Outcome.COMPLETED for t in runs)
        yield f"{failed} of {len(runs)} runs at {setpoint.label} failed."
        soaks = [s for s in write_up.sequences.values() if s.kind is SequenceKind.SOAK and s.setpoint == setpoint.name]
        for soak in soaks:
            yield from _soak(edition, write_up, soak.name)
        if not soaks:
            yield "No soak: stability in daily use was not tested."


def _soak(edition: Edition, write_up: WriteUp, name: str) -> Iterator[str]:
    hours = edition.number(write_up.slug, f"{name}/hours")
    failures = edition.number(write_up.slug, f"{name}/failures")
    rate = edition.number(write_up.slug, f"{name}/failure-rate/at-most")
    if hours is not None and failures is not None and failures.value is not None:
        yield f"Soak: {failures.value:g} failures in {hours.printed.text}." + (
            f" The failure rate is at most {rate.printed.text}." if rate is not None else ""
        )
