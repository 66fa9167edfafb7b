"""The machinery of the speed table: both sides do their work, and the table says what was measured."""

import math

import pytest

from benchgalley.charts import draw, draw_card
from benchgalley.derive import evaluate
from benchgalley.intake import read_site
from tests.counted_calls import calls_of

from . import check_of_a_write_up, logs_reduction, page_by_hand, site_of_many_write_ups
from .floors import FLOORS
from .many_write_ups import make_site
from .numbers_of_a_large_site import (
    Shape,
    all_numbers,
    all_records,
    every_text,
    grouped_statistics,
    large_site,
    table,
    timing,
)

SMALL = Shape(write_ups=2, runs=40, setpoints=3)


def test_both_sides_do_the_whole_work():
    made = large_site(SMALL)
    assert sum(len(w.trials) for w in made.write_ups.values()) == 80
    assert grouped_statistics(made) == 2 * 3 * 10
    numbers = all_records(made)
    columns = all_numbers(made)
    assert {n.address for n in numbers} == set(columns.addresses) and len(columns) == len(numbers) > 1000
    assert all(math.isfinite(value) for value in columns.value)
    assert all(n.value is not None and math.isfinite(n.value) for n in numbers)
    assert every_text(numbers) > 50 * len(numbers)


def test_the_table_shows_ratios_of_one_run():
    found = timing(SMALL, rounds=1)
    assert found.numbers_s > 0 and found.floor_s > 0
    assert found.ratio_with_texts > found.ratio_of_records
    assert f"| {found.ratio:.2f} |" in table([found]).splitlines()[-1]


def test_all_numbers_cost_a_few_calls_a_run_where_runs_are_many():
    """The demand of three times the floor is measured by the benchmark; here what grows with the runs, without a clock.

    The floor asks three things of a run: whether it counts, its settings, its group.
    """
    few, many = (large_site(Shape(write_ups=1, runs=runs, setpoints=2)) for runs in (2_000, 20_000))
    all_numbers(few), grouped_statistics(few)
    ours = calls_of(lambda: all_numbers(many)) - calls_of(lambda: all_numbers(few))
    floor = calls_of(lambda: grouped_statistics(many)) - calls_of(lambda: grouped_statistics(few))
    assert floor == 3 * 18_000
    assert ours < 3 * floor


def test_the_parts_of_a_check_are_measured():
    strict, whole = check_of_a_write_up.ratios(check_of_a_write_up.measured(1))
    assert 0 < strict < math.inf and 0 < whole < math.inf


@pytest.mark.parametrize("uneven", [False, True])
def test_every_way_through_a_log_reads_all_of_it(tmp_path, uneven):
    path, rows = tmp_path / "log.csv", 30_000
    logs_reduction.write_log(path, rows, uneven=uneven)
    runs = int(rows * logs_reduction.INTERVAL_S / logs_reduction.RUN_EVERY_S)
    found = {case: work(path, rows) for case, work in logs_reduction.WORK.items()}
    assert found == {case: runs if case.startswith("reduced") else rows for case in logs_reduction.CASES}


def test_the_table_of_builds_measures_every_build_and_floor():
    """Four write-ups: too few for ratios that mean something, enough to see that each part does its work."""
    found = site_of_many_write_ups.timing(4, rounds=1)
    builds = {"clean", "cached", "unchanged", "sentence", "start-up", "late start-up", "by hand"}
    assert set(found.cpu) == set(found.wall) == builds | set(FLOORS)
    assert all(seconds > 0 for seconds in found.cpu.values())
    assert {"benchgalley: derive", "benchgalley: publish"} <= set(found.rooms) and sum(found.rooms.values()) < 1
    assert "| clean a write-up, s |" in found.as_text()


def test_the_script_by_hand_has_the_numbers_and_charts_of_the_site(tmp_path):
    make_site(tmp_path, 4)
    site, _ = read_site(tmp_path)
    results = evaluate(site)
    counts = site_of_many_write_ups.same_numbers(site, list(site.write_ups), tmp_path / "content")
    assert set(counts) == {*site.write_ups, "card-aaa"}
    for scope, count in counts.items():
        assert count > 0.9 * len(results.addresses(scope)) > 300
    target = tmp_path / "by-hand"
    page_by_hand.write_site([tmp_path / "content" / "write-ups" / slug for slug in site.write_ups], target)
    charts = {slug: len(draw(write_up, site, results)) for slug, write_up in site.write_ups.items()}
    charts["card-aaa"] = len(draw_card(site.cards["card-aaa"], site, results))
    assert {folder.name: len(list(folder.glob("*.svg"))) for folder in target.iterdir()} == charts
