"""Comparisons of many setpoints with their baselines at once: every array has one element a comparison."""

import math
from collections.abc import Callable, Mapping, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from benchgalley.metrology.cells import Sets, fieller_sets, root_sum, t_factors
from benchgalley.metrology.sample import Array

from .allowance import Adjustment, Allowances
from .combining import Sums, half_widths, normal_factor, sums
from .estimate import COUNT, DEVIATION, OWN, REPEATS, SHARED, VALUE, WIDTH, Estimate, rows_of
from .sheet import CODE, FAR_FANS, STILL_FAN, TOO_LARGE, ZERO_BASELINE, Block, known

CANCELLED = 8 * 2.220446049250313e-16
"""A sum that is only rounding of two equal parts counts as zero: that contribution cancels exactly
(JCGM 100:2008, 5.2.2 and F.1.2.3)."""

FROM_RUNS = 3
"""The first of its sources that repeats show: those of the setpoint, drift, those of the baseline."""

FAN_SOUND = "fan-sound-change"
FAN_LAW_DECIBELS = 50.0
"""Sound power level goes with 50 log10 of the fan speed."""


class PairSheet:
    """Many setpoints, each beside its baseline.

    Parameters
    ----------
    at, base : sequence of Estimate
        Setpoint and baseline of each comparison.
    drifts : sequence of (float, float)
        Contribution of drift between them to the setpoint, and its degrees of freedom; (0, inf) where there is none.
    allowances : sequence
        How each allows for several comparisons.
    """

    def __init__(
        self,
        at: Sequence[Estimate],
        base: Sequence[Estimate],
        drifts: Sequence[tuple[float, float]],
        allowances: Sequence[Adjustment | None],
        confidence_pct: float,
    ) -> None:
        self._at, self._base = rows_of(at), rows_of(base)
        self._drift, drift_freedoms = np.array(drifts, dtype=np.float64).reshape(-1, 2).T
        self._allow = Allowances(allowances, confidence_pct)
        self._pct = confidence_pct
        self.repeated = ~(np.isnan(self._at[DEVIATION]) | np.isnan(self._base[DEVIATION]))
        self._freedoms = np.stack(
            [np.maximum(self._at[COUNT] - 1, 1.0), drift_freedoms, np.maximum(self._base[COUNT] - 1, 1.0)]
        )

    def _merged(self, factor_at: Array | float, factor_base: Array | float) -> tuple[Array, Array]:
        """Contributions to factor_at · at + factor_base · base: (from repeats, of instruments), sources by numbers.

        The same error adds with its sign before anything is squared.
        """
        at, base = self._at, self._base
        repeats = np.stack([at[REPEATS] * factor_at, self._drift * factor_at, base[REPEATS] * factor_base])
        own, other = at[SHARED:OWN] * factor_at, base[SHARED:OWN] * factor_base
        total = own + other
        total[np.abs(total) <= CANCELLED * np.maximum(np.abs(own), np.abs(other))] = 0.0
        return repeats, np.concatenate([total, at[OWN:] * factor_at, base[OWN:] * factor_base])

    @cached_property
    def _difference(self) -> tuple[Array, Sums, tuple[Array, Array], Array]:
        """(Sources, what they amount to, half-widths, half-width that several comparisons ask for)."""
        with np.errstate(all="ignore"):
            repeats, limits = self._merged(1.0, -1.0)
            found = sums(repeats, self._freedoms, limits)
            whole, own = (np.where(self.repeated, half, math.nan) for half in half_widths(found, self._pct))
            adjusted = root_sum(self._allow.widened(repeats, found, self._at[COUNT], self._base[COUNT]))
        return np.concatenate([repeats, limits]), found, (whole, own), adjusted

    def difference(self, sign: float) -> Block:
        """Setpoint less baseline, or the other way round with sign -1; see `plain_half`."""
        sources, found, (whole, plain), adjusted = self._difference
        with np.errstate(all="ignore"):
            value = sign * (self._at[VALUE] - self._base[VALUE])
            used = self._allow.any & self.repeated & (adjusted > 0)
            repeats = np.where(used, adjusted, plain)
            return Block(
                {
                    "value": value, **known(found), "low": value - whole, "high": value + whole,
                    "repeats_low": value - repeats, "repeats_high": value + repeats, "adjusted": used,
                },
                sources,
                methods=found.methods,
            )  # fmt: skip

    def sums_of(self, relation: str) -> Sums:
        """What the sources of a difference, or of a ratio, amount to, before the relation's factor."""
        return self._difference[1] if relation in ("change", "saved") else self.ratio[1]

    def freedoms_of(self, place: int) -> list[float]:
        """Degrees of freedom of the sources of one comparison, in their order."""
        found: list[float] = self._freedoms[:, place].tolist()
        return [*found, *[math.inf] * (WIDTH - SHARED + WIDTH - OWN)]

    def plain_half(self, place: int) -> float:
        """Half-width of a difference from repeats alone, not adjusted for several comparisons."""
        return float(self._difference[2][1][place])

    @cached_property
    def ratio(self) -> tuple[Array, Sums, Array, Sets, Sets]:
        """(Sources, what they amount to, trouble, Fieller's set, Fieller's set from repeats alone) of at / base."""
        at, base = self._at[VALUE], self._base[VALUE]
        with np.errstate(all="ignore"):
            inverse = 1 / base
            ratio = at / base
            repeats, limits = self._merged(inverse, -ratio / base)
            found = sums(repeats, self._freedoms, limits)
            whole, own = self._whole_set(found), self._repeats_set(found)
        trouble = np.where(self.repeated, np.where(whole.trouble, whole.trouble, own.trouble), 0)
        trouble[~np.isfinite(ratio)] = CODE[TOO_LARGE]
        trouble[(base == 0) | ~np.isfinite(inverse)] = CODE[ZERO_BASELINE]
        return np.concatenate([repeats, limits]), found, trouble, whole, own

    def _whole_set(self, found: Sums) -> Sets:
        """Fieller's set with every source; what both share (offset of one channel) enters as covariance.

        Each source has the factor of its piece at the estimated ratio. One that leaves the ratio alone, as a relative
        error common to both sides does, stays out.
        """
        at, base = self._at, self._base
        tail = (1 - self._pct / 100) / 2
        t = np.where(found.repeats != 0, t_factors(tail, found.piece_freedoms), 0.0)
        z = np.where(found.limits != 0, normal_factor(tail), 0.0)
        columns = OWN - SHARED
        shared_at, shared_base = z[:columns] * at[SHARED:OWN], z[:columns] * base[SHARED:OWN]
        own = columns + len(at) - OWN
        first = np.concatenate([(t[0] * at[REPEATS])[None], (t[1] * self._drift)[None], shared_at,
                                z[columns:own] * at[OWN:]])  # fmt: skip
        second = np.concatenate([(t[2] * base[REPEATS])[None], shared_base, z[own:] * base[OWN:]])
        none = np.count_nonzero(np.concatenate([first, second]), axis=0) == 0
        return self._sets(first, second, (shared_at * shared_base).sum(axis=0), none)

    def _repeats_set(self, found: Sums) -> Sets:
        """Fieller's set from repeats alone, at the confidence that several comparisons ask for."""
        at, base = self._at, self._base
        errors = np.stack([at[REPEATS], self._drift, base[REPEATS]])
        wide = self._allow.widened(errors, found, at[COUNT], base[COUNT])
        # what bears on a side, though not on a ratio of nothing, is a spread all the same
        none = np.count_nonzero(np.concatenate([errors, wide]), axis=0) == 0
        return self._sets(wide[:2], wide[2:], np.zeros_like(self._drift), none)

    def _sets(self, at: Array, base: Array, covariances: Array, none: NDArray[np.bool_]) -> Sets:
        """Fieller's sets from widened contributions to both sides; none where there is no contribution at all."""
        found = fieller_sets(self._at[VALUE], root_sum(at), self._base[VALUE], root_sum(base), covariances)
        nowhere = none | ~self.repeated | ~found.bounded
        return Sets(
            np.where(nowhere, math.nan, found.low),
            np.where(nowhere, math.nan, found.high),
            found.bounded | none | ~self.repeated,
            np.where(none, 0, found.trouble),
        )

    def relative(self, scale: float, shift: float) -> Block:
        """scale · at / base + shift, with Fieller's interval."""
        sources, found, trouble, whole, own = self.ratio
        at, base = self._at[VALUE], self._base[VALUE]
        with np.errstate(all="ignore"):
            # subtract first where the shift would cancel digits
            value = scale * at / base if not shift else scale * ((at - base) / base)
            ends = [scale * end + shift for end in (whole.low, whole.high, own.low, own.high)]
            u = known(found)
            u["standard_uncertainty"] = abs(scale) * u["standard_uncertainty"]
        if scale < 0:
            ends = [ends[1], ends[0], ends[3], ends[2]]
        adjusted = self._allow.any & self.repeated & ~(np.isnan(own.low) & own.bounded)
        return Block(
            {
                "value": value, **u, "low": ends[0], "high": ends[1], "repeats_low": ends[2], "repeats_high": ends[3],
                "trouble": trouble, "unbounded": ~whole.bounded, "repeats_unbounded": ~own.bounded,
                "adjusted": adjusted,
            },
            sources,
            abs(scale),
        )  # fmt: skip

    def fan_sound(self) -> Block:
        """50 log10(N/N0) dB from mean fan speeds; uncertainty by its sensitivity 50/(ln 10) to the relative change."""
        at, base = self._at[VALUE], self._base[VALUE]
        slope = FAN_LAW_DECIBELS / math.log(10)
        turning = (at > 0) & (base > 0)
        with np.errstate(all="ignore"):
            ratio = at / base
            close = (ratio > 0) & np.isfinite(ratio)
            value = np.where(turning & close, FAN_LAW_DECIBELS * np.log10(ratio), 0.0)
            repeats, limits = self._merged(slope / at, -slope / base)
            found = sums(repeats, self._freedoms, limits)
            whole, own = (np.where(self.repeated, half, math.nan) for half in half_widths(found, self._pct))
        return Block(
            {
                "value": value, **known(found), "low": value - whole, "high": value + whole,
                "repeats_low": value - own, "repeats_high": value + own,
                "trouble": np.where(turning, np.where(close, 0, CODE[FAR_FANS]), CODE[STILL_FAN]),
            },
            np.concatenate([repeats, limits]),
            methods=found.methods,
        )  # fmt: skip


PAIR_BLOCKS: Mapping[str, Callable[[PairSheet], Block]] = {
    "of-baseline": lambda sheet: sheet.relative(100.0, 0.0),
    "change": lambda sheet: sheet.difference(1.0),
    "change-percent": lambda sheet: sheet.relative(100.0, -100.0),
    "saved": lambda sheet: sheet.difference(-1.0),
    "saved-percent": lambda sheet: sheet.relative(-100.0, 100.0),
    "ratio": lambda sheet: sheet.relative(1.0, 0.0),
    FAN_SOUND: lambda sheet: sheet.fan_sound(),
}
"""Relation → its numbers, for relations to the baseline; and a quantity that exists against the baseline only."""
