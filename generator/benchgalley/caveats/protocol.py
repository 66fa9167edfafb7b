"""How the session was run and what was written down: samples, sessions, exclusions, numbers of runs, facts."""

from collections.abc import Iterable, Mapping

from ..records.bench import Trial
from ..records.findings import Caveat
from .context import Context, everything_at
from .wording import agree, counted, figure, joined, listed

VARIABILITY = "P. Sinha et al., SC '22, arXiv:2208.11035"
LEVELS = "T. Kalibera and R. Jones, ISMM '13, doi:10.1145/2464157.2464160"
REPORTING = "T. Hoefler and R. Belli, SC '15, doi:10.1145/2807591.2807644"

FEWEST_SAMPLES = 2
"""R60: a component between samples exists only from two samples up."""
SESSION_PAUSE_H = 6.0
"""Ours: a pause this long between two runs ends a session; bench and room have drifted apart by then."""
BENCH_FACTS = ("host", "supply", "case", "room")
"""R11: labels a bench file is expected to hold."""
UNKNOWN_WORDS = frozenset({"", "unknown", "not recorded", "not known", "n/a", "-", "?"})


def single_sample(context: Context) -> Iterable[Caveat]:
    """Raised when the site has runs of fewer than two samples of this card under this load (R60)."""
    card, load = context.write_up.card, context.write_up.load
    pooled = {
        w.sample.id
        for w in context.site.of_card(card.id)
        if (w.load.id, w.load.version) == (load.id, load.version)
        if any(t.counts for t in w.trials)
    } | {context.write_up.sample.id}
    if len(pooled) < FEWEST_SAMPLES:
        yield Caveat(
            code="single-sample",
            title="One sample of this card",
            missing=f"Only sample {context.write_up.sample.id} of the {card.maker} {card.model} was measured.",
            effect="Every figure and interval is for this one card. Another of the same model may differ by more "
            "than the differences shown: 8 % on average and up to 22 % between cards of one kind was found on "
            "large systems.",
            remedy="Runs of further samples, two for a first idea of the spread, more for a bound.",
            standing=True,
            source=VARIABILITY,
        )
        return
    yield Caveat(
        code="sample-of-several",
        title=f"Sample {context.write_up.sample.id} of {len(pooled)}",
        missing=f"This write-up is about sample {context.write_up.sample.id} alone; "
        f"{counted(len(pooled), 'sample')} of this model were measured with this load.",
        effect="Its intervals do not cover the spread between samples. The card's page does.",
        remedy="Quote the figures pooled over the samples where the model is meant.",
        standing=True,
        source=VARIABILITY,
    )


def single_session(context: Context) -> Iterable[Caveat]:
    """Raised when all runs were made in one session, or when that cannot be known (R24)."""
    runs = context.counted
    if not runs:
        return
    if any(t.started is None for t in runs):
        missing = "Not every run has a start time, so all of them count as one session."
    elif _sessions(runs) > 1:
        return
    else:
        missing = f"All {counted(len(runs), 'counted run')} come from one session."
    yield Caveat(
        code="single-session",
        title="One session",
        missing=missing,
        effect="Variation from day to day (room, driver, warm-up, seating) is not in the intervals.",
        remedy="The same setpoints again on another day, with start times logged.",
        standing=True,
        source=LEVELS,
    )


def _sessions(runs: Iterable[Trial]) -> int:
    """Stretches of runs with no pause of SESSION_PAUSE_H between the end of one and the start of the next."""
    spans = sorted(
        (start := t.started.timestamp(), start + t.measured.get("duration_s", 0.0))
        for t in runs
        if t.started is not None
    )
    found, last_end = 1, spans[0][1]
    for start, end in spans[1:]:
        found += start - last_end > SESSION_PAUSE_H * 3600
        last_end = max(last_end, end)
    return found


def excluded_runs(context: Context) -> Iterable[Caveat]:
    """Raised by any excluded run; the reasons are told (R04)."""
    trials = context.write_up.trials
    out = [t for t in trials if t.excluded]
    if not out:
        return
    reasons: dict[str, list[str]] = {}
    for trial in out:
        reasons.setdefault(trial.excluded, []).append(trial.id)
    told = joined([f"{', '.join(ids)}: {reason}" for reason, ids in reasons.items()])
    touched = [
        name
        for name, setpoint in context.write_up.setpoints.items()
        if any(all(t.settings.get(c) == v for c, v in setpoint.settings.items()) for t in out)
    ]
    marked = {t.sequence for t in out if t.sequence in context.write_up.sequences}
    yield Caveat(
        code="excluded-runs",
        title="Runs left out",
        missing=f"{len(out)} of {counted(len(trials))} {agree(len(out), 'is', 'are')} left out "
        f"({figure(100 * len(out) / len(trials))} %): {told}.",
        effect="No figure uses them. They stay in the dataset, so the figures can be made with them.",
        remedy="Nothing, if the reason convinces; otherwise repeat the runs.",
        standing=not (touched or marked),
        addresses=everything_at([*touched, *sorted(marked)]),
        source=REPORTING,
    )


def uneven_runs(context: Context) -> Iterable[Caveat]:
    """Raised when setpoints other than the baseline differ in number of runs and no stopping rule is told (R22)."""
    if context.write_up.stopping_rule.strip():
        return
    made = {name: len(context.at[name]) for name in context.compared}
    if len(set(made.values())) < 2:
        return
    told = joined([f"{context.label(n)} {counted(k)}" for n, k in made.items()])
    yield Caveat(
        code="uneven-runs",
        title="Uneven numbers of runs, no stopping rule",
        missing=f"Setpoints have between {min(made.values())} and {counted(max(made.values()))} ({told}); "
        "no rule for stopping is recorded.",
        effect="If runs were added until the result looked good, the difference found is too large and its interval "
        "too narrow.",
        remedy="State how the number of runs was decided (stopping_rule), or make it the same everywhere.",
        addresses=everything_at(made),
        source=REPORTING,
    )


def not_recorded(context: Context) -> Iterable[Caveat]:
    """Raised by any missing entry of the list of factors a reader needs to repeat the work (R11)."""
    write_up = context.write_up
    facts: Mapping[str, str] = {label.lower(): text for label, text in write_up.bench.facts.items()}
    absent = [label for label in BENCH_FACTS if _unknown(facts.get(label, ""))]
    absent += [
        name
        for name, text in (
            ("load version", write_up.load.version),
            ("load preset", write_up.load.preset),
            ("auxiliary connectors of the card", "; ".join(write_up.card.connectors)),
        )
        if _unknown(text)
    ]
    runs = [t for t in write_up.trials if not t.excluded]
    absent += _in_runs("driver", sum(_unknown(t.driver) for t in runs), len(runs))
    absent += _in_runs("start time", sum(t.started is None for t in runs), len(runs))
    if not absent:
        return
    yield Caveat(
        code="not-recorded",
        title="Not recorded",
        missing=f"Not recorded: {listed(absent)}.",
        effect="Nobody can repeat the work exactly, and a difference in one of these would go unseen.",
        remedy="Write them into the bench, load and card files and into trials.csv.",
        standing=True,
        source=REPORTING,
    )


def _unknown(text: str) -> bool:
    return text.strip().lower() in UNKNOWN_WORDS


def _in_runs(what: str, missing: int, of: int) -> list[str]:
    if not missing:
        return []
    return [what if missing == of else f"{what} of {missing} of {counted(of)}"]


RULES = (
    single_sample,
    single_session,
    excluded_runs,
    uneven_runs,
    not_recorded,
)
