"""Formulas for many numbers at once, against those for one number and against a reference library."""

import math
import random

import numpy as np
import pytest
from scipy import stats

from benchgalley.metrology import cells
from benchgalley.metrology.by_parts import half_width, half_widths, pieces_of
from benchgalley.metrology.comparison_by_parts import fieller_by_parts
from benchgalley.metrology.ratio_of_means import RatioShape, fieller_ratio, fieller_set
from benchgalley.metrology.repeatability import mean, standard_deviation
from benchgalley.metrology.sample import NotDetermined
from benchgalley.metrology.uncertainty import combine
from benchgalley.metrology.variance_statistics import sample_variances


def test_t_factors_against_a_reference_library():
    chance = random.Random(20261125)
    freedoms = np.array([chance.uniform(1, 300) for _ in range(200)] + [math.inf])
    tails = np.array([chance.uniform(0.001, 0.4) for _ in freedoms])
    expected = [
        stats.norm.isf(p) if math.isinf(nu) else stats.t.isf(p, nu) for p, nu in zip(tails, freedoms, strict=True)
    ]
    assert cells.t_factors(tails, freedoms) == pytest.approx(expected, rel=1e-9)
    one_tail = [stats.norm.isf(0.025) if math.isinf(nu) else stats.t.isf(0.025, nu) for nu in freedoms]
    assert cells.t_factors(0.025, freedoms) == pytest.approx(one_tail, rel=1e-9)


def test_root_sums_of_the_worked_example():
    """JCGM 100:2008, H.1.6: end gauge, u_c = 32 nm with 16.7 degrees of freedom (contributions of table H.1)."""
    parts = np.array([[25.0], [9.7], [2.9], [16.6], [0.0]])
    u, nu = cells.root_sums(parts, np.array([[18.0], [25.6], [50.0], [2.0], [math.inf]]))
    assert round(float(u[0])) == 32 and float(nu[0]) == pytest.approx(16.7, abs=0.1)


@pytest.mark.parametrize("size", [1e-150, 1e-6, 1.0, 1e9, 1e150])
def test_root_sums_are_those_of_one_number(size):
    chance = random.Random(3)
    parts = np.array([[size * chance.gauss(0, 1) for _ in range(50)] for _ in range(6)])
    freedoms = [3.0, 7.0, 2.0, math.inf, math.inf, math.inf]
    u, nu = cells.root_sums(parts, np.array(freedoms)[:, None])
    for place in range(50):
        one = combine(parts[:, place].tolist(), freedoms)
        assert u[place] == pytest.approx(one.standard_uncertainty, rel=1e-13, abs=0)
        assert nu[place] == pytest.approx(one.degrees_of_freedom, rel=1e-12)


def drawn_sources(chance, size):
    """Contributions of three sources and their degrees of freedom; some are missing, some equal in freedom."""
    parts = [size * chance.choice((0.0, 1.0, 1.0)) * 10 ** chance.uniform(-3, 1) for _ in range(3)]
    freedoms = [float(chance.choice((1, 2, 3, 4, 5, 9, 9, 20, 41))) for _ in range(3)]
    return parts, freedoms


@pytest.mark.parametrize("size", [1e-150, 1e-6, 1.0, 1e9, 1e150])
def test_gathered_are_the_pieces_of_one_number(size):
    """Same pieces, and so the same half-widths, as the two functions of `by_parts`."""
    chance = random.Random(17)
    drawn = [drawn_sources(chance, size) for _ in range(400)]
    parts, freedoms = (np.array([row[k] for row in drawn]).T for k in (0, 1))
    found = cells.gathered(parts, freedoms)
    halves = cells.root_sum(cells.t_factors(0.025, found.freedoms) * parts)
    assert halves == pytest.approx(half_widths(parts.T, freedoms.T), rel=1e-12, abs=0)
    seen = set()
    for place, (own, nu) in enumerate(drawn):
        if not any(own):
            assert found.pieces[place] == 0 and halves[place] == 0
            continue
        pieces = pieces_of(own, nu)
        assert found.pieces[place] == len(pieces)
        assert halves[place] == pytest.approx(half_width(pieces), rel=1e-12, abs=0)
        for piece in pieces:
            for member in piece.members:
                assert found.freedoms[member, place] == piece.degrees_of_freedom
        seen.add(tuple(sorted(len(piece.members) for piece in pieces)))
    assert seen == {(1,), (2,), (3,), (1, 1), (1, 2), (1, 1, 1)}


def test_gathered_of_one_source_is_its_own_piece():
    found = cells.gathered(np.array([[2.0, 0.0]]), np.array([[4.0, 4.0]]))
    assert found.freedoms[0, 0] == 4.0 and found.pieces.tolist() == [1, 0]


def same_sets(found, expected):
    """Sets of many ratios are those of one ratio; None for a ratio that has none."""
    bounded = 0
    for place, one in enumerate(expected):
        assert (one is None) == (found.trouble[place] != 0)
        if one is not None:
            assert found.bounded[place] == (one.shape is RatioShape.BOUNDED)
            if found.bounded[place]:
                bounded += 1
                assert found.low[place] == pytest.approx(one.low, rel=1e-10)
                assert found.high[place] == pytest.approx(one.high, rel=1e-10)
    assert 50 < bounded < 390


def test_fieller_sets_are_those_of_one_ratio():
    """`fieller_ratio`, whose errors are widened by one factor of Student's t."""
    chance = random.Random(11)
    rows, expected = [], []
    for _ in range(400):
        size = 10 ** chance.uniform(-6, 9)
        a, b = size * chance.gauss(1, 2), size * chance.gauss(1, 2)
        error_a, error_b = (size * 10 ** chance.uniform(-4, 0.5) for _ in range(2))
        shared = chance.choice((0.0, 0.3 * error_a * error_b))
        nu = chance.uniform(1, 40)
        t = stats.t.isf(0.025, nu)
        rows.append((a, t * error_a, b, t * error_b, t * t * shared))
        try:
            found = fieller_ratio(a, error_a, 4, b, error_b, 4, 0.95, covariance=shared, degrees_of_freedom=nu)
            expected.append(found)
        except NotDetermined:
            expected.append(None)
    same_sets(cells.fieller_sets(*[np.array(column) for column in zip(*rows, strict=True)]), expected)


def test_fieller_sets_by_parts_are_those_of_one_ratio():
    """`fieller_by_parts`, from sources that bear on one side each and one that bears on both."""
    chance = random.Random(12)
    rows, expected = [], []
    for _ in range(400):
        size = 10 ** chance.uniform(-6, 9)
        a, b = size * chance.gauss(1, 2), size * chance.gauss(1, 2)
        parts_a = [size * 10 ** chance.uniform(-3, 0), 0.0, size * chance.choice((0.0, 0.1))]
        parts_b = [0.0, size * 10 ** chance.uniform(-3, 0), parts_a[2]]
        freedoms = [float(chance.choice((1, 2, 3, 5, 9, 20))) for _ in range(2)]
        sources = np.array([[(x - a / b * y) / b] for x, y in zip(parts_a[:2], parts_b[:2], strict=True)])
        gathered = cells.gathered(sources, np.array(freedoms)[:, None])
        t = [*cells.t_factors(0.025, gathered.freedoms)[:, 0], stats.norm.isf(0.025)]
        wide_a, wide_b = (np.array(t) * np.array(parts) for parts in (parts_a, parts_b))
        rows.append((a, math.hypot(*wide_a), b, math.hypot(*wide_b), float(wide_a @ wide_b)))
        try:
            expected.append(fieller_by_parts(a, parts_a, b, parts_b, [*freedoms, math.inf]))
        except NotDetermined:
            expected.append(None)
    same_sets(cells.fieller_sets(*[np.array(column) for column in zip(*rows, strict=True)]), expected)


def test_trouble_of_a_ratio_has_its_words():
    with pytest.raises(NotDetermined) as problem:
        fieller_set(1.0, 1e80, 1e-5, 1.0, 0.0, 1.0, 4.0, 0.95)
    found = cells.fieller_sets(*[np.array([v]) for v in (1.0, 1e80, 1e-5, 1.0, 0.0)])
    assert cells.TROUBLES[found.trouble[0]] == problem.value.reason


@pytest.mark.parametrize(
    "values", [[4.0, 7.0, 13.0, 16.0], [1e9 + 4, 1e9 + 7, 1e9 + 13], [1e200, 2e200, 4e200], [3e-310, 6e-310]]
)
def test_means_and_spreads_are_those_of_one_set(values):
    """The first rows are those of NIST StRD's NumAcc sets, shortened; a figure that is not present does not count."""
    padded = np.array([[*values, 123.0]])
    m, s = cells.means_and_spreads(padded, np.array([[True] * len(values) + [False]]))
    assert m[0] == pytest.approx(mean(values), rel=1e-15)
    assert s[0] == pytest.approx(standard_deviation(values), rel=1e-13)


def test_equal_figures_have_no_spread_at_all():
    _, s = cells.means_and_spreads(np.full((1, 3), 0.1), np.ones((1, 3), dtype=bool))
    assert s[0] == 0.0


def test_variances_are_those_of_one_set_of_samples():
    chance = random.Random(7)
    for _ in range(40):
        samples = [
            (chance.randint(2, 9), 100 + chance.gauss(0, 3), chance.uniform(0.1, 9))
            for _ in range(chance.randint(2, 6))
        ]
        one = sample_variances(samples)
        padded = np.array([[*samples, (0, 0.0, 0.0)]], dtype=float)
        found = cells.sample_variances_of(padded[:, :, 0], padded[:, :, 1], padded[:, :, 2])
        for name in found._fields:
            assert getattr(found, name)[0] == pytest.approx(getattr(one, name), rel=1e-11), name
