"""Figures of a window at once against the functions that work out one of them, and against published values."""

import csv
import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from benchgalley import metrology
from benchgalley.metrology.window_figures import _halves, _pairs, window_figures

NIST = Path(__file__).parent / "reference" / "nist_strd"
ROOT = Path(__file__).parents[2]


def series(kind: str, count: int) -> np.ndarray:
    """Readings of a made-up sensor."""
    rng = np.random.default_rng(len(kind) * 1000 + count)
    noise = rng.normal(0, 1, count)
    along = np.arange(count)
    slow = np.zeros(count)
    for i in range(1, count):
        slow[i] = 0.97 * slow[i - 1] + noise[i]
    return {
        "noise, two decimals": np.round(150 + noise, 2),
        "slow, two decimals": np.round(150 + slow, 2),
        "very slow, one decimal": np.round(1400 + 40 * np.sin(along / count * 3), 1),
        "whole numbers": np.round(2300 + 5 * slow),
        "steps of a quarter": np.round(60 + slow * 2) / 4,
        "milliwatts as watts": np.round(150e3 + 1000 * noise) * 0.001,
        "Fahrenheit as Celsius": (np.round(150 + slow) - 32) / 1.8,
        "no common step": 0.01 * noise * np.pi,
        "alternating": 80.0 + along % 2,
        "two values": np.where(along % 50 < 25, 10.0, 12.5),
        "far apart": np.round(1e7 * noise, 3),
        "below zero": np.round(-40 + noise, 3),
        "equal": np.full(count, 54.3),
    }[kind]


KINDS = (
    "noise, two decimals", "slow, two decimals", "very slow, one decimal", "whole numbers", "steps of a quarter",
    "milliwatts as watts", "Fahrenheit as Celsius", "no common step", "alternating", "two values", "far apart",
    "below zero", "equal",
)  # fmt: skip


@pytest.mark.parametrize("count", [3, 4, 5, 40, 601, 4000, 20_011])
@pytest.mark.parametrize("kind", KINDS)
def test_every_figure_is_that_of_its_own_function(kind: str, count: int) -> None:
    value = series(kind, count)
    time = np.cumsum(np.random.default_rng(7).choice([0.1, 0.1, 0.1, 0.25], count))
    start, end = float(time[0]), float(time[-1])
    if count > 5:
        start, end = start + 0.37 * (end - start), end - 0.05
    found = window_figures(time, value, start, end)
    inside = (time >= start) & (time <= end)
    kept_time, kept = time[inside], value[inside]
    assert found.count == kept.size
    assert found.integral == pytest.approx(metrology.window_integral(time, value, start, end), rel=1e-12)
    assert found.mean == pytest.approx(metrology.window_mean(time, value, start, end), rel=1e-12)
    assert (found.smallest, found.largest) == (kept.min(), kept.max())
    assert found.percentile_95 == pytest.approx(float(np.quantile(kept, 0.95, method="linear")), rel=1e-13)
    assert found.repeated_share == metrology.repeated_share(kept)
    assert found.longest_gap_s == np.diff(kept_time).max()
    slope = np.polynomial.polynomial.polyfit(kept_time - kept_time.mean(), kept, 1)[1]
    assert found.slope_per_s == pytest.approx(slope, rel=1e-6, abs=1e-9 * abs(found.mean))
    try:
        effective = metrology.effective_readings(kept).effective_count
    except metrology.NotDetermined:
        effective = 1.0
    assert found.effective_count == pytest.approx(effective, rel=1e-9)
    try:
        step = metrology.quantisation_step(kept).step
    except metrology.NotDetermined:
        step = None
    assert found.step == (None if step is None else pytest.approx(step, rel=1e-5))


@pytest.mark.parametrize("name", ["Lew", "Lottery", "Mavro", "Michelso"])
def test_first_pair_of_lags_as_certified(name: str) -> None:
    """NIST Statistical Reference Datasets, univariate: the sum at lags 0 and 1 is one more than the certified r1."""
    case = next(c for c in json.loads((NIST / "univariate.json").read_text())["cases"] if c["id"] == name)
    rows = list(csv.reader((NIST / case["inputs"]["data_csv"]).read_text().splitlines()))[1:]
    away = np.array([float(row[-1]) for row in rows])
    away -= away.mean()
    first = _pairs(_halves(away), 0, 4)[0] / (away @ away)
    assert first == pytest.approx(1 + case["published"]["lag1_autocorrelation"], rel=1e-12)


def test_the_number_of_threads_of_the_library_changes_no_bit() -> None:
    """Beyond 10 000 readings a product of the linear algebra library depends on its threads; a figure must not."""
    script = (
        "import numpy as np; from benchgalley.metrology import window_figures as f;"
        "rng = np.random.default_rng(5); t = np.arange(60_000) * 0.1; v = np.round(150 + rng.normal(0, 1, 60_000), 2);"
        "s = np.round(150 + np.convolve(v, np.ones(40) / 40, 'same'), 3);"
        "print([float(x).hex() for w in (f(t, v, 1.0, 5990.0), f(t, s, 1.0, 5990.0))"
        " for x in (w.integral, w.effective_count, w.slope_per_s, w.percentile_95)])"
    )
    printed = {
        subprocess.run(
            [sys.executable, "-c", script],
            env={**os.environ, "PYTHONPATH": str(ROOT / "generator"), "OPENBLAS_NUM_THREADS": threads},
            check=True, capture_output=True, text=True,
        ).stdout
        for threads in ("1", "2")
    }  # fmt: skip
    assert len(printed) == 1 and printed.pop().count("0x") == 8


@pytest.mark.parametrize(
    ("time", "value", "start", "end", "reason"),
    [
        ([0, 1, 2, 3], [1, 2, 3, 4], 2, 2, "no length"),
        ([0, 1, 2, 3], [1, 2, 3, 4], -1, 2, "beyond"),
        ([0, 1, 2, 3], [1, 2, 3, 4], 0, 4, "beyond"),
        ([0, 1, 2, 3], [1, 2, 3, 4], 0.5, 2.5, "at least 3"),
        ([0, 1, 1, 3], [1, 2, 3, 4], 0, 3, "do not rise"),
        ([0, 1, 2, 3], [1, np.nan, 3, 4], 0, 3, "missing"),
        ([0, 1, 2, 3], [1, np.inf, 3, 4], 0, 3, "not finite"),
        ([0, 1, 2, 3], [1, 2, 3], 0, 3, "same length"),
        ([], [], 0, 3, "single list"),
    ],
)
def test_what_cannot_be_determined(
    time: list[float], value: list[float], start: float, end: float, reason: str
) -> None:
    with pytest.raises(metrology.NotDetermined, match=reason):
        window_figures(time, value, start, end)


@pytest.mark.parametrize("offset", [0.0, 100.0, -3.0])
@pytest.mark.parametrize("step", [1e-7, 1e-5, 1e-3, 0.5])
def test_readings_closer_than_any_grid_keep_their_percentile(offset: float, step: float) -> None:
    """Against numpy's percentile, which interpolates in the same way."""
    values = offset + step * np.random.default_rng(7).permutation(np.arange(1.0, 10.0))
    times = np.arange(values.size, dtype=float)
    found = window_figures(times, values, 0.0, float(times[-1])).percentile_95
    assert found == pytest.approx(float(np.percentile(values, 95)), abs=1e-3 * step)
