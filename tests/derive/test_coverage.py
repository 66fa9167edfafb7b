"""Do whole numbers keep their promise? Sessions with known truth: spread, drift, gain and offset of the meter."""

import math
import random

import pytest

from benchgalley.derive import evaluate

from .factory import Bencher, at, bench, instrument, site, write_up

STOCK_W, TUNED_W = 230.0, 193.0
TRUTH = {
    "tuned/board-power": TUNED_W,
    "tuned/board-power/saved": STOCK_W - TUNED_W,
    "tuned/board-power/of-baseline": 100 * TUNED_W / STOCK_W,
    "tuned/score-per-watt/ratio": (9900 / TUNED_W) / (10000 / STOCK_W),
    "tuned/score/change": -100.0,
}


def sessions(count: int, runs: int, drift_w: float, seed: int):
    """Coverage of each number over sessions whose meter is off within its limits and whose bench drifts."""
    chance = random.Random(seed)
    meter = bench(instrument("board_power_w", gain_error_pct=2.0, offset_error=1.0, resolution=0.1))
    held = dict.fromkeys(TRUTH, 0)
    for _ in range(count):
        gain, offset = 1 + chance.uniform(-0.02, 0.02), chance.uniform(-1.0, 1.0)
        slope = chance.uniform(-drift_w, drift_w)
        order = ["stock"] * 2 + ["tuned", "stock"] * (runs - 4) + ["tuned"] * 4 + ["stock"] * 2
        bencher = Bencher()
        for place, name in enumerate(order):
            true_w = (STOCK_W if name == "stock" else TUNED_W) + slope * place
            bencher.run(
                set={} if name == "stock" else {"power_limit_pct": 84.0}, decimals=1,
                board_power_w=round(gain * (true_w + chance.gauss(0, 0.6)) + offset, 1),
                score=(10000 if name == "stock" else 9900) + chance.gauss(0, 20 if name == "stock" else 30),
            )  # fmt: skip
        results = evaluate(site(write_up(bencher.trials, bench_=meter)))
        middle = slope * (len(order) - 1) / 2
        for address, truth in TRUTH.items():
            # a drifting bench has its own truth at each time; the mean of the session stands for it
            wanted = truth + middle if address == "tuned/board-power" else truth
            held[address] += results.find(at(address)).interval.contains(wanted)
    return {address: 100 * hits / count for address, hits in held.items()}


@pytest.mark.parametrize(("runs", "drift_w"), [(5, 0.0), (6, 0.02)])
def test_intervals_cover(runs, drift_w):
    count = 400
    found = sessions(count, runs, drift_w, seed=17)
    print({address: f"{share:.1f} %" for address, share in found.items()})
    # three standard errors of a share of 95 % over this many sessions; limits of a meter are on the safe side
    least = 95 - 3 * 100 * math.sqrt(0.95 * 0.05 / count)
    assert all(share >= least for share in found.values()), found


@pytest.mark.slow
@pytest.mark.parametrize("runs", [5, 10])
@pytest.mark.parametrize("drift_w", [0.0, 0.02, 0.1])
def test_intervals_cover_at_length(runs, drift_w):
    found = sessions(5000, runs, drift_w, seed=29)
    print(runs, drift_w, {address: f"{share:.1f} %" for address, share in found.items()})
    assert all(share >= 94.0 for share in found.values()), found
