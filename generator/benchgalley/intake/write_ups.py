"""One write-up: front matter, prose, trials, logs and images of a folder, put together."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from ..records.bench import Bench, Card, Load, Sample, Trial
from ..records.findings import Location, Problem, Severity
from ..records.write_up import Text, WriteUp
from .cross_checks import check_limits, check_plausible, check_runs
from .destinations import check_charts, check_links
from .files import TEXT_LIMIT, TRIALS_LIMIT, listing, read_text, relative
from .front_matter import FrontMatter, read_front_matter
from .images import check_uses, read_images
from .log_tasks import LogOutcome
from .logs import PlannedLog, plan_logs, take_outcomes
from .problem_list import ProblemList, clip, offer
from .prose import Prose, read_body
from .trial_table import TrialTable, read_table
from .trials import TrialRules, read_trials

_R = TypeVar("_R", Bench, Card, Load)
_HANG_ON_FRONT_MATTER = frozenset(
    {"unknown-column", "missing-column", "unknown-sequence", "log-without-rules", "time-without-zone"}
)
"""Problems of trials.csv that may only follow from faults in the front matter: told when those are mended."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Shelf:
    """Benches, loads and cards read so far, and the ids of those that have problems of their own."""

    benches: Mapping[str, Bench]
    loads: Mapping[str, Load]
    cards: Mapping[str, Card]
    broken: frozenset[tuple[str, str]]
    """(kind, id) of files that are there but could not be read: told already, so not told again."""


@dataclass(slots=True)
class Draft:
    """A write-up whose prose is read but whose trials are not yet."""

    slug: str
    folder: Path
    root: Path
    source_bytes: bytes
    front: FrontMatter | None
    prose: Prose | None


def read_draft(slug: str, folder: Path, root: Path, problems: ProblemList) -> Draft | None:
    """Front matter and prose of a folder; None when write-up.md cannot be read at all."""
    found = read_text(folder / "write-up.md", root, TEXT_LIMIT, problems)
    if found is None:
        return None
    data, source = found
    front = read_front_matter(source, problems)
    prose = None if front is None else read_body(source, front.body_line, problems)
    return Draft(slug, folder, root, data, front, prose)


@dataclass(slots=True)
class Pending:
    """A write-up that waits for what its logs give."""

    draft: Draft
    card: Card | None
    sample: Sample | None
    bench: Bench | None
    load: Load | None
    table_bytes: bytes
    table: TrialTable | None
    trials: tuple[Trial, ...] | None
    logs: tuple[PlannedLog, ...]


def prepare(draft: Draft, shelf: Shelf, problems: ProblemList) -> Pending:
    """Read everything of a write-up but its logs, and say what is wanted of these."""
    front = draft.front
    card, sample, bench, load = _references(front, shelf, problems) if front else (None, None, None, None)
    table_bytes, table, trials = _trials(draft, front, problems)
    logs: tuple[PlannedLog, ...] = ()
    if front is not None and not front.faulty:
        if card:
            check_limits(front, card, trials, problems)
        if trials and table:
            logs = plan_logs(front.logs, trials, table, draft.folder, draft.root)
    return Pending(draft, card, sample, bench, load, table_bytes, table, trials, logs)


def finish(pending: Pending, outcomes: tuple[LogOutcome, ...], problems: ProblemList) -> WriteUp | None:
    """The whole write-up; None when it, or a file it names, has problems. `outcomes`: of its logs, in order."""
    draft, front, prose = pending.draft, pending.draft.front, pending.draft.prose
    card, sample, bench, load = pending.card, pending.sample, pending.bench, pending.load
    trials, table_bytes = pending.trials, pending.table_bytes
    if trials and pending.table:
        trials = take_outcomes(trials, zip(pending.logs, outcomes, strict=True), pending.table, problems)
        check_plausible(pending.table, trials, card)
    images = read_images(draft.folder, draft.root, problems)
    if front and prose:
        check_uses(front, images, prose.images, draft.folder, draft.root, problems)
        check_charts(front.source, prose.images, problems)
        check_links(front.source, _texts(front, prose), images, draft.folder, problems)
    _unexpected_files(draft, trials, problems)
    if problems.errors or not (front and prose and card and sample and bench and load) or trials is None:
        return None
    return WriteUp(
        slug=draft.slug,
        folder=relative(draft.folder, draft.root),
        title=front.title,
        summary=front.summary,
        published=front.published,
        card=card,
        sample=sample,
        bench=bench,
        load=load,
        setpoints=front.setpoints,
        baseline=front.baseline,
        sequences=front.sequences,
        margins=front.margins,
        trials=trials,
        claim_names=front.claim_names,
        accepted=front.accepted,
        revisions=front.revisions,
        logs=front.logs,
        invented=front.invented,
        stopping_rule=front.stopping_rule,
        tokens=prose.tokens,
        texts=_texts(front, prose),
        source=front.source.text,
        body_line=front.body_line,
        images=images,
        files={
            "write-up.md": draft.source_bytes,
            "trials.csv": table_bytes,
            **{f"images/{name}": data for name, data in images.items()},
        },
        front=front.plain,
    )


def _texts(front: FrontMatter, prose: Prose) -> tuple[Text, ...]:
    """Title, summary, the body in order, then what hangs on it, then the rest of the front matter."""
    return (*front.texts[:2], *prose.texts, *prose.attached, *front.texts[2:])


def _references(
    front: FrontMatter, shelf: Shelf, problems: ProblemList
) -> tuple[Card | None, Sample | None, Bench | None, Load | None]:
    card = _find("card", front, shelf.cards, shelf, problems)
    bench = _find("bench", front, shelf.benches, shelf, problems)
    load = _find("load", front, shelf.loads, shelf, problems)
    sample = None
    if card is not None:
        name, where = front.references["sample"]
        sample = next((s for s in card.samples if s.id == name), None)
        if sample is None and name:
            _unknown("sample", name, where, [s.id for s in card.samples], front, problems)
    return card, sample, bench, load


def _find(kind: str, front: FrontMatter, known: Mapping[str, _R], shelf: Shelf, problems: ProblemList) -> _R | None:
    name, where = front.references[kind]
    found = known.get(name)
    if found is None and name and (kind, name) not in shelf.broken:
        _unknown(kind, name, where, list(known), front, problems)
    return found


def _unknown(
    kind: str, name: str, where: Location, known: list[str], front: FrontMatter, problems: ProblemList
) -> None:
    problems.add(
        Problem(
            rule=f"unknown-{kind}",
            where=where,
            message=f"there is no {kind} `{clip(name)}`",
            mend=offer(name, known, f"{kind.capitalize()} ids"),
            source_line=front.source.line(where.line),
        )
    )


def _trials(
    draft: Draft, front: FrontMatter | None, problems: ProblemList
) -> tuple[bytes, TrialTable | None, tuple[Trial, ...] | None]:
    found = read_text(draft.folder / "trials.csv", draft.root, TRIALS_LIMIT, problems)
    if found is None or front is None:
        return b"", None, None
    data, source = found
    told = problems
    problems = ProblemList()
    table = read_table(source, front.columns, problems)
    trials = None if table is None else _rows(table, front, problems)
    told.extend(p for p in problems.sorted() if not (front.faulty and p.rule in _HANG_ON_FRONT_MATTER))
    if table is not None:
        table.problems = told
    return data, table, trials


def _rows(table: TrialTable, front: FrontMatter, problems: ProblemList) -> tuple[Trial, ...] | None:
    rules = TrialRules(
        sequences=front.sequences,
        time_zone=str(front.logs.settings["time_zone"]) if front.logs else "",
        has_logs=front.logs is not None and bool(front.logs.columns),
    )
    trials = read_trials(table, rules)
    if problems.errors:
        return None
    if not front.faulty:
        check_runs(front, table, trials, problems)
    return trials


def _unexpected_files(draft: Draft, trials: tuple[Trial, ...] | None, problems: ProblemList) -> None:
    known = {"write-up.md", "trials.csv", "logs", "images"}
    strays = [path for path in listing(draft.folder) if path.name not in known]
    if trials is not None:
        named = {trial.log for trial in trials}
        strays += [path for path in listing(draft.folder / "logs") if f"logs/{path.name}" not in named]
    for path in strays:
        problems.add(
            Problem(
                rule="unexpected-file",
                where=Location(file=relative(path, draft.root)),
                message="nothing reads this file; it is not published",
                mend="Move it out of the write-up, or name it in trials.csv if it is a log.",
                severity=Severity.WARNING,
            )
        )
