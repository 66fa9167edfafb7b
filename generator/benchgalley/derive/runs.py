"""Completed runs and what was read from them once."""

from collections.abc import Mapping

from benchgalley.metrology.repeatability import mean
from benchgalley.records.bench import Trial


class Runs:
    """Completed runs that have certain columns, with what was read from them so far."""

    __slots__ = ("_means", "_places", "_values", "ids", "trials")

    def __init__(self, trials: tuple[Trial, ...]) -> None:
        self.trials = trials
        self.ids = tuple(trial.id for trial in trials)
        self._values: dict[str, tuple[float, ...]] = {}
        self._means: dict[str, float] = {}
        self._places: tuple[list[float], float] | None = None

    def values(self, column: str) -> tuple[float, ...]:
        """The column, run by run."""
        if (found := self._values.get(column)) is None:
            found = self._values[column] = tuple([trial.measured[column] for trial in self.trials])
        return found

    def mean(self, column: str) -> float:
        """Mean of the column."""
        if (found := self._means.get(column)) is None:
            found = self._means[column] = mean(self.values(column))
        return found

    def most_decimals(self, column: str) -> int | None:
        """Finest place typed in the trials file; None unless every value was typed."""
        places = [trial.decimals[column] for trial in self.trials if column in trial.decimals]
        return max(places) if places and len(places) == len(self.trials) else None

    def places(self, positions: Mapping[str, float]) -> tuple[list[float], float]:
        """Place of each run in the session and their mean, from run id → place."""
        if self._places is None:
            places = [positions[run] for run in self.ids]
            self._places = (places, mean(places))
        return self._places
