"""Which runs belong to a setpoint or a sequence: said once, for every room that counts, draws or warns."""

from collections.abc import Iterable, Mapping

from .bench import Sequence, SequenceKind, Setpoint, Trial


def in_setpoint(trial: Trial, setpoint: Setpoint, sequences: Mapping[str, Sequence]) -> bool:
    """All settings equal, and the run is not part of a soak (longer, and with a protocol of its own)."""
    marked = sequences.get(trial.sequence)
    return trial.settings == setpoint.settings and (marked is None or marked.kind is not SequenceKind.SOAK)


def runs_along(sequence: Sequence, trials: Iterable[Trial]) -> tuple[Trial, ...]:
    """Runs of a sequence in the order given, excluded ones among them.

    Where any run carries the sequence's name, or the sequence is a soak, the mark alone decides: a tester who marks
    runs has said which they are. Otherwise every unmarked run with all held settings equal belongs to it.
    """
    known = tuple(trials)
    marked = tuple(trial for trial in known if trial.sequence == sequence.name)
    if marked or sequence.kind is SequenceKind.SOAK:
        return marked
    held = [(column, value) for column, value in sequence.held.items() if column != sequence.setting]
    return tuple(
        trial
        for trial in known
        if not trial.sequence and all(trial.settings.get(column) == value for column, value in held)
    )
