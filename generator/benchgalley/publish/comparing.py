"""The comparison: which write-ups may stand in one table, what the tables show, and why others are kept apart."""

from collections.abc import Iterable, Mapping
from itertools import combinations
from typing import Any

from benchgalley.records.results import Number
from benchgalley.records.write_up import WriteUp

from . import page_paths
from .charts_in_pages import as_file, plate, site_source
from .edition import Edition
from .headline import settings_words

COMPARED: tuple[tuple[str, str, str], ...] = (
    ("score", "", "score"),
    ("board-power", "", "board power"),
    ("score-per-watt", "", "score per watt"),
    ("score", "of-baseline", "score, of stock"),
    ("board-power", "of-baseline", "board power, of stock"),
)
"""(quantity, relation, head of the column)."""

_TERMS = ("load", "version of the load", "preset of the load", "bench", "place where board power is measured")


def comparison_page(edition: Edition) -> Mapping[str, bytes]:
    """Cards side by side, in groups within which figures may be compared, and why not beyond."""
    here = page_paths.COMPARISON
    figures = edition.shared_figures.get("comparison", ())
    source = site_source(edition)
    files = {page_paths.shared_figure(f.id): as_file(f, source) for f in figures}
    groups = comparable(edition.site.write_ups.values())
    files[here] = edition.templates.fill(
        "comparison.html",
        here,
        groups=[_group(edition, members) for members in groups],
        apart=[_kept_apart(one, other) for one, other in combinations(groups, 2)],
        heads=[head for _, _, head in COMPARED],
        figures=[plate(edition, f, here, page_paths.shared_figure(f.id), source=source) for f in figures],
    )
    return files


def comparable(write_ups: Iterable[WriteUp]) -> list[list[WriteUp]]:
    """Write-ups in groups of equal load, version, preset, bench and place of the power meter."""
    groups: dict[tuple[str, ...], list[WriteUp]] = {}
    for write_up in write_ups:
        groups.setdefault((*_terms(write_up), write_up.load.id, write_up.bench.id), []).append(write_up)
    return [members for _, members in sorted(groups.items())]


def compared_rows(edition: Edition, write_up: WriteUp) -> list[dict[str, Any]]:
    """The baseline and the setpoint the write-up is about, with their figures."""
    tuned = edition.headline_setpoint(write_up)
    base = write_up.setpoints[write_up.baseline]
    rows = []
    for setpoint in (base, tuned):
        if setpoint is None:
            continue
        cells: list[Number | None] = []
        for quantity, relation, _ in COMPARED:
            if setpoint is base and relation:
                cells.append(None)
                continue
            text = f"{setpoint.name}/{quantity}" + (f"/{relation}" if relation else "")
            cells.append(edition.number(write_up.slug, text))
        rows.append(
            {
                "write_up": write_up,
                "setpoint": setpoint,
                "settings": settings_words(setpoint, write_up) or "as delivered",
                "cells": cells,
                "addresses": " ".join(str(number.address) for number in cells if number is not None),
            }
        )
    return rows


def meter(write_up: WriteUp) -> str:
    """Where board power was measured: two kinds of channel are never compared."""
    instrument = write_up.bench.instrument_for("board_power_w")
    return instrument.measures_at.value if instrument else "not recorded"


def _terms(write_up: WriteUp) -> tuple[str, ...]:
    load = write_up.load
    return (load.name, load.version, load.preset, write_up.bench.name, meter(write_up))


def _group(edition: Edition, members: list[WriteUp]) -> dict[str, Any]:
    return {
        "load": members[0].load,
        "bench": members[0].bench,
        "meter": meter(members[0]),
        "drivers": sorted({driver for w in members for driver in w.drivers}),
        "rows": [row for w in members for row in compared_rows(edition, w)],
    }


def _kept_apart(one: list[WriteUp], other: list[WriteUp]) -> dict[str, str]:
    """Two groups and what sets them apart. A load of another name has no version or preset in common to speak of."""
    pairs = list(zip(_TERMS, _terms(one[0]), _terms(other[0]), strict=True))
    if pairs[0][1] != pairs[0][2]:
        pairs = [pairs[0], *pairs[3:]]
    why = [f"{term} ({a}; {b})" for term, a, b in pairs if a != b]
    return {"one": _cards(one), "other": _cards(other), "why": ", other ".join(why) or "file for load or bench"}


def _cards(members: list[WriteUp]) -> str:
    samples: dict[str, list[str]] = {}
    for write_up in members:
        samples.setdefault(f"{write_up.card.maker} {write_up.card.model}", []).append(write_up.sample.id)
    cards = [f"{card}, {'samples' if len(ids) > 1 else 'sample'} {', '.join(ids)}" for card, ids in samples.items()]
    return f"{'; '.join(cards)} on {members[0].load.name} {members[0].load.version}"
