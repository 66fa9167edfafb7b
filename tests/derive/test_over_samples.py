"""Several samples of one card, against published variance components and tolerance factors."""

import csv
import json
import math
from pathlib import Path

import pytest

from benchgalley.derive import evaluate
from benchgalley.derive.over_samples import SAMPLE_RELATIONS

from .factory import Bencher, at, bench, card, instrument, load, setpoint, site, write_up

REFERENCE = Path(__file__).parent / "reference"
DYESTUFF = next(
    c
    for c in json.loads((REFERENCE / "cases.json").read_text(encoding="utf-8"))["variance_components"]["cases"]
    if c["id"] == "dyestuff"
)["published"]


def one_sample(name, values, failed=0, slug=None, tuned=None, **more):
    bencher = Bencher()
    for value in values:
        bencher.run(score=value)
    for value in tuned or ():
        bencher.run(set={"power_limit_pct": 84.0}, score=value)
    for _ in range(failed):
        bencher.run(outcome="crashed")
    return write_up(bencher.trials, slug=slug or f"by-{name}", sample=name, card_=card(samples="abcdef"), **more)


def results_of(*groups, **more):
    return evaluate(site(*(one_sample(name, values, **more) for name, values in zip("abcdef", groups, strict=False))))


def dyestuff():
    batches = {}
    with open(REFERENCE / "variance_components_dyestuff.csv", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            batches.setdefault(row["batch"], []).append(float(row["yield"]))
    return list(batches.values())


def find(results, address):
    found = results.find(at(address, "card"))
    assert found is not None, address
    return found


def test_components_of_dyestuff():
    """Davies and Goldsmith 1972, 6.4; Box and Tiao 1973, 5.1.2; see reference/cases.json."""
    results = results_of(*dyestuff())
    mean = find(results, "stock/score")
    assert mean.value == pytest.approx(DYESTUFF["mean"])
    assert mean.standard_uncertainty == pytest.approx(19.38, abs=0.005)
    assert mean.degrees_of_freedom == 5
    assert find(results, "stock/score/between-samples").value == pytest.approx(DYESTUFF["sd_batch"], abs=6e-5)
    assert find(results, "stock/score/within-samples").value == pytest.approx(DYESTUFF["sd_residual"], abs=6e-5)
    assert find(results, "stock/samples").printed.text == "6\u00a0samples"


def test_prediction_and_tolerance_by_tables():
    """Three sample means 10, 11, 12: t 2.920 one-sided for 2 degrees of freedom (NIST/SEMATECH e-Handbook
    1.3.6.7.2); one-sided 95 %/95 % tolerance factor for n = 3 is 7.656 (ISO 16269-6; e-Handbook 7.2.6.3)."""
    results = results_of((9.9, 10.1), (10.9, 11.1), (11.9, 12.1))
    low = find(results, "stock/score/next-sample-at-least")
    assert low.value == pytest.approx(11 - 2.919986 * math.sqrt(1 + 1 / 3), abs=1e-5)
    assert find(results, "stock/score/next-sample-at-most").value == pytest.approx(22 - low.value)
    tolerance = find(results, "stock/score/tolerance-at-least")
    assert tolerance.value == pytest.approx(11 - 7.656, abs=0.001)
    assert (tolerance.interval.low, tolerance.interval.high) == (tolerance.value, None)


def test_one_sample_says_nothing_of_others():
    results = results_of((10.0, 10.2, 9.8))
    mean = find(results, "stock/score")
    assert mean.value == pytest.approx(10.0)
    assert mean.interval is None
    assert "one sample: nothing can be said about other cards" in mean.reason
    for relation in ("between-samples", "within-samples", "next-sample-at-least", "tolerance-at-most"):
        found = find(results, f"stock/score/{relation}")
        assert found.value is None and "one sample" in found.reason
        assert at(f"stock/score/{relation}", "card") not in results.addresses("card")
    assert find(results, "stock/samples").printed.text == "1\u00a0sample"


def test_two_samples_have_a_wide_interval_and_say_why():
    found = find(results_of((10.0, 10.2), (11.0, 11.2)), "stock/score")
    # t of one degree of freedom is 12.706
    assert found.interval.high - found.value == pytest.approx(12.706205 * math.sqrt(0.5) / math.sqrt(2), rel=1e-5)
    assert "two samples" in found.reason


def test_samples_that_agree_better_than_their_runs():
    found = find(results_of((9.0, 11.0), (9.1, 11.1), (8.9, 11.0)), "stock/score/between-samples")
    assert found.value == 0.0
    assert "differ less than their runs do" in found.reason


def test_share_of_samples_that_manage():
    """2 of 3: exact 95 % interval 9.43 to 99.16 % (Clopper and Pearson 1934)."""
    made = [one_sample(n, (10.0, 10.1), failed=f) for n, f in (("a", 0), ("b", 1), ("c", 0))]
    results = evaluate(site(*made))
    found = find(results, "stock/manages")
    assert found.value == pytest.approx(200 / 3)
    assert found.interval.low == pytest.approx(9.43, abs=0.005)
    assert found.interval.high == pytest.approx(99.16, abs=0.005)
    assert find(results, "stock/manages/at-least").value < found.value


def test_another_version_or_setting_is_left_out_and_named():
    made = [one_sample(n, (10.0, 10.1, 10.3 + i)) for i, n in enumerate("abc")]
    made.append(one_sample("d", (99.0, 99.1), load_=load(version="2.0")))
    made.append(one_sample("e", (98.0, 98.1), setpoints=(setpoint("stock", fan_mode="full"), setpoint("tuned"))))
    found = find(evaluate(site(*made)), "stock/score")
    assert len(found.groups) == 3
    assert "by-d" in found.reason and "by-e" in found.reason


def test_channels_of_different_kind_are_not_pooled():
    from dataclasses import replace

    from benchgalley.records.bench import MeasuringPoint

    def power(name, values, point):
        bencher = Bencher()
        for value in values:
            bencher.run(board_power_w=value, score=1.0 + value)
        channel = replace(instrument("board_power_w"), measures_at=point)
        return write_up(
            bencher.trials, slug=f"by-{name}", sample=name, card_=card(samples="abc"), bench_=bench(channel)
        )

    inside = [power(n, (200.0, 201.0), MeasuringPoint.SLOT_AND_CABLE) for n in "ab"]
    results = evaluate(site(*inside, power("c", (220.0, 221.0), MeasuringPoint.CARD_SENSOR)))
    assert len(find(results, "stock/board-power").groups) == 2
    assert len(find(results, "stock/score").groups) == 3


def test_gain_of_a_shared_instrument_stays_and_of_a_cards_own_does_not():
    def power(name, values, spread):
        bencher = Bencher()
        for value in values:
            bencher.run(board_power_w=value)
        channel = instrument("board_power_w", gain_error_pct=3.0, channel_spread=spread)
        return write_up(
            bencher.trials, slug=f"by-{name}", sample=name, card_=card(samples="abc"), bench_=bench(channel)
        )

    runs = {"a": (200.0, 201.0), "b": (205.0, 206.0), "c": (203.0, 204.0)}
    shared = find(evaluate(site(*(power(n, v, "bench") for n, v in runs.items()))), "stock/board-power")
    own = find(evaluate(site(*(power(n, v, "card") for n, v in runs.items()))), "stock/board-power")
    gain = next(c for c in shared.components if c.name.startswith("gain"))
    assert gain.standard_uncertainty == pytest.approx(shared.value * 0.03 / math.sqrt(3))
    assert not any(c.name.startswith("gain") for c in own.components)


def test_each_sample_against_its_own_baseline():
    made = [
        one_sample("a", (100.0, 101.0), tuned=(90.0, 91.0)),
        one_sample("b", (110.0, 111.0), tuned=(102.0, 103.0)),
        one_sample("c", (105.0, 106.0), tuned=(96.0, 97.0)),
    ]
    found = find(evaluate(site(*made)), "tuned/score/saved")
    assert found.value == pytest.approx(9.0)
    # savings 10, 8, 9: s = 1, t = 4.303 for 2 degrees of freedom
    assert found.interval.high - 9.0 == pytest.approx(4.302653 / math.sqrt(3), rel=1e-6)
    assert find(evaluate(site(*made)), "tuned/score/of-baseline").value == pytest.approx(
        100 * (90.5 / 100.5 + 102.5 / 110.5 + 96.5 / 105.5) / 3
    )


def test_two_write_ups_of_one_sample_are_one_sample():
    made = [one_sample("a", (10.0, 10.2), slug="first"), one_sample("a", (10.1, 10.3), slug="again")]
    found = find(evaluate(site(*made)), "stock/score")
    assert found.groups == (("sample a", ("t01", "t02", "t01", "t02")),)
    assert found.value == pytest.approx(10.15)


def test_unknown_addresses_of_a_card():
    results = results_of((10.0, 10.2), (11.0, 11.2))
    for address in (
        "nowhere/score",
        "stock/nonsense",
        "stock/score/spread",
        "stock/score/saved",
        "stock/manages/ratio",
    ):
        assert results.find(at(address, "card")) is None, address


def test_relations_in_table_order():
    assert [relation.key for relation in SAMPLE_RELATIONS] == [
        "", "between-samples", "within-samples", "next-sample-at-least", "next-sample-at-most", "tolerance-at-least",
        "tolerance-at-most",
    ]  # fmt: skip
