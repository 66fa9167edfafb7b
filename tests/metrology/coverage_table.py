"""The rows of the coverage table, in order."""

import numpy as np

from benchgalley.metrology.comparison import pooled_difference, welch_difference

from .coverage import (
    EDGE_DRAWS,
    NUMBERS,
    Condition,
    of_blocks,
    of_difference,
    of_drift,
    of_edge,
    of_matching,
    of_mean,
    of_median,
    of_next_sample,
    of_ratio,
    of_several,
    of_shared_gain,
    of_tolerance,
)

UNLIKE = ((2, 3), (2, 10), (3, 5), (3, 6), (3, 10), (5, 10))
"""runs on each side, where they differ"""


def _means_and_differences():
    for n in NUMBERS:
        yield Condition(f"mean, n = {n}", 0.95, "near", of_mean(n))
    for n in NUMBERS:
        yield Condition(f"difference, equal spreads, n = {n}", 0.95, "least", of_difference(n, n, 2, 2))
        yield Condition(f"difference, spreads 1 : 3, n = {n}", 0.95, "least", of_difference(n, n, 1, 3))
        yield Condition(f"difference, spreads 1 : 10, n = {n}", 0.95, "least", of_difference(n, n, 1, 10))
        pooled = of_difference(n, n, 2, 2, pooled_difference)
        yield Condition(f"difference, pooled, equal spreads, n = {n}", 0.95, "near", pooled)
    for n, m in UNLIKE:
        for a, b in ((1, 1), (3, 1), (1, 3), (10, 1)):
            name = f"difference, spreads {a} : {b}, n = {n} and {m}"
            yield Condition(name, 0.95, "least", of_difference(n, m, a, b))
    for n in NUMBERS:
        yield Condition(f"ratio, spreads 1 % and 1 %, n = {n}", 0.95, "least", of_ratio(n, n, 0.01, 0.01))
        yield Condition(f"ratio, spreads 3 % and 10 %, n = {n}", 0.95, "least", of_ratio(n, n, 0.03, 0.10))
    for n, m in UNLIKE:
        yield Condition(f"ratio, spreads 3 % and 1 %, n = {n} and {m}", 0.95, "least", of_ratio(n, m, 0.03, 0.01))


def _drift_and_gain():
    for n in NUMBERS:
        name = f"difference under drift, baseline before and after, n = {n}"
        yield Condition(name, 0.95, "least", of_drift(n, True))
    for n in NUMBERS:
        yield Condition(f"difference under drift, run in pairs, n = {n}", 0.95, "near", of_blocks(n))
    for n in NUMBERS:
        yield Condition(f"ratio, shared gain error, n = {n}", 0.95, "least", of_shared_gain(n, n, "ratio"))
        yield Condition(f"watts saved, shared gain error, n = {n}", 0.95, "least", of_shared_gain(n, n, "saved"))
    for n, m in UNLIKE:
        name = f"watts saved, shared gain error, spreads 3 : 1, n = {n} and {m}"
        yield Condition(name, 0.95, "least", of_shared_gain(n, m, "saved", spread=3.0))


def _sweeps():
    for n in NUMBERS:
        yield Condition(f"matching setting between settings run, n = {n}", 0.95, "least", of_matching(n, 74.0))
        yield Condition(f"matching setting at a setting run, n = {n}", 0.95, "least", of_matching(n, 80.0))
    yield Condition("matching setting, spreads 1 : 3, n = 5", 0.95, "least", of_matching(5, 74.0, unequal=True))
    few = of_matching(3, 74.0, target_runs=10)
    yield Condition("matching setting, n = 3 and baseline of 10", 0.95, "least", few)


def _cards():
    for n in NUMBERS:
        yield Condition(f"bound for 90 % of cards, n = {n} cards", 0.95, "near", of_tolerance(n, 1))
        yield Condition(f"limits for 90 % of cards, n = {n} cards", 0.95, "near", of_tolerance(n, 2))
    for n in NUMBERS:
        yield Condition(f"mean of the next card, {n} cards", 0.95, "near", of_next_sample(n, False))
        yield Condition(f"single run on the next card, {n} cards", 0.95, "least", of_next_sample(n, True))


def _at_the_margin(name, *edge, **more):
    return Condition(f"equivalence at the margin, {name}", 0.05, "most", of_edge(*edge, **more), EDGE_DRAWS)


def _decisions():
    for n in NUMBERS:
        yield _at_the_margin(f"equal spreads, n = {n}", n, n, 1, 1)
        yield _at_the_margin(f"spreads 1 : 3, n = {n}", n, n, 1, 3)
        yield _at_the_margin(f"spreads 1 : 10, n = {n}", n, n, 1, 10)
        yield _at_the_margin(f"spreads 1 : 3, margin half as wide again as the larger, n = {n}", n, n, 1, 3, margin=4.5)
    for n, m in UNLIKE:
        for a, b in ((3, 1), (1, 3), (10, 1)):
            yield _at_the_margin(f"spreads {a} : {b}, n = {n} and {m}", n, m, a, b)
    for n in (3, 5, 10):
        yield Condition(f"three settings against one baseline (Dunnett), n = {n}", 0.95, "near", of_several(n))
    for n in (6, 9, 10):
        yield Condition(f"median of skewed runs, n = {n}", 0.95, "least", of_median(n))


def _for_contrast():
    welch = of_difference(3, 10, 3, 1, welch_difference)
    yield Condition("difference by Welch alone, spreads 3 : 1, n = 3 and 10", 0.95, "short", welch)
    welch = of_difference(2, 10, 3, 1, welch_difference)
    yield Condition("difference by Welch alone, spreads 3 : 1, n = 2 and 10", 0.95, "short", welch)
    effective = of_shared_gain(2, 2, "saved", by_parts=False)
    name = "watts saved, shared gain error, effective degrees of freedom unrounded (GUM G.4.1), n = 2"
    yield Condition(name, 0.95, "short", effective)
    name = "difference under drift, baseline before only and no correction, n = 5"
    yield Condition(name, 0.95, "short", of_drift(5, False))


TABLE = (
    *_means_and_differences(), *_drift_and_gain(), *_sweeps(), *_cards(), *_decisions(), *_for_contrast(),
)  # fmt: skip


def run(condition, sessions):
    place = TABLE.index(condition)
    return condition.share(np.random.default_rng(90_000 + place), sessions)
