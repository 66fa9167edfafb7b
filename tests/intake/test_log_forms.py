"""Forms of log that are seldom seen: each gives the numbers of the plain one, or is told."""

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.intake.log_site import RUNS, START, LogForm, expected_mean, readings, result, write
from tests.intake.test_logs import FORMS
from tests.intake.tree import Tree, told

LONG_TIMES = LogForm(time=lambda s: f"{START.timestamp() + s:.7f}")
SEVERAL = {
    "a bar between cells": LogForm(separator="|"),
    "thousands comma": LogForm(separator=";", thousands=","),
    "thousands apostrophe": LogForm(thousands="'"),
    "UTF-16 and a decimal comma": LogForm(encoding="utf-16", separator=";", decimal=","),
    "UTF-8 with mark and local time": replace(FORMS["local with offset"], encoding="utf-8-sig"),
    "ISO with milliseconds": LogForm(
        time_rule="{header: Time, format: iso8601}",
        time=lambda s: (START + timedelta(seconds=s)).strftime("%Y-%m-%dT%H:%M:%S.000Z"),
    ),
    "more digits of the time than are read in bulk": LONG_TIMES,
    "milliseconds with decimals": LogForm(
        time_rule="{header: Time, format: unix_ms}", time=lambda s: f"{(START.timestamp() + s) * 1000:.3f}"
    ),
}


def means(tree: Tree) -> list[float]:
    trials, problems = result(tree)
    assert told(problems) == []
    return [trial.measured["board_power_w"] for trial in trials]


EXPECTED = [expected_mean(at, 1) for at, _ in RUNS]


@pytest.mark.parametrize("name", SEVERAL)
def test_a_seldom_form_gives_the_same_numbers(tree: Tree, name: str) -> None:
    assert means(write(tree, SEVERAL[name])) == pytest.approx(EXPECTED, rel=1e-12)


@pytest.mark.parametrize("name", ["unix seconds", "ISO in UTC", "day first, decimal comma", "tabs"])
def test_line_ends_of_another_system(tree: Tree, name: str) -> None:
    form = FORMS[name]
    rows = [line + "\r" for line in form.lines(readings())]
    assert means(write(tree, form, rows)) == pytest.approx(EXPECTED, rel=1e-12)


@pytest.mark.parametrize("every", [1, 7])
def test_cells_in_quotation_marks_and_with_blanks_around(tree: Tree, every: int) -> None:
    form = LogForm()
    head, *lines = form.lines(readings())
    quoted = [
        ",".join(f'"{cell}"' for cell in line.split(",")) if i % every == 0 else line.replace(",", " , ")
        for i, line in enumerate(lines)
    ]
    assert means(write(tree, form, [head, *quoted])) == pytest.approx(EXPECTED, rel=1e-12)


def test_a_header_that_comes_back_many_times(tree: Tree) -> None:
    form = LogForm()
    head, *lines = form.lines(readings())
    again = [part for i, line in enumerate(lines) for part in ([head, line] if i % 20 == 19 else [line])]
    trials, problems = result(write(tree, form, [head, *again]))
    assert [p.rule for p in problems] == ["log-mended"] and "11 repeated header lines" in problems[0].message
    assert [t.measured["board_power_w"] for t in trials] == pytest.approx(EXPECTED, rel=1e-12)


@pytest.mark.parametrize("word", ["N/A", "n/a", "NaN", "-", "--", "null", "None", ""])
def test_words_for_no_reading(tree: Tree, word: str) -> None:
    form = LogForm()
    lines = form.lines(readings())
    time, _, core, note = lines[30].split(",")
    lines[30] = f"{time},{word},{core},{note}"
    trials, problems = result(write(tree, form, lines))
    assert [p.rule for p in problems] == ["log-mended"]
    assert [t.measured["board_power_w"] for t in trials] == pytest.approx(EXPECTED, rel=2e-3)
