"""Trade front at setpoints."""

import pytest

from benchgalley.derive import evaluate

from .factory import Bencher, at, load, setpoint, site, write_up


def points(rows, wobble=(-1.0, 0.0, 1.0), **more):
    """(power limit, score, watts) a setpoint; the first is stock."""
    bencher = Bencher()
    made = []
    for i, (limit, score, watts) in enumerate(rows):
        made.append(setpoint("stock" if i == 0 else f"p{i}", power_limit_pct=limit))
        for step in wobble:
            bencher.run(set={"power_limit_pct": limit}, score=score + step, board_power_w=watts - step / 10)
    return evaluate(site(write_up(bencher.trials, setpoints=made, **more)))


def chance(results, name):
    return results.find(at(f"{name}/trade-front")).value


def test_members_and_beaten_ones_are_told_apart():
    results = points([(100.0, 1000.0, 230.0), (90.0, 980.0, 200.0), (80.0, 900.0, 205.0)])
    assert chance(results, "stock") == pytest.approx(100.0, abs=1.0)
    assert chance(results, "p1") == pytest.approx(100.0, abs=1.0)
    assert chance(results, "p2") == pytest.approx(0.0, abs=1.0)
    found = results.find(at("p2/trade-front"))
    assert found.estimate and found.printed.text == "0\u00a0%"
    assert results.find(at("p2/trade-front/saved")) is None


def test_a_close_call_is_a_chance():
    """Equal score, half a spread less power: neither certain nor excluded."""
    results = points([(100.0, 1000.0, 230.0), (90.0, 1000.0, 229.97)])
    assert 20.0 < chance(results, "stock") < 90.0
    assert chance(results, "p1") > chance(results, "stock")


def test_a_score_that_counts_down():
    results = points([(100.0, 60.0, 230.0), (90.0, 80.0, 240.0)], load_=load(higher_is_better=False, unit="s"))
    assert chance(results, "stock") == pytest.approx(100.0, abs=1.0)
    assert chance(results, "p1") == pytest.approx(0.0, abs=1.0)


def test_single_runs_and_absent_power_are_not_determined():
    results = points([(100.0, 1000.0, 230.0), (90.0, 980.0, 200.0)], wobble=(0.0,))
    found = results.find(at("p1/trade-front"))
    assert found.value is None and "one run" in found.reason
    bencher = Bencher()
    for value in (1.0, 2.0):
        bencher.run(score=value)
    results = evaluate(site(write_up(bencher.trials)))
    assert results.find(at("stock/trade-front")).value is None
    assert at("stock/trade-front") not in results.addresses("quiet")
