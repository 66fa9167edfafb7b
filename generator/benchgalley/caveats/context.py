"""What every rule is given: one write-up with its runs put in groups and in order."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from ..records.address import Address
from ..records.bench import Outcome, SequenceKind, Trial
from ..records.membership import in_setpoint, runs_along
from ..records.results import Number, Results
from ..records.site import Site
from ..records.write_up import Claim, WriteUp

DIFFERENCE_RELATIONS = frozenset(
    {"change", "change-percent", "saved", "saved-percent", "ratio", "of-baseline", "equivalent"}
)
"""Relations that compare a setpoint with the baseline."""

FAILURES = frozenset({Outcome.CRASHED, Outcome.ARTEFACTS, Outcome.HUNG})
"""Outcomes in which the card failed. An aborted run was stopped for some reason and shows nothing either way."""

POWER_COLUMNS = ("board_power_w", "wall_power_w")

QUANTITIES_OF: Mapping[str, tuple[str, ...]] = {
    "score": ("score", "score-per-watt", "score-per-wall-watt", "energy-per-score"),
    "board_power_w": (
        "board-power", "score-per-watt", "run-energy", "energy-per-score", "thermal-resistance",
        "running-energy", "running-cost",
    ),
    "wall_power_w": ("wall-power", "score-per-wall-watt"),
    "core_clock_mhz": ("core-clock",),
    "memory_clock_mhz": ("memory-clock",),
    "core_voltage_mv": ("core-voltage",),
    "core_temp_c": ("core-temperature", "temperature-rise", "thermal-resistance"),
    "hotspot_temp_c": ("hotspot-temperature", "hotspot-rise"),
    "memory_temp_c": ("memory-temperature",),
    "ambient_c": ("ambient-temperature", "temperature-rise", "hotspot-rise", "thermal-resistance"),
    "fan_rpm": ("fan-speed", "fan-sound-change"),
    "sound_dba": ("sound-level",),
    "duration_s": ("run-time", "run-energy", "energy-per-score"),
}  # fmt: skip
"""Measured column → keys of the quantities that are computed from it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Context:
    """One write-up as the rules see it."""

    write_up: WriteUp
    site: Site
    results: Results
    claims: tuple[Claim, ...]
    runs: tuple[Trial, ...]
    """Every run that is not excluded, in the order of time."""
    counted: tuple[Trial, ...]
    """Those of them that enter means."""
    logged: tuple[Trial, ...]
    """Those of these with figures from a log."""
    columns: tuple[str, ...]
    """Measured columns that any counting run has, in table order."""
    at: Mapping[str, tuple[Trial, ...]]
    """Setpoint → its runs, whatever their outcome, in the order of time. Soak runs stay out."""
    completed: Mapping[str, tuple[Trial, ...]]
    """Setpoint → those of its runs that enter means."""
    compared: tuple[str, ...]
    """Setpoints other than the baseline that have a run which counts."""
    session: tuple[Trial, ...]
    """Every run that enters a mean at a setpoint, in the order of time."""
    along: Mapping[str, tuple[Trial, ...]]
    """Sequence → its runs, whatever their outcome, in the order of time."""
    curves: Mapping[str, Mapping[float, tuple[Trial, ...]]]
    """Sweeps and walks: sequence → value of the setting that varies → completed runs there."""
    claimed: tuple[Address, ...]
    """Addresses the prose claims, each once, in the order of the prose."""

    @property
    def baseline(self) -> str:
        """Name of the baseline setpoint."""
        return self.write_up.baseline

    def counting(self, setpoint: str) -> tuple[Trial, ...]:
        """Completed runs at a setpoint, in the order of time."""
        return self.completed.get(setpoint, ())

    def values(self, setpoint: str, column: str) -> list[float]:
        """What the completed runs at a setpoint measured in a column, in the order of time."""
        return measured(self.counting(setpoint), column)

    def label(self, setpoint: str) -> str:
        """A setpoint as printed."""
        return self.write_up.setpoints[setpoint].label

    def claimed_here(self, *, relations: Iterable[str] | None = None) -> tuple[Address, ...]:
        """Claimed addresses of this write-up, of the relations asked for."""
        own = (a for a in self.claimed if a.scope == self.write_up.slug)
        return tuple(own) if relations is None else tuple(a for a in own if a.relation in set(relations))

    def claimed_elsewhere(self) -> tuple[Address, ...]:
        """Claimed addresses whose data stand in another write-up or are pooled over a card's samples."""
        return tuple(a for a in self.claimed if a.scope != self.write_up.slug)

    def elsewhere(self) -> Iterator[tuple[WriteUp, tuple[str, ...]]]:
        """Other write-ups whose data the prose draws on, with the addresses that do."""
        by_slug: dict[str, list[str]] = {}
        for address in self.claimed_elsewhere():
            named = self.site.write_ups.get(address.scope)
            for other in self.site.of_card(address.scope) if named is None else (named,):
                if other.slug != self.write_up.slug:
                    by_slug.setdefault(other.slug, []).append(str(address))
        for slug, addresses in by_slug.items():
            yield self.site.write_ups[slug], tuple(dict.fromkeys(addresses))

    def number(self, subject: str, quantity: str, relation: str = "") -> Number | None:
        """A number of this write-up, or None where there is no such address."""
        return self.results.find(
            Address(scope=self.write_up.slug, subject=subject, quantity=quantity, relation=relation)
        )


def look(write_up: WriteUp, site: Site, results: Results, claims: tuple[Claim, ...]) -> Context:
    """Put the runs of a write-up in order and in groups."""
    runs = in_time([t for t in write_up.trials if not t.excluded])
    at = {
        name: tuple([t for t in runs if in_setpoint(t, setpoint, write_up.sequences)])
        for name, setpoint in write_up.setpoints.items()
    }
    completed = {name: tuple([t for t in made if t.counts]) for name, made in at.items()}
    along = {name: runs_along(sequence, runs) for name, sequence in write_up.sequences.items()}
    counted = tuple([t for t in runs if t.counts])
    present = {column for trial in counted for column in trial.measured}
    return Context(
        write_up=write_up,
        site=site,
        results=results,
        claims=claims,
        runs=runs,
        counted=counted,
        logged=tuple([t for t in counted if t.windows]),
        columns=tuple([c for c in QUANTITIES_OF if c in present]),
        at=at,
        completed=completed,
        compared=tuple([name for name, made in completed.items() if made and name != write_up.baseline]),
        session=in_time([t for made in completed.values() for t in made]),
        along=along,
        curves={
            name: _curve(along[name], sequence.setting)
            for name, sequence in write_up.sequences.items()
            if sequence.kind in (SequenceKind.SWEEP, SequenceKind.WALK)
        },
        claimed=tuple(dict.fromkeys(c.address for c in claims if c.address is not None)),
    )


def _curve(runs: Iterable[Trial], setting: str) -> dict[float, tuple[Trial, ...]]:
    """Value of the setting → completed runs there."""
    points: dict[float, tuple[Trial, ...]] = {}
    for trial in runs:
        value = trial.settings.get(setting)
        if trial.counts and isinstance(value, float | int):
            points[value] = (*points.get(value, ()), trial)
    return points


def in_time(trials: Sequence[Trial]) -> tuple[Trial, ...]:
    """Runs in the order they were made: by their start where every run has one, else by file order."""
    if all(t.started is not None for t in trials):
        return tuple(sorted(trials, key=lambda t: (t.started.timestamp() if t.started else 0.0, t.order)))
    return tuple(sorted(trials, key=lambda t: t.order))


def measured(trials: Iterable[Trial], column: str) -> list[float]:
    """Values of a column, runs without one left out."""
    return [t.measured[column] for t in trials if column in t.measured]


def blocks(flags: Iterable[bool]) -> int:
    """How many stretches of neighbouring True there are.

    >>> blocks([True, True, False, True])
    2
    """
    return sum(1 for flag, _ in groupby(flags) if flag)


def everything_at(names: Iterable[str]) -> tuple[str, ...]:
    """Address prefixes of setpoints or sequences: whatever is stated of them."""
    return tuple(f"{name}/" for name in names)


def of_columns(names: Iterable[str], columns: Iterable[str]) -> tuple[str, ...]:
    """Addresses, under every relation, of the quantities computed from columns at setpoints."""
    keys = tuple(dict.fromkeys(key for column in columns for key in QUANTITIES_OF.get(column, ())))
    return tuple(form for name in names for key in keys for form in (f"{name}/{key}", f"{name}/{key}/"))


def of_relations(names: Iterable[str], columns: Iterable[str], relations: Iterable[str]) -> tuple[str, ...]:
    """Addresses of the quantities computed from columns at setpoints, under the relations given."""
    keys = tuple(dict.fromkeys(key for column in columns for key in QUANTITIES_OF.get(column, ())))
    wanted = tuple(relations)
    return tuple(f"{n}/{k}/{r}" if r else f"{n}/{k}" for n in names for k in keys for r in wanted)
