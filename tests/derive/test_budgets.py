"""The budget printed with a number is complete: its contributions add up to the standard uncertainty."""

import math

import pytest
from scipy import stats

from benchgalley.derive import evaluate

from .sites import whole_site

RESULTS = evaluate(whole_site())
ALL = [RESULTS.find(address) for scope in ("quiet", "card") for address in RESULTS.addresses(scope)]
WITH = [number for number in ALL if number.standard_uncertainty is not None]

WITHOUT_BUDGET = {
    "spread", "runs", "between-samples", "within-samples", "next-sample-at-least", "next-sample-at-most",
    "tolerance-at-least", "tolerance-at-most",
}  # fmt: skip
"""Relations whose interval comes from a distribution of its own, not from a sum of contributions."""


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


def test_what_has_an_interval_and_no_budget_is_known():
    for number in ALL:
        if number.interval is not None and not number.components and not number.exact:
            relation, quantity = number.address.relation, number.address.quantity
            assert (
                relation in WITHOUT_BUDGET
                or quantity.startswith(("matching", "failure", "manages"))
                or quantity.endswith("setting")
            ), number.address
