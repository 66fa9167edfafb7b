"""The worksheet computes in the reader's browser what the generator computes: to the last printed digit."""

import json
import math
from decimal import ROUND_HALF_EVEN, Context, Decimal
from pathlib import Path

import pytest
from scipy import stats

from benchgalley.derive.printing import digits
from benchgalley.metrology.repeatability import mean, standard_deviation
from benchgalley.metrology.rounding import round_to_place, uncertainty_place

from .mirror import figures
from .sessions import sessions

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]

SESSIONS = 1000
QUANTILES = Path(__file__).parents[1] / "metrology" / "reference" / "quantiles.json"
STRD = Path(__file__).parents[1] / "metrology" / "reference" / "nist_strd"


def test_a_thousand_random_sessions_agree_to_the_last_printed_digit(scripts):
    asked = sessions(SESSIONS)
    found = scripts("all => all.map(session => worksheetMethod.figures(session))", asked)
    compared = 0
    decisions = set()
    for session, rows in zip(asked, found, strict=True):
        wanted = figures(session)
        for row, want in zip(rows, wanted, strict=True):
            if row["same"]:
                row["same"].pop("change", None)
                decisions.add(row["same"]["decision"])
            assert row == want, json.dumps(session)
            compared += sum(1 for v in want.values() if isinstance(v, dict) and v.get("text"))
    assert compared > 8 * SESSIONS
    assert decisions == {"shown", "refuted", "not settled", "too few runs", "no spread"}, "every answer occurs"
    print(f"{compared} printed figures of {SESSIONS} sessions agree")


def test_student_t_agrees_with_the_published_table(scripts):
    """NIST/SEMATECH e-Handbook 1.3.6.7.2 and NIST TN 1297, Table B.1 (= GUM Table G.2), as copied in the reference."""
    cases = [c for c in json.loads(QUANTILES.read_text("utf-8"))["cases"] if c["inputs"].get("dist") == "t"]
    asked, published = [], []
    for case in cases:
        given, told = case["inputs"], case["published"]
        fractions = given.get("two_sided_fraction")
        tails = [(1 - f) / 2 for f in fractions] if fractions else [given["upper_tail"]]
        asked += [(tail, given["nu"]) for tail in tails]
        published += [(q, case["atol"]) for q in (told["t_p"] if fractions else [told["q"]])]
    assert len(asked) >= 90
    found = scripts("all => all.map(([tail, nu]) => worksheetNumbers.tUpper(tail, nu))", asked)
    for given, (q, atol), value in zip(asked, published, found, strict=True):
        # a table rounds large entries to fewer decimals than its tolerance says: 235.80 is printed as 235.8
        assert value == pytest.approx(q, abs=atol if q < 100 else 0.051), given


def test_student_t_agrees_with_a_reference_library_between_the_lines_of_the_table(scripts):
    """scipy.stats.t, degrees of freedom as Welch's formula gives them: not whole."""
    asked = [
        (tail, nu)
        for tail in (0.05, 0.025, 0.005, 0.1)
        for nu in (1, 1.0001, 1.37, 2.5, 3.99, 7.123, 18.4, 73.5, 412.25)
    ]
    found = scripts("all => all.map(([tail, nu]) => worksheetNumbers.tUpper(tail, nu))", asked)
    for (tail, nu), value in zip(asked, found, strict=True):
        assert value == pytest.approx(stats.t.isf(tail, nu), rel=1e-11), (tail, nu)


def test_mean_and_spread_of_the_certified_sets(scripts):
    """NIST StRD univariate summary statistics, certified to 15 digits; NumAcc2 to 4 break careless formulas."""
    cases = json.loads((STRD / "univariate.json").read_text("utf-8"))["cases"]
    sets = [[float(x) for x in (STRD / case["inputs"]["data_csv"]).read_text("utf-8").split()[1:]] for case in cases]
    found = scripts("all => all.map(v => [worksheetNumbers.mean(v), worksheetNumbers.standardDeviation(v)])", sets)
    for case, values, (centre, spread) in zip(cases, sets, found, strict=True):
        assert centre == pytest.approx(case["published"]["mean"], rel=1e-14), case["id"]
        assert spread == pytest.approx(case["published"]["sd"], rel=1e-7), case["id"]
        assert (centre, spread) == (mean(values), standard_deviation(values)), "the generator's, bit for bit"
    assert len(cases) >= 6


def test_sums_are_rounded_once(scripts):
    """Against math.fsum, on sums that lose everything when added in order."""
    asked = [
        [1.0, 1e100, 1.0, -1e100],
        [0.1] * 10,
        [1e16, 1.0, 1e-16],
        [1e16, 1.0, -1e-16],
        [2.0**53, 1.0, 2.0**-60],
        [],
    ]
    found = scripts("all => all.map(v => worksheetNumbers.exactSum(v))", asked)
    assert found == [math.fsum(v) for v in asked]


def test_digits_follow_the_rule(scripts):
    """ISO 80000-1, Annex B, rule A on the shortest decimal; JCGM 100:2008, 7.2.6. Against decimal and the generator."""
    values = [0, 2.675, 2.665, -0.04, 0.05, 0.15, 0.25, 1225, 1235, 9.96, 99.95, 0.000123456, 1e-7, 1.5e-9, 1e21,
              123456789.5, -12345.678, 0.5, 1.5, 2.5, -2.5, 1e6, 999999.5]  # fmt: skip
    wide = Context(prec=60)
    places = [-3, -2, -1, 0, 1, 2, 3, 5, 9]
    asked = [(v, p) for v in values for p in places]
    found = scripts("all => all.map(([v, p]) => worksheetNumbers.roundToPlace(v, p))", asked)
    for (value, place), text in zip(asked, found, strict=True):
        assert text == round_to_place(value, place), (value, place)
        exact = Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-place), ROUND_HALF_EVEN, wide)
        assert Decimal(text) == exact
    positive = [abs(v) for v in values if v]
    assert scripts("all => all.map(v => worksheetNumbers.uncertaintyPlace(v))", positive) == [
        uncertainty_place(v) for v in positive
    ]
    texts = ["-41.20", "8412", "12345.678", "-1234567", "0.5"]
    assert scripts("all => all.map(t => worksheetNumbers.typeset(t))", texts) == [digits(t) for t in texts]


def test_the_bound_after_a_clean_soak(scripts):
    """Exact Poisson with no event: 3.00 per unit of exposure at 95 % (the rule of three; Garwood 1936)."""
    from benchgalley.metrology.stability import failure_rate_at_most

    assert scripts("worksheetNumbers.zeroFailureRate(1, 0.95)") == pytest.approx(2.995732, abs=5e-7)
    assert scripts("worksheetNumbers.zeroFailureRate(7.5, 0.9)") == pytest.approx(failure_rate_at_most(0, 7.5, 0.9))
