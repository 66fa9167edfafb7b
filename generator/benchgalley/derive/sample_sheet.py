"""Several samples of a card, for many setpoints and quantities at once: every array has one element a number."""

import math
from collections.abc import Callable, Mapping
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from benchgalley.metrology.cells import Variances, means_and_spreads, sample_variances_of, t_factors
from benchgalley.metrology.sample import Array
from benchgalley.metrology.tolerance import one_sided_factor

from .combining import half_widths, sums
from .estimate import OWN, REPEATS, SHARED
from .sheet import (
    CODE,
    NO_SAMPLE,
    NONE_TWICE,
    ONE_SAMPLE,
    ONE_SAMPLE_WITHIN,
    SAME_MEANS,
    SAME_VALUES,
    Block,
    MeanSheet,
    deviation_factors,
    known,
)

TOLERANCE_SHARE = 0.95
"""Share of all cards of the model that a tolerance bound speaks of."""

Places = NDArray[np.intp]


class SampleSheet:
    """Samples of many setpoints and quantities.

    Parameters
    ----------
    means : MeanSheet
        Means of every write-up.
    own : 3-D of int, numbers by samples by write-ups
        Places there; -1: none. What there is comes first.
    shared : 2-D of bool, numbers by (gain and offset of each column)
        Whether every sample was measured with the same instrument, so that its error does not shrink.
    against : 3-D of int, as `own`
        Places of comparisons with the baseline.
    compared : callable
        Relation → its numbers at those places.
    """

    def __init__(
        self,
        means: MeanSheet,
        own: Places,
        shared: NDArray[np.bool_],
        against: Places,
        compared: Callable[[str], Block],
        confidence_pct: float,
    ) -> None:
        self._pct = confidence_pct
        self._against, self._block = against, compared
        some = own >= 0
        self._runs = np.where(some, means.count[own], 0.0)
        self.count = self._runs.sum(axis=2)
        self._means = means
        self._own = own
        values = np.where(some, means.value[own], 0.0)
        origin = values[:, :, 0]
        away = values - origin[:, :, None]
        # relative to one of the means, so that large values lose no digits
        safe = np.maximum(self.count, 1.0)
        self.mean_of = origin + (self._runs * np.where(some, away, 0.0)).sum(axis=2) / safe
        self.present = self.count > 0
        self.samples = self.present.sum(axis=1)
        self.centre, self.spread = means_and_spreads(self.mean_of, self.present)
        first = means.sources[SHARED - REPEATS : OWN - REPEATS][:, own[:, :, 0]]
        limits = np.where(self.present, first, 0.0).sum(axis=2) / np.maximum(self.samples, 1)
        self._limits = np.where(shared.T, limits, 0.0)

    @cached_property
    def variances(self) -> Variances:
        """Spread within and between samples."""
        some = self._own >= 0
        deviations = np.where(some, np.nan_to_num(self._means.deviation[self._own]), 0.0)
        values = np.where(some, self._means.value[self._own] - self.mean_of[:, :, None], 0.0)
        with np.errstate(all="ignore"):  # what overflows is told as a value too large to compute with
            squares = np.maximum(self._runs - 1, 0.0) * deviations * deviations + self._runs * values * values
            return sample_variances_of(self.count, self.mean_of, squares.sum(axis=2))

    def mean(self) -> Block:
        """Mean of sample means; errors of an instrument shared by all samples do not shrink with their number."""
        return self._over_samples(self.centre, self.spread, self.samples, self._limits)

    def _over_samples(self, centre: Array, spread: Array, samples: Array, limits: Array) -> Block:
        several = samples > 1
        repeats = np.where(several, spread, 0.0) / np.sqrt(np.maximum(samples, 1))
        limits = np.where(several, limits, 0.0)
        found = sums(repeats[None], np.maximum(samples - 1.0, 1.0)[None], limits)
        some = several & (spread > 0)
        whole, own = (np.where(some, half, math.nan) for half in half_widths(found, self._pct))
        return Block(
            {
                "value": centre, **{name: np.where(some, part, math.nan) for name, part in known(found).items()},
                "low": centre - whole, "high": centre + whole, "repeats_low": centre - own,
                "repeats_high": centre + own, "trouble": np.where(samples > 0, 0, CODE[NO_SAMPLE]),
            },
            np.concatenate([repeats[None], limits]),
        )  # fmt: skip

    def between(self) -> Block:
        """Standard deviation between samples, run-to-run spread taken out."""
        found = self.variances
        trouble = self._parted(ONE_SAMPLE)
        value = np.sqrt(np.maximum(found.between_squared, 0.0))
        return Block(
            {
                "value": np.where(trouble == 0, value, 0.0), "degrees_of_freedom": found.df_between,
                "trouble": trouble,
            }
        )  # fmt: skip

    def within(self) -> Block:
        """Repeatability standard deviation pooled over samples."""
        found, trouble = self.variances, self._parted(ONE_SAMPLE_WITHIN)
        value = np.where(trouble == 0, np.sqrt(found.ms_within), 0.0)
        freedoms, place = np.unique(found.df_within, return_inverse=True)
        factors = np.array([deviation_factors(int(nu), self._pct) for nu in freedoms]).reshape(-1, 2)[place]
        low, high = (np.where(value > 0, factors[:, k] * value, math.nan) for k in (0, 1))
        return Block(
            {
                "value": value, "degrees_of_freedom": found.df_within, "low": low, "high": high, "repeats_low": low,
                "repeats_high": high, "trouble": trouble,
            }
        )  # fmt: skip

    def _parted(self, one: str) -> NDArray[np.int_]:
        """Why within and between cannot be told apart."""
        return np.where(self.samples < 2, CODE[one], np.where(self.variances.df_within > 0, 0, CODE[NONE_TWICE]))

    def prediction(self, side: float) -> Block:
        """Bound of the mean of one more sample: upper with side 1, lower with side -1.

        One more sample departs by s from the model's mean, which the k samples give within s/√k.
        """
        u = self.spread * np.sqrt(1 + 1 / np.maximum(self.samples, 1))
        freedoms = np.maximum(self.samples - 1.0, 1.0)
        # the ends of a two-sided interval at 2 c - 1 are one-sided bounds at c
        half = t_factors((1 - (2 * self._pct / 100 - 1)) / 2, freedoms) * u
        return self._bound(side, half, SAME_MEANS, {"standard_uncertainty": u}, u[None])

    def tolerance(self, side: float) -> Block:
        """Value that 95 % of all cards of the model stay below (side 1) or exceed (side -1)."""
        several, place = np.unique(np.maximum(self.samples, 2), return_inverse=True)
        factors = np.array([_tolerance_factor(int(count), self._pct) for count in several])[place]
        return self._bound(side, factors * self.spread, SAME_VALUES, {}, None)

    def _bound(self, side: float, half: Array, same: str, more: dict[str, Array], sources: Array | None) -> Block:
        trouble = np.where(self.samples < 2, CODE[ONE_SAMPLE], np.where(self.spread > 0, 0, CODE[same]))
        bound = self.centre + side * half
        return Block(
            {
                "value": bound, "degrees_of_freedom": self.samples - 1.0, "high" if side > 0 else "low": bound,
                "half_width": half, "trouble": trouble, **more,
            },
            sources,
            one_sided=side,
        )  # fmt: skip

    def against_baseline(self, relation: str) -> Block:
        """Mean over samples of a relation to the baseline, each sample against its own baseline runs."""
        found = self._block(relation).columns
        some = self._against >= 0
        some &= found["trouble"][self._against] == 0
        number = some.sum(axis=2)
        values = np.where(some, found["value"][self._against], 0.0).sum(axis=2) / np.maximum(number, 1)
        present = number > 0
        centre, spread = means_and_spreads(values, present)
        samples = present.sum(axis=1)
        centre = np.where(samples > 0, centre, 0.0)
        return self._over_samples(centre, spread, samples, np.zeros((0, len(centre))))


@lru_cache(maxsize=1024)
def _tolerance_factor(samples: int, confidence_pct: float) -> float:
    return one_sided_factor(samples, TOLERANCE_SHARE, confidence_pct / 100)


SAMPLE_BLOCKS: Mapping[str, Callable[[SampleSheet], Block]] = {
    "": lambda sheet: sheet.mean(),
    "between-samples": lambda sheet: sheet.between(),
    "within-samples": lambda sheet: sheet.within(),
    "next-sample-at-least": lambda sheet: sheet.prediction(-1.0),
    "next-sample-at-most": lambda sheet: sheet.prediction(1.0),
    "tolerance-at-least": lambda sheet: sheet.tolerance(-1.0),
    "tolerance-at-most": lambda sheet: sheet.tolerance(1.0),
}
"""Relation over samples → its numbers; any other is a relation to the baseline."""
