# ruff: noqa: E501 - the messages are compared whole
"""Numbers typed with a decimal comma and without quotation marks: told as what they are."""

import pytest

from benchgalley.intake.decimal_commas import split_number
from tests.intake.test_trials_traps import R01
from tests.intake.tree import LANTERN_TRIALS, Tree

COLUMNS = ["trial", "power_limit_pct", "voltage_offset_mv", "outcome", "score", "board_power_w", "core_temp_c", "note"]


@pytest.mark.parametrize(
    ("row", "number"),
    [
        ("p1,100,0,completed,8014,196,2,62,fine", "196,2"),
        ("p1,100,0,completed,8014,3,196,62,fine", "8014,3"),
        ("p1,100,0,completed,8014,25,196,5,62,1,", "8014,25"),
        ("p1,100,0,completed,8014,,62,5,", "62,5"),
        ("p1,100,-12,5,completed,8014,196,62,", "-12,5"),
        ("p1,100,0,completed,8014,196,62,loud, then quiet", ""),
        ("p1,100,0,completed,8014,196,62,fine,", ""),
        ("p1,100,0,complete,8014,196,2,62,fine", ""),
        ("p1,100,0,completed,8014,196,x,62,fine", ""),
        ("p1,100", ""),
    ],
)
def test_which_number_a_comma_has_cut(row: str, number: str) -> None:
    assert split_number(COLUMNS, row.split(",")) == number


def test_a_decimal_comma_without_quotation_marks_is_told_as_such(tree: Tree) -> None:
    tree.edit(LANTERN_TRIALS, R01, R01.replace("196.2", "196,2"))
    (line,) = tree.told()
    assert line == (
        f"{LANTERN_TRIALS}:2:1: ragged-row: this row has 19 cells; the header has 18; with `196,2` as one number, written with a decimal comma, they agree | Write a point for decimals: 196.2."
    )
