"""Completed runs and what was read from them once."""

from collections.abc import Mapping

from benchgalley.metrology.column_statistics import ColumnStatistics, Places
from benchgalley.metrology.sample import NotDetermined
from benchgalley.records.bench import Trial


class Runs:
    """Completed runs that have certain columns, with what was read from them so far."""

    __slots__ = ("_columns", "_ids", "_places", "trials")

    def __init__(self, trials: tuple[Trial, ...]) -> None:
        self.trials = trials
        self._ids: tuple[str, ...] | None = None
        self._columns: dict[str, ColumnStatistics] = {}
        self._places: Places | None = None

    @property
    def ids(self) -> tuple[str, ...]:
        """Ids of the runs."""
        if self._ids is None:
            self._ids = tuple([trial.id for trial in self.trials])
        return self._ids

    def column(self, column: str) -> ColumnStatistics:
        """Values of a column with their mean and deviations."""
        if (found := self._columns.get(column)) is None:
            values = [trial.measured[column] for trial in self.trials]
            found = self._columns[column] = ColumnStatistics(values)
        return found

    def all_have(self, column: str) -> bool:
        """Whether every run has a value in the column."""
        if column not in self._columns:
            try:
                self.column(column)
            except (KeyError, NotDetermined):
                return False
        return True

    def values(self, column: str) -> list[float]:
        """The column, run by run."""
        return self.column(column).values

    def mean(self, column: str) -> float:
        """Mean of the column."""
        return self.column(column).mean

    def most_decimals(self, column: str) -> int | None:
        """Finest place typed in the trials file; None unless every value was typed."""
        places = [trial.decimals[column] for trial in self.trials if column in trial.decimals]
        return max(places) if places and len(places) == len(self.trials) else None

    def typed_step(self, column: str) -> float:
        """Step of the finest place typed in the trials file; zero unless every value was typed."""
        decimals = self.most_decimals(column)
        return 0.0 if decimals is None else 10.0**-decimals

    def places(self, positions: Mapping[str, float]) -> Places:
        """Place of each run in the session, from run id → place."""
        if self._places is None:
            self._places = Places([positions[run] for run in self.ids])
        return self._places
