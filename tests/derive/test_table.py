"""The figures in columns are those of the numbers one by one, and their contributions add up."""

import math
import random

import pytest

from benchgalley.derive import evaluate

from .factory import Bencher, bench, card, instrument, load, setpoint, site, write_up
from .sites import whole_site
from .test_hard_inputs import CASES

LIMITS = {"stock": 1.0, "tuned": 12.0, "mild": 2.0, "wide": 30.0}
"""Setpoint → how far from stock; spreads grow with it, so that they are not pooled."""


def uneven(slug, sample, seed, spread=1.0, missing=0.0, better=True):
    """Runs with failures, exclusions and missing values; a setpoint that was never run; limits nobody stated."""
    chance, bencher = random.Random(seed), Bencher(timed=True)
    for _ in range(24):
        for limit_pct, far in zip((100.0, 84.0, 90.0, 70.0), LIMITS.values(), strict=True):
            if chance.random() < 0.15:
                continue
            wide = far**spread
            measured = {
                "score": round(1000 * (1 - far / 200) + chance.gauss(0, wide), 1),
                "board_power_w": round(200 - 3 * far + chance.gauss(0, wide / 5), 1),
                "core_temp_c": round(60 - far / 3 + chance.gauss(0, 0.3)), "ambient_c": 21.0,
                "duration_s": round(60 + chance.gauss(0, 0.1), 2), "fan_rpm": round(1200 - 9 * far),
            }  # fmt: skip
            if chance.random() < missing:
                measured.pop(chance.choice(list(measured)))
            bencher.run(
                set={"power_limit_pct": limit_pct}, outcome="crashed" if chance.random() < 0.07 else "completed",
                excluded="warm-up" if chance.random() < 0.05 else "", **measured,
            )  # fmt: skip
    meters = bench(
        instrument("board_power_w", id="clamp", name="clamp", gain_error_pct=1.5, offset_error=None, resolution=0.1),
        instrument("core_temp_c", id="diode", name="diode", gain_error_pct=None, offset_error=1.0, resolution=1.0),
    )
    points = [setpoint(name, power_limit_pct=pct) for name, pct in zip(LIMITS, (100.0, 84.0, 90.0, 70.0), strict=True)]
    return write_up(
        bencher.trials, slug=slug, sample=sample, bench_=meters, card_=card(samples=("a", "b", "c")),
        load_=load(higher_is_better=better), margins={"score": (1.0, True), "board-power": (2.0, False)},
        setpoints=(*points, setpoint("never", power_limit_pct=55.0)),
    )  # fmt: skip


SITES = {
    "everything": whole_site,
    "uneven": lambda: site(
        uneven("one", "a", 1), uneven("two", "b", 2, missing=0.3), uneven("three", "c", 3, spread=0.1), running=True
    ),
    "less is better": lambda: site(uneven("one", "a", 4, better=False), uneven("two", "b", 5, missing=0.3)),
    **{case: lambda made=made: site(made, running=True) for case, made in CASES.items()},
}


def figures_of(number):
    """What a row of the table must hold."""
    if number.value is None:
        return [math.nan] * 7
    found = [number.value, number.standard_uncertainty, number.degrees_of_freedom]
    for interval in (number.interval, number.repeatability_interval):
        if interval is None:
            found += [None, None]
        else:
            found += [
                -math.inf if interval.low is None else interval.low,
                math.inf if interval.high is None else interval.high,
            ]
    return [math.nan if figure is None else figure for figure in found]


@pytest.mark.parametrize("name", SITES)
def test_a_row_is_the_number_at_its_address(name):
    made = SITES[name]()
    scopes = [*made.write_ups, *made.cards]
    table, results = evaluate(made).table(scopes), evaluate(made)
    assert sorted(table.addresses) == sorted(a for scope in scopes for a in results.addresses(scope))
    columns = (
        table.value, table.standard_uncertainty, table.degrees_of_freedom, table.low, table.high, table.repeats_low,
        table.repeats_high,
    )  # fmt: skip
    for row, address in enumerate(table.addresses):
        number = results.find(address)
        got = [float(column[row]) for column in columns]
        assert got == pytest.approx(figures_of(number), rel=1e-13, abs=0, nan_ok=True), address
        parts = [c.standard_uncertainty for c in number.components] if number.value is not None else []
        assert math.hypot(*table.contributions[row]) == pytest.approx(math.hypot(*parts), rel=1e-12), address


def test_some_scopes_alone_give_the_same_rows():
    made = SITES["uneven"]()
    whole = evaluate(made).table([*made.write_ups, *made.cards])
    rows = {address: row for row, address in enumerate(whole.addresses)}
    for scope in ("two", "card"):
        part = evaluate(made).table([scope])
        assert {a.scope for a in part.addresses} == {scope}
        for row, address in enumerate(part.addresses):
            assert part.value[row] == pytest.approx(whole.value[rows[address]], rel=1e-13, nan_ok=True), address


def test_numbers_found_after_the_table_are_those_found_before():
    made = SITES["uneven"]()
    results = evaluate(made)
    before = evaluate(made)
    results.table([*made.write_ups, *made.cards])
    for scope in (*made.write_ups, *made.cards):
        for address in before.addresses(scope):
            first, second = before.find(address), results.find(address)
            assert figures_of(first) == pytest.approx(figures_of(second), rel=1e-13, abs=0, nan_ok=True), address
            assert first.printed == second.printed and first.components == second.components, address
