"""The rows of the coverage table, in order."""

import numpy as np

from benchgalley.metrology.comparison import pooled_difference

from .coverage import (
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


def _means_and_differences():
    for n in NUMBERS:
        yield Condition(f"mean, n = {n}", 0.95, "near", of_mean(n))
    for n in NUMBERS:
        kind = "near" if n > 2 else "least"
        yield Condition(f"difference, equal spreads, n = {n}", 0.95, "least", of_difference(n, n, 2, 2))
        yield Condition(f"difference, spreads 1 : 3, n = {n}", 0.95, kind, of_difference(n, n, 1, 3))
        yield Condition(f"difference, spreads 1 : 10, n = {n}", 0.95, "near", of_difference(n, n, 1, 10))
        pooled = of_difference(n, n, 2, 2, pooled_difference)
        yield Condition(f"difference, pooled, equal spreads, n = {n}", 0.95, "near", pooled)
    yield Condition("difference, spreads 3 : 1, n = 3 and 10", 0.95, "short", of_difference(3, 10, 3, 1))
    yield Condition("difference, spreads 1 : 3, n = 3 and 10", 0.95, "near", of_difference(3, 10, 1, 3))
    for n in NUMBERS:
        yield Condition(f"ratio, spreads 1 % and 1 %, n = {n}", 0.95, "least", of_ratio(n, 0.01, 0.01))
        yield Condition(f"ratio, spreads 3 % and 10 %, n = {n}", 0.95, "least", of_ratio(n, 0.03, 0.10))


def _drift_and_gain():
    for n in NUMBERS:
        name = f"difference under drift, baseline before and after, n = {n}"
        yield Condition(name, 0.95, "least", of_drift(n, True))
    yield Condition("the same, baseline before only and no correction, n = 5", 0.95, "short", of_drift(5, False))
    for n in NUMBERS:
        yield Condition(f"difference under drift, run in pairs, n = {n}", 0.95, "near", of_blocks(n))
    for n in NUMBERS:
        yield Condition(f"ratio, shared gain error, n = {n}", 0.95, "least", of_shared_gain(n, "ratio"))
        yield Condition(f"watts saved, shared gain error, n = {n}", 0.95, "least", of_shared_gain(n, "saved"))
        effective = of_shared_gain(n, "saved", by_parts=False)
        name = f"the same by effective degrees of freedom (GUM G.4.1), n = {n}"
        yield Condition(name, 0.95, "short" if n == 2 else "least", effective)


def _sweeps():
    for n in NUMBERS:
        yield Condition(f"matching setting between settings run, n = {n}", 0.95, "least", of_matching(n, 74.0))
        yield Condition(f"matching setting at a setting run, n = {n}", 0.95, "least", of_matching(n, 80.0))
    yield Condition("matching setting, spreads 1 : 3, n = 5", 0.95, "least", of_matching(5, 74.0, unequal=True))


def _cards():
    for n in NUMBERS:
        yield Condition(f"bound for 90 % of cards, n = {n} cards", 0.95, "near", of_tolerance(n, 1))
        yield Condition(f"limits for 90 % of cards, n = {n} cards", 0.95, "near", of_tolerance(n, 2))
    for n in NUMBERS:
        yield Condition(f"mean of the next card, {n} cards", 0.95, "near", of_next_sample(n, False))
        yield Condition(f"single run on the next card, {n} cards", 0.95, "least", of_next_sample(n, True))


def _decisions():
    for n in NUMBERS:
        yield Condition(f"equivalence at the margin, equal spreads, n = {n}", 0.05, "most", of_edge(n, 0.5, 0.5))
        yield Condition(f"equivalence at the margin, spreads 1 : 3, n = {n}", 0.05, "most", of_edge(n, 0.3, 0.9))
    for n in (3, 5, 10):
        yield Condition(f"three settings against one baseline (Dunnett), n = {n}", 0.95, "near", of_several(n))
    for n in (6, 9, 10):
        yield Condition(f"median of skewed runs, n = {n}", 0.95, "least", of_median(n))


TABLE = (*_means_and_differences(), *_drift_and_gain(), *_sweeps(), *_cards(), *_decisions())


def run(condition, sessions):
    place = TABLE.index(condition)
    return condition.share(np.random.default_rng(90_000 + place), sessions)
