"""What the arrays hold is what the formulas for one number give, from the contributions of each side by name."""

import math
from collections import Counter

import pytest

from benchgalley.derive import evaluate
from benchgalley.derive.combining import PARTS_METHOD
from benchgalley.derive.pairs import adjustment, every_pair
from benchgalley.derive.session import Session
from benchgalley.metrology.by_parts import half_width, one_sided, pieces_of
from benchgalley.metrology.comparison_by_parts import fieller_by_parts
from benchgalley.metrology.ratio_of_means import RatioShape, fieller_ratio
from benchgalley.metrology.uncertainty import combine
from benchgalley.records.address import Address

from .test_table import SITES

CANCELLED = 8 * 2.220446049250313e-16
REPEATS = ("repeatability", "drift")


def pairs_of(made):
    """Every pair of a site that has its repeatability, with the finder of its numbers."""
    results = evaluate(made)
    alone, both, _ = every_pair([Session(write_up, made) for write_up in made.write_ups.values()])

    def number(pair, relation):
        slug = pair.session.write_up.slug
        return results.find(Address(scope=slug, subject=pair.setpoint, quantity=pair.quantity.key, relation=relation))

    return [pair for pair in alone if pair.repeated], [pair for pair in both if pair.repeated], number


def sides(pair, factor_at, factor_base):
    """Source → (kind, part of the setpoint, part of the baseline, degrees of freedom), cancelled ones left out."""
    at = {t.name: t for t in (*pair.at.terms, *([pair.drift.term()] if pair.drift is not None else ()))}
    base = {t.name: t for t in pair.base.terms}
    found = {}
    for name in {**at, **base}:
        term = at.get(name) or base[name]
        a, b = (side[name].contribution if name in side else 0.0 for side in (at, base))
        total = factor_at * a + factor_base * b
        if abs(total) > CANCELLED * max(abs(factor_at * a), abs(factor_base * b)):
            found[name] = (term.kind, a, b, term.degrees_of_freedom)
    return found


def half_of(parts, confidence):
    """Half-width, or None without a contribution."""
    kept = [(part, freedom) for part, freedom in parts if part]
    return half_width(pieces_of(*zip(*kept, strict=True)), confidence) if kept else None


def same_interval(interval, value, half):
    if half is None:
        assert interval is None
    else:
        assert (interval.high - interval.low) / 2 == pytest.approx(half, rel=1e-9, abs=1e-12 * abs(value))


COMMON = ("everything", "uneven", "less is better", "two runs each", "zero spread on one side", "ties")


@pytest.mark.parametrize("name", COMMON)
def test_means_and_bounds(name):
    alone, _, number = pairs_of(SITES[name]())
    methods = Counter()
    for pair in alone:
        parts = [(t.contribution, t.degrees_of_freedom) for t in pair.at.terms if t.contribution]
        found = number(pair, "")
        same_interval(found.interval, found.value, half_of(parts, 0.95))
        if not parts:
            continue
        whole = combine(*zip(*parts, strict=True))
        assert found.standard_uncertainty == pytest.approx(whole.standard_uncertainty, rel=1e-12)
        assert found.degrees_of_freedom == pytest.approx(whole.degrees_of_freedom, rel=1e-9)
        pieces = pieces_of(*zip(*parts, strict=True))
        for relation, sign in (("at-most", 1), ("at-least", -1)):
            bound = number(pair, relation)
            reach = sign * (bound.value - found.value)
            assert reach == pytest.approx(one_sided(pieces, 0.95), rel=1e-9, abs=1e-12 * abs(found.value))
            assert bound.interval.method == f"one-sided {found.interval.method}"
        assert (found.interval.method == PARTS_METHOD) == (len(pieces) > 1)
        methods[found.interval.method] += 1
    assert methods


@pytest.mark.parametrize("name", COMMON)
def test_differences(name):
    _, both, number = pairs_of(SITES[name]())
    seen = Counter()
    for pair in both:
        found = number(pair, "change")
        sources = sides(pair, 1.0, -1.0).values()
        parts = [(a - b, freedom) for _, a, b, freedom in sources]
        same_interval(found.interval, found.value, half_of(parts, 0.95))
        own = [(a - b, freedom) for kind, a, b, freedom in sources if kind in REPEATS]
        allowance = adjustment(pair)
        if allowance is None:
            half = half_of(own, 0.95)
            seen["plain"] += 1
        elif allowance.pooled_deviation is None:
            half = half_of(own, 1 - 0.05 / allowance.degrees_of_freedom)
            seen["Bonferroni"] += 1
        else:
            spread = allowance.pooled_deviation * math.sqrt(1 / pair.at.count + 1 / pair.base.count)
            half = allowance.factor * math.hypot(spread, pair.drift.contribution if pair.drift is not None else 0.0)
            seen["Dunnett"] += 1
        same_interval(found.repeatability_interval, found.value, half)
    assert seen
    if name == "uneven":
        assert seen["Bonferroni"] > 20 and seen["Dunnett"] > 5


@pytest.mark.parametrize("name", COMMON)
def test_ratios(name):
    _, both, number = pairs_of(SITES[name]())
    seen = 0
    for pair in both:
        found, at, base = number(pair, "ratio"), pair.at.value, pair.base.value
        if found.value is None:
            continue
        sources = sides(pair, 1 / base, -at / base / base).values()
        same_set(found.interval, at, base, [source[1:] for source in sources], 0.95)
        own = [source for source in sources if source[0] in REPEATS]
        allowance = adjustment(pair)
        if allowance is None or allowance.pooled_deviation is None:
            share = 0.05 if allowance is None else 0.05 / allowance.degrees_of_freedom
            same_set(found.repeatability_interval, at, base, [source[1:] for source in own], 1 - share)
        else:
            spread, drift = allowance.pooled_deviation, pair.drift.contribution if pair.drift is not None else 0.0
            wide_at = allowance.factor * math.hypot(spread / math.sqrt(pair.at.count), drift)
            wide_base = allowance.factor * spread / math.sqrt(pair.base.count)
            # errors that are widened already have a factor of one: two-sided 68.27 % of the normal distribution
            expected = fieller_ratio(
                at, wide_at, 4, base, wide_base, 4, math.erf(0.5**0.5), degrees_of_freedom=math.inf
            )
            same_ends(found.repeatability_interval, expected)
        seen += 1
    assert seen


def same_set(interval, at, base, sources, confidence):
    if not any(a or b for a, b, _ in sources):
        assert interval is None
        return
    parts_at, parts_base, freedoms = zip(*sources, strict=True)
    same_ends(interval, fieller_by_parts(at, parts_at, base, parts_base, freedoms, confidence))


def same_ends(interval, expected):
    if expected.shape is not RatioShape.BOUNDED:
        assert interval.low is None and interval.high is None
    else:
        assert interval.low == pytest.approx(expected.low, rel=1e-10)
        assert interval.high == pytest.approx(expected.high, rel=1e-10)
