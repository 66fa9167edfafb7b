"""One-way analysis of variance: spread within and between samples (cards, days, sessions)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .distribution import f_tail
from .repeatability import mean
from .sample import NotDetermined, Numbers, as_list, finite


@dataclass(frozen=True, kw_only=True, slots=True)
class OneWay:
    """One-way analysis of variance with its variance components."""

    groups: int
    """k, number of samples"""
    runs: int
    """N, number of runs in all"""
    grand_mean: float
    """mean of all runs"""
    mean_of_means: float
    """unweighted mean of the sample means"""
    df_between: int
    """k - 1"""
    df_within: int
    """N - k"""
    ss_between: float
    """sum n_i (mean_i - grand mean)^2"""
    ss_within: float
    """sum of squares about the sample means"""
    ms_between: float
    """ss_between / df_between"""
    ms_within: float
    """ss_within / df_within"""
    f: float | None
    """ms_between / ms_within; None when there is no spread within samples"""
    p: float
    """chance of such an F without any difference between samples"""
    r_squared: float
    """ss_between over the total sum of squares; 0 without any spread"""
    runs_per_group: float
    """n_0: runs a sample when equal, else (N - sum n_i^2 / N) / (k - 1)"""
    repeatability: float
    """s_r = sqrt(ms_within)"""
    between: float
    """s_L, spread between samples; 0 when the estimate of its square is negative"""
    between_squared: float
    """(ms_between - ms_within) / n_0 as it comes, negative or not"""
    reproducibility: float
    """sqrt(s_r^2 + s_L^2)"""


def sample_lists(groups: Sequence[Numbers]) -> list[list[float]]:
    """Runs of each sample as lists, at least two samples.

    Raises
    ------
    NotDetermined
        Fewer than two samples, or a sample without a run.

    Examples
    --------
    >>> sample_lists([[1], [2, 3]])
    [[1.0], [2.0, 3.0]]
    """
    lists = [as_list(group) for group in groups]
    if len(lists) < 2:
        raise NotDetermined(
            "one sample: nothing can be said about the spread between samples" if lists else "there is no sample"
        )
    return lists


def one_way(groups: Sequence[Numbers]) -> OneWay:
    """Analysis of variance of runs on several samples.

    Parameters
    ----------
    groups : sequence of 1-D of float
        Runs of each sample, at least two samples, numbers may differ, at least one sample run twice.

    Returns
    -------
    OneWay
        Squares of the unit of the runs where a sum or mean of squares is named.

    Raises
    ------
    NotDetermined
        One sample, or none run twice.

    Notes
    -----
    ISO 5725-2, 7.4.5; Davies and Goldsmith (1972), 6.4. Values are shifted by one of them first (exact
    when they agree in leading digits); checked against NIST StRD, analysis of variance.

    Examples
    --------
    >>> a = one_way([[1.0, 2.0, 3.0], [2.0, 3.0, 4.0]])
    >>> a.ms_between, a.ms_within, a.f
    (1.5, 1.0, 1.5)
    """
    lists = sample_lists(groups)
    count, runs = len(lists), sum(map(len, lists))
    if runs == count:
        raise NotDetermined("no sample was run twice: the spread within samples cannot be estimated")
    origin = lists[0][0]
    shifted = [[value - origin for value in values] for values in lists]
    reach = max(abs(value) for values in shifted for value in values) or 1.0
    # a power of two as unit leaves the digits alone and the squares in range
    unit = math.ldexp(1.0, math.frexp(reach)[1])
    scaled = [[value / unit for value in values] for values in shifted]
    means = [mean(values) for values in scaled]
    grand = mean([value for values in scaled for value in values])
    ss_between = math.fsum(len(v) * (m - grand) ** 2 for v, m in zip(scaled, means, strict=True))
    ss_within = math.fsum((value - m) ** 2 for v, m in zip(scaled, means, strict=True) for value in v)
    df_between, df_within = count - 1, runs - count
    ms_between, ms_within = ss_between / df_between, ss_within / df_within
    n_0 = (runs - math.fsum(len(v) ** 2 for v in scaled) / runs) / df_between
    between_squared = (ms_between - ms_within) / n_0
    f = ms_between / ms_within if ms_within > 0 and math.isfinite(ms_between / ms_within) else None
    between = math.sqrt(max(between_squared, 0.0))
    square = unit * unit
    return OneWay(
        groups=count,
        runs=runs,
        grand_mean=finite(origin + grand * unit, "mean"),
        mean_of_means=finite(origin + mean(means) * unit, "mean"),
        df_between=df_between,
        df_within=df_within,
        ss_between=finite(ss_between * square, "sum of squares"),
        ss_within=finite(ss_within * square, "sum of squares"),
        ms_between=finite(ms_between * square, "mean square"),
        ms_within=finite(ms_within * square, "mean square"),
        f=f,
        p=f_tail(f, df_between, df_within) if f is not None else float(ms_between == 0),
        r_squared=ss_between / (ss_between + ss_within) if ss_between + ss_within > 0 else 0.0,
        runs_per_group=n_0,
        repeatability=math.sqrt(ms_within) * unit,
        between=between * unit,
        between_squared=finite(between_squared * square, "variance between samples"),
        reproducibility=math.hypot(math.sqrt(ms_within), between) * unit,
    )


def one_way_from_statistics(means: Numbers, deviations: Numbers, runs: Sequence[int]) -> tuple[float, float, float]:
    """Mean squares and F from means, standard deviations (n - 1) and numbers of runs.

    Returns
    -------
    (float, float, float)
        ms_between, ms_within, F.

    Raises
    ------
    NotDetermined
        Lengths that differ, fewer than two groups, no spread within groups.

    Examples
    --------
    >>> [round(v, 4) for v in one_way_from_statistics([9.2, 10.7, 13.5], [2.9, 2.8, 4.7], [16, 22, 18])]
    [82.3371, 12.5721, 6.5492]
    """
    centres, spreads = as_list(means, 2, "sample"), as_list(deviations, 2, "sample")
    if not len(centres) == len(spreads) == len(runs):
        raise NotDetermined("the lists of values do not have the same length")
    total = sum(runs)
    grand = math.fsum(n * m for n, m in zip(runs, centres, strict=True)) / total
    between = math.fsum(n * (m - grand) ** 2 for n, m in zip(runs, centres, strict=True)) / (len(centres) - 1)
    freedom = total - len(centres)
    within = math.fsum((n - 1) * s * s for n, s in zip(runs, spreads, strict=True)) / freedom if freedom > 0 else 0.0
    if not within > 0:
        raise NotDetermined("no sample was run twice: the spread within samples cannot be estimated")
    return between, within, between / within


def reproducibility_limit(deviation: float) -> float:
    """Difference of two results not exceeded in 95 % of cases: 2.8 s (with s_r or s_R).

    Notes
    -----
    ISO 5725-6, 4.1.4: 1.96 sqrt(2) s, stated as 2.8 s.

    Examples
    --------
    >>> round(reproducibility_limit(0.057), 4)
    0.1596
    """
    if not deviation >= 0:
        raise NotDetermined("a standard deviation is not negative")
    return finite(2.8 * deviation, "limit")
