"""Sensor logs in chunks, warm-up and steps, drift: known answers and properties."""

import math
import tracemalloc
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchgalley import metrology as room
from benchgalley.metrology import NotDetermined


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.integers(2, 60), st.lists(st.integers(0, 60), max_size=5), st.integers(0, 1000))
def test_chunks_do_not_matter(count, cuts, seed):
    draw = np.random.default_rng(seed)
    times = np.cumsum(draw.uniform(0.001, 2, count))
    values = 1e6 + draw.normal(size=count).round(1)
    whole = room.RunningLog()
    whole.update(times, values)
    parts = room.RunningLog()
    edges = sorted({0, count, *(cut for cut in cuts if cut < count)})
    for start, end in pairwise(edges):
        parts.update(times[start:end], values[start:end])
    one, many = whole.result(), parts.result()
    assert (many.count, many.smallest, many.largest) == (one.count, one.smallest, one.largest)
    assert (many.longest_gap_s, many.repeated_share) == (one.longest_gap_s, one.repeated_share)
    assert many.integral == pytest.approx(one.integral, rel=1e-13)
    assert many.mean == pytest.approx(one.mean, rel=1e-14)
    assert many.standard_deviation == pytest.approx(one.standard_deviation, rel=1e-8)


def test_merge_of_two_workers():
    times, values = np.arange(100.0), np.sin(np.arange(100.0))
    first, second, whole = room.RunningLog(), room.RunningLog(), room.RunningLog()
    first.update(times[:37], values[:37])
    second.update(times[37:], values[37:])
    whole.update(times, values)
    first.merge(second)
    assert first.result().integral == pytest.approx(whole.result().integral, rel=1e-13)
    with pytest.raises(NotDetermined, match="backwards"):
        second.merge(whole)


def test_two_million_readings_in_constant_memory():
    """A log in ten parts holds no more memory at the last part than it held at the first."""
    log, chunk, peaks = room.RunningLog(), 200_000, []
    tracemalloc.start()
    try:
        for part in range(10):
            t = part * 20.0 + np.arange(chunk) * 1e-4
            values = 200.0 + np.sin(t)
            tracemalloc.reset_peak()
            log.update(t, values)
            peaks.append(tracemalloc.get_traced_memory()[1])
    finally:
        tracemalloc.stop()
    assert peaks[0] > 2 * t.nbytes  # what is taken by arrays is counted
    assert peaks[-1] < peaks[0] + t.nbytes / 10
    found = log.result()
    assert found.count == 2_000_000
    # integral of 200 + sin t from 0 to T
    span = found.duration_s
    assert found.integral == pytest.approx(200 * span + 1 - math.cos(span), rel=1e-9)


def test_window_between_readings():
    """A straight line: the trapezoid is exact in every window."""
    times = np.array([0.0, 0.7, 2.0, 2.1, 5.0])
    for start, end in ((0.0, 5.0), (0.1, 0.2), (0.5, 2.05), (2.0, 2.1)):
        expected = 3 * (end - start) + (end**2 - start**2)
        assert room.window_integral(times, 3 + 2 * times, start, end) == pytest.approx(expected, rel=1e-12)
    with pytest.raises(NotDetermined, match="beyond the log"):
        room.window_mean(times, times, -1.0, 2.0)


def test_effective_readings_of_a_known_process():
    """First-order autoregression: n (1 - a) / (1 + a) independent readings (Geyer 1992, section 2)."""
    draw, a, n = np.random.default_rng(3), 0.8, 200_000
    noise = draw.standard_normal(n)
    values = np.empty(n)
    values[0] = noise[0]
    for i in range(1, n):
        values[i] = a * values[i - 1] + noise[i]
    found = room.effective_readings(values)
    assert found.effective_count == pytest.approx(n * (1 - a) / (1 + a), rel=0.05)
    assert room.effective_readings(noise[:5000]).effective_count > 4000


def test_duplicated_readings_do_not_add_evidence():
    draw = np.random.default_rng(4).standard_normal(500)
    single, fourfold = room.effective_readings(draw), room.effective_readings(np.repeat(draw, 4))
    assert fourfold.effective_count == pytest.approx(single.effective_count, rel=0.2)


@pytest.mark.parametrize("step", [0.5, 1.0, 0.1, 25.0, 1 / 3])
def test_step_of_a_sensor(step):
    values = np.round(np.random.default_rng(5).uniform(100, 200, 60) / step) * step
    assert room.quantisation_step(values).step == pytest.approx(step, rel=1e-5)


def test_no_step_in_fine_readings():
    with pytest.raises(NotDetermined):
        room.quantisation_step(np.random.default_rng(6).uniform(100, 200, 60))


def test_stale_readings():
    assert room.repeated_share(np.repeat(np.arange(100.0), 5)) == pytest.approx(400 / 499)
    assert room.longest_repeat(np.repeat(np.arange(10.0), 5)) == 5


def test_change_point_finds_a_throttling_step():
    values = np.concatenate([np.full(40, 250.0), np.full(60, 230.0)]) + 0.5 * np.sin(np.arange(100) * 7)
    found = room.change_point(values)
    assert found.index == 40 and found.p < 1e-6
    quiet = room.change_point(np.random.default_rng(7).standard_normal(100))
    assert quiet.p > 0.01


def test_drift_known_slope():
    """Baselines before and after on an exact drift with alternating spread."""
    positions = [1.0, 2.0, 3.0, 18.0, 19.0, 20.0]
    values = [100 + 0.1 * p + (-1) ** i * 0.2 for i, p in enumerate(positions)]
    found = room.fit_drift(positions, values)
    assert found.low < 0.1 < found.high
    shift, error = room.drift_correction(found, 10.0, reference=3.0)
    assert shift == pytest.approx(7 * found.slope) and error == pytest.approx(7 * found.standard_error)
    middle = room.baseline_at(found, found.mean_position)
    assert middle.value == pytest.approx(room.mean(values))
    with pytest.raises(NotDetermined, match="between the first and the last"):
        room.baseline_at(found, 21.0)


def test_order_is_confounded():
    assert room.rank_correlation([100, 90, 80, 70], [1, 2, 3, 4]) == -1.0
    assert abs(room.rank_correlation([100, 80, 90, 70, 100, 80], [1, 2, 3, 4, 5, 6])) < 0.5


# thresholds of this project: gap over half the range, two values a side, eight runs
@pytest.mark.parametrize(
    ("values", "split"),
    [
        ([1.0, 1.1, 1.2, 1.3, 2.9, 3.0, 3.1, 3.2], True),
        ([1.0, 1.1, 1.2, 1.3, 2.9, 3.0, 3.1], False),
        ([1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 3.2], False),
        ([1.0, 1.5, 1.6, 2.0, 3.0, 3.1, 3.2, 3.3], False),
    ],
)
def test_two_groups(values, split):
    assert (room.two_groups(values) is not None) == split
