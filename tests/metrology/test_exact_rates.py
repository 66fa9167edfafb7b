"""Confidence of intervals and size of equivalence tests at every ratio of variances, integrated.

Proof of the side they err on: `benchgalley.metrology.by_parts.half_width`; here the same as numbers, down to 1e-4.
"""

import math
from functools import partial

import numpy as np
import pytest
from scipy import special, stats

from benchgalley.metrology.by_parts import alike, half_width, half_widths, one_sided, pieces_of, tail_by_parts

from .exact_rates import miss, worst_miss

FEW = (1, 2, 3, 4, 9)
ALL = (1, 2, 3, 4, 5, 6, 7, 8, 9, 12, 14, 19, 24, 29, 39, 49)
ROUNDING = 1e-4
"""of the quadrature: rounding degrees of freedom down makes steps"""


def pairs(freedoms):
    return [(a, b) for a in freedoms for b in (*freedoms, math.inf) if a <= b]


def interval_95(parts, freedoms):
    return half_widths(parts, freedoms, 0.95)


def interval_90(parts, freedoms):
    return half_widths(parts, freedoms, 0.90)


def welch(parts, freedoms, confidence=0.95):
    """Welch's own interval, unrounded: what the site does not use."""
    squares = parts**2
    nu = squares.sum(axis=1) ** 2 / (squares**2 / freedoms).sum(axis=1)
    return special.stdtrit(nu, (1 + confidence) / 2) * np.sqrt(squares.sum(axis=1))


def check(nu_a, nu_b, count):
    interval = worst_miss(interval_95, nu_a, nu_b, count)
    # 95 % to within 0.6 points where degrees of freedom are averaged, at least 95 % where they are not
    assert interval <= (0.056 if alike(nu_a, nu_b) else 0.05 + ROUNDING), f"95 % interval misses {interval:.4%}"
    size = worst_miss(interval_90, nu_a, nu_b, count) / 2
    assert size <= 0.05 + ROUNDING, f"equivalence at the margin is shown in {size:.4%}"


@pytest.mark.parametrize(("nu_a", "nu_b"), pairs(FEW))
def test_intervals_and_equivalence(nu_a, nu_b):
    check(nu_a, nu_b, 16)


@pytest.mark.slow
@pytest.mark.parametrize(("nu_a", "nu_b"), pairs(ALL))
def test_intervals_and_equivalence_fully(nu_a, nu_b):
    check(nu_a, nu_b, 60)


def test_published_welch_alone_would_fall_short():
    """The check can fail: three runs beside ten, two runs beside many, equivalence with three runs a side."""
    assert worst_miss(welch, 2, 9, 24) > 0.07
    assert worst_miss(welch, 1, 29, 24) > 0.12
    assert worst_miss(partial(welch, confidence=0.9), 2, 2, 24) / 2 > 0.053


@pytest.mark.parametrize(("nu_a", "nu_b", "share"), [(2, 2, 0.9), (2, 9, 0.95), (4, 8, 0.5), (1, math.inf, 0.3)])
def test_integral_agrees_with_simulation(nu_a, nu_b, share):
    """200 000 sessions: three standard errors of the simulation."""
    draw, sessions = np.random.default_rng(17), 200_000
    chi = [draw.chisquare(nu, sessions) / nu if nu < math.inf else np.ones(sessions) for nu in (nu_a, nu_b)]
    parts = np.sqrt(np.column_stack([share * chi[0], (1 - share) * chi[1]]))
    found = np.mean(np.abs(draw.standard_normal(sessions)) > interval_95(parts, np.array([nu_a, nu_b])))
    known = miss(interval_95, nu_a, nu_b, share)
    assert abs(found - known) < 3 * math.sqrt(known * (1 - known) / sessions)


def test_unlike_parts_are_never_short_by_the_proof():
    """Three and four unlike parts, where no integral is at hand: 100 000 sessions each, four standard errors."""
    draw, sessions = np.random.default_rng(18), 100_000
    for freedoms in ((1, 3, 9), (2, 5, math.inf), (1, 4, 12, math.inf)):
        for _ in range(6):
            shares = draw.dirichlet(np.full(len(freedoms), 0.7))
            chi = [draw.chisquare(nu, sessions) / nu if nu < math.inf else np.ones(sessions) for nu in freedoms]
            parts = np.sqrt(np.column_stack([s * c for s, c in zip(shares, chi, strict=True)]))
            missed = np.mean(np.abs(draw.standard_normal(sessions)) > interval_95(parts, np.array(freedoms)))
            assert missed <= 0.05 + 4 * math.sqrt(0.05 * 0.95 / sessions)


@pytest.mark.parametrize("seed", range(100))
def test_rows_at_once_and_one_at_a_time_are_the_same(seed):
    draw = np.random.default_rng(seed)
    rows, columns = 20, int(draw.integers(1, 7))
    parts = draw.standard_normal((rows, columns)) * 10 ** draw.uniform(-3, 3, (rows, columns))
    parts[draw.random((rows, columns)) < 0.2] = 0
    freedoms = draw.choice([1, 2, 2.5, 3, 4, 5, 7, 9, 30, np.inf], size=(rows, columns))
    freedoms[parts == 0] = 0
    confidence = draw.choice([0.9, 0.95, 0.99])
    found = half_widths(parts, freedoms, confidence)
    for row in range(rows):
        if not parts[row].any():
            assert found[row] == 0
            continue
        pieces = pieces_of(parts[row].tolist(), freedoms[row].tolist())
        assert found[row] == pytest.approx(half_width(pieces, confidence), rel=1e-12)
        p = draw.uniform(1e-6, 0.49)
        assert tail_by_parts(one_sided(pieces, 1 - p), pieces) == pytest.approx(p, rel=1e-9)


@pytest.mark.parametrize("seed", range(100))
def test_half_width_by_another_library(seed):
    """Two sides by scipy.stats: Welch's degrees of freedom rounded down, or each side's own t."""
    draw = np.random.default_rng(10_000 + seed)
    size = 10 ** draw.uniform(-6, 9)
    a = size * (1 + 0.1 * draw.standard_normal(draw.integers(2, 51)))
    b = size * (1 + 10 ** draw.uniform(-2, 0) * draw.standard_normal(draw.integers(2, 51)))
    nu_a, nu_b = len(a) - 1, len(b) - 1
    found = half_width(pieces_of([stats.sem(a), stats.sem(b)], [nu_a, nu_b]))
    if nu_a == nu_b or (min(nu_a, nu_b) >= 2 and max(nu_a, nu_b) <= 2 * min(nu_a, nu_b)):
        nu = math.floor(stats.ttest_ind(a, b, equal_var=False).df)
        known = stats.t.ppf(0.975, nu) * math.hypot(stats.sem(a), stats.sem(b))
    else:
        known = math.hypot(stats.t.ppf(0.975, nu_a) * stats.sem(a), stats.t.ppf(0.975, nu_b) * stats.sem(b))
    assert found == pytest.approx(known, rel=1e-9)
