"""The work of reading trials, in calls; times beside the csv module: `tests/benchmarks/reading_of_trials.py`."""

from benchgalley.intake.column_rules import COLUMNS
from tests.benchmarks.reading_of_trials import HEADER, floor, ours, sheet
from tests.counted_calls import calls_of


def test_both_sides_read_the_same_sheet() -> None:
    assert set(HEADER) <= set(COLUMNS)
    table, plain = ours(sheet(30)), floor(sheet(30))
    assert [trial.measured["score"] for trial in table] == [row["score"] for row in plain]


def test_a_long_sheet_costs_a_few_calls_a_row() -> None:
    """Cells are read column by column: a call for every cell of the nine columns would make 27 000."""
    ours(sheet(30))
    short, long = calls_of(lambda: ours(sheet(300))), calls_of(lambda: ours(sheet(3000)))
    making = calls_of(lambda: sheet(3000)) - calls_of(lambda: sheet(300))
    assert 2700 < long - short - making < 2700 * 6
