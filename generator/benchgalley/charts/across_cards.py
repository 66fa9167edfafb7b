"""Figures over several write-ups: cards side by side on one load, samples of one card."""

from collections.abc import Callable, Iterable, Sequence

from ..records.bench import Card
from ..records.results import Number, Results
from ..records.site import Site
from ..records.write_up import WriteUp
from . import reading
from .at_setpoints import POWERS
from .marks import Row, interval_rows
from .picture import Drawing
from .reading import counted, find, setpoint_label

COMPARED = tuple((quantity, "") for _, quantity in POWERS)
"""(quantity, relation) of the numbers a comparison draws."""

Terms = tuple[str, str, str, str, str, tuple[str, ...]]
"""What must be equal to compare: load, version, preset, bench, where board power is measured, drivers."""


def _power(write_up: WriteUp) -> tuple[str, str]:
    """The power quantity of a write-up and the score for each of its watts."""
    return next((pair for pair in POWERS if reading.COLUMNS[pair[0]] in write_up.columns_counted), POWERS[0])


def looks_together(group: Sequence[WriteUp]) -> dict[tuple[str, str], int]:
    """(Write-up, setpoint) -> look; a name has one look in the whole figure, every baseline has look 0."""
    others = dict.fromkeys(name for w in group for name in w.setpoints if name != w.baseline)
    place = {name: i for i, name in enumerate(others, start=1)}
    return {(w.slug, name): 0 if name == w.baseline else place[name] for w in group for name in w.setpoints}


def terms(write_up: WriteUp) -> Terms:
    """The conditions of a write-up; only write-ups of equal terms share an axis."""
    instrument = write_up.bench.instrument_for(reading.COLUMNS[_power(write_up)[0]])
    load = write_up.load
    return (
        load.id,
        load.version,
        load.preset,
        write_up.bench.id,
        instrument.measures_at.value if instrument else "not stated",
        write_up.drivers_counted,
    )


def alike(site: Site) -> list[tuple[Terms, list[WriteUp]]]:
    """Write-ups by their terms, in order of terms and slug."""
    groups: dict[Terms, list[WriteUp]] = {}
    for write_up in sorted(site.write_ups.values(), key=lambda w: w.slug):
        groups.setdefault(terms(write_up), []).append(write_up)
    return sorted(groups.items(), key=lambda found: found[0])


def comparison(site: Site, results: Results) -> list[Drawing]:
    """Score per watt of every setting, for each set of write-ups that can be compared."""
    groups = alike(site)
    drawings = [_compare(key, group, groups, results) for key, group in groups if len(group) > 1]
    return [drawing for drawing in drawings if drawing is not None]


def _compare(
    key: Terms, group: Sequence[WriteUp], groups: Sequence[tuple[Terms, list[WriteUp]]], results: Results
) -> Drawing | None:
    power, quantity = _power(group[0])
    found: list[tuple[WriteUp, str, Number]] = [
        (write_up, name, number)
        for write_up in group
        for name in write_up.setpoints
        if (number := find(results, write_up.slug, name, quantity)) is not None
    ]
    if len({w.slug for w, *_ in found}) < 2:
        return None
    x = reading.span(reading.reach(n for *_, n in found))
    load = group[0].load
    rows, style, card_names = [], looks_together(group), _short_names(group)
    for write_up, name, number in found:
        stock = find(results, write_up.slug, write_up.baseline, quantity)
        sample = f"{card_names[write_up.card.id]} {write_up.sample.id}{_by_reader(write_up)}"
        level = stock.value if stock is not None else None
        rows.append(
            Row(
                number=number,
                row=f"{write_up.slug}:{name}",
                label=f"{sample}: {setpoint_label(write_up, name)}",
                style=style[write_up.slug, name],
                reference=level,
                address=str(number.address),
            )
        )
    confidence = reading.bars_explained([n for *_, n in found])
    return Drawing(
        id=f"comparison-{_slug(key)}",
        kind="comparison",
        template="interval-rows",
        title=f"Score per watt on {load.name} {load.version}",
        caption=(
            f"{counted(len({w.card.id for w, *_ in found}), 'card')} on {load.name} {load.version}, preset"
            f" {load.preset}, bench {group[0].bench.name}, {reading.NAMES[power]} measured at: {key[4]}."
            f" {confidence} Dashed line: the same card's baseline. The axis does not start at zero. What a setting's"
            " name stands for may differ from card to card."
            f"{_left_out(key, groups)}"
        ),
        alternative=f"Score per watt on {load.name} {load.version}: "
        + reading.said((row.label, n.printed.text) for row, (*_, n) in zip(rows, found, strict=True)),
        columns=("Card and sample", "Setting", "Runs", "Score per watt", "Interval"),
        rows=tuple(
            (
                card_label(w),
                setpoint_label(w, name),
                str(sum(n.runs)),
                n.printed.text,
                reading.interval_text(n),
            )
            for w, name, n in found
        ),
        data={"rows": interval_rows(rows, x)},
        signals={"x_low": x.low, "x_high": x.high, "x_title": reading.axis_title(quantity, found[0][2])},
        addresses=tuple(str(n.address) for *_, n in found),
    )


def _short_names(group: Iterable[WriteUp]) -> dict[str, str]:
    """Card → its model; the maker only where two makers share a model's name: the rows have little room."""
    cards = {w.card.id: w.card for w in group}
    makers: dict[str, set[str]] = {}
    for card in cards.values():
        makers.setdefault(card.model, set()).add(card.maker)
    return {
        id_: card.model if len(makers[card.model]) == 1 else f"{card.maker} {card.model}" for id_, card in cards.items()
    }


def _by_reader(write_up: WriteUp) -> str:
    return " (reader)" if write_up.sample.contributed else ""


def card_label(write_up: WriteUp) -> str:
    """Maker, model and sample as printed."""
    by_reader = f" ({write_up.sample.contributed})" if write_up.sample.contributed else ""
    return f"{write_up.card.maker} {write_up.card.model}, sample {write_up.sample.id}{by_reader}"


def _slug(key: Terms) -> str:
    """A permanent id: load and version, then whatever else tells two groups apart."""
    words = "-".join((*key[:5], *key[5]))
    kept = "".join(c if c.isascii() and c.isalnum() else "-" for c in words.lower())
    return "-".join(part for part in kept.split("-") if part)


_TERM_NAMES = ("load", "load version", "preset", "bench", "power meter", "driver")


def _left_out(key: Terms, groups: Sequence[tuple[Terms, list[WriteUp]]]) -> str:
    """What is not drawn here, and why."""
    sentences = []
    for other, group in groups:
        if other == key:
            continue
        why = [name for name, a, b in zip(_TERM_NAMES, key, other, strict=True) if a != b]
        cards = sorted({card_label(w) for w in group})
        sentences.append(f" Not comparable, so not drawn: {reading.listed(cards)} (other {reading.listed(why)}).")
    return "".join(sentences)


_SAMPLE_QUANTITIES = ("score-per-watt", "score", "board-power")


def samples(card: Card, site: Site, results: Results) -> list[Drawing]:
    """Each sample of a card at each setting, one figure a quantity, where at least two samples were measured."""
    drawings = []
    for key, group in alike(site):
        mine = [w for w in group if w.card.id == card.id]
        if len({w.sample.id for w in mine}) > 1:
            drawings += [_samples(card, key, mine, quantity, results) for quantity in _SAMPLE_QUANTITIES]
    return [drawing for drawing in drawings if drawing is not None]


def _samples(card: Card, key: Terms, group: Sequence[WriteUp], quantity: str, results: Results) -> Drawing | None:
    found: list[tuple[WriteUp, str, Number]] = [
        (write_up, name, number)
        for name, sharing in _shared_setpoints(group)
        for write_up in sharing
        if (number := find(results, write_up.slug, name, quantity)) is not None
    ]
    if len(found) < 2:
        return None
    x = reading.span(reading.reach(n for *_, n in found))
    pooled = {name: find(results, card.id, name, quantity) for _, name, _ in found}
    rows, style = [], looks_together(group)
    for write_up, name, number in found:
        label = f"{setpoint_label(write_up, name)}, sample {write_up.sample.id}{_by_reader(write_up)}"
        over = pooled[name]
        rows.append(
            Row(
                number=number,
                row=f"{name}:{write_up.slug}",
                label=label,
                style=style[write_up.slug, name],
                reference=over.value if over else None,
                address=str(number.address),
            )
        )
    load = group[0].load
    title = reading.titled(reading.NAMES[quantity], "")
    has_mean = any(n is not None for n in pooled.values())
    return Drawing(
        id=f"samples-{quantity}-{_slug(key)}",
        kind="samples",
        template="interval-rows",
        title=f"{title} of each sample on {load.name} {load.version}",
        caption=(
            f"{counted(len({w.sample.id for w in group}), 'sample')} of the {card.maker} {card.model} on"
            f" {load.name} {load.version}. {reading.bars_explained([n for *_, n in found])}"
            + (" Dashed line: mean over the samples." if has_mean else "")
            + " The axis does not start at zero."
        ),
        alternative=f"{title} of each sample: "
        + reading.said((row.label, n.printed.text) for row, (*_, n) in zip(rows, found, strict=True)),
        columns=("Setting", "Sample", "Runs", title, "Interval"),
        rows=tuple(
            (setpoint_label(w, name), w.sample.id, str(sum(n.runs)), n.printed.text, reading.interval_text(n))
            for w, name, n in found
        ),
        data={"rows": interval_rows(rows, x)},
        signals={"x_low": x.low, "x_high": x.high, "x_title": reading.axis_title(quantity, found[0][2])},
        addresses=tuple(str(n.address) for *_, n in found),
    )


def _shared_setpoints(group: Sequence[WriteUp]) -> list[tuple[str, list[WriteUp]]]:
    """Setpoints of one name and equal settings that at least two samples were measured at."""
    shared = []
    for name in dict.fromkeys(name for w in group for name in w.setpoints):
        having = [w for w in group if name in w.setpoints]
        wanted = dict(having[0].setpoints[name].settings)
        alike_set = [w for w in having if dict(w.setpoints[name].settings) == wanted]
        if len({w.sample.id for w in alike_set}) > 1:
            shared.append((name, alike_set))
    return shared


OVER_SITE: tuple[tuple[str, Callable[[Site, Results], list[Drawing]]], ...] = (("comparison", comparison),)
"""Kinds drawn once for the site."""

OVER_CARD: tuple[tuple[str, Callable[[Card, Site, Results], list[Drawing]]], ...] = (("samples", samples),)
"""Kinds drawn for each card."""
