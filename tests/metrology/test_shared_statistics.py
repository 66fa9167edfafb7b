"""Statistics shared by many figures give what the plain functions give from the runs themselves."""

import math
import random

import numpy as np
import pytest
from scipy import special

from benchgalley.metrology.choice import trade_front_chance
from benchgalley.metrology.column_statistics import ColumnStatistics, Places, deviation_of
from benchgalley.metrology.front_chance import front_chance
from benchgalley.metrology.repeatability import mean, standard_deviation
from benchgalley.metrology.sample import NotDetermined
from benchgalley.metrology.straight_line import fit_line
from benchgalley.metrology.variance_components import one_way
from benchgalley.metrology.variance_statistics import sample_variances

DRAW = random.Random(7)
COLUMNS = [
    [DRAW.gauss(level, spread) for _ in range(count)]
    for count in (2, 3, 8, 50)
    for level, spread in ((0.0, 1.0), (1e9, 1e-3), (1e15, 2.0), (1e200, 1e199), (1e-200, 1e-203), (-5.0, 1e-6))
]


@pytest.mark.parametrize("values", COLUMNS)
def test_mean_and_deviation_are_those_of_the_runs(values):
    found = ColumnStatistics(values)
    assert found.mean == mean(values)
    assert found.standard_deviation == pytest.approx(standard_deviation(values), rel=1e-12)
    if max(map(abs, values)) < 1e100:
        assert deviation_of(found.deviations, found.mean) == pytest.approx(standard_deviation(values), rel=1e-9)


@pytest.mark.parametrize(
    ("values", "deviation"),
    [
        # NIST StRD univariate: NumAcc1 (certified 1) and the pattern of NumAcc2 to 4 (certified 0.1)
        ([10000001.0, 10000003.0, 10000002.0], 1.0),
        ([1.2] + [1.1, 1.3] * 500, 0.1),
        ([1000000.2] + [1000000.1, 1000000.3] * 500, 0.1),
        ([10000000.2] + [10000000.1, 10000000.3] * 500, 0.1),
    ],
)
def test_certified_deviations(values, deviation):
    """NIST Statistical Reference Datasets, univariate summary statistics, certified values."""
    # 1000000.1 as a float is off by up to 6e-11 itself, hence the tolerance
    assert ColumnStatistics(values).standard_deviation == pytest.approx(deviation, rel=1e-8)


def test_one_run_has_no_deviation_and_none_no_mean():
    assert ColumnStatistics([3.0]).standard_deviation is None
    with pytest.raises(NotDetermined):
        ColumnStatistics([])
    with pytest.raises(NotDetermined):
        deviation_of([0.0], 1.0)


@pytest.mark.parametrize("count", [3, 10, 60])
def test_slope_is_that_of_the_straight_line(count):
    x = [DRAW.uniform(0, 100) for _ in range(count)]
    y = [230 + 0.01 * place + DRAW.gauss(0, 1) for place in x]
    column, line = ColumnStatistics(y), fit_line(x, y)
    slope, error = Places(x).slope(column.deviations, column.standard_deviation)
    assert slope == pytest.approx(line.slope, rel=1e-9)
    assert error == pytest.approx(line.slope_error, rel=1e-9)


def test_a_slope_needs_three_runs_at_different_times():
    for x in ([1.0, 2.0], [1.0, 1.0, 1.0]):
        column = ColumnStatistics([float(i) for i in range(len(x))])
        with pytest.raises(NotDetermined):
            Places(x).slope(column.deviations, column.standard_deviation)


def test_points_on_a_line_leave_no_error_to_speak_of():
    column = ColumnStatistics([1.0, 3.0, 5.0, 7.0])
    slope, error = Places([0.0, 1.0, 2.0, 3.0]).slope(column.deviations, column.standard_deviation)
    assert slope == pytest.approx(2.0) and error < 1e-7


@pytest.mark.parametrize("counts", [(3, 3), (2, 5, 4), (1, 1, 6), (10, 10, 10, 10)])
def test_variance_components_from_statistics(counts):
    groups = [[1e6 + DRAW.gauss(3 * i, 1.0) for _ in range(count)] for i, count in enumerate(counts)]
    samples = [(len(g), mean(g), sum((x - mean(g)) ** 2 for x in g)) for g in groups]
    found, whole = sample_variances(samples), one_way(groups)
    for field in ("ms_between", "ms_within", "runs_per_group", "repeatability", "between", "between_squared"):
        assert getattr(found, field) == pytest.approx(getattr(whole, field), rel=1e-7), field


@pytest.mark.parametrize("samples", [[(3, 1.0, 1.0)], [(1, 1.0, 0.0), (1, 2.0, 0.0)]])
def test_variance_components_need_two_samples_and_repeats(samples):
    with pytest.raises(NotDetermined):
        sample_variances(samples)


@pytest.mark.parametrize("seed", range(12))
def test_front_chance_against_simulation(seed):
    """Random draws with exact t scores (scipy.special) in place of the fixed points and the table: to 0.02."""
    draw, count, sessions = np.random.default_rng(seed), 2 + seed % 5, 40_000
    costs, gains = 100 + 5 * draw.random(count), 50 + 3 * draw.random(count)
    cost_errors, gain_errors = 2 * draw.random(count), draw.random(count)
    freedoms = draw.choice([1.0, 2.0, 9.0, 250.0, math.inf], count)
    rho = draw.uniform(-1, 1, count)
    first, second = draw.standard_normal((2, sessions, count))
    scores = [first, rho * first + np.sqrt(1 - rho**2) * second]
    known = np.isinf(freedoms)
    steady = np.where(known, 1.0, freedoms)
    scores = [np.where(known, z, special.stdtrit(steady, special.ndtr(z))) for z in scores]
    x, y = costs + cost_errors * scores[0], gains + gain_errors * scores[1]
    beaten = ((x[:, None, :] < x[:, :, None]) & (y[:, None, :] > y[:, :, None])).any(axis=2)
    found = front_chance(costs, cost_errors, gains, gain_errors, freedoms.tolist(), rho.tolist())
    assert found == pytest.approx(1 - beaten.mean(axis=0), abs=0.02)
    front = trade_front_chance(costs, cost_errors, gains, gain_errors, freedoms, correlations=rho)
    assert front.chance == found


@pytest.mark.parametrize(
    "arguments",
    [
        ([1.0], [1.0], [1.0], [-1.0], [3.0], [0.0]),
        ([1.0], [1.0], [1.0], [1.0], [0.0], [0.0]),
        ([1.0, 2.0], [1.0, 1.0], [1.0, 1.0], [1.0, 1.0], [3.0], [0.0]),
        ([1.0], [1e141], [1.0], [1.0], [3.0], [0.0]),
    ],
)
def test_front_chance_refuses_what_makes_no_sense(arguments):
    with pytest.raises(NotDetermined):
        front_chance(*arguments)
