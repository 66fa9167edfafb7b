"""The budget printed with a number is complete: its contributions add up to the standard uncertainty."""

import math
import re
from dataclasses import replace

import pytest
from scipy import stats

from benchgalley.derive import evaluate

from .factory import at
from .sites import whole_site

RESULTS = evaluate(whole_site())
ALL = [RESULTS.find(address) for scope in ("quiet", "card") for address in RESULTS.addresses(scope)]
MEDIANS = [RESULTS.find(at(f"stock/{quantity}/median")) for quantity in ("score", "board-power")]
WITH = [number for number in ALL if number.standard_uncertainty is not None]


def test_contributions_add_up():
    """JCGM 100:2008, 5.1.2: root of the sum of squares."""
    assert len(WITH) > 500
    for number in WITH:
        total = math.sqrt(math.fsum(c.standard_uncertainty**2 for c in number.components))
        assert total == pytest.approx(number.standard_uncertainty, rel=1e-12), number.address


def test_degrees_of_freedom_follow_from_the_contributions():
    """Welch-Satterthwaite, JCGM 100:2008, G.4.1."""
    for number in WITH:
        below = math.fsum(c.standard_uncertainty**4 / c.degrees_of_freedom for c in number.components)
        expected = number.standard_uncertainty**4 / below if below else math.inf
        assert number.degrees_of_freedom == pytest.approx(expected, rel=1e-9), number.address


def test_every_contribution_has_a_name_of_its_own_and_an_origin():
    for number in WITH:
        names = [component.name for component in number.components]
        assert len(set(names)) == len(names), number.address
        for component in number.components:
            assert component.evaluation in ("A", "B") and component.origin, number.address
            assert component.degrees_of_freedom > 0


def test_symmetric_intervals_are_coverage_factor_times_uncertainty():
    """JCGM 100:2008, G.4.1 with degrees of freedom rounded down; Banerjee's root sum of squares of t u otherwise."""
    seen = {"rounded down": 0, "Banerjee": 0}
    for number in WITH:
        interval = number.interval
        if interval is None or not interval.method.startswith("Student t") or interval.low is None:
            continue
        parts = [(c.standard_uncertainty, min(c.degrees_of_freedom, 1e12)) for c in number.components]
        parts = [(u, nu) for u, nu in parts if u]
        half = stats.t.ppf(0.975, math.floor(number.degrees_of_freedom + 1e-6)) * number.standard_uncertainty
        apart = math.sqrt(sum((stats.t.ppf(0.975, nu) * u) ** 2 for u, nu in parts))
        found = interval.high - number.value
        if "Banerjee" in interval.method:
            assert 0.6 * apart < found <= apart * (1 + 1e-9), number.address
            if len([nu for _, nu in parts if nu < 1e12]) == 1:
                assert found == pytest.approx(apart, rel=1e-6), number.address
                seen["Banerjee"] += 1
        else:
            assert found == pytest.approx(half, rel=1e-6), number.address
            seen["rounded down"] += 1
    assert seen["rounded down"] > 100 and seen["Banerjee"] > 20, seen


def test_every_interval_has_a_budget_or_says_why_there_is_none():
    """Either contributions that add up to the standard uncertainty, or one sentence; never both and never neither."""
    budgets, sentences = 0, set()
    for number in (*ALL, *MEDIANS):
        if number.value is None or number.interval is None:
            assert not number.no_budget, number.address
            continue
        if number.no_budget:
            assert not number.components and number.standard_uncertainty is None, number.address
            assert not number.no_budget.endswith(".") and len(number.no_budget) > 40
            sentences.add(number.no_budget)
            continue
        total = math.sqrt(math.fsum(c.standard_uncertainty**2 for c in number.components))
        assert total > 0 and total == pytest.approx(number.standard_uncertainty, rel=1e-12), number.address
        budgets += 1
    assert budgets > 500 and len(sentences) == 4


def test_the_budget_of_a_matching_power_limit_is_the_move_of_the_limit():
    """Each contribution against the limit found again with that point's runs moved by its standard error."""
    found = RESULTS.find(at("walk/matching-power-limit"))
    base = RESULTS.find(at("stock/score"))
    moved = {}
    for name in (c.name.rpartition(" at ")[2] for c in found.components):
        ids = dict(found.groups)[name]
        estimate = base if name == "stock" else RESULTS.find(at(f"walk/score-at-{name.removesuffix(chr(160) + '%')}"))
        repeats = [c for c in estimate.components if c.name.startswith("repeatability")]
        again = evaluate(moved_runs(ids, repeats[0].standard_uncertainty / 100)).find(at("walk/matching-power-limit"))
        moved[name] = 100 * abs(again.value - found.value)
    for component in found.components:
        name = component.name.rpartition(" at ")[2]
        if "drift" not in component.name:
            # the margin is 1 % of the baseline and moves with it: the interval and its budget leave that out
            assert component.standard_uncertainty == pytest.approx(moved[name], rel=0.012), name
        else:
            assert component.standard_uncertainty > moved[name]
    assert len(moved) >= 3


def moved_runs(ids, by):
    """The site with the score of some runs of the first write-up moved."""
    whole = whole_site()
    write_up = whole.write_ups["quiet"]
    trials = tuple(
        replace(t, measured=t.measured | {"score": t.measured["score"] + by}) if t.id in ids else t
        for t in write_up.trials
    )
    return replace(whole, write_ups=whole.write_ups | {"quiet": replace(write_up, trials=trials)})


def test_spread_between_samples_says_what_runs_explain_of_it():
    """ISO 5725-2, 7.4.5: the variance of sample means is that between samples and that within over the runs."""
    mean = RESULTS.find(at("stock/score", "card"))
    between, within = (RESULTS.find(at(f"stock/score/{r}-samples", "card")).value for r in ("between", "within"))
    spread = mean.components[0].standard_uncertainty * math.sqrt(3)
    counts = [len(ids) for _, ids in mean.groups]
    assert len(set(counts)) == 1
    assert spread**2 == pytest.approx(between**2 + within**2 / counts[0])
    share = 100 * within**2 / counts[0] / spread**2
    assert mean.components[0].origin.endswith(f"accounts for {share:.0f}\u00a0% of its square")
    ahead = RESULTS.find(at("stock/score/next-sample-at-least", "card"))
    assert ahead.standard_uncertainty == pytest.approx(spread * math.sqrt(1 + 1 / 3))
    # one-sided bound: t(0.95, 2) from a printed table (NIST/SEMATECH e-Handbook 1.3.6.7.2)
    assert mean.value - ahead.value == pytest.approx(2.920 * ahead.standard_uncertainty, rel=1e-4)


def test_drift_is_printed_as_people_read_it():
    origins = {c.origin for n in WITH for c in n.components if c.name.startswith("drift")}
    assert len(origins) > 5
    for origin in origins:
        assert re.search(r"slope (below )?\u2212?\d+(\.\d+)?\u00a0(%|K|dB) an hour$", origin), origin
