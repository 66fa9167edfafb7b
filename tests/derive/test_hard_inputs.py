"""Hard inputs: a number or "not determined" with its reason, never NaN; through the ledger and through built pages."""

import json
import math
import re
import shutil
import zipfile
from decimal import Decimal
from fractions import Fraction
from io import BytesIO
from pathlib import Path

import pytest

from benchgalley import pipeline
from benchgalley.derive import evaluate
from benchgalley.records.address import Address

from .factory import Bencher, at, bench, card, instrument, sequence, setpoint, site, write_up

TUNED = {"power_limit_pct": 84.0}
METERS = bench(
    instrument("board_power_w", gain_error_pct=1.5, offset_error=0.5, resolution=0.1),
    instrument("core_temp_c", offset_error=1.0, resolution=1.0),
    instrument("ambient_c", offset_error=0.2, resolution=0.1),
    instrument("fan_rpm", gain_error_pct=0.2),
)


def session(stock, tuned, outcome="completed", points=None, watts=1.0, fans=(0.0, 0.0), **more):
    """Scores at stock and tuned in turn, with readings that follow them."""
    bencher = Bencher()
    for i in range(max(len(stock), len(tuned))):
        for scores, change, fan in ((stock, {}, fans[0]), (tuned, TUNED, fans[1])):
            if i < len(scores):
                bencher.run(
                    set=change, outcome=outcome, score=scores[i], board_power_w=watts * scores[i], core_temp_c=60.0,
                    ambient_c=21.0, fan_rpm=fan, duration_s=60.0, wall_power_w=watts * scores[i],
                )  # fmt: skip
    sweep = sequence("walk", "walk", "power_limit_pct")
    ladder = sequence("ladder", "ladder", "voltage_offset_mv")
    soak = sequence("soak", "soak", setpoint="tuned")
    return write_up(
        bencher.trials, bench_=METERS, sequences=(sweep, ladder, soak), margins={"score": (1.0, True)},
        **({"setpoints": points} if points else {}), **more,
    )  # fmt: skip


HUGE, TINY = 1.6e308, 4e-320
CASES = {
    "no run at all": session((), ()),
    "one run each": session((100.0,), (90.0,)),
    "one run at tuned": session((100.0, 101.0, 99.0), (90.0,)),
    "two runs each": session((100.0, 101.0), (90.0, 92.0)),
    "zero spread": session((100.0,) * 4, (90.0,) * 4),
    "zero spread on one side": session((100.0,) * 4, (90.0, 91.0, 92.0, 93.0)),
    "all failed": session((100.0, 101.0, 99.0), (90.0, 91.0, 92.0), outcome="crashed"),
    "one setpoint": session((100.0, 101.0, 99.0), (), points=(setpoint("stock"),)),
    "duplicate settings": session(
        (100.0, 101.0, 99.0), (90.0, 91.0, 92.0),
        points=(setpoint("stock"), setpoint("tuned", **TUNED), setpoint("again", **TUNED)),
    ),
    "ties": session((100.0, 100.0, 101.0, 101.0), (100.0, 100.0, 101.0, 101.0)),
    "all zero": session((0.0,) * 3, (0.0,) * 3),
    "zero beside a baseline": session((100.0, 101.0, 99.0), (0.0,) * 3),
    "zero baseline": session((0.0,) * 3, (1.0, 2.0, 3.0)),
    "baseline about zero": session((-1.0, 1.0, 2.0, -1.5), (90.0, 91.0, 92.0, 95.0)),
    "negative": session((-100.0, -101.0, -99.0), (-90.0, -91.0, -92.0)),
    "near overflow": session((HUGE, HUGE / 2, HUGE / 3), (HUGE / 4, HUGE / 5, HUGE / 2)),
    "opposite near overflow": session((HUGE, -HUGE, HUGE), (-HUGE, HUGE, -HUGE)),
    "squares overflow": session((1e200, 2e200, 3e200), (4e200, 5e200, 6e200)),
    "near underflow": session((TINY, 2 * TINY, 3 * TINY), (4 * TINY, 5 * TINY, 9 * TINY)),
    "far apart": session((1e-300, 1e300, 1.0), (1.0, 2.0, 3.0)),
    "power underflows": session((100.0, 101.0, 99.0), (90.0, 91.0, 92.0), watts=1e-310),
    "fans far apart": session((100.0, 101.0, 99.0), (90.0, 91.0, 92.0), fans=(1e300, 1e-300)),
    "fans far apart the other way": session((100.0, 101.0, 99.0), (90.0, 91.0, 92.0), fans=(1e-300, 1e300)),
    "a fan below nothing": session((100.0, 101.0, 99.0), (90.0, 91.0, 92.0), fans=(1200.0, -1.0)),
    "cancellation": session((1e15 + 1, 1e15 + 2, 1e15 + 3), (1e15 + 2, 1e15 + 3, 1e15 + 4)),
}  # fmt: skip


def every_figure(number):
    found = [number.value, number.standard_uncertainty]
    for interval in (number.interval, number.repeatability_interval):
        if interval is not None:
            found += [interval.low, interval.high, interval.confidence_pct]
    found += [component.standard_uncertainty for component in number.components]
    return [figure for figure in found if figure is not None]


def every_text(number):
    printed = number.printed
    return (
        number.name, number.substitution, number.reason, printed.value, printed.text, printed.interval,
        printed.plus_minus,
    )  # fmt: skip


WRONG_WORDS = re.compile(r"\b(nan|inf|infinity)\b", re.IGNORECASE)


def found_and_asked(results, scopes):
    """Every listed address, and those that are found without being listed."""
    for scope in scopes:
        for address in results.addresses(scope):
            yield address
            if not address.relation:
                for relation in ("median", "runs-needed", "runs-needed-for-equivalence", "equivalent", "hours-needed"):
                    if results.find(address.related(relation)) is not None:
                        yield address.related(relation)


@pytest.mark.parametrize("case", CASES)
def test_a_number_or_a_reason(case):
    results = evaluate(site(CASES[case], running=True))
    seen = 0
    for address in found_and_asked(results, ("quiet", "card")):
        number = results.find(address)
        assert number is not None, address
        seen += 1
        assert all(math.isfinite(figure) for figure in every_figure(number)), (address, number)
        assert not any(WRONG_WORDS.search(text) for text in every_text(number)), (address, every_text(number))
        if number.value is None:
            assert number.reason and number.printed.value == "not determined", address
        for freedom in (number.degrees_of_freedom, *(c.degrees_of_freedom for c in number.components)):
            assert freedom is None or freedom > 0, address
    assert seen > 30


@pytest.mark.parametrize("address", ["stock/{}", "tuned/{}", "stock/{}/at-most"])
def test_what_is_very_small_keeps_its_digits(address):
    """Power is score times 1e-310 here, whose squares vanish, and both are known from repeats alone."""
    results = evaluate(site(CASES["power underflows"]))
    score, power = (results.find(at(address.format(quantity))) for quantity in ("score", "wall-power"))
    for small, plain in (
        (power.value, score.value), (power.standard_uncertainty, score.standard_uncertainty),
        (power.interval.high, score.interval.high),
    ):  # fmt: skip
        assert small / 1e-310 == pytest.approx(plain, rel=1e-9)


@pytest.mark.parametrize(
    ("case", "address", "why"),
    [
        ("no run at all", "tuned/score", "no run of this write-up recorded score"),
        ("all failed", "tuned/score", "none of the 3 runs at tuned completed"),
        ("one run each", "tuned/score/spread", "one run at tuned"),
        ("zero baseline", "tuned/score/ratio", "the baseline is zero"),
        ("all zero", "tuned/score-per-watt", "the value below the fraction is zero"),
        ("opposite near overflow", "stock/score", "too far apart"),
        ("zero spread", "tuned/fan-sound-change", "a fan stood still"),
        ("fans far apart", "tuned/fan-sound-change", "the fan speeds lie too far apart"),
        ("fans far apart the other way", "tuned/fan-sound-change", "the fan speeds lie too far apart"),
        ("a fan below nothing", "tuned/fan-sound-change", "a fan stood still"),
    ],
)
def test_the_reason_is_said(case, address, why):
    number = evaluate(site(CASES[case], running=True)).find(at(address))
    assert number.value is None
    assert why in number.reason


def test_one_run_gives_its_value_and_no_interval():
    number = evaluate(site(CASES["one run each"])).find(at("tuned/score"))
    assert (number.value, number.interval) == (90.0, None)
    assert "repeatability cannot be determined" in number.reason


def test_equal_runs_claim_no_spread_they_do_not_show():
    number = evaluate(site(CASES["zero spread"])).find(at("tuned/fan-speed/change"))
    assert number.value == 0.0
    assert number.interval is None or number.interval.high > number.interval.low


def exact(values):
    """Mean and variance in rational arithmetic: an answer without rounding."""
    parts = [Fraction(value) for value in values]
    mean = sum(parts) / len(parts)
    return mean, sum((part - mean) ** 2 for part in parts) / (len(parts) - 1)


@pytest.mark.parametrize(
    "values",
    [
        (1e15 + 1, 1e15 + 2, 1e15 + 3),
        (1e9 + 4, 1e9 + 7, 1e9 + 13, 1e9 + 16),
        tuple(10000000 + x for x in (0.1, 0.2, 0.3, 0.2, 0.1)),
        (1e200, 2e200, 4e200),
        (1e-160, 2e-160, 4e-160),
        (3e-320, 6e-320, 9e-320),
        (-1e15, -1e15 - 2, -1e15 + 2),
    ],
)
def test_digits_survive_cancellation_and_extreme_sizes(values):
    """Second opinion: the rational arithmetic of the standard library (1e9 + 4, ... as in NIST StRD's NumAcc sets)."""
    results = evaluate(site(session(values, (1.0, 2.0, 3.0))))
    mean, variance = exact(values)
    number, spread = results.find(at("stock/score")), results.find(at("stock/score/spread"))
    assert number.value == pytest.approx(float(mean), rel=1e-15)
    assert spread.value == pytest.approx(_root(variance), rel=1e-13)


def _root(variance: Fraction) -> float:
    """Square root of a variance that may be too large or too small for a float."""
    return float((Decimal(variance.numerator) / Decimal(variance.denominator)).sqrt())


def test_a_difference_of_large_scores_keeps_its_digits():
    """1e15 + 3 less 1e15 + 2: one point, and not a rounded zero."""
    number = evaluate(site(CASES["cancellation"])).find(at("tuned/score/change"))
    assert number.value == 1.0


def test_settings_named_twice_give_the_same_numbers():
    results = evaluate(site(CASES["duplicate settings"]))
    assert results.find(at("again/score")).value == results.find(at("tuned/score")).value
    assert results.find(at("again/score/change")).interval == results.find(at("tuned/score/change")).interval


# -- through files and pages --------------------------------------------------------------------------------------

FIXTURE = Path(__file__).parent.parent / "fixtures" / "small_site"
HEAD = "trial,power_limit_pct,outcome,score,board_power_w,core_temp_c,ambient_c,fan_rpm,duration_s"
ROWS = {
    "one-run": ["100,completed,100,200,60,21,1500,60", "80,completed,90,150,55,21,1400,60"],
    "no-spread": ["100,completed,100,200,60,21,0,60", "80,completed,90,150,55,21,0,60"] * 4,
    "all-failed": ["100,crashed,,,,,,12", "80,crashed,,,,,,10"] * 3,
    "tuned-failed": ["100,completed,100,200,60,21,1500,60", "80,crashed,,,,,,10"] * 3,
    "cancelling": [f"{p},completed,{10**15 + i + p},200,60,21,1500,60" for i in range(4) for p in (100, 80)],
    "ties": [f"{p},completed,{100 + i % 2},200,60,21,1500,60" for i in range(6) for p in (100, 80)],
    "zero-score": ["100,completed,0,200,60,21,1500,60", "80,completed,0,150,55,21,1400,60"] * 3,
    "two-groups": [
        f"{p},completed,{100 + 10 * (i % 2) + i / 10},200,60,21,1500,60" for i in range(10) for p in (100, 80)
    ],
}  # fmt: skip
FRONT = """---
title: A hard case
summary: Runs that give a computer trouble.
published: 2026-09-20
card: lantern-60
sample: a
bench: shed
load: harbour-scene
setpoints:
  stock: {label: Stock}
  tuned: {power_limit_pct: 80, label: Tuned}
baseline: stock
sequences:
  sweep: {kind: sweep, setting: power_limit_pct, order: shuffled}
margins:
  score: 1 %
invented: true
---

Nothing is claimed here.
"""


@pytest.fixture(scope="module")
def tree(tmp_path_factory):
    root = tmp_path_factory.mktemp("hard")
    shutil.copytree(FIXTURE, root, dirs_exist_ok=True)
    shutil.rmtree(root / "content" / "write-ups")
    for slug, rows in ROWS.items():
        folder = root / "content" / "write-ups" / slug
        folder.mkdir(parents=True)
        (folder / "write-up.md").write_text(FRONT, encoding="utf-8")
        lines = [HEAD, *(f"r{i:02d},{row}" for i, row in enumerate(rows))]
        (folder / "trials.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return root


def test_hard_trials_pass_the_check_and_give_numbers_or_reasons(tree):
    checked = pipeline.check(tree)
    assert [str(p) for p in checked.problems if p.severity == "error"] == []
    assert set(checked.site.write_ups) == set(ROWS)
    for slug in ROWS:
        for address in found_and_asked(checked.results, (slug,)):
            number = checked.results.find(address)
            assert all(math.isfinite(figure) for figure in every_figure(number)), address
            assert number.value is not None or number.reason, address
    found = checked.results.find(Address.parse("two-groups:tuned/score", "two-groups"))
    assert "two groups" in found.reason
    change = checked.results.find(Address.parse("cancelling:tuned/score/change", "cancelling"))
    assert change.value == -20.0


def refuse(constant):
    raise AssertionError(f"{constant} in a JSON file")


def test_no_page_and_no_data_file_holds_a_number_that_is_none(tree, tmp_path):
    built = pipeline.build(tree, tmp_path / "out")
    assert built.passes, [p.message for p in built.problems]
    pages = list((tmp_path / "out").rglob("*.html"))
    assert len(pages) > len(ROWS)
    for page in pages:
        words = re.sub(r"<(script|style)\b.*?</\1>|<[^>]*>", " ", page.read_text(encoding="utf-8"), flags=re.S)
        assert not re.search(r"\b(nan|infinity)\b", words, re.IGNORECASE), page
    for file in (tmp_path / "out").rglob("*.json"):
        json.loads(file.read_text(encoding="utf-8"), parse_constant=refuse)
    for archive in (tmp_path / "out").rglob("*.zip"):
        with zipfile.ZipFile(BytesIO(archive.read_bytes())) as inside:
            for name in inside.namelist():
                if name.endswith(".json"):
                    json.loads(inside.read(name), parse_constant=refuse)
                elif name.endswith(".csv"):
                    # degrees of freedom may be infinite, and are written INF as CSV on the Web has it
                    assert not re.search(rb"(?i)(^|,)nan(,|\r?$)", inside.read(name), re.M), name


def test_samples_too_unlike_to_square_give_a_number_or_a_reason_and_no_warning():
    found = []
    for sample, score in zip("abc", (1e4, 1e200, 1e-200), strict=True):
        bencher = Bencher()
        for run in range(4):
            bencher.run(score=score * (1 + run / 100)).run(score=score, set={"power_limit_pct": 84.0})
        found.append(
            write_up(bencher.trials, slug=f"write-up-{sample}", sample=sample, card_=card(samples=tuple("abc")))
        )
    results = evaluate(site(*found))
    addresses = results.addresses("card")
    assert addresses
    for address in addresses:
        number = results.find(address)
        # a working may be the first to ask for the parts
        assert number.exact or number.substitution or number.reason
        assert [c.origin for c in number.components] or not number.standard_uncertainty
        assert number.reason if number.value is None else math.isfinite(number.value), address
