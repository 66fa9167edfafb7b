"""Rules of the literature and of common practice, each with its source beside it."""

import math

import numpy as np
import pytest

from benchgalley import metrology as room
from benchgalley.metrology import Decision, NotDetermined, RatioShape, Reach, physics, propagation
from benchgalley.metrology.distribution import binomial_cdf, poisson_cdf

# ------------------------------------------------------------------ small-sample tables


# ranks and coverage of the median's interval: J.-Y. Le Boudec, Performance Evaluation of Computer and
# Communication Systems (2010), theorem 2.1; coverages computed from the binomial
MEDIAN_RANKS = {
    6: (1, 6, 0.9688), 7: (1, 7, 0.9844), 8: (1, 8, 0.9922), 9: (2, 8, 0.9609), 10: (2, 9, 0.9785),
    11: (2, 10, 0.9883), 12: (3, 10, 0.9614), 13: (3, 11, 0.9775), 14: (3, 12, 0.9871), 15: (4, 12, 0.9648),
    16: (4, 13, 0.9787), 17: (5, 13, 0.9510), 18: (5, 14, 0.9691), 19: (5, 15, 0.9808), 20: (6, 15, 0.9586),
    25: (8, 18, 0.9567), 30: (10, 21, 0.9572),
}  # fmt: skip


@pytest.mark.parametrize("n", MEDIAN_RANKS)
def test_median_ranks(n):
    low, high, coverage = room.median_ranks(n)
    assert (low, high, round(coverage, 4)) == MEDIAN_RANKS[n]


@pytest.mark.parametrize("n", range(1, 6))
def test_no_median_interval_up_to_five(n):
    with pytest.raises(NotDetermined):
        room.median_ranks(n)


# half-width of a 95 % t interval in units of s: t / sqrt(n), NIST/SEMATECH e-Handbook 1.3.6.7.2
@pytest.mark.parametrize(
    ("n", "factor"),
    [(3, 2.484), (4, 1.591), (5, 1.242), (6, 1.049), (8, 0.836), (10, 0.715), (20, 0.468), (30, 0.373)],
)
def test_half_width_in_units_of_s(n, factor):
    assert round(room.coverage_factor(0.95, n - 1) / math.sqrt(n), 3) == factor
    # and planning is its inverse
    assert room.runs_for_half_width(1.0, factor + 0.0005) == n


# 1 - 0.05^(1/n): Hanley and Lippman-Hand, JAMA 249 (1983) 1743-1745
@pytest.mark.parametrize(("n", "percent"), [(5, 45.1), (10, 25.9), (60, 4.9)])
def test_zero_failures(n, percent):
    assert round(100 * room.zero_failure_bound(n), 1) == percent


# Hoefler and Belli, SC '15, rule 3: 100 units of work in 10, 100 and 40 s
def test_rates_over_equal_work():
    seconds = [10.0, 100.0, 40.0]
    rates = [100 / s for s in seconds]
    assert room.ratio_of_totals([100.0] * 3, seconds) == 2.0
    assert room.harmonic_mean(rates) == pytest.approx(2.0)
    assert room.mean(rates) == pytest.approx(4.5)
    assert round(10 * room.geometric_mean([rate / 10 for rate in rates]), 1) == 2.9


# ------------------------------------------------------------------ exact limits keep their promise


@pytest.mark.parametrize("n", [1, 3, 10, 30])
def test_binomial_bound_covers_for_every_share(n):
    """Exact enumeration: the bound holds the true share in at least 95 % (definition of Clopper-Pearson)."""
    bounds = [room.failure_share_at_most(k, n) for k in range(n + 1)]
    for share in np.linspace(0.001, 0.999, 400):
        covered = sum(math.comb(n, k) * share**k * (1 - share) ** (n - k) for k in range(n + 1) if bounds[k] >= share)
        assert covered >= 0.95 - 1e-12


def test_poisson_bound_covers_for_every_rate():
    bounds = [room.failure_rate_at_most(k, 1.0) for k in range(200)]
    for expected in np.linspace(0.01, 60, 300):
        # all counts whose bound reaches the truth; the bounds rise with the count
        first = next(k for k in range(200) if bounds[k] >= expected)
        assert 1 - poisson_cdf(first - 1, expected) >= 0.95 - 1e-12


@pytest.mark.parametrize("failures", [0, 1, 4])
@pytest.mark.parametrize("share", [0.5, 0.1, 0.013])
def test_runs_needed_is_the_smallest(share, failures):
    runs = room.runs_needed(share, failures=failures)
    assert room.failure_share_at_most(failures, runs) <= share * (1 + 1e-9)
    assert runs == failures + 1 or room.failure_share_at_most(failures, runs - 1) > share
    assert binomial_cdf(failures, runs, share) <= 0.05 + 1e-12


def test_hours_needed_is_the_inverse():
    for failures in (0, 2):
        hours = room.exposure_needed(0.01, failures=failures)
        assert room.failure_rate_at_most(failures, hours) == pytest.approx(0.01)


# ------------------------------------------------------------------ correlation through shared instruments


def test_gain_cancels_in_a_ratio_and_not_in_watts_saved():
    """JCGM 100:2008, F.1.2.3: an error common to both values."""
    tuned, stock = 257.3, 301.9
    of_tuned = {"gain": room.gain_error(tuned, 0.05), "runs tuned": 1.0}
    of_stock = {"gain": room.gain_error(stock, 0.05), "runs stock": 1.2}
    ratio = propagation.ratio(tuned, of_tuned, stock, of_stock)
    assert ratio.contributions["gain"] == 0.0
    assert propagation.percent_change(tuned, of_tuned, stock, of_stock).contributions["gain"] == 0.0
    saved = propagation.difference(stock, of_stock, tuned, of_tuned)
    assert saved.contributions["gain"] == pytest.approx((stock - tuned) * 0.05 / math.sqrt(3))
    # an offset does not cancel in a ratio
    with_offset = propagation.ratio(tuned, {"offset": 1.0}, stock, {"offset": 1.0})
    assert with_offset.contributions["offset"] == pytest.approx((1 - tuned / stock) / stock)


def test_score_per_watt_ratio_keeps_only_what_does_not_cancel():
    score = {"runs": 20.0}
    per_watt = [
        propagation.ratio(s, score | {}, w, {"gain": 0.02 * w, name: 1.0})
        for s, w, name in ((10_000.0, 250.0, "power tuned"), (10_100.0, 300.0, "power stock"))
    ]
    both = propagation.ratio(per_watt[0].value, per_watt[0].contributions, per_watt[1].value, per_watt[1].contributions)
    assert both.contributions["gain"] == pytest.approx(0.0, abs=1e-15)
    assert both.contributions["power tuned"] == pytest.approx(-both.value / 250.0)


def test_covariance_of_shared_names_gives_the_same_variance():
    a, b = {"gain": 3.0, "runs a": 1.0}, {"gain": 2.0, "runs b": 1.5}
    found = propagation.difference(0.0, a, 0.0, b)
    variance = room.combine_named(found.contributions).standard_uncertainty ** 2
    expected = 9 + 1 + 4 + 2.25 - 2 * propagation.shared_covariance(a, b)
    assert variance == pytest.approx(expected)


# ------------------------------------------------------------------ ratio and equivalence


def test_fieller_set_is_the_inversion_of_the_test():
    """Fieller 1954: a ratio is in the set exactly when a - theta b does not differ from zero."""
    for mean_b in (10.0, 2.0, 1.0, 0.2):
        found = room.fieller_ratio(3.0, 1.0, 9, mean_b, 0.8, 9, degrees_of_freedom=9)
        k = room.coverage_factor(0.95, 9)
        for theta in np.linspace(-60, 60, 4001):
            accepted = abs(3.0 - theta * mean_b) <= k * math.hypot(1.0, theta * 0.8)
            if found.shape is RatioShape.WHOLE_LINE:
                inside = True
            elif found.shape is RatioShape.BOUNDED:
                inside = found.low <= theta <= found.high
            else:
                inside = theta <= found.low or theta >= found.high
            assert inside == accepted, (mean_b, theta)


@pytest.mark.parametrize(
    ("difference", "decision"),
    [(0.0, Decision.SHOWN), (0.9, Decision.NOT_SETTLED), (-0.9, Decision.NOT_SETTLED), (1.6, Decision.REFUTED)],
)
def test_equivalence_decides_three_ways(difference, decision):
    assert room.equivalence(difference, 0.2, 10, -1.0, 1.0).decision is decision


@pytest.mark.parametrize("difference", [0.0, 0.4, -0.7, 1.5])
@pytest.mark.parametrize("floor", [0.0, 0.1])
@pytest.mark.parametrize("deviation", [1.0, 0.2, 0.0])
def test_runs_to_settle_is_the_smallest_that_does(difference, floor, deviation):
    """By the test the site decides with."""
    runs = room.runs_to_settle_equivalence(difference, deviation, 2.0, -1.0, 1.0, floor=floor)

    def settled(n):
        parts = [deviation / math.sqrt(n), 2 / math.sqrt(n), floor]
        found = room.equivalence_by_parts(difference, parts, [n - 1, n - 1, math.inf], -1.0, 1.0)
        return found.decision is not Decision.NOT_SETTLED

    assert settled(runs)
    assert runs == 2 or not settled(runs - 1)


@pytest.mark.parametrize("floor", [0.0, 0.2])
@pytest.mark.parametrize("deviations", [(1.0, 1.0), (0.3, 2.0)])
def test_runs_to_show_a_difference_are_the_fewest_that_do(deviations, floor):
    runs = room.runs_to_show_difference(0.8, *deviations, floor=floor)

    def shown(n):
        pieces = room.pieces_of([*(s / math.sqrt(n) for s in deviations), floor], [n - 1, n - 1, math.inf])
        return room.half_width(pieces) <= 0.8

    assert shown(runs) and not shown(runs - 1)


@pytest.mark.parametrize("freedoms", [(2, 2), (2, 9), (4, 7), (1, 30)])
def test_equivalence_by_parts_agrees_with_itself(freedoms):
    """Shown, refuted, p values and printed interval tell the same."""
    for difference in np.linspace(-1.5, 1.5, 61):
        found = room.equivalence_by_parts(difference, [0.1, 0.05], freedoms, -1.0, 1.0)
        inside = found.low > -1.0 and found.high < 1.0
        assert (found.decision is Decision.SHOWN) == inside == (found.p < 0.05)
        apart = room.difference_by_parts(difference, 0.1, freedoms[0], 0.0, 0.05, freedoms[1])
        assert (found.decision is Decision.REFUTED) == (apart.low > 1.0 or apart.high < -1.0)
        assert (apart.p_two_sided < 0.05) == (apart.low > 0 or apart.high < 0)


def test_fieller_by_parts_inverts_the_test_by_parts():
    """Where every source has its own t: the edges of the set are where the difference just excludes zero."""
    for mean_b, shared in ((10.0, 0.0), (4.0, 0.3), (2.5, -0.3)):
        parts_a, parts_b, freedoms = [0.4, 0.0, shared], [0.0, 0.3, 0.2], [1, 4, math.inf]
        found = room.fieller_by_parts(3.0, parts_a, mean_b, parts_b, freedoms)
        for theta in (found.low, found.high):
            parts = [a - theta * b for a, b in zip(parts_a, parts_b, strict=True)]
            assert room.half_width(room.pieces_of(parts, freedoms)) == pytest.approx(
                abs(3.0 - theta * mean_b), rel=1e-9
            )


def test_a_difference_on_the_margin_is_not_planned_for():
    with pytest.raises(NotDetermined, match="lies on the margin"):
        room.runs_to_settle_equivalence(1.0, 1.0, 1.0, -1.0, 1.0)


# ------------------------------------------------------------------ sweeps

LIMITS, SCORES = [50.0, 60.0, 70.0, 80.0, 90.0, 100.0], [70.0, 80.0, 88.0, 94.0, 98.0, 100.0]


def test_matching_setting_brackets_and_narrows():
    wide = room.matching_setting(LIMITS, SCORES, [1.0] * 6, [4] * 6, 94.0, 1.0, 4)
    tight = room.matching_setting(LIMITS, SCORES, [0.1] * 6, [4] * 6, 94.0, 0.1, 4)
    assert wide.reach is Reach.INSIDE and wide.setting == pytest.approx(80.0)
    assert wide.low < tight.low < 80.0 < tight.high < wide.high


def test_matching_setting_never_leaves_the_range():
    above = room.matching_setting(LIMITS, SCORES, [1.0] * 6, [4] * 6, 150.0)
    assert (above.reach, above.setting, above.low, above.high) == (Reach.ABOVE_RANGE, None, None, None)
    below = room.matching_setting(LIMITS, SCORES, [1.0] * 6, [4] * 6, 20.0)
    assert (below.reach, below.setting) == (Reach.BELOW_RANGE, None)
    at_top = room.matching_setting(LIMITS, SCORES, [1.0] * 6, [4] * 6, 100.5)
    assert at_top.reach is Reach.ABOVE_RANGE and at_top.high == 100.0 and at_top.high_open


def test_margin_moves_the_match_down_and_order_does_not_matter():
    plain = room.matching_setting(LIMITS, SCORES, [1.0] * 6, [4] * 6, 94.0)
    lenient = room.matching_setting(LIMITS, SCORES, [1.0] * 6, [4] * 6, 94.0, margin=2.0)
    assert lenient.setting < plain.setting
    backwards = room.matching_setting(LIMITS[::-1], SCORES[::-1], [1.0] * 6, [4] * 6, 94.0)
    assert backwards == plain


def test_limits_of_the_match_are_where_the_test_turns():
    """Inverse prediction: at each limit the difference has just the critical size."""
    found = room.matching_setting(LIMITS, SCORES, [0.5] * 6, [4] * 6, 91.0, 0.7, 6)
    for limit in (found.low, found.high):
        value = room.value_at_setting(LIMITS, SCORES, [0.5] * 6, [4] * 6, limit).value
        contributions = [0.5 * share for share in room.sensitivities(room.monotone_curve(LIMITS, SCORES), [limit])[0]]
        pieces = room.pieces_of([*contributions, 0.7], [4] * 6 + [6])
        assert room.half_width(pieces) == pytest.approx(abs(value - 91.0), rel=1e-4)


def test_baseline_in_the_sweep_shares_its_error():
    """The baseline is the highest setting run: there the difference is exactly zero."""
    shared = room.matching_setting(LIMITS, SCORES, [1.0] * 6, [4] * 6, 100.0, target_index=5)
    apart = room.matching_setting(LIMITS, SCORES, [1.0] * 6, [4] * 6, 100.0, 1.0, 4)
    assert shared.setting == pytest.approx(100.0) and shared.high == 100.0
    # a few watts below, where the baseline's own reading no longer enters the curve, nothing is shared
    assert shared.low == pytest.approx(apart.low, abs=1.0)


def test_value_beyond_the_range_is_refused():
    with pytest.raises(NotDetermined, match="outside the range"):
        room.value_at_setting(LIMITS, SCORES, [1.0] * 6, [4] * 6, 49.9)


def test_contradicting_neighbours_are_pooled():
    curve = room.monotone_curve(LIMITS, [70.0, 80.0, 79.0, 94.0, 98.0, 100.0])
    dense = curve.many(np.linspace(50, 100, 2001))
    assert (np.diff(dense) >= -1e-12).all()
    assert curve.at(60.0) == curve.at(70.0) == pytest.approx(79.5)


def test_trade_front_and_its_chances():
    costs, gains = [100.0, 120.0, 119.0, 200.0], [50.0, 60.0, 60.05, 59.0]
    front = room.trade_front_chance(costs, [1.0] * 4, gains, [0.5] * 4, [4] * 4)
    assert front.members == (0, 2)
    assert front.chance[0] == pytest.approx(1.0, abs=0.01) and front.chance[3] < 0.2
    assert 0.2 < front.chance[1] < 0.8
    assert front == room.trade_front_chance(costs, [1.0] * 4, gains, [0.5] * 4, [4] * 4)


def test_trade_front_chance_against_simulation():
    """Plain Monte-Carlo with normal errors (fixed seed), 200 000 draws."""
    costs, gains = np.array([100.0, 104.0, 103.0]), np.array([50.0, 51.0, 51.2])
    draw = np.random.default_rng(1)
    x = costs + 2 * draw.standard_normal((200_000, 3))
    y = gains + 0.5 * draw.standard_normal((200_000, 3))
    beaten = np.zeros(x.shape, bool)
    for other in range(3):
        beaten |= (x[:, [other]] < x) & (y[:, [other]] > y)
    found = room.trade_front_chance(costs, [2.0] * 3, gains, [0.5] * 3, [math.inf] * 3)
    assert found.chance == pytest.approx(1 - beaten.mean(axis=0), abs=0.01)


# ------------------------------------------------------------------ physics


def test_slower_fan_is_quieter_by_the_fan_law():
    """50 log10 of the speed ratio, fan sound law of the ASHRAE and AMCA literature."""
    assert physics.fan_sound_change_db(0.5) == pytest.approx(-15.05, abs=0.005)
    with pytest.raises(NotDetermined):
        physics.fan_sound_change_db(0.0)


def test_unknown_connector_is_named():
    with pytest.raises(NotDetermined, match="known are slot, 6-pin"):
        physics.rated_supply_w(["7-pin"])


def test_contact_current_stays_below_its_rating():
    """16 contacts, 600 W, 9.2 A a contact (PCI Express CEM; the rating from memory)."""
    assert physics.current_per_contact_a("16-pin", 600.0) < physics.CONTACT_LIMIT_A
    assert physics.current_per_contact_a("16-pin", 700.0) > physics.CONTACT_LIMIT_A
