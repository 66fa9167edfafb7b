"""The methods section says what was used, and each check on the runs can come out either way."""

import math
import random
import re
import statistics
from dataclasses import fields, replace
from functools import cache

import pytest
from scipy.stats import skew

from benchgalley.derive import evaluate, glossary
from benchgalley.publish.assumptions import ASSUMPTIONS, _skewness, _skewness_error
from benchgalley.publish.edition import Edition
from benchgalley.publish.formulae import FORMULAE, as_mathml
from benchgalley.publish.methods_used import methods_used
from benchgalley.publish.run_evidence import Evidence, RunGroup, evidence, sessions
from benchgalley.publish.templates import Templates
from benchgalley.publish.workings import Workings, budget_lines
from benchgalley.records.address import Address
from benchgalley.records.quantity import MEASURED
from benchgalley.records.results import Number
from tests.publish.factory import printed, small_site

SLUG = "quiet-lantern"
CHECKS = {a.key: a.check for a in ASSUMPTIONS}
SCORE = MEASURED[0]


def edition_of(site) -> Edition:
    return Edition(
        site=site, results=evaluate(site), glossary={q.key: q for q in (*MEASURED, *glossary(site))}, readings={},
        warnings={}, figures={}, shared_figures={}, templates=Templates({}),
    )  # fmt: skip


@cache
def edition() -> Edition:
    return edition_of(small_site())


def numbers(*texts):
    found = [edition().results.find(Address.parse(text, SLUG)) for text in texts]
    assert all(n is not None for n in found)
    return found


def titles(*texts):
    used = methods_used(edition(), edition().site.write_ups[SLUG], numbers(*texts))
    return {f.formula.title for f in used.formulae}


def number_with(number: Number, components) -> Number:
    """The same number with other components."""
    known = {f.name: getattr(number, f.name) for f in fields(Number)}
    return Number(**known | {"components": components})


def made_of(*groups: list[float]) -> Evidence:
    """Evidence with runs of one's own."""
    runs = tuple(RunGroup(subject=f"s{i}", quantity=SCORE, values=tuple(g)) for i, g in enumerate(groups))
    return Evidence(edition=edition(), write_up=edition().site.write_ups[SLUG], numbers=(), groups=runs)


def test_only_the_formulae_of_the_stated_numbers_are_listed():
    assert "Mean of a setpoint" in titles("tuned/board-power")
    assert "Interval of a ratio" not in titles("tuned/board-power")
    assert "Interval of a ratio" in titles("tuned/score/of-baseline")
    assert "Upper bound of a failure rate" in titles("soak/failure-rate/at-most")
    assert "Score for each watt" in titles("tuned/score-per-watt")
    assert "Equal within a margin" in titles("tuned/score/equivalent")
    assert titles("tuned/power-limit") == set(), "a setting is exact: nothing was computed"


def test_every_number_of_the_site_is_covered_by_a_formula():
    """A number with an interval and no formula in the list would stand without its method."""
    bare = [
        str(n.address)
        for scope in (*edition().site.write_ups, *edition().site.cards)
        for n in edition().numbers(scope)
        if n.value is not None and n.interval is not None and not any(f.used(n) for f in FORMULAE)
    ]
    assert bare == []


def test_every_formula_is_set_without_a_script_and_names_its_source():
    for formula in FORMULAE:
        mathml = as_mathml(formula.latex)
        assert mathml.startswith("<math") and "display=" in mathml
        assert formula.source and formula.where
        assert set(formula.assumes) <= set(CHECKS)


def test_the_page_holds_formulae_checks_version_and_hash():
    import hashlib

    files = printed()
    page = files[f"write-ups/{SLUG}/index.html"].decode()
    section = page[page.index('id="measured"') : page.index('id="revisions"')]
    assert "<math" in section and "Combined standard uncertainty" in section
    assert hashlib.sha256(files[f"write-ups/{SLUG}/{SLUG}.zip"]).hexdigest() in section
    assert re.search(r"Partly tested\.|Held\.|Doubtful\.|Not tested\.", section)
    assert "session" in section and "How the number of runs was decided" in section


@pytest.mark.parametrize("count", [8, 12, 25])
def test_runs_of_a_normal_distribution_pass_and_skewed_ones_do_not(count):
    """Skewness and its standard deviation over normal samples: against scipy, and by simulation."""
    draw = random.Random(count)
    made = [[draw.gauss(100, 3) for _ in range(count)] for _ in range(4000)]
    sizes = [_skewness(g) for g in made]
    assert sizes[:50] == pytest.approx([float(skew(g, bias=False)) for g in made[:50]], rel=1e-6)
    assert statistics.stdev(sizes) == pytest.approx(_skewness_error(count), rel=0.05)
    normal = [CHECKS["normal"](made_of(*made[i : i + 20]))[0] for i in range(0, 400, 20)]
    assert normal.count("held") >= 15
    skewed = [[math.exp(draw.gauss(0, 1.5)) for _ in range(count)] for _ in range(20)]
    assert CHECKS["normal"](made_of(*skewed))[0] == "doubtful"


def test_few_runs_are_said_to_be_too_few():
    verdict, words = CHECKS["normal"](made_of([1.0, 2.0, 4.0], [3.0, 3.5]))
    assert verdict == "not tested" and "2 groups of 2 to 3 runs: too few" in words


def test_spreads_that_differ_are_doubtful():
    even, odd = [10.0, 11.0, 12.0], [10.0, 20.0, 30.0]
    assert CHECKS["spreads"](made_of(even, even))[0] == "held"
    verdict, words = CHECKS["spreads"](made_of(even, odd))
    assert verdict == "doubtful" and "10 times the smallest" in words


def test_neighbouring_runs_that_go_together_are_doubtful():
    climbing = [[float(i) + 0.01 * (i % 3) for i in range(12)] for _ in range(6)]
    assert CHECKS["order"](made_of(*climbing))[0] == "doubtful"
    draw = random.Random(4)
    assert CHECKS["order"](made_of(*[[draw.gauss(0, 1) for _ in range(12)] for _ in range(10)]))[0] == "held"


def test_a_divisor_near_zero_is_doubtful():
    base = edition().site.write_ups[SLUG].setpoints["stock"].label
    far, near = [100.0, 101.0, 102.0], [-3.0, 1.0, 4.0]
    groups = [(RunGroup(subject=base, quantity=SCORE, values=tuple(v)),) for v in (far, near)]
    verdicts = [CHECKS["denominator"](replace(made_of(), groups=g))[0] for g in groups]
    assert verdicts == ["held", "doubtful"]


def test_evidence_holds_the_runs_behind_a_derived_number():
    found = evidence(edition(), edition().site.write_ups[SLUG], numbers("tuned/score-per-watt"))
    assert {(g.subject, g.quantity.key) for g in found.groups} == {("Tuned", "score"), ("Tuned", "board-power")}
    assert all(len(g.values) == 5 for g in found.groups)


def test_sessions_are_parted_by_a_long_pause():
    from datetime import timedelta

    trials = edition().site.write_ups[SLUG].trials
    assert sessions(trials) == 1
    first = trials[0]
    later = replace(first, started=first.started + timedelta(days=1))
    assert sessions([first, later]) == 2
    assert sessions([first, replace(first, started=None)]) is None


def test_the_budget_adds_up_and_leaves_out_what_is_nothing():
    """GUM 5.1.2: u² is the sum of the squares; 6.2.1: U = k u."""
    for number in edition().numbers(SLUG):
        if number.standard_uncertainty:
            assert math.hypot(*(c.standard_uncertainty for c in number.components)) == pytest.approx(
                number.standard_uncertainty, rel=1e-9
            ), number.address
    difference = numbers("tuned/board-power/saved")[0]
    nothing = difference.components[0]._replace(name="offset that cancels", standard_uncertainty=0.0)
    with_nothing = number_with(difference, (*difference.components, nothing))
    shown, lines = Workings(SLUG, ()).of(with_nothing), budget_lines(with_nothing)
    assert "offset that cancels" not in [line.name for line in lines]
    assert len(lines) == sum(c.standard_uncertainty > 0 for c in with_nothing.components)
    half = (difference.interval.high - difference.interval.low) / 2
    assert float(shown.coverage_factor) == pytest.approx(half / difference.standard_uncertainty, rel=0.01)
    assert all(line.degrees_of_freedom and line.evaluation in "AB" and line.origin for line in lines)
