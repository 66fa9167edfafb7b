"""Logs spoilt at random: the right numbers, or a clear problem; never a wrong number without one."""

import random
from collections import Counter
from pathlib import Path

import pytest

from tests.intake.log_site import RUNS, LogForm, damage, expected_mean, readings, result, write
from tests.intake.tree import PEBBLE_LOG, Tree

WRONG_SHARE = 0.005
"""A mean further off than this share is wrong: one of 29 readings missing moves it far less."""


def run(seeds: range, folder: Path) -> Counter[str]:
    form = LogForm()
    good = form.lines(readings())
    tree = write(Tree.copy(folder), form)
    expected = [expected_mean(at, 1) for at, _ in RUNS]
    tally: Counter[str] = Counter()
    for seed in seeds:
        fault, data = damage(good, random.Random(seed))
        trials, problems = result(tree.write(PEBBLE_LOG, data))
        for problem in problems:
            assert problem.message and problem.where.file.endswith(".csv")
        right = bool(trials) and all(
            abs(trial.measured["board_power_w"] - mean) <= WRONG_SHARE * mean
            for trial, mean in zip(trials, expected, strict=True)
        )
        verdict = "right" if right else "told" if problems else "WRONG"
        tally[f"{fault}: {verdict}"] += 1
        assert verdict != "WRONG", (seed, fault)
    return tally


def test_two_hundred_damaged_logs(tmp_path: Path) -> None:
    tally = run(range(200), tmp_path)
    print("\n".join(f"{count:4d}  {what}" for what, count in sorted(tally.items())))
    assert sum(count for what, count in tally.items() if what.endswith("right")) > 40
    assert sum(count for what, count in tally.items() if what.endswith("told")) > 40


@pytest.mark.slow
def test_five_thousand_damaged_logs(tmp_path: Path) -> None:
    tally = run(range(200, 5200), tmp_path)
    print("\n".join(f"{count:4d}  {what}" for what, count in sorted(tally.items())))
