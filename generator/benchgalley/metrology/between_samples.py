"""Several samples (cards) of one model, and what they say of the model and of the next card."""

from __future__ import annotations

import math
from collections.abc import Sequence

from .comparison import two_sided
from .distribution import coverage_factor
from .repeatability import mean, standard_deviation
from .sample import Estimate, Interval, NotDetermined, Numbers, finite
from .stability import failure_share_interval
from .variance_components import one_way, sample_lists


def _means(groups: Sequence[Numbers]) -> list[float]:
    return [mean(group) for group in sample_lists(groups)]


def model_mean_interval(groups: Sequence[Numbers], confidence: float = 0.95) -> Estimate:
    """Mean of the model (all cards of its kind) with interval, from several samples.

    Parameters
    ----------
    groups : sequence of 1-D of float
        Runs of each sample, at least two samples.

    Returns
    -------
    Estimate
        Unweighted mean of the k sample means +- t_{k-1} s / sqrt(k), s their standard deviation.

    Raises
    ------
    NotDetermined
        One sample, or equal sample means.

    Notes
    -----
    Exact with equal runs a sample, where s / sqrt(k) = sqrt(MS_between / N); close and on the safe side
    otherwise. More runs on the same samples do not replace samples.

    Examples
    --------
    >>> e = model_mean_interval([[1.0, 2.0, 3.0], [2.0, 3.0, 4.0]])
    >>> e.value, e.degrees_of_freedom, round(e.high, 3)
    (2.5, 1.0, 8.853)
    """
    means = _means(groups)
    return two_sided(mean(means), _spread(means) / math.sqrt(len(means)), float(len(means) - 1), confidence)


def _spread(means: list[float]) -> float:
    spread = standard_deviation(means)
    if spread == 0:
        raise NotDetermined("all samples have the same mean: the spread between them cannot be estimated")
    return spread


def next_sample_interval(groups: Sequence[Numbers], confidence: float = 0.95) -> Interval:
    """Where the mean of the next sample is predicted, run as often as these.

    Parameters
    ----------
    groups : sequence of 1-D of float
        Runs of each sample, at least two samples.

    Returns
    -------
    Interval
        Mean of means +- t_{k-1} s sqrt(1 + 1/k), s the standard deviation of the k sample means.

    Raises
    ------
    NotDetermined
        One sample, or equal sample means.

    Notes
    -----
    Exact prediction interval for normal samples with equal runs (NIST/SEMATECH e-Handbook 7.2.6, in the
    form for one further observation). With two samples t is 12.7: the interval says so by its width.

    Examples
    --------
    >>> i = next_sample_interval([[10.0], [11.0], [12.0]])
    >>> round(i.low, 3), round(i.high, 3)
    (6.032, 15.968)
    """
    means = _means(groups)
    half = coverage_factor(confidence, len(means) - 1) * _spread(means) * math.sqrt(1 + 1 / len(means))
    centre = mean(means)
    return Interval(
        low=finite(centre - half, "lower limit"),
        high=finite(centre + half, "upper limit"),
        confidence=confidence,
    )


def next_run_interval(groups: Sequence[Numbers], confidence: float = 0.95) -> Interval:
    """Where a single run on the next sample is predicted.

    Parameters
    ----------
    groups : sequence of 1-D of float
        Runs of each sample, at least two samples, at least one run twice.

    Returns
    -------
    Interval
        Mean of means +- t_{k-1} sqrt(s^2 (1 + 1/k) + s_r^2 (1 - 1/n_h)), s of the k sample means, s_r within
        samples, n_h the harmonic mean of runs a sample.

    Raises
    ------
    NotDetermined
        One sample, none run twice, or no spread.

    Notes
    -----
    The k - 1 degrees of freedom of the sample means stand for the whole variance: on the safe side. The
    Welch-Satterthwaite value would be too large with few cards (two cards: 90 % instead of 95 %, simulated).

    Examples
    --------
    >>> i = next_run_interval([[9.0, 11.0], [10.0, 12.0], [11.0, 13.0]])
    >>> round(i.low, 2), round(i.high, 2)
    (4.43, 17.57)
    """
    analysis = one_way(groups)
    means = _means(groups)
    count = len(means)
    typical = count / math.fsum(1 / len(group) for group in groups)
    from_means = standard_deviation(means) ** 2 * (1 + 1 / count)
    from_runs = analysis.repeatability**2 * (1 - 1 / typical)
    variance = from_means + from_runs
    if not 0 < variance < math.inf:
        raise NotDetermined("every run gave the same value: the spread cannot be estimated")
    half = coverage_factor(confidence, count - 1) * math.sqrt(variance)
    centre = analysis.mean_of_means
    return Interval(
        low=finite(centre - half, "lower limit"),
        high=finite(centre + half, "upper limit"),
        confidence=confidence,
    )


def share_managing(managed: int, samples: int, confidence: float = 0.95) -> Interval:
    """Share of all cards of the model that can be expected to manage a setting.

    Parameters
    ----------
    managed, samples : int
        Samples that completed the setting, samples tried.

    Returns
    -------
    Interval
        Exact (Clopper-Pearson), fractions. One of one: 0.025 to 1, which says how little one sample says.

    Raises
    ------
    NotDetermined
        No sample, or impossible counts.

    Examples
    --------
    >>> share_managing(1, 1).low
    0.025000000000000022
    """
    if samples < 1:
        raise NotDetermined("there is no sample")
    if not 0 <= managed <= samples:
        raise NotDetermined(f"{managed} of {samples} samples cannot be")
    return failure_share_interval(managed, samples, confidence)
