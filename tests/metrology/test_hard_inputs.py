"""Hard inputs: the right digits, or "not determined" with a reason; never NaN and never a bare error."""

import itertools
import math
from dataclasses import fields, is_dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchgalley import metrology as room
from benchgalley.metrology import NotDetermined, physics, propagation

HUGE, TINY = 1.7e308, 5e-324

SAMPLES = {
    "none": [],
    "one": [5.0],
    "equal": [5.0, 5.0, 5.0],
    "equal two": [5.0, 5.0],
    "zeros": [0.0, 0.0, 0.0],
    "missing": [1.0, math.nan, 3.0],
    "infinite": [1.0, math.inf, 3.0],
    "huge": [HUGE, HUGE * 0.99, HUGE * 0.98],
    "huge both signs": [HUGE, -HUGE, HUGE],
    "tiny": [TINY, 2 * TINY, 3 * TINY],
    "cancelling": [1e16 + 2, 1e16 + 4, 1e16 + 6],
    "wide": [1e-300, 1.0, 1e300],
    "ties": [1.0, 1.0, 2.0, 2.0, 3.0],
    "plain": [1.0, 2.5, 2.0, 4.0, 3.0, 3.5, 2.2, 1.9],
}
ONE_SAMPLE = [
    room.mean,
    room.exact_sum,
    room.standard_deviation,
    room.standard_error,
    room.mean_interval,
    room.lag1_autocorrelation,
    room.spread_range,
    room.median,
    room.geometric_mean,
    room.geometric_mean_interval,
    room.harmonic_mean,
    room.share_of_mean,
    room.skewness,
    room.median_interval,
    room.two_groups,
    room.quartile_fences,
    room.mser,
    room.change_point,
    room.effective_readings,
    room.repeated_share,
    room.longest_repeat,
    room.quantisation_step,
    room.ranks,
    room.isotonic,
    room.holm,
    room.combine,
    lambda v: room.steady_share(v, 3),
    lambda v: room.autocorrelation(v, 1),
    lambda v: room.pooled_standard_deviation([v, v]),
    lambda v: room.one_way([v, v[:-1]]),
    lambda v: room.one_way([v]),
    lambda v: room.model_mean_interval([v, [1.0]]),
    lambda v: room.next_sample_interval([[x] for x in v]),
    lambda v: room.next_run_interval([v, v[::-1]]),
    lambda v: room.tolerance_interval(v, 0.9),
    lambda v: room.tolerance_at_least(v, 0.9),
    physics.decibel_sum_db,
]
TWO_SAMPLES = [
    room.welch_difference,
    room.mean_difference_by_parts,
    room.ratio_by_parts,
    room.pooled_difference,
    room.paired_difference,
    room.ratio_of_means,
    room.paired_ratio,
    room.ratio_of_totals,
    room.fit_line,
    room.fit_drift,
    room.rank_correlation,
    room.integral,
    room.time_weighted_mean,
    room.cumulative_integral,
    room.monotone_curve,
    room.pchip_slopes,
    room.trade_front,
    lambda a, b: room.dunnett(a, [b, a]),
    lambda a, b: room.best_of_many(a, b, [4.0] * len(a)),
    lambda a, b: room.matching_setting(a, b, [0.1] * len(a), [4.0] * len(a), 2.0, 0.1, 4.0),
    lambda a, b: room.value_at_setting(a, b, [0.1] * len(a), [4.0] * len(a), 2.0),
    lambda a, b: room.trade_front_chance(a, [0.1] * len(a), b, [0.1] * len(b), [4.0] * len(a)),
    lambda a, b: room.fit_drift(a, b),
    lambda a, b: room.equivalence_of(room.welch_difference(a, b), -1.0, 1.0),
    lambda a, b: room.inverse_prediction(room.fit_line(a, b), 2.0),
]


def check_finite(result, where="result"):
    """Every number in a result is finite; degrees of freedom alone may be infinite."""
    if is_dataclass(result):
        for field in fields(result):
            value = getattr(result, field.name)
            if field.name == "degrees_of_freedom" and value == math.inf:
                continue
            check_finite(value, field.name)
    elif isinstance(result, (list, tuple)):
        for value in result:
            check_finite(value, where)
    elif isinstance(result, np.ndarray):
        assert np.isfinite(result).all(), where
    elif isinstance(result, float):
        assert math.isfinite(result), f"{where} is {result}"


def settled(function, *arguments):
    try:
        with np.errstate(all="raise", under="ignore"):
            result = function(*arguments)
    except NotDetermined as answer:
        assert (answer.reason and answer.reason[0].islower()) or answer.reason[0].isdigit()
        assert not answer.reason.endswith(".") and "nan" not in answer.reason.lower().split()
        return
    check_finite(result)


@pytest.mark.parametrize("name", SAMPLES)
@pytest.mark.parametrize("function", ONE_SAMPLE)
def test_one_sample(function, name):
    settled(function, SAMPLES[name])


@pytest.mark.parametrize("function", TWO_SAMPLES)
def test_two_samples(function):
    for first, second in itertools.product(SAMPLES.values(), repeat=2):
        settled(function, first, second)


numbers = st.lists(st.floats(allow_nan=True, allow_infinity=True), max_size=7)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.sampled_from(ONE_SAMPLE), numbers)
def test_any_floats_one_sample(function, values):
    settled(function, values)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.sampled_from(TWO_SAMPLES), numbers, numbers)
def test_any_floats_two_samples(function, first, second):
    settled(function, first, second)


any_float = st.floats(allow_nan=True, allow_infinity=True)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(any_float, any_float, any_float, any_float)
def test_any_floats_as_statistics(a, b, c, d):
    settled(room.fieller_ratio, a, abs(b), 4.0, c, abs(d), 3.0)
    settled(room.difference_from_statistics, a, abs(b), 4.0, c, abs(d), 3.0)
    settled(room.equivalence, a, abs(b), 4.0, c, d)
    settled(room.difference_by_parts, a, abs(b), 4.0, c, abs(d), 13.0)
    settled(room.fieller_by_parts, a, [b, 0.0, d], c, [0.0, d, b], [1.0, 4.0, math.inf])
    settled(room.equivalence_by_parts, a, [b, 0.1], [1.0, 4.0], c, d)
    settled(room.expanded_by_parts, [a, b, c], [2.0, 9.0, math.inf])
    settled(room.expanded_by_parts, [1.0, 2.0], [a, b])
    settled(room.two_sided, a, abs(b), 4.0)
    settled(room.expanded, a, b)
    settled(propagation.ratio, a, {"x": b}, c, {"x": d})
    settled(propagation.difference, a, {"x": b}, c, {"x": d})
    settled(propagation.percent_change, a, {"x": b}, c, {"x": d})
    settled(propagation.power, a, {"x": b}, 2.0)
    settled(room.gain_error, a, b)
    settled(physics.dynamic_power_ratio, a, b)
    settled(physics.thermal_resistance_k_per_w, a, b, c)
    settled(physics.decibel_without_background_db, a, b)
    settled(physics.energy_kwh, a, b)
    settled(room.failure_rate_interval, 3, a)
    settled(room.failure_share_at_most, 1, 3, a)
    settled(room.runs_for_half_width, a, b)
    settled(room.runs_to_settle_equivalence, a, 1.0, 1.0, c, d)
    settled(room.exposure_needed, a)
    settled(room.t_quantile, a, b)
    settled(room.chi2_quantile, a, b)
    settled(room.f_upper_quantile, a, b, c)
    settled(room.beta_quantile, a, b, c)
    settled(room.noncentral_t_quantile, a, b, c)


def test_the_right_digits_under_cancellation():
    """Differences of a few units on 1e16, where a naive sum of squares has no digit left."""
    assert room.standard_deviation(SAMPLES["cancelling"]) == 2.0
    assert room.mean(SAMPLES["cancelling"]) == 1e16 + 4
    assert room.welch_difference([1e16 + 2, 1e16 + 4], [1e16 - 2, 1e16]).difference == 4.0
    assert room.one_way([[1e16, 1e16 + 2], [1e16 + 4, 1e16 + 6]]).ms_between == 16.0


def test_near_overflow():
    assert room.mean(SAMPLES["huge"]) == pytest.approx(HUGE * 0.99, rel=1e-12)
    assert room.standard_deviation(SAMPLES["huge"]) == pytest.approx(HUGE * 0.01, rel=1e-9)
    assert room.standard_deviation([TINY, 3 * TINY]) == pytest.approx(math.sqrt(2) * TINY, abs=TINY)
    scaled = room.ratio_of_means([2e300, 2.02e300, 1.98e300], [1e300, 1.01e300, 0.99e300])
    plain = room.ratio_of_means([2.0, 2.02, 1.98], [1.0, 1.01, 0.99])
    assert (scaled.low, scaled.high) == pytest.approx((plain.low, plain.high), rel=1e-12)


@pytest.mark.parametrize(
    ("ask", "reason"),
    [
        (lambda: room.mean([]), "there is no run with a value"),
        (lambda: room.standard_deviation([3.0]), "one run: its spread cannot be estimated"),
        (lambda: room.mean_interval([3.0, 3.0]), "all 2 runs gave the same value: the spread cannot be estimated"),
        (
            lambda: room.welch_difference([1, 1], [2, 2]),
            "every run gave the same value: the spread cannot be estimated",
        ),
        (lambda: room.one_way([[1.0, 2.0]]), "one sample: nothing can be said about the spread between samples"),
        (
            lambda: room.fit_drift([1, 1, 1], [1, 2, 3]),
            "drift cannot be estimated: the baseline was measured at one position only",
        ),
        (
            lambda: room.matching_setting([60], [1.0], [0.1], [4], 1.0),
            "only one setting was run, at least 2 are needed",
        ),
        (
            lambda: room.value_at_setting([60, 80], [1, 2], [1, 1], [4, 4], 90),
            "outside the range that was run (60 to 80)",
        ),
        (
            lambda: room.median_interval([1, 2, 3, 4, 5]),
            "with 5 runs no 95 % interval of the median exists (93.75 % at most); the range is shown",
        ),
        (
            lambda: room.runs_to_settle_equivalence(0.0, 1.0, 1.0, -1.0, 1.0, floor=2.0),
            "more runs cannot settle it: the uncertainty of the instrument alone is too large",
        ),
    ],
)
def test_reasons_fit_for_a_page(ask, reason):
    with pytest.raises(NotDetermined) as caught:
        ask()
    assert caught.value.reason == reason


def test_all_failed():
    assert room.failure_share_at_least(4, 4) == pytest.approx(0.05**0.25)
    assert room.failure_share_at_most(4, 4) == 1.0
    assert room.share_managing(0, 3).low == 0.0


def test_duplicate_settings_are_averaged():
    twice = room.matching_setting([60, 60, 80, 100], [69, 71, 90, 100], [1, 1, 1, 1], [4, 4, 4, 4], 85)
    once = room.matching_setting([60, 80, 100], [70, 90, 100], [1 / math.sqrt(2), 1, 1], [8, 4, 4], 85)
    assert twice.setting == pytest.approx(once.setting)
    assert (twice.low, twice.high) == pytest.approx((once.low, once.high), abs=1e-6)
