"""The model behind the demo: its physics against textbook relations, its draws against numpy's published vectors."""

import dataclasses
import itertools
import math
import statistics

import pytest

from tests.demo.bench_model import (
    Setting,
    failure_probability,
    settle,
    steady_state,
    voltage_mv,
)
from tests.demo.instruments import RISER_BENCH, sound_level_dba
from tests.demo.invented_cards import CARDS, GLASSHOUSE, SAMPLES, SCONCE
from tests.demo.noise import Noise

A = SAMPLES["fernhythe-sconce", "a"]
LOAD = GLASSHOUSE["fernhythe-sconce"]


def test_raw_draws_are_those_numpy_publishes() -> None:
    """Seed 0xdeadbeaf of PCG64: first values of numpy's own test set pcg64-testset-1.csv (numpy/random/tests)."""
    published = (0x60D24054E17A0698, 0xD5E79D89856E4F12, 0xD254972FE64BD782)
    noise = Noise(0xDEADBEAF)
    assert [noise.uniform() for _ in published] == [(raw >> 11) / 2**53 for raw in published]


def test_normal_draws_have_unit_spread() -> None:
    """Twelve uniforms have variance 12/12 = 1; 20 000 draws fix the standard deviation to about 0.5 %."""
    noise = Noise(5)
    draws = [noise.normal() for _ in range(20_000)]
    assert abs(statistics.fmean(draws)) < 0.03
    assert abs(statistics.stdev(draws) - 1.0) < 0.02


def test_shuffling_keeps_every_item() -> None:
    """Another order, the same items."""
    items = list(range(40))
    order = Noise(3).shuffled(items)
    assert order != items
    assert sorted(order) == items


@pytest.mark.parametrize(("key", "limit"), [(k, p) for k in CARDS for p in (60, 80, 100)])
def test_governor_keeps_the_limit(key: str, limit: float) -> None:
    """Board power never exceeds the limit, and reaches it unless the highest clock comes first."""
    card = CARDS[key]
    sample = next(s for (k, _), s in SAMPLES.items() if k == key)
    load = GLASSHOUSE.get(key, LOAD)
    state = steady_state(card, sample, load, Setting(power_limit_pct=limit), 22.0)
    limit_w = card.stock_board_power_w * limit / 100
    assert state.board_power_w <= limit_w + 1e-9
    assert state.clock_mhz == pytest.approx(card.f_max_mhz) or state.board_power_w == pytest.approx(limit_w, abs=0.01)


def test_dynamic_power_goes_with_voltage_squared() -> None:
    """C V^2 f (Weste and Harris, CMOS VLSI Design, 4th ed., 5.2): no leakage, no fixed part, voltage times 0.9."""
    bare = dataclasses.replace(
        SCONCE, leakage_w_per_v2=0.0, fixed_w=0.0, memory_w_per_ghz=0.0, slope_mv_per_mhz=0.0,
        curvature_mv_per_mhz2=0.0, v_floor_mv=0.0, v_ref_mv=1000.0,
    )  # fmt: skip
    full = settle(bare, A, LOAD, Setting(), 2000.0, 22.0)[0]
    less = settle(bare, A, LOAD, Setting(voltage_offset_mv=-100.0), 2000.0, 22.0)[0]
    slow = settle(bare, A, LOAD, Setting(voltage_offset_mv=-100.0), 1800.0, 22.0)[0]
    assert less / full == pytest.approx(0.81)
    assert slow / full == pytest.approx(0.729)


def test_thermal_balance_holds() -> None:
    """T = T_ambient + R P (definition of thermal resistance as in JEDEC JESD51) at the settled state."""
    state = steady_state(SCONCE, A, LOAD, Setting(), 22.0)
    resistance = SCONCE.resistance_k_per_w * (SCONCE.fan_ref_rpm / state.fan_rpm) ** 0.55
    assert state.core_temp_c == pytest.approx(22.0 + resistance * state.board_power_w, abs=1e-6)


def test_twice_the_fan_speed_is_fifteen_decibels() -> None:
    """Fan laws (ASHRAE, AMCA): 50 log10 of the speed ratio; 1000 to 2000 r/min gives 15.05 dB."""
    silent = dataclasses.replace(RISER_BENCH, sound_floor_dba=-200.0, sound_at_1000_rpm_dba=40.0)
    rise = sound_level_dba(silent, 2000.0) - sound_level_dba(silent, 1000.0)
    assert rise == pytest.approx(15.0515, abs=1e-4)


def test_score_saturates() -> None:
    """Each further step of power buys less score, as on every card with a steepening voltage curve."""
    scores = [steady_state(SCONCE, A, LOAD, Setting(power_limit_pct=p), 22.0).score for p in (60, 70, 80, 90, 100)]
    gains = [after - before for before, after in itertools.pairwise(scores)]
    assert all(gain > 0 for gain in gains)
    assert gains == sorted(gains, reverse=True)


def test_offset_moves_the_curve_by_itself() -> None:
    """An offset of -75 mV lowers the voltage at one clock by 75 mV."""
    plain = voltage_mv(SCONCE, A, Setting(), 2300.0)
    assert plain - voltage_mv(SCONCE, A, Setting(voltage_offset_mv=-75.0), 2300.0) == pytest.approx(75.0)


def test_failures_come_below_the_guard_band() -> None:
    """At the guard band half of the nominal runs fail, and longer runs fail more."""
    at_guard = Setting(voltage_offset_mv=-A.guard_mv)
    assert failure_probability(A, at_guard, 120.0) == pytest.approx(0.5, abs=1e-3)
    assert failure_probability(A, at_guard, 240.0) == pytest.approx(0.75, abs=1e-3)
    assert failure_probability(A, Setting(), 120.0) < 1e-4
    assert math.isclose(failure_probability(A, at_guard, 0.0), 0.0)
