"""Runs of one card model's samples at one setpoint, gathered over write-ups that may be pooled."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from benchgalley.metrology.by_parts import half_width
from benchgalley.metrology.repeatability import mean, standard_deviation
from benchgalley.metrology.sample import NotDetermined
from benchgalley.metrology.variance_statistics import SampleVariances, sample_variances
from benchgalley.records.quantity import Quantity

from . import expanding
from .at_setpoint import columns_needed, quantity_of
from .budget import Combined, Estimate
from .estimating import estimate_at
from .session import Session, settings_key


@dataclass(frozen=True, kw_only=True, slots=True)
class Pool:
    """Write-ups of one card model whose runs at a setpoint belong together."""

    card: str
    setpoint: str
    sessions: tuple[Session, ...]
    """Same load and version, same settings, same measuring points."""
    left_out: tuple[str, ...]
    """Slugs with that setpoint that differ in one of these."""
    confidence_pct: float

    @property
    def first(self) -> Session:
        """The session that names units and labels."""
        return self.sessions[0]

    def by_sample(self) -> dict[str, list[Session]]:
        """Sample id → its write-ups."""
        found: dict[str, list[Session]] = {}
        for session in self.sessions:
            found.setdefault(session.write_up.sample.id, []).append(session)
        return found

    def card_instruments(self) -> tuple[str, ...]:
        """Names of instruments of which each card carries its own."""
        return tuple(
            {
                instrument.name: None
                for session in self.sessions
                for instrument in session.write_up.bench.instruments
                if instrument.channel_spread == "card"
            }
        )

    def left_out_note(self) -> str:
        """What to say of write-ups that could not be pooled; empty when there are none."""
        if not self.left_out:
            return ""
        return f"left out, for another load, version, setting or measuring point: {', '.join(self.left_out)}"


def pool(sessions: Sequence[Session], card: str, setpoint: str, columns: tuple[str, ...]) -> Pool | None:
    """The pool of a card at a setpoint, gathered once: see `_gather`."""
    if not sessions:
        return None
    kept, key = sessions[0].kept, ("pool", card, setpoint, *columns)
    if key not in kept:
        kept[key] = _gather(sessions, card, setpoint, columns)
    found = kept[key]
    return found if isinstance(found, Pool) else None


def _gather(sessions: Sequence[Session], card: str, setpoint: str, columns: tuple[str, ...]) -> Pool | None:
    """The largest set of write-ups of a card that agree in all that matters; None when there is none.

    Largest by samples, then by runs; the first by slug where both are equal.
    """
    found: dict[tuple[object, ...], list[Session]] = {}
    everyone: list[Session] = []
    for session in sessions:
        write_up = session.write_up
        if write_up.card.id != card or setpoint not in write_up.setpoints:
            continue
        everyone.append(session)
        if not session.columns.issuperset(columns):
            continue
        points = tuple(
            instrument.measures_at if (instrument := session.instrument(column)) is not None else None
            for column in columns
        )
        key = (
            write_up.load.id, write_up.load.version, write_up.load.preset,
            settings_key(write_up.setpoints[setpoint].settings), points,
        )  # fmt: skip
        found.setdefault(key, []).append(session)
    if not everyone:
        return None
    best = max(found.values(), key=lambda group: _size(group, setpoint), default=everyone[:1])
    return Pool(
        card=card,
        setpoint=setpoint,
        sessions=tuple(best),
        left_out=tuple(s.write_up.slug for s in everyone if s not in best),
        confidence_pct=best[0].confidence_pct,
    )


def _size(group: list[Session], setpoint: str) -> tuple[int, int]:
    samples = {session.write_up.sample.id for session in group}
    return len(samples), sum(len(session.setpoints[setpoint].counted) for session in group)


@dataclass(frozen=True, kw_only=True, slots=True)
class Samples:
    """One quantity at one setpoint, sample by sample."""

    pool: Pool
    quantity: Quantity
    names: tuple[str, ...]
    """Sample ids that have a value."""
    runs: tuple[tuple[int, float, float], ...]
    """(Number of runs, mean, sum of squares about it) of each sample."""
    estimates: tuple[tuple[Estimate, ...], ...]
    """Estimates of each sample, one a write-up."""

    kept: dict[str, Any] = field(default_factory=dict, repr=False, compare=False)
    """What several relations ask for, once computed."""

    @property
    def means(self) -> list[float]:
        """Mean of each sample."""
        if "means" not in self.kept:
            self.kept["means"] = [mean for _, mean, _ in self.runs]
        means: list[float] = self.kept["means"]
        return means

    @property
    def centre(self) -> float:
        """Mean of the sample means."""
        if "centre" not in self.kept:
            self.kept["centre"] = mean(self.means)
        centre: float = self.kept["centre"]
        return centre

    @property
    def spread(self) -> float:
        """Standard deviation of the sample means.

        Raises
        ------
        NotDetermined
            One sample, or means too far apart.
        """
        if "spread" not in self.kept:
            self.kept["spread"] = standard_deviation(self.means)
        spread: float = self.kept["spread"]
        return spread

    @property
    def variances(self) -> SampleVariances:
        """Spread within and between samples.

        Raises
        ------
        NotDetermined
            One sample, or none run twice.
        """
        if "variances" not in self.kept:
            self.kept["variances"] = sample_variances(self.runs)
        variances: SampleVariances = self.kept["variances"]
        return variances

    def groups(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Sample and write-up with run ids."""
        return tuple(
            (f"sample {name}", tuple(run for estimate in found for run in estimate.run_ids))
            for name, found in zip(self.names, self.estimates, strict=True)
        )

    def own_half_width(self) -> float | None:
        """Half-width of the interval of a single sample's own mean: what its digits are worth."""
        if len(self.estimates) != 1 or len(self.estimates[0]) != 1:
            return None
        return estimate_half_width(self.estimates[0][0], self.pool.confidence_pct)

    def few_note(self) -> str:
        """The plain statement for one or two samples; empty for more."""
        if len(self.names) == 1:
            return "one sample: nothing can be said about other cards of this model"
        if len(self.names) == 2:
            return "two samples: their spread rests on one degree of freedom, hence the width"
        return ""


def samples_of(found: Pool, key: str) -> Samples:
    """Estimates of every sample that has one, gathered once.

    Raises
    ------
    NotDetermined
        No sample has a value.
    """
    kept, name = found.first.kept, ("samples", found.card, found.setpoint, key)
    if not isinstance(kept.get(name), Samples):
        kept[name] = _samples_of(found, key)
    samples = kept[name]
    assert isinstance(samples, Samples)
    return samples


def _statistics(own: list[Estimate]) -> tuple[int, float, float]:
    """Runs, mean and sum of squares about it of one sample, over its write-ups."""
    count = sum(estimate.count for estimate in own)
    centre = own[0].value
    try:
        # relative to one of the means, so that large values lose no digits
        whole = centre + math.fsum([e.count * (e.value - centre) for e in own]) / count
        squares = math.fsum(
            [(e.count - 1) * _square(e.deviation or 0.0) + e.count * _square(e.value - whole) for e in own]
        )
    except (OverflowError, ValueError):
        squares = math.inf
    if not math.isfinite(squares):
        raise NotDetermined("the values are too large to compute with")
    return count, whole, squares


def _square(value: float) -> float:
    # a power would raise where a product goes to infinity
    return value * value


def _samples_of(found: Pool, key: str) -> Samples:
    quantity = quantity_of(found.first, key)
    assert quantity is not None
    names: list[str] = []
    runs: list[tuple[int, float, float]] = []
    estimates: list[tuple[Estimate, ...]] = []
    reason = f"no sample has a value for {quantity.name}"
    for name, sessions in found.by_sample().items():
        own: list[Estimate] = []
        for session in sessions:
            try:
                own.append(estimate_at(session, found.setpoint, key))
            except NotDetermined as problem:
                reason = problem.reason
        if own:
            names.append(name)
            runs.append(_statistics(own))
            estimates.append(tuple(own))
    if not names:
        raise NotDetermined(reason)
    return Samples(pool=found, quantity=quantity, names=tuple(names), runs=tuple(runs), estimates=tuple(estimates))


def estimate_half_width(found: Estimate, confidence_pct: float) -> float | None:
    """Half-width of the interval of a mean; None with one run."""
    combined = Combined(found.terms)
    if found.deviation is None or not combined.standard_uncertainty > 0:
        return None
    return half_width(expanding.pieces(combined), confidence_pct / 100)


def pool_columns(key: str) -> tuple[str, ...]:
    """Columns whose measuring points must agree before a quantity is pooled."""
    return columns_needed(key)
