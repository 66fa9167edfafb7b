"""Leaves the long simulations aside, prints how many published cases passed, and which were left out and why."""

from collections import Counter
from pathlib import Path

import pytest

HERE = Path(__file__).parent


def pytest_collection_modifyitems(config, items):
    """The long simulations run when asked for by name: -m slow."""
    if "slow" in config.option.markexpr:
        return
    skip = pytest.mark.skip(reason="long simulation: run with -m slow")
    for item in items:
        if HERE in item.path.parents and item.get_closest_marker("slow"):
            item.add_marker(skip)


def pytest_terminal_summary(terminalreporter):
    reports = {
        outcome: [
            report
            for report in terminalreporter.stats.get(outcome, [])
            if "test_published.py::test_case[" in report.nodeid and getattr(report, "when", "call") == "call"
        ]
        for outcome in ("passed", "failed")
    }
    run = len(reports["passed"]) + len(reports["failed"])
    if not run:
        return
    from .test_published import CONCERNED, LEFT_OUT_CASES

    terminalreporter.write_line(
        f"published cases: {len(reports['passed'])} passed of {len(CONCERNED)} concerned "
        f"({run} run, {len(LEFT_OUT_CASES)} left out)"
    )
    for (name, reason), count in sorted(Counter((name, why) for (name, _), why in LEFT_OUT_CASES.items()).items()):
        terminalreporter.write_line(f"  left out, {name}: {count}: {reason}")
