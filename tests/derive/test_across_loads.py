"""Summaries across loads: geometric means of ratios, and what is refused."""

import math
from dataclasses import replace

import pytest
from scipy import stats

from benchgalley.derive import evaluate, glossary

from .factory import Bencher, at, load, site, write_up

TUNED = {"power_limit_pct": 84.0}
RATIOS = {"alpha": (200.0, 190.0), "beta": (50.0, 49.0), "gamma": (8.0, 7.2)}


def one(name, stock, tuned, higher=True, **more):
    bencher = Bencher()
    for wobble in (0.999, 1.0, 1.001):
        bencher.run(score=stock * wobble, board_power_w=230.0 * wobble)
        bencher.run(set=TUNED, score=tuned * wobble, board_power_w=193.0 * wobble)
    return write_up(bencher.trials, slug=f"on-{name}", load_=replace(load(higher), id=name, name=name), **more)


def three_loads():
    return site(*(one(name, *values) for name, values in RATIOS.items()))


def test_geometric_mean_of_ratios_with_interval():
    """Second opinion: scipy's gmean and the t interval of the logarithms."""
    found = evaluate(three_loads()).find(at("card:tuned/score-across-loads/ratio"))
    ratios = [tuned / stock for stock, tuned in RATIOS.values()]
    assert found.value == pytest.approx(stats.gmean(ratios))
    logs = [math.log(ratio) for ratio in ratios]
    low, high = stats.t.interval(0.95, 2, loc=sum(logs) / 3, scale=stats.sem(logs))
    assert (found.interval.low, found.interval.high) == pytest.approx((math.exp(low), math.exp(high)))
    assert "further loads" in found.reason and len(found.groups) == 6
    change = evaluate(three_loads()).find(at("card:tuned/score-across-loads/change-percent"))
    assert change.value == pytest.approx(100 * (found.value - 1))


def test_it_does_not_depend_on_the_base():
    """The ratio the other way round is the reciprocal, as it is not with arithmetic means."""
    forth = evaluate(three_loads()).find(at("card:tuned/score-across-loads/ratio")).value
    back = site(*(one(name, tuned, stock) for name, (stock, tuned) in RATIOS.items()))
    assert evaluate(back).find(at("card:tuned/score-across-loads/ratio")).value == pytest.approx(1 / forth)


@pytest.mark.parametrize(
    ("relation", "why"), [("/mean-of-ratios", "arithmetic mean of normalised scores"), ("", "no common unit")]
)
def test_other_averages_are_refused_with_the_reason(relation, why):
    found = evaluate(three_loads()).find(at(f"card:tuned/score-across-loads{relation}"))
    assert found.value is None and why in found.reason and "/ratio" in found.reason


def test_a_load_that_counts_downwards_is_turned_round_and_said():
    made = site(one("alpha", 200.0, 190.0), one("beta", 49.0, 50.0, higher=False))
    found = evaluate(made).find(at("card:tuned/score-across-loads/ratio"))
    assert found.value == pytest.approx(math.sqrt(0.95 * 0.98))
    assert "turned round" in found.reason


def test_one_load_is_nothing_to_average():
    results = evaluate(site(one("alpha", 200.0, 190.0)))
    found = results.find(at("card:tuned/score-across-loads/ratio"))
    assert found.value is None and "one load" in found.reason
    assert not [a for a in results.addresses("card") if "across-loads" in a.quantity]


def test_listed_where_there_are_two_loads_and_told_in_the_glossary():
    results = evaluate(three_loads())
    listed = [a.local() for a in results.addresses("card") if "across-loads" in a.quantity]
    assert listed == [
        "tuned/score-across-loads/ratio", "tuned/score-across-loads/change-percent",
        "tuned/score-per-watt-across-loads/ratio", "tuned/score-per-watt-across-loads/change-percent",
    ]  # fmt: skip
    assert "score-across-loads" in [quantity.key for quantity in glossary(three_loads())]


def test_unknown_addresses_across_loads():
    results = evaluate(three_loads())
    for address in ("tuned/board-power-across-loads/ratio", "nowhere/score-across-loads/ratio",
                    "tuned/score-across-loads/saved"):  # fmt: skip
        assert results.find(at(f"card:{address}")) is None
