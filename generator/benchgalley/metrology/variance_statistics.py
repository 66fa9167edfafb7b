"""Variance components of samples given by their means and sums of squares instead of their runs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .sample import NotDetermined, finite


@dataclass(frozen=True, kw_only=True, slots=True)
class SampleVariances:
    """Spread within and between samples."""

    df_between: int
    """k - 1"""
    df_within: int
    """N - k"""
    ms_between: float
    """mean square between samples, square of the unit of the runs"""
    ms_within: float
    """mean square within samples, same unit"""
    ss_within: float
    """sum of squares within samples, same unit"""
    runs_per_group: float
    """n_0: runs a sample when equal, else (N - sum n_i^2 / N) / (k - 1)"""
    repeatability: float
    """s_r = sqrt(ms_within)"""
    between: float
    """s_L, spread between samples; 0 when the estimate of its square is negative"""
    between_squared: float
    """(ms_between - ms_within) / n_0 as it comes, negative or not"""


def sample_variances(samples: Sequence[tuple[int, float, float]]) -> SampleVariances:
    """Variance components from (runs, mean, sum of squares about the mean) of each sample.

    Parameters
    ----------
    samples : sequence of (int, float, float)
        At least two samples, at least one run twice; mean in the unit of the runs, squares in its square.

    Raises
    ------
    NotDetermined
        One sample, none run twice, or overflow.

    Notes
    -----
    ISO 5725-2, 7.4.5; the same figures as `one_way` gives from the runs.

    Examples
    --------
    >>> v = sample_variances([(3, 2.0, 2.0), (3, 3.0, 2.0)])
    >>> v.ms_between, v.ms_within, v.runs_per_group
    (1.5, 1.0, 3.0)
    """
    count, runs = len(samples), sum(n for n, _, _ in samples)
    if count < 2:
        raise NotDetermined("one sample: nothing can be said about the spread between samples")
    if runs == count:
        raise NotDetermined("no sample was run twice: the spread within samples cannot be estimated")
    origin = samples[0][1]
    shifted = [(n, mean - origin) for n, mean, _ in samples]
    grand = math.fsum(n * mean for n, mean in shifted) / runs
    df_between, df_within = count - 1, runs - count
    ss_within = math.fsum(squares for _, _, squares in samples)
    ms_between = math.fsum(n * (mean - grand) * (mean - grand) for n, mean in shifted) / df_between
    ms_within = ss_within / df_within
    n_0 = (runs - sum(n * n for n, _, _ in samples) / runs) / df_between
    between_squared = finite((ms_between - ms_within) / n_0, "variance between samples")
    return SampleVariances(
        df_between=df_between,
        df_within=df_within,
        ms_between=ms_between,
        ms_within=ms_within,
        ss_within=ss_within,
        runs_per_group=n_0,
        repeatability=math.sqrt(ms_within),
        between=math.sqrt(max(between_squared, 0.0)),
        between_squared=between_squared,
    )
