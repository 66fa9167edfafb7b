"""Runs of one card model's samples at one setpoint, gathered over write-ups that may be pooled."""

from collections.abc import Sequence
from dataclasses import dataclass

from .at_setpoint import columns_needed
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
    samples: tuple[tuple[str, tuple[Session, ...]], ...]
    """Sample id and its write-ups."""
    card_instruments: frozenset[str]
    """Names of instruments of which each card carries its own."""

    @property
    def first(self) -> Session:
        """The session that names units and labels."""
        return self.sessions[0]

    def by_sample(self) -> dict[str, tuple[Session, ...]]:
        """Sample id → its write-ups."""
        return dict(self.samples)

    def left_out_note(self) -> str:
        """What to say of write-ups that could not be pooled; empty when there are none."""
        if not self.left_out:
            return ""
        return f"left out, for another load, version, setting or measuring point: {', '.join(self.left_out)}"


def pool(sessions: Sequence[Session], card: str, setpoint: str, columns: tuple[str, ...]) -> Pool | None:
    """The pool of a card at a setpoint, gathered once: see `_gather`."""
    if not sessions:
        return None
    kept, asked = sessions[0].pools, (card, setpoint, columns)
    if asked not in kept:
        kept[asked] = _same_pool(sessions, card, setpoint, columns)
    found = kept[asked]
    return found if isinstance(found, Pool) else None


def _same_pool(sessions: Sequence[Session], card: str, setpoint: str, columns: tuple[str, ...]) -> object:
    """One object for all columns that were measured alike."""
    points = [_measured_at(session, columns) for session in sessions]
    # where every write-up measured alike, the columns tell none of them apart: one pool for all such quantities
    alike = points[0] is not None and points.count(points[0]) == len(points)
    kept, key = sessions[0].pools, (card, setpoint) if alike else (card, setpoint, *points)
    if key not in kept:
        kept[key] = _gather(sessions, card, setpoint, columns)
    return kept[key]


def _measured_at(session: Session, columns: tuple[str, ...]) -> tuple[object, ...] | None:
    """Measuring points of some columns; None where the write-up lacks one of the columns."""
    kept = session.measured_at
    if columns not in kept:
        kept[columns] = None
        if session.columns.issuperset(columns):
            found = [session.instrument(column) for column in columns]
            kept[columns] = tuple([None if one is None else one.measures_at for one in found])
    return kept[columns]


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
        if (points := _measured_at(session, columns)) is None:
            continue
        key = (
            write_up.load.id, write_up.load.version, write_up.load.preset,
            settings_key(write_up.setpoints[setpoint].settings), points,
        )  # fmt: skip
        found.setdefault(key, []).append(session)
    if not everyone:
        return None
    best = max(found.values(), key=lambda group: _size(group, setpoint), default=everyone[:1])
    names = dict.fromkeys(session.write_up.sample.id for session in best)
    return Pool(
        card=card,
        setpoint=setpoint,
        sessions=tuple(best),
        left_out=tuple(s.write_up.slug for s in everyone if s not in best),
        confidence_pct=best[0].confidence_pct,
        samples=tuple((name, tuple(s for s in best if s.write_up.sample.id == name)) for name in names),
        card_instruments=frozenset(
            instrument.name
            for session in best
            for instrument in session.write_up.bench.instruments
            if instrument.channel_spread == "card"
        ),
    )


def _size(group: list[Session], setpoint: str) -> tuple[int, int]:
    samples = {session.write_up.sample.id for session in group}
    return len(samples), sum(len(session.setpoints[setpoint].counted) for session in group)


def pool_columns(key: str) -> tuple[str, ...]:
    """Columns whose measuring points must agree before a quantity is pooled."""
    return columns_needed(key)
