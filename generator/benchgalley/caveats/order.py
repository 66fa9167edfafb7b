"""When the runs were made: baseline before and after, drift, order mixed up with setting."""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from ..metrology.drift import fit_drift, rank_correlation
from ..metrology.sample import NotDetermined
from ..records.bench import SequenceKind, Trial
from ..records.findings import Caveat
from ..records.quantity import BY_COLUMN, SETTING_BY_COLUMN, SETTINGS
from .context import Context, blocks, everything_at, of_columns
from .wording import agree, amount, counted, exact, figure, joined, unique

ORDER = "T. Mytkowicz et al., ASPLOS '09, doi:10.1145/1508244.1508275"
LINE = "straight line by least squares, Student t"

CONFOUNDED = 0.8
"""R28 asks for random order; the rank correlation of 0.8 is ours."""
FEWEST_FOR_ORDER = 4
"""Ours: fewer runs are in some order whatever one does."""
FEWEST_FOR_DRIFT = 3
"""A line through two points leaves no degree of freedom for its own uncertainty."""
DRIFTING = ("score", "board_power_w", "wall_power_w", "core_temp_c")
"""Columns looked at for drift of the baseline."""


class Drift(NamedTuple):
    """What the baseline did from the first compared run to the last."""

    column: str
    change: float
    half_width: float
    share_pct: float


def baseline_once(context: Context) -> Iterable[Caveat]:
    """Raised when the baseline has one completed run."""
    if len(context.counting(context.baseline)) != 1 or not context.compared:
        return
    yield Caveat(
        code="baseline-once",
        title="Baseline measured once",
        missing=f"The baseline {context.label(context.baseline)} has one completed run.",
        effect="Every difference rests on that run: neither its spread nor any drift since can be given.",
        remedy="Several baseline runs, some before and some after the others.",
        addresses=everything_at(context.compared),
        source=ORDER,
    )


def baseline_not_bracketed(context: Context) -> Iterable[Caveat]:
    """Raised when compared runs lie before the first or after the last baseline run."""
    stock = context.counting(context.baseline)
    compared = _compared_runs(context)
    if not stock or not compared:
        return
    place = {t.id: i for i, t in enumerate(context.session)}
    first, last = place[stock[0].id], place[stock[-1].id]
    before = [t for t in compared if place[t.id] < first]
    after = [t for t in compared if place[t.id] > last]
    if not before and not after:
        return
    told = [
        f"{len(found)} of {counted(len(compared), 'compared run')} {agree(len(found), 'was', 'were')} made {where}"
        for found, where in ((before, "before the first baseline run"), (after, "after the last baseline run"))
        if found
    ]
    outside = {t.id for t in (*before, *after)}
    names = [n for n in context.compared if any(t.id in outside for t in context.counting(n))]
    yield Caveat(
        code="baseline-not-bracketed",
        title="Baseline does not bracket the runs",
        missing="; ".join(told) + ".",
        effect="Whatever changed with time outside the baseline runs counts as an effect of the setting.",
        remedy="Baseline runs before the first and after the last setting.",
        addresses=everything_at(names),
        source=ORDER,
    )


def drift(context: Context) -> Iterable[Caveat]:
    """Raised when a line through the baseline runs is distinguishable from level; the drift is told."""
    stock = context.counting(context.baseline)
    if not context.compared or not _drift_estimable(context):
        return
    present = [c for c in DRIFTING if len([t for t in stock if c in t.measured]) >= FEWEST_FOR_DRIFT]
    # several columns are looked at, so each gets its share of the chance of a false alarm (Bonferroni)
    confidence = 1 - (1 - context.site.settings.confidence_pct / 100) / max(1, len(present))
    position = _positions(context.session)
    found = [d for c in present if (d := _drift(stock, position, c, confidence)) and abs(d.change) > d.half_width]
    if not found:
        return
    yield Caveat(
        code="drift",
        title="The baseline drifted",
        missing="From the first run compared to the last the baseline moved: "
        + joined([_told(d) for d in found])
        + ".",
        effect="In runs made in shuffled order drift widens the intervals; in runs made one setting after the other it "
        "is part of the difference.",
        remedy="Longer warm-up, more baseline runs in between, or the setpoints in shuffled order.",
        addresses=of_columns(context.compared, (d.column for d in found)),
        source=LINE,
    )


def _drift(runs: Iterable[Trial], position: Mapping[str, float], column: str, confidence: float) -> Drift | None:
    stock = [t for t in runs if column in t.measured]
    try:
        line = fit_drift([position[t.id] for t in stock], [t.measured[column] for t in stock], confidence)
    except NotDetermined:
        return None
    length = max(position.values()) - min(position.values())
    return Drift(
        column=column,
        change=line.slope * length,
        half_width=(line.high - line.low) / 2 * length,
        share_pct=100 * line.slope * length / line.mean_value if line.mean_value else 0.0,
    )


def _positions(session: Sequence[Trial]) -> dict[str, float]:
    """Hours since the first run where every run has its start, else the run's place in the order."""
    starts = [t.started.timestamp() for t in session if t.started is not None]
    if len(starts) == len(session) and max(starts) > min(starts):
        return {t.id: (s - starts[0]) / 3600 for t, s in zip(session, starts, strict=True)}
    return {t.id: float(i) for i, t in enumerate(session)}


def _told(found: Drift) -> str:
    quantity = BY_COLUMN[found.column]
    unit = "" if found.column == "score" else (quantity.difference_unit or quantity.unit).symbol
    share = "" if found.column == "core_temp_c" else f" ({figure(found.share_pct)} %)"
    return f"{quantity.name} by {amount(found.change, unit)} ± {amount(found.half_width, unit)}{share}"


def drift_not_estimable(context: Context) -> Iterable[Caveat]:
    """Raised when the baseline has several runs, but too few or all in one stretch, so that no drift can be seen."""
    stock = context.counting(context.baseline)
    if len(stock) < 2 or not context.compared or _drift_estimable(context):
        return
    why = (
        f"only {counted(len(stock))}"
        if len(stock) < FEWEST_FOR_DRIFT
        else f"{counted(len(stock))}, all made in one stretch"
    )
    yield Caveat(
        code="drift-not-estimable",
        title="Drift cannot be estimated",
        missing=f"The baseline has {why}.",
        effect="A change of the bench during the session cannot be seen, and no allowance for it is in the intervals.",
        remedy=f"At least {FEWEST_FOR_DRIFT} baseline runs at two times or more of the session.",
        addresses=everything_at(context.compared),
        source=ORDER,
    )


def _drift_estimable(context: Context) -> bool:
    stock = {t.id for t in context.counting(context.baseline)}
    return len(stock) >= FEWEST_FOR_DRIFT and blocks(t.id in stock for t in context.session) > 1


def order_confounded(context: Context) -> Iterable[Caveat]:
    """Raised when a setting's rank correlation with the order of runs exceeds 0.8 (R28)."""
    groups: dict[str, tuple[Sequence[Trial], tuple[str, ...]]] = {
        "the setpoints": (context.session, everything_at(context.compared))
    }
    for name, sequence in context.write_up.sequences.items():
        if sequence.kind in (SequenceKind.SWEEP, SequenceKind.WALK):
            groups[sequence.label] = ([t for t in context.along[name] if t.counts], everything_at([name]))
    told: list[str] = []
    addresses: list[str] = []
    for label, (runs, concerned) in groups.items():
        found = [(kind.name, r) for kind in SETTINGS if (r := _correlation(runs, kind.column)) is not None]
        if high := [(name, r) for name, r in found if abs(r) > CONFOUNDED]:
            told += [f"{name} over {label}, rank correlation {figure(r)}" for name, r in high]
            addresses += concerned
    if not told:
        return
    yield Caveat(
        code="order-confounded",
        title="Order and setting go together",
        missing=f"Settings were run in order: {joined(told)} (above {exact(CONFOUNDED)} either way).",
        effect="Drift and setting cannot be told apart.",
        remedy="Shuffle the order of the settings.",
        addresses=unique(addresses),
        source=ORDER,
    )


def _correlation(runs: Sequence[Trial], column: str) -> float | None:
    """Rank correlation of a numeric setting with the order of the runs; None where it says nothing."""
    if SETTING_BY_COLUMN[column].unit is None:
        return None
    values = [v for t in runs if isinstance(v := t.settings.get(column), float | int)]
    if len(values) < max(FEWEST_FOR_ORDER, len(runs)) or len(set(values)) < 2:
        return None
    try:
        return rank_correlation(values, [float(i) for i in range(len(values))])
    except NotDetermined:
        return None


def _compared_runs(context: Context) -> list[Trial]:
    return [t for n in context.compared for t in context.counting(n)]


RULES = (
    baseline_once,
    baseline_not_bracketed,
    drift,
    drift_not_estimable,
    order_confounded,
)
