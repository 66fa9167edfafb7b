"""Intervals and tests against general-purpose reference libraries on 200 random data sets.

Expected values: scipy.stats, statsmodels and scikit-learn as installed. Data sets: fixed seeds, n from 2
to 50, magnitudes from 1e-6 to 1e9, spreads from 0.01 % to 30 % of the magnitude.
"""

import math
import warnings

import numpy as np
import pytest
from scipy import stats
from sklearn.isotonic import IsotonicRegression
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint
from statsmodels.stats.weightstats import CompareMeans, DescrStatsW, ttost_paired

from benchgalley.metrology.averages import geometric_mean, harmonic_mean, median, quantile
from benchgalley.metrology.choice import best_of_many
from benchgalley.metrology.comparison import (
    lower_bound,
    paired_difference,
    pooled_difference,
    upper_bound,
    welch_degrees_of_freedom,
    welch_difference,
)
from benchgalley.metrology.curve import isotonic, monotone_curve, pchip_slopes
from benchgalley.metrology.distribution import (
    beta_quantile,
    binomial_cdf,
    chi2_quantile,
    chi2_tail,
    f_tail,
    f_upper_quantile,
    gamma_quantile,
    noncentral_t_quantile,
    normal_quantile,
    poisson_cdf,
    t_quantile,
    t_tail,
)
from benchgalley.metrology.distribution_free import median_ranks, skewness
from benchgalley.metrology.drift import rank_correlation
from benchgalley.metrology.equivalence import equivalence_of
from benchgalley.metrology.mean_interval import deviation_interval, mean_interval
from benchgalley.metrology.readings import autocorrelation
from benchgalley.metrology.repeatability import (
    lag1_autocorrelation,
    mean,
    pooled_standard_deviation,
    standard_deviation,
)
from benchgalley.metrology.several_against_baseline import dunnett, dunnett_tail, holm
from benchgalley.metrology.stability import failure_rate_interval, failure_share_interval
from benchgalley.metrology.straight_line import fit_line
from benchgalley.metrology.time_series import RunningLog, integral
from benchgalley.metrology.tolerance import one_sided_factor
from benchgalley.metrology.variance_components import one_way

SETS = 200


def _sample(seed):
    """Two samples of one magnitude; sizes, spread and ratio of spreads drawn from the seed."""
    draw = np.random.default_rng(seed)
    size = 10 ** draw.uniform(-6, 9)
    spread = size * 10 ** draw.uniform(-4, -0.5)
    n_a, n_b = draw.integers(2, 51, size=2)
    a = size + spread * draw.standard_normal(n_a)
    b = size * draw.uniform(0.7, 1.3) + spread * 10 ** draw.uniform(-1, 1) * draw.standard_normal(n_b)
    return a, b


@pytest.fixture(params=range(SETS))
def two(request):
    return _sample(request.param)


def near(value, rel=1e-9, abs_=0.0):
    return pytest.approx(value, rel=rel, abs=abs_)


def test_moments_and_interval_of_mean(two):
    a, _ = two
    assert mean(a) == near(np.mean(a), 1e-13)
    assert standard_deviation(a) == near(np.std(a, ddof=1), 1e-10)
    found = mean_interval(a)
    expected = stats.t.interval(0.95, len(a) - 1, loc=np.mean(a), scale=stats.sem(a))
    assert (found.low, found.high) == near(expected)
    assert median(a) == near(np.median(a), 1e-14)
    for fraction in (0.05, 0.25, 0.9):
        assert quantile(a, fraction) == near(np.quantile(a, fraction), 1e-13)


def test_averages_of_positive_values(two):
    a = np.abs(two[0])
    assert geometric_mean(a) == near(stats.gmean(a), 1e-12)
    assert harmonic_mean(a) == near(stats.hmean(a), 1e-12)


def test_shape_and_order(two):
    a, _ = two
    if len(a) < 4:
        a = np.concatenate([a, a[::-1] * 1.001])
    assert skewness(a) == near(stats.skew(a), 1e-8, 1e-10)
    away = a - a.mean()
    assert lag1_autocorrelation(a) == near(float(away[1:] @ away[:-1] / (away @ away)), 1e-8, 1e-10)
    assert autocorrelation(a, 1)[1] == near(lag1_autocorrelation(a), 1e-6, 1e-8)
    # rounded to make ties
    coarse = np.round(away / np.abs(away).max(), 1)
    order = np.arange(len(a), dtype=float)
    assert rank_correlation(coarse, order) == near(stats.spearmanr(coarse, order).statistic, 1e-9, 1e-12)


def test_welch_and_pooled(two):
    a, b = two
    found, expected = welch_difference(a, b), stats.ttest_ind(a, b, equal_var=False)
    limits = expected.confidence_interval(0.95)
    assert (found.t, found.degrees_of_freedom) == near((expected.statistic, expected.df))
    assert found.p_two_sided == near(expected.pvalue, 1e-7)
    assert (found.low, found.high) == near((limits.low, limits.high), 1e-8, 1e-9 * found.standard_error)
    # a second library for the same interval
    other = CompareMeans(DescrStatsW(a), DescrStatsW(b)).tconfint_diff(usevar="unequal")
    assert (found.low, found.high) == near(other, 1e-8, 1e-8 * found.standard_error)
    pooled, expected = pooled_difference(a, b), stats.ttest_ind(a, b)
    limits = expected.confidence_interval(0.95)
    assert pooled.t == near(expected.statistic)
    assert pooled.p_two_sided == near(expected.pvalue, 1e-7)
    assert (pooled.low, pooled.high) == near((limits.low, limits.high), 1e-8, 1e-9 * pooled.standard_error)


def test_one_sided_bounds(two):
    a, b = two
    found = welch_difference(a, b)
    for kind, bound, side in (("greater", lower_bound, "low"), ("less", upper_bound, "high")):
        expected = stats.ttest_ind(a, b, equal_var=False, alternative=kind).confidence_interval(0.95)
        mine = bound(found.difference, found.standard_error, found.degrees_of_freedom)
        assert mine == near(getattr(expected, side), 1e-8, 1e-8 * found.standard_error)


def test_paired(two):
    a, b = two
    n = min(len(a), len(b))
    found, expected = paired_difference(a[:n], b[:n]), stats.ttest_rel(a[:n], b[:n])
    limits = expected.confidence_interval(0.95)
    assert found.t == near(expected.statistic, 1e-8)
    assert found.p_two_sided == near(expected.pvalue, 1e-7)
    assert (found.low, found.high) == near((limits.low, limits.high), 1e-8, 1e-9 * found.standard_error)


def test_equivalence(two):
    a, b = two
    found = welch_difference(a, b)
    margin = abs(found.difference) + 2 * found.standard_error
    mine = equivalence_of(found, -margin, margin)
    lower = stats.ttest_ind(a + margin, b, equal_var=False, alternative="greater").pvalue
    upper = stats.ttest_ind(a - margin, b, equal_var=False, alternative="less").pvalue
    assert (mine.p_lower, mine.p_upper) == near((lower, upper), 1e-6, 1e-12)
    n = min(len(a), len(b))
    paired = equivalence_of(paired_difference(a[:n], b[:n]), -margin, margin)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        assert paired.p == near(ttost_paired(a[:n], b[:n], -margin, margin)[0], 1e-6, 1e-12)


def test_spread(two):
    a, b = two
    pooled, nu = pooled_standard_deviation([a, b])
    expected = math.sqrt((np.var(a, ddof=1) * (len(a) - 1) + np.var(b, ddof=1) * (len(b) - 1)) / nu)
    assert pooled == near(expected)
    found = deviation_interval(standard_deviation(a), len(a) - 1)
    tails = stats.chi2.ppf([0.975, 0.025], len(a) - 1)
    assert (found.low, found.high) == near(np.std(a, ddof=1) * np.sqrt((len(a) - 1) / tails))


def test_analysis_of_variance(two):
    a, b = two
    third = (a[: min(5, len(a))] + b.mean()) / 2 * 1.001
    found, expected = one_way([a, b, third]), stats.f_oneway(a, b, third)
    assert found.f == near(expected.statistic, 1e-7)
    assert found.p == near(expected.pvalue, 1e-6)


def test_line(two):
    a, b = two
    n = min(len(a), len(b))
    if n < 3:
        a, b, n = np.append(a, [a[0] * 1.1, a[0] * 0.9]), np.append(b, [b[0] * 0.95, b[0]]), n + 2
    x = np.arange(n) + a[:n] / a.max()
    found, expected = fit_line(x, b[:n]), stats.linregress(x, b[:n])
    assert found.slope == near(expected.slope, 1e-7, 1e-10 * expected.stderr)
    assert (found.slope_error, found.intercept_error) == near((expected.stderr, expected.intercept_stderr), 1e-6)
    assert found.intercept == near(expected.intercept, 1e-7)


def test_isotonic_and_curve(two):
    _, b = two
    weights = np.linspace(1, 3, len(b))
    expected = IsotonicRegression().fit_transform(np.arange(len(b)), b, sample_weight=weights)
    assert isotonic(b, weights) == near(expected, 1e-9)
    from scipy.interpolate import PchipInterpolator

    y = isotonic(b)
    x = np.cumsum(np.linspace(0.5, 2, len(y)))
    ours, theirs = monotone_curve(x, b), PchipInterpolator(x, y)
    assert pchip_slopes(x, y) == near(theirs.derivative()(x), 1e-12, 1e-14 * abs(y).max())
    between = np.linspace(x[0], x[-1], 57)
    assert ours.many(between) == near(theirs(between), 1e-12)


def test_running_log_is_the_whole_log(two):
    a, b = two
    values = np.concatenate([a, b])
    time = np.cumsum(np.abs(np.sin(np.arange(len(values)))) + 0.01)
    log, cut = RunningLog(), len(a)
    log.update(time[:cut], values[:cut])
    log.update(time[cut:], values[cut:])
    found = log.result()
    assert found.integral == near(np.trapezoid(values, time), 1e-12)
    assert integral(time, values) == near(np.trapezoid(values, time), 1e-12)
    assert found.mean == near(values.mean(), 1e-12)
    assert found.standard_deviation == near(values.std(ddof=1), 1e-9)


@pytest.mark.parametrize("seed", range(SETS))
def test_distributions(seed):
    draw = np.random.default_rng(1000 + seed)
    p, nu, other = draw.uniform(1e-4, 1 - 1e-4), draw.uniform(1, 60), draw.uniform(1, 60)
    assert t_quantile(p, nu) == near(stats.t.ppf(p, nu), 1e-9, 1e-12)
    assert t_tail(draw.uniform(-8, 30), nu) >= 0
    t = draw.uniform(-8, 30)
    assert t_tail(t, nu) == near(stats.t.sf(t, nu), 1e-9)
    assert normal_quantile(p) == near(stats.norm.ppf(p), 1e-12, 1e-15)
    assert chi2_quantile(p, nu) == near(stats.chi2.ppf(p, nu), 1e-9)
    x = draw.uniform(0.01, 80)
    assert chi2_tail(x, nu) == near(stats.chi2.sf(x, nu), 1e-9)
    assert f_upper_quantile(p, nu, other) == near(stats.f.isf(p, nu, other), 1e-8)
    assert f_tail(x, nu, other) == near(stats.f.sf(x, nu, other), 1e-8)
    assert beta_quantile(p, nu, other) == near(stats.beta.ppf(p, nu, other), 1e-9)
    assert gamma_quantile(p, nu) == near(stats.gamma.ppf(p, nu), 1e-9)
    n = int(draw.integers(1, 60))
    k = int(draw.integers(0, n + 1))
    assert binomial_cdf(k, n, p) == near(stats.binom.cdf(k, n, p), 1e-9)
    assert poisson_cdf(k, x) == near(stats.poisson.cdf(k, x), 1e-9)


@pytest.mark.parametrize("seed", range(SETS))
def test_exact_limits(seed):
    draw = np.random.default_rng(2000 + seed)
    n = int(draw.integers(1, 200))
    k = int(draw.integers(0, n + 1)) if seed % 3 else 0
    confidence = draw.uniform(0.8, 0.99)
    share = failure_share_interval(k, n, confidence)
    assert (share.low, share.high) == near(proportion_confint(k, n, 1 - confidence, method="beta"), 1e-9, 1e-14)
    expected = stats.binomtest(k, n).proportion_ci(confidence, method="exact")
    assert (share.low, share.high) == near((expected.low, expected.high), 1e-9, 1e-12)
    hours = draw.uniform(0.1, 1000)
    rate = failure_rate_interval(k, hours, confidence)
    tail = (1 - confidence) / 2
    low = stats.chi2.ppf(tail, 2 * k) / 2 / hours if k else 0.0
    assert (rate.low, rate.high) == near((low, stats.chi2.isf(tail, 2 * k + 2) / 2 / hours), 1e-9)


@pytest.mark.parametrize("seed", range(SETS))
def test_holm(seed):
    p = np.random.default_rng(3000 + seed).uniform(0, 0.2, size=2 + seed % 20)
    assert holm(p) == near(multipletests(p, method="holm")[1], 1e-12)


@pytest.mark.parametrize("seed", range(SETS))
def test_noncentral_t(seed):
    draw = np.random.default_rng(4000 + seed)
    n, share, confidence = int(draw.integers(2, 51)), draw.uniform(0.6, 0.995), draw.uniform(0.8, 0.99)
    delta = stats.norm.ppf(share) * math.sqrt(n)
    found = noncentral_t_quantile(confidence, n - 1, delta)
    assert stats.nct.cdf(found, n - 1, delta) == near(confidence, 1e-8)
    assert one_sided_factor(n, share, confidence) == near(found / math.sqrt(n), 1e-12)


# scipy's integral takes a sixth of a second a set: the default run keeps to the first dozen
@pytest.mark.parametrize("seed", [s if s < 12 else pytest.param(s, marks=pytest.mark.slow) for s in range(SETS)])
def test_dunnett(seed):
    """scipy integrates by quasi-Monte-Carlo: agreement to 3e-3."""
    draw = np.random.default_rng(5000 + seed)
    base = 100 + draw.standard_normal(draw.integers(3, 10))
    groups = [100 + draw.uniform(0, 2) + draw.standard_normal(draw.integers(2, 10)) for _ in range(2 + seed % 4)]
    found = dunnett(base, groups)
    for kind, name in (("two-sided", "p_two_sided"), ("greater", "p_greater"), ("less", "p_less")):
        expected = stats.dunnett(*groups, control=base, alternative=kind, rng=np.random.default_rng(1))
        assert [getattr(c, name) for c in found] == near(expected.pvalue, 0, 3e-3)
        assert [c.t for c in found] == near(expected.statistic)


@pytest.mark.parametrize("seed", range(SETS))
def test_best_is_among_candidates_by_plain_reasoning(seed):
    """With two settings the list is that of a one-sided t test (scipy.stats)."""
    draw = np.random.default_rng(6000 + seed)
    a, b = draw.standard_normal(6), draw.uniform(0, 2) + draw.standard_normal(6)
    means, errors = [a.mean(), b.mean()], [stats.sem(a), stats.sem(b)]
    p = min(stats.ttest_ind(a, b, equal_var=False, alternative=kind).pvalue for kind in ("less", "greater"))
    for size in (0.05, 0.999999 * p, 1.000001 * p):
        assert best_of_many(means, errors, [5, 5], 1 - size).distinguishable == (p <= size)


@pytest.mark.parametrize("seed", range(SETS))
def test_candidates_are_those_that_no_dunnett_test_excludes(seed):
    """With several settings: against the adjusted p of every rival, worked out in full."""
    draw = np.random.default_rng(6100 + seed)
    count = int(draw.integers(3, 7))
    means, errors = draw.uniform(0, 4, count), draw.uniform(0.2, 1.5, count)
    freedoms = draw.integers(1, 12, count).astype(float)
    expected = []
    for i in range(count):
        rivals = [j for j in range(count) if j != i]
        spreads = [math.hypot(errors[i], errors[j]) for j in rivals]
        lambdas = [round(errors[i] / spread, 9) for spread in spreads]
        tails = [
            dunnett_tail(
                (means[j] - means[i]) / spread, lambdas,
                welch_degrees_of_freedom(errors[i], freedoms[i], errors[j], freedoms[j]), two_sided=False,
            )
            for j, spread in zip(rivals, spreads, strict=True) if means[j] > means[i]
        ]  # fmt: skip
        if min(tails, default=1.0) > 0.05:
            expected.append(i)
    assert best_of_many(means, errors, freedoms).candidates == tuple(expected)


@pytest.mark.parametrize("n", range(6, 60))
def test_median_ranks(n):
    low, high, coverage = median_ranks(n)
    assert high == n + 1 - low
    assert coverage == near(stats.binom.cdf(high - 1, n, 0.5) - stats.binom.cdf(low - 1, n, 0.5), 1e-12)
    assert coverage >= 0.95
    assert n + 1 - 2 * (low + 1) < 1 or stats.binom.cdf(n - low - 1, n, 0.5) - stats.binom.cdf(low, n, 0.5) < 0.95
