"""Takes readers' runs into the content tree: tried out on a copy first, written only when everything agrees."""

import re
import shutil
import string
import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from benchgalley import pipeline
from benchgalley.records.bench import Card
from benchgalley.records.findings import Problem, Severity
from benchgalley.records.results import Results
from benchgalley.records.site import Checked, Site

from . import received_file, starter
from .card_text import CannotInsertError, with_sample
from .plausibility import FEWEST_STOCK, already_there, doubts
from .received_file import Received
from .received_write_up import (
    BENCH,
    BENCH_FILE,
    STOCK,
    Arrival,
    Shape,
    known_names,
    shape_of,
    table_of,
    trials_of,
    write_up_of,
)

_ALIAS = re.compile(r"[^\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff]{1,40}")
_NAME = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")


@dataclass(frozen=True, kw_only=True, slots=True)
class Wishes:
    """What the author says on the command line; empty: take it from the file."""

    card: str
    load: str
    by: str
    sample: str
    on: str
    """ISO 8601 date."""
    despite: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Outcome:
    """What came of it."""

    written: tuple[str, ...] = ()
    """Paths written or changed, relative to the site's root. Empty with problems."""
    problems: tuple[Problem, ...] = ()
    moved: tuple[Problem, ...] = ()
    """Statements elsewhere that agreed until the new sample changed the figures over samples."""


def receive(root: Path, paths: Iterable[Path], wishes: Wishes) -> Outcome:
    """Take files in, all of them or none."""
    found: list[Received] = []
    problems: list[Problem] = []
    for path in paths:
        received, faults = received_file.read(path)
        problems += faults
        if received is not None:
            found.append(received)
    if problems:
        return Outcome(problems=tuple(problems))
    with tempfile.TemporaryDirectory(prefix="benchgalley-receive-") as folder:
        # A copy, so that nothing half-checked ever lies in the author's folder.
        copy = Path(folder)
        shutil.copytree(root / "content", copy / "content", symlinks=True)
        files: dict[str, bytes] = {}
        before = pipeline.check(copy).problems
        for received in found:
            made, told = _one(copy, received, wishes)
            problems += told
            files |= made
        if problems:
            return Outcome(problems=tuple(problems))
        moved = tuple(p for p in pipeline.check(copy).problems if p not in before)
    # The card files come last: until then nothing refers to what is new.
    order = dict(sorted(files.items(), key=lambda item: item[0].startswith("content/cards/")))
    starter.put_files(root, order)
    return Outcome(written=tuple(order), moved=moved)


def _one(copy: Path, received: Received, wishes: Wishes) -> tuple[dict[str, bytes], list[Problem]]:
    """The files one arrival adds or changes, already put into the copy."""
    checked = pipeline.check(copy)
    if checked.site is None:
        return {}, list(checked.problems)
    site = checked.site
    arrival = _arrival(received, wishes, site)
    if not isinstance(arrival, Arrival):
        return {}, arrival
    shape = shape_of(received.rows, arrival.names)
    if problems := _shape_problems(received, shape, site):
        return {}, problems
    folder = f"content/write-ups/{arrival.slug}"
    try:
        files = _new_files(copy, arrival, shape, folder)
    except CannotInsertError as error:
        place = f"content/cards/{arrival.card}.yaml"
        return {}, [
            received.problem("cannot-insert", f"{place}: {error}", f"Add the sample `{arrival.sample}` by hand.")
        ]
    starter.put_files(copy, files)
    tried = pipeline.check(copy)
    if problems := _of(tried, folder) or _against(received, arrival, tried):
        return {}, problems
    assert tried.results is not None
    return _with_table(copy, arrival, shape, files, tried.results)


def _new_files(copy: Path, arrival: Arrival, shape: Shape, folder: str) -> dict[str, bytes]:
    files = {
        f"{folder}/trials.csv": trials_of(arrival.received, shape),
        f"{folder}/write-up.md": write_up_of(arrival, shape, ""),
    }
    bench = f"content/benches/{BENCH}.yaml"
    if not (copy / bench).exists():
        files[bench] = BENCH_FILE.encode()
    card = f"content/cards/{arrival.card}.yaml"
    text = (copy / card).read_bytes().decode("utf-8")
    note = f"Sent in with the worksheet, taken in on {arrival.on}"
    files[card] = with_sample(text, arrival.sample, note, f"{arrival.by}, a reader").encode()
    return files


def _with_table(
    copy: Path, arrival: Arrival, shape: Shape, files: dict[str, bytes], results: Results
) -> tuple[dict[str, bytes], list[Problem]]:
    """The files with the table of numbers, each judged like any other claim; what does not agree is left out of it."""
    folder = f"content/write-ups/{arrival.slug}"
    without: frozenset[str] = frozenset()
    problems: list[Problem] = []
    for _ in range(3):
        page = write_up_of(arrival, shape, table_of(arrival, shape, results, without))
        starter.put_file(copy, f"{folder}/write-up.md", page)
        problems = _of(pipeline.check(copy, only=arrival.slug), folder)
        if not problems:
            return files | {f"{folder}/write-up.md": page}, []
        without |= {p.address.partition(":")[2] or p.address for p in problems if p.address}
    return {}, problems


def _of(checked: Checked, folder: str) -> list[Problem]:
    return [p for p in checked.problems if p.where.file.startswith((f"{folder}/", f"content/benches/{BENCH}."))]


def _arrival(received: Received, wishes: Wishes, site: Site) -> Arrival | list[Problem]:
    """What the file and the command line say together, resolved against the site."""
    problems: list[Problem] = []
    card_id = _agreed(received, "card", wishes.card, site.cards, problems)
    load_id = _agreed(received, "load", wishes.load, site.loads, problems)
    by = wishes.by or received.about.get("alias", "").strip()
    if not _ALIAS.fullmatch(by):
        problems.append(received.problem("no-contributor", "it does not say who sent it", "Name them with --by NAME."))
    card = site.cards.get(card_id)
    sample = wishes.sample or (_free_sample(card) if card else "")
    if card is not None:
        problems += _sample_problems(received, card, sample)
    if card is None or problems:
        return problems
    return Arrival(
        received=received,
        card=card.id,
        model=card.model,
        load=load_id,
        sample=sample,
        slug=_free_slug(f"{card.id}-{sample}", site),
        by=by,
        on=wishes.on,
        despite=" ".join(wishes.despite.replace("`", "'").split()),
        names=known_names(site, card.id),
    )


def _agreed(received: Received, kind: str, wished: str, known: Mapping[str, object], problems: list[Problem]) -> str:
    told = received.about.get(kind, "")
    if wished and told and wished != told:
        message = f"the file is about the {kind} `{told}`, not `{wished}`"
        problems.append(
            received.problem(f"other-{kind}", message, f"Take it in with --{kind} {told}, if that is right.")
        )
    name = wished or told
    if name not in known:
        message = f"there is no {kind} `{name}`" if name else f"it does not say which {kind} it is about"
        problems.append(
            received.problem(f"unknown-{kind}", message, f"Name it with --{kind}: {', '.join(known) or 'none here'}.")
        )
    return name


def _sample_problems(received: Received, card: Card, sample: str) -> list[Problem]:
    problems = []
    if any(s.id == sample for s in card.samples):
        problems.append(
            received.problem("sample-taken", f"`{card.id}` has a sample `{sample}`", "Choose another alias.")
        )
    if not _NAME.fullmatch(sample) or sum(c.isdigit() for c in sample) > 3:
        problems.append(received.problem("bad-name", f"`{sample}` is no alias", "Small letters, digits and hyphens."))
    stock = received.about.get("stock_board_power_w", "")
    if stock and stock != f"{card.stock_board_power_w:g}":
        message = f"its stock board power is {stock} W; `{card.id}` has {card.stock_board_power_w:g} W"
        problems.append(received.problem("other-card", message, "This looks like another model or variant."))
    return problems


def _free_sample(card: Card) -> str:
    taken = {sample.id for sample in card.samples}
    letters = [*string.ascii_lowercase, *(f"reader-{n}" for n in range(1, 100))]
    return next((name for name in letters if name not in taken), "")


def _free_slug(wanted: str, site: Site) -> str:
    slug, number = wanted, 2
    while slug in site.write_ups or slug in site.cards:
        slug, number = f"{wanted}-{number}", number + 1
    return slug


def _shape_problems(received: Received, shape: Shape, site: Site) -> list[Problem]:
    problems = []
    stock = sum(row.setting == STOCK and row.completed and not row.soak for row in received.rows)
    if stock < FEWEST_STOCK:
        message = f"it has {stock} completed stock runs; {FEWEST_STOCK} are the least that can be compared with"
        problems.append(received.problem("too-few-stock-runs", message, "Ask the sender for more."))
    ordinary = {row.setting for row in received.rows if not row.soak}
    for setting in shape.soaks:
        if setting not in ordinary:
            message = f"{setting[0]:g} %, {setting[1]:g} mV was soaked but never run by itself"
            problems.append(received.problem("soak-alone", message, "Ask the sender for one ordinary run there."))
    sent = [w.slug for w in site.write_ups.values() if received.digest in w.source]
    if sent:
        problems.append(
            received.problem("same-file", f"it was taken in before, as `{sent[0]}`", "Nothing is to be done.")
        )
    return problems


def _against(received: Received, arrival: Arrival, tried: Checked) -> list[Problem]:
    """The same runs a second time, or doubts nobody has answered."""
    site, results = tried.site, tried.results
    assert site is not None and results is not None
    write_up = site.write_ups[arrival.slug]
    if twin := already_there(write_up, site):
        message = f"most of its runs are in `{twin}` already"
        return [received.problem("same-runs", message, "Take in each run once.")]
    if arrival.despite:
        return []
    mend = "Ask the sender. If it is right all the same, say why: --despite REASON; the reason is published."
    return [
        replace(received.problem("doubtful", sentence, mend, 1 if received.about else line), severity=Severity.ERROR)
        for sentence, line in doubts(write_up, site, results)
    ]
