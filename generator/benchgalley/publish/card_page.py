"""The page of a card: its samples, the author's and the readers' apart, and the figures pooled over them."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from benchgalley.records.bench import Card, Outcome, Sample
from benchgalley.records.results import Number
from benchgalley.records.write_up import WriteUp

from . import page_paths
from .budgets import Budgets
from .charts_in_pages import as_file, plate, site_source
from .comparing import COMPARED, comparable, compared_rows
from .edition import Edition, runs_at
from .headline import headline
from .number_rows import rows_over_samples

_LOOKED_FOR = ("samples", "manages", "score", "board-power", "score-per-watt")
_RELATIONS = ("", "of-baseline", "saved", "between-samples", "next-sample-at-least", "next-sample-at-most")
"""Quantities and relations that stand in the open table over samples; the others open below it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Pooled:
    """The figures over samples at one setpoint."""

    subject: str
    label: str
    main: Iterator[Markup]
    """Rows of what most readers look for."""
    further: Iterator[Markup]
    """Rows of the others."""
    others: int
    """Count of these."""
    holds: str
    """Which samples, in words."""
    survivors: str
    """Empty, or what failed runs do to the means."""


def card_page(edition: Edition, card: Card) -> Mapping[str, bytes]:
    """The page of one card, with its charts as files."""
    here = page_paths.card(card.id)
    figures = edition.shared_figures.get(card.id, ())
    source = site_source(edition)
    files = {page_paths.shared_figure(f"{card.id}-{f.id}"): as_file(f, source) for f in figures}
    write_ups = sorted(edition.write_ups_of(card.id), key=lambda w: (w.published, w.slug), reverse=True)
    files[here] = edition.templates.fill(
        "card.html",
        here,
        card=card,
        origins=[
            _origin(edition, card, write_ups, "The author's samples", contributed=False),
            _origin(edition, card, write_ups, "Readers' samples", contributed=True),
        ],
        write_ups=write_ups,
        heads=[head for _, _, head in COMPARED],
        pooled=_pooled(edition, card),
        figures=[
            plate(edition, f, here, page_paths.shared_figure(f"{card.id}-{f.id}"), source=source) for f in figures
        ],
        on_bench={w.sample.id for w in write_ups},
    )
    return files


def _origin(
    edition: Edition, card: Card, write_ups: Sequence[WriteUp], title: str, *, contributed: bool
) -> dict[str, Any]:
    """The samples of one origin with their write-ups and tables; only what is comparable shares a table."""
    mine = [w for w in write_ups if bool(w.sample.contributed) is contributed]
    return {
        "title": title,
        "key": "readers" if contributed else "author",
        "samples": [s for s in card.samples if bool(s.contributed) is contributed],
        "entries": [{"write_up": w, "headline": headline(edition, w)} for w in mine],
        "tables": [
            {
                "load": members[0].load,
                "bench": members[0].bench,
                "rows": [r for w in members for r in compared_rows(edition, w)],
            }
            for members in comparable(sorted(mine, key=lambda w: w.sample.id))
        ],
    }


def _pooled(edition: Edition, card: Card) -> list[Pooled]:
    """Figures over samples by setpoint."""
    groups: dict[str, tuple[list[Number], list[Number]]] = {}
    for number in edition.numbers(card.id):
        main, further = groups.setdefault(number.address.subject, ([], []))
        looked_for = number.address.quantity in _LOOKED_FOR and number.address.relation in _RELATIONS
        (main if looked_for else further).append(number)
    samples = {f"sample {s.id}": s for s in card.samples}
    found, budgets = [], Budgets()
    for subject, (main, further) in groups.items():
        held = dict.fromkeys(group for number in (*main, *further) for group, runs in number.groups if runs)
        write_ups = [w for w in edition.write_ups_of(card.id) if subject in w.setpoints]
        found.append(
            Pooled(
                subject=subject,
                label=write_ups[0].setpoints[subject].label if write_ups else subject,
                main=rows_over_samples(main, budgets),
                further=rows_over_samples(further, budgets),
                others=len(further),
                holds=_whose([samples[group] for group in held if group in samples]),
                survivors=_survivors(write_ups, subject, held),
            )
        )
    return found


def _whose(samples: Sequence[Sample]) -> str:
    own = [s.id for s in samples if not s.contributed]
    sent = [f"{s.id} ({s.contributed})" for s in samples if s.contributed]
    parts = [f"the author's {', '.join(own)}"] if own else []
    parts += [f"readers' {', '.join(sent)}"] if sent else []
    return " and ".join(parts)


def _survivors(write_ups: Sequence[WriteUp], subject: str, held: Mapping[str, None]) -> str:
    """What a mean over completed runs leaves out, sample by sample."""
    counts: dict[str, list[bool]] = {}
    for write_up in write_ups:
        if f"sample {write_up.sample.id}" in held:
            runs = (t for t in runs_at(write_up, write_up.setpoints[subject]) if not t.excluded)
            counts.setdefault(write_up.sample.id, []).extend(t.outcome is not Outcome.COMPLETED for t in runs)
    failed = {sample: sum(runs) for sample, runs in counts.items() if any(runs)}
    if not failed:
        return ""
    total = sum(map(len, counts.values()))
    each = ", ".join(f"sample {sample}: {count} of {len(counts[sample])}" for sample, count in failed.items())
    return (
        f"{sum(failed.values())} of {total} runs at this setting failed ({each}). Means are over the runs that "
        "completed: they say nothing of the runs that did not, and a sample that fails often is seen at its best."
    )
