"""Hazard notes, raised by rule, with the signal words of ANSI Z535.6.

DANGER, WARNING and CAUTION are for injury only. NOTICE is for damage and loss of data. Each note says kind and
source of the hazard, what happens, how to avoid it, in that order.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from ..metrology.physics import CONTACT_LIMIT_A, SLOT_W, current_per_contact_a, power_limit_w, rated_supply_w
from ..metrology.sample import NotDetermined
from ..records.bench import MeasuringPoint, Trial
from ..records.findings import Hazard, SignalWord
from ..records.write_up import WriteUp
from .context import Context
from .wording import amount, exact, figure, listed

WORDS: Mapping[str, SignalWord] = MappingProxyType(
    {
        "mains-conductors": SignalWord.DANGER,
        "connector-overload": SignalWord.WARNING,
        "hot-surface": SignalWord.CAUTION,
        "connector-near-limit": SignalWord.NOTICE,
        "power-limit-raised": SignalWord.NOTICE,
        "voltage-or-clock": SignalWord.NOTICE,
        "wall-meter": SignalWord.NOTICE,
    }
)
"""Code → signal word, gravest first. No note takes its word from anywhere else."""

NEAR_LIMIT = 0.90
"""Ours: share of the connectors' rating above which a notice is due."""
VOLTAGE_V = 12.0
SAME_AS = MappingProxyType({"16-contact": "16-pin"})
"""Names the card files use → names in the table of ratings."""
SIX_LIVE_CONTACTS = frozenset({"16-pin", "12V-2x6"})

PROBED = re.compile(r"\b(clamp\w*|prob(e|es|ing)|tapp?(ed|ing)?)\b", re.IGNORECASE)
MAINS = re.compile(
    r"\bmains (conductor|wire|lead|cable|side)s?\b|\blive (conductor|wire)s?\b|\bopened? (the )?(power )?supply\b",
    re.IGNORECASE,
)
TOUCHED = re.compile(
    r"(?<!not )(?<!never )\btouch(ed|ing|es)?\b (\w+ ){0,3}(cards?|cooler|heat ?sink|back ?plate|shroud|fans?)\b"
    r"(?! (curve|speed|mode|profile|setting))",
    re.IGNORECASE,
)
BY_HAND = re.compile(
    r"\b(fingers?|fingertips?|bare hands?)\b.*\b(card|cooler|heat ?sink|back ?plate|shroud|fan)\b", re.IGNORECASE
)
HINTS = ("touch", "finger", "hand")
"""One of them stands in every text that can match one of the two before."""
SENTENCE_END = re.compile(r"(?<=[.!?])\s+")


@dataclass(frozen=True, kw_only=True, slots=True)
class ConnectorLoad:
    """The heaviest load on slot and connectors in any row, against what they are rated for."""

    power_w: float
    rated_w: float
    row: str
    """Where it was found: "trial t07, measured" or "trial t07, limit set"."""
    parts: tuple[str, ...]
    """Slot and connectors, as rated."""

    @property
    def share(self) -> float:
        """Power over rating."""
        return self.power_w / self.rated_w


def connector_load(write_up: WriteUp) -> ConnectorLoad | None:
    """Connector arithmetic over every row: the largest measured or set power against the sum of the ratings.

    Ratings: PCI Express card electromechanical limits, slot 75 W, 6-pin 75 W, 8-pin 150 W, 16-contact 600 W.
    None when no connectors are recorded although the card needs some, or when one has no known rating.
    """
    card = write_up.card
    parts = ("slot", *(SAME_AS.get(c, c) for c in card.connectors))
    try:
        rated_w = rated_supply_w(list(parts))
    except NotDetermined:
        return None
    if not card.connectors and card.stock_board_power_w > SLOT_W:
        return None
    rows = [row for trial in write_up.trials for row in _powers(trial, card.stock_board_power_w)]
    if not rows:
        return None
    power_w, trial, how = max(rows, key=lambda found: found[0])
    return ConnectorLoad(power_w=power_w, rated_w=rated_w, row=f"trial {trial.id}, {how}", parts=parts)


def _powers(trial: Trial, stock_w: float) -> Iterable[tuple[float, Trial, str]]:
    """Measured and configured board power of a row, in watts; also of failed and excluded runs."""
    if "board_power_w" in trial.measured:
        yield trial.measured["board_power_w"], trial, "measured"
    limit_pct = trial.settings.get("power_limit_pct")
    if isinstance(limit_pct, float | int) and limit_pct > 0 and stock_w > 0:
        yield power_limit_w(stock_w, limit_pct), trial, "limit set"


def _connector_text(load: ConnectorLoad) -> str:
    names = listed(f"{'the ' if p == 'slot' else ''}{p}" for p in load.parts)
    text = (
        f"up to {amount(load.power_w, 'W', 3)} ({load.row}) through {names}, together rated "
        f"{amount(load.rated_w, 'W', 3)}: {figure(100 * load.share, 3)} % of the rating."
    )
    wide = [p for p in load.parts if p in SIX_LIVE_CONTACTS]
    if len(wide) == 1 and len(load.parts) == 2 and load.power_w > SLOT_W:
        current_a = current_per_contact_a(wide[0], load.power_w - SLOT_W, VOLTAGE_V)
        text += (
            f" With the slot giving all it may, each live contact carries at least {amount(current_a, 'A', 3)} at "
            f"{exact(VOLTAGE_V)} V; it is rated {amount(CONTACT_LIMIT_A, 'A', 2)}. Sharing is uneven, so the worst "
            "contact carries more."
        )
    return text


def connector_overload(context: Context) -> Iterable[Hazard]:
    """WARNING when a row's measured or configured power exceeds the sum of the ratings in use."""
    load = connector_load(context.write_up)
    if load is not None and load.share > 1:
        yield _note(
            "connector-overload",
            "Power connectors beyond their rating: " + _connector_text(load),
            "Contacts overheat; plug, cable or socket can melt and catch fire.",
            "Stay within the rated power. Check that every plug is fully seated. Use no damaged or mixed adapters.",
        )


def connector_near_limit(context: Context) -> Iterable[Hazard]:
    """NOTICE above 90 % of the ratings in use, up to the ratings themselves."""
    load = connector_load(context.write_up)
    if load is not None and NEAR_LIMIT < load.share <= 1:
        yield _note(
            "connector-near-limit",
            "Power connectors near their rating: " + _connector_text(load),
            "A badly seated plug or a worn contact is overloaded although the sum is not; plug and card are damaged.",
            "Check that every plug is fully seated, use the supply's own cables, and leave headroom.",
        )


def power_limit_raised(context: Context) -> Iterable[Hazard]:
    """NOTICE when a setpoint or run has a power limit above stock."""
    limits = [v for v in _values(context.write_up, "power_limit_pct") if v > 100]
    if not limits:
        return
    highest = context.write_up.card.power_limit_range_pct[1]
    beyond = max(limits) > highest
    yield _note(
        "power-limit-raised",
        f"Power limit above stock: {exact(max(limits))} % of the maker's board power was set"
        + (f", beyond the {exact(highest)} % the maker allows." if beyond else ", inside the maker's range."),
        "Supply and cooling carry more than at stock; parts age faster, the computer can switch off, and the maker's "
        "warranty may not hold.",
        "Check that supply and cooling are rated for it, watch temperatures, and return to stock at their limits.",
    )


def voltage_or_clock(context: Context) -> Iterable[Hazard]:
    """NOTICE when a setpoint or run has a lower voltage or a higher clock than stock."""
    write_up = context.write_up
    kinds = [
        words
        for words, found in (
            ("lower voltage than stock", min(_values(write_up, "voltage_offset_mv"), default=0.0) < 0),
            ("higher core clock than stock", max(_values(write_up, "core_offset_mhz"), default=0.0) > 0),
            ("higher memory clock than stock", max(_values(write_up, "memory_offset_mhz"), default=0.0) > 0),
        )
        if found
    ]
    if kinds:
        yield _note(
            "voltage-or-clock",
            f"Settings off stock: {listed(kinds)}.",
            "Crashes, silently wrong results and loss of data.",
            f"Keep backups. Stability was looked at under {write_up.load.name} only; try your own work, and check its "
            "results, before you rely on a setting.",
        )


def wall_meter(context: Context) -> Iterable[Hazard]:
    """NOTICE when wall power was measured with a meter in the mains lead."""
    meters = [
        i.name
        for i in context.write_up.bench.instruments
        if i.measures_at is MeasuringPoint.WALL
        and any(c in t.measured for t in context.write_up.trials for c in i.columns)
    ]
    if meters:
        yield _note(
            "wall-meter",
            f"Meter between wall and computer: {listed(meters)}.",
            "Beyond the meter's rated current it overheats and fails.",
            "Keep the computer's current below the meter's rated current. Do not open mains wiring: that is for a "
            "qualified person, under the local electrical code.",
        )


def mains_conductors(context: Context) -> Iterable[Hazard]:
    """DANGER only when an instrument's name or a bench fact says that mains conductors are clamped or probed."""
    bench = context.write_up.bench
    texts = [*(i.name for i in bench.instruments), *bench.facts.values()]
    found = [t for t in texts if PROBED.search(t) and MAINS.search(t)]
    if found:
        yield _note(
            "mains-conductors",
            f"Live mains conductors within reach: {listed(found)}.",
            "Electric shock. It kills.",
            "Do not copy this. Leave it to a qualified person, with instruments of measurement category CAT II or "
            "higher (IEC 61010), under the local electrical code. A plug-in meter needs none of it.",
        )


def hot_surface(context: Context) -> Iterable[Hazard]:
    """CAUTION only when the prose describes touching the card or its cooler."""
    if any(
        TOUCHED.search(part) or BY_HAND.search(part)
        for text in context.write_up.texts
        if any(hint in text.text.lower() for hint in HINTS)
        for part in SENTENCE_END.split(text.text)
    ):
        yield _note(
            "hot-surface",
            "Hot cooler and turning fan of a card that runs or has just stopped.",
            "Burnt or cut fingers.",
            "Switch off, let the card cool down and the fan stand still before you touch it.",
        )


def _values(write_up: WriteUp, column: str) -> list[float]:
    """Every value of a numeric setting, in setpoints and in runs."""
    groups = [*(s.settings for s in write_up.setpoints.values()), *(t.settings for t in write_up.trials)]
    return [float(v) for g in groups if isinstance(v := g.get(column), float | int)]


def _note(code: str, source: str, consequence: str, avoidance: str) -> Hazard:
    return Hazard(code=code, word=WORDS[code], source=source, consequence=consequence, avoidance=avoidance)


RULES = (
    mains_conductors,
    connector_overload,
    hot_surface,
    connector_near_limit,
    power_limit_raised,
    voltage_or_clock,
    wall_meter,
)
