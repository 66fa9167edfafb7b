# ruff: noqa: E501 - the messages are compared whole
"""trials.csv: each trap gives one clear problem at its cell."""

import pytest

from benchgalley.intake.problem_list import SourceText
from benchgalley.intake.trial_table import cell_place
from benchgalley.records.bench import Outcome
from tests.intake.tree import LANTERN, LANTERN_TRIALS, PEBBLE, PEBBLE_TRIALS, Tree

R01 = "r01,100,0,completed,8014,196.2,284.6,2.404,62,73,20.5,1555,60.0,2026-09-05T09:04:00+02:00,6.1,,,"
R21 = ",Driver reset"
HEADER = "trial,power_limit_pct,voltage_offset_mv,outcome,score,Board power (W),"


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        # header
        (HEADER, HEADER.replace("outcome", "outcom"),
         ["1:1: missing-column: the column `outcome` is missing | Add it, one cell a run.",
          "1:41: unknown-column: `outcom` is no column of trials.csv | Did you mean `outcome`? Or map it under `columns` in write-up.md."]),
        (HEADER, HEADER.replace("score", "trial"),
         ["1:49: duplicate-column: `trial` stands a second time in the header | Keep one column of each kind."]),
        (HEADER, HEADER.replace("score", "  "),
         ["1:49: bad-header: the header of column 5 is empty | Name the column or remove it."]),
        (HEADER, HEADER.replace("Board power (W)", "Board power"),
         ["1:1: missing-column: no column is headed `Board power (W)`, which `columns` names for `board_power_w` | Did you mean `Board power`?",
          "1:55: unknown-column: `Board power` is no column of trials.csv | Did you mean `board_power_w`? Or map it under `columns` in write-up.md."]),
        # rows
        (R01, R01 + ",",
         ["2:1: ragged-row: this row has 19 cells; the header has 18 | Put a text that holds a comma between quotation marks, and a comma for each empty cell."]),
        (R01, "r01,100,0",
         ["2:1: ragged-row: this row has 3 cells; the header has 18 | Put a text that holds a comma between quotation marks, and a comma for each empty cell."]),
        ('"Green blocks, output check failed"', '"Green blocks, output check failed',
         ["23:1: bad-csv: this row cannot be read: ',' expected after '\"' | Put a text that holds a comma or a quotation mark between \"...\" and double the marks inside."]),
        ('"Green blocks, output check failed"', '"Green" blocks',
         ["23:1: bad-csv: this row cannot be read: ',' expected after '\"' | Put a text that holds a comma or a quotation mark between \"...\" and double the marks inside."]),
        # ids and outcomes
        (R01, R01.replace("r01", "r02"),
         ["3:1: duplicate-trial: the trial `r02` stands here a second time; the first is on line 2 | Give every run a name of its own."]),
        (R01, R01.replace("r01", ""),
         ["2:1: empty-cell: `trial` is empty | Give every run a name of its own."]),
        (R01, R01.replace("completed", "complete"),
         ["2:11: unknown-outcome: the outcome is `complete` | Did you mean `completed`?"]),
        (R01, R01.replace("completed", ""),
         ["2:11: unknown-outcome: `outcome` is empty | Outcomes: `completed`, `crashed`, `artefacts`, `hung`, `aborted`."]),
        (R01, R01.replace("8014", ""),
         ["2:21: completed-without-score: the trial `r01` completed but has no score | Write the score, or another outcome."]),
        # numbers
        (R01, R01.replace("196.2", '"196,2"'),
         ["2:26: bad-number: `Board power (W)` is `196,2`, which has a decimal comma | Write 196.2."]),
        (R01, R01.replace("196.2", "196.2 W"),
         ["2:26: bad-number: `Board power (W)` is `196.2 W`, which carries the unit `W` | Write 196.2; the name says the unit."]),
        (R01, R01.replace("8014", "8 014"),
         ["2:21: bad-number: `score` is `8 014`, which has a thousands separator or a decimal comma | Write the digits without separators and a point for decimals."]),
        (R01, R01.replace("8014", "nan"),
         ["2:21: bad-number: `score` is `nan`, which is not a finite number | Write a finite number, or leave the value out."]),
        (R01, R01.replace("8014", "inf"),
         ["2:21: bad-number: `score` is `inf`, which is not a finite number | Write a finite number, or leave the value out."]),
        (R01, R01.replace("8014", "8_014"),
         ["2:21: bad-number: `score` is `8_014`, which has underscores | Write 8014."]),
        (R01, R01.replace("8014", "1.2.3"),
         ["2:21: bad-number: `score` is `1.2.3`, which is not a number | Write digits, with a point for decimals."]),
        (R01, R01.replace("8014", "1e999"),
         ["2:21: bad-number: `score` is `1e999`, which is too large | Write a number a computer can hold."]),
        (R01, R01.replace("196.2", "N/A"),
         ["2:26: bad-number: `Board power (W)` is `N/A`, which is a placeholder, not a number | Leave the value out when it was not measured."]),
        (R01, R01.replace("196.2", "-196.2"),
         ["2:26: out-of-range: `Board power (W)` is -196.2; at least 0 was expected | "]),
        (R01, R01.replace(",62,", ",-300,"),
         ["2:44: out-of-range: `core_temp_c` is -300; a temperature above absolute zero was expected | "]),
        (R01, R01.replace("60.0", "0"),
         ["2:60: out-of-range: `duration_s` is 0; a time above 0 was expected | "]),
        # settings
        (R01, R01.replace("r01,100", "r01,"),
         ["2:5: empty-cell: `power_limit_pct` is empty | Write 100 for the stock setting."]),
        (R01, R01.replace("r01,100", "r01,-5"),
         ["2:5: out-of-range: `power_limit_pct` is -5; a number above 0 was expected | "]),
        # texts
        (R21, ",=1+1",
         ["22:71: formula-cell: `note` starts with `=`: spreadsheets run that as a formula | Start the text with a letter or a digit."]),
        (R21, ",@reset",
         ["22:71: formula-cell: `note` starts with `@`: spreadsheets run that as a formula | Start the text with a letter or a digit."]),
        (",soak,,\nr27", ",soaked,,\nr27",
         ["27:99: unknown-sequence: `soaked` is no sequence of this write-up | Did you mean `soak`?"]),
        ("Window opened during the run", "yes",
         ["26:96: excluded-without-reason: `excluded` is `yes`; the reason was expected | Write why the run is left out."]),
        # times
        ("2026-09-05T09:04:00+02:00", "2026-09-05T09:04:00",
         ["2:65: time-without-zone: `started` is `2026-09-05T09:04:00`, a time without its zone | Add the zone (+01:00), or give `logs: {time_zone: ...}` in write-up.md."]),
        ("2026-09-05T09:04:00+02:00", "5.9.2026 9:04",
         ["2:65: bad-time: `started` is `5.9.2026 9:04`; a date and time was expected | Write such as 2026-03-01T14:05:00+01:00."]),
        ("2026-09-05T09:04:00+02:00", "2026-02-30T09:04:00+02:00",
         ["2:65: bad-time: `started` is `2026-02-30T09:04:00+02:00`; a date and time was expected | Write such as 2026-03-01T14:05:00+01:00."]),
        ("2026-09-05T09:04:00+02:00", "2026-09-05T09:07:30+02:00",
         ["3:67: runs-overlap: the trial `r02` starts 30 s before `r01` ends | Correct `started` or `duration_s`."]),
    ],
)  # fmt: skip
def test_trap(tree: Tree, old: str, new: str, expected: list[str]) -> None:
    assert tree.edit(LANTERN_TRIALS, old, new).told() == [f"{LANTERN_TRIALS}:{line}" for line in expected]


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        ("", "1:1: empty-file: the file is empty | Write a header line and one line a run."),
        ("\n\n", "1:1: empty-file: the file is empty | Write a header line and one line a run."),
        ("trial,outcome,score\n", "1:1: empty-file: no run follows the header | Write one line a run."),
        ("trial;outcome;score\nr1;completed;5\n", "1:1: bad-separator: the columns are separated by `;`; a comma was expected | Save it with commas."),
        (b"trial,note\nr1,caf\xe9\n", "2:7: bad-encoding: the byte 0xE9 is not UTF-8 here | Save the file as UTF-8."),
        ("trial,outcome,score\nr1,completed,5".encode("utf-16"), "1:1: bad-encoding: the file is UTF-16; UTF-8 was expected | Save it as UTF-8."),
        ("trial,outcome,score\nr1,com\0pleted,5", "2:7: control-character: the invisible character U+0000 stands here | Delete it."),
        ("trial,outcome,score\nr1,completed," + "5" * 200_000, "2:1: bad-csv: this row cannot be read: field larger than field limit (131072) | Put a text that holds a comma or a quotation mark between \"...\" and double the marks inside."),
    ],
)  # fmt: skip
def test_files_that_are_no_trials(tree: Tree, data: str | bytes, expected: str) -> None:
    assert tree.write(PEBBLE_TRIALS, data).told() == [f"{PEBBLE_TRIALS}:{expected}"]


def test_a_200_mb_file_is_refused_before_it_is_read(tree: Tree) -> None:
    with (tree.root / PEBBLE_TRIALS).open("wb") as handle:
        handle.truncate(200_000_000)
    with (tree.root / LANTERN).open("wb") as handle:
        handle.truncate(200_000_000)
    assert tree.told() == [
        f"{PEBBLE_TRIALS}:1:1: file-too-large: the file has 190.7 MiB; at most 64 MiB are read | Split it, or move sensor readings into a log.",
        f"{LANTERN}:1:1: file-too-large: the file has 190.7 MiB; at most 1 MiB are read | Split it, or move sensor readings into a log.",
    ]


def test_several_problems_are_told_at_once_in_order_of_place(tree: Tree) -> None:
    tree.edit(LANTERN_TRIALS, R01, R01.replace("completed", "complete").replace("196.2", "196.2 W"))
    tree.edit(LANTERN, "stopping_rule:", "stoping_rule:")
    tree.edit(PEBBLE, 'published: "2026-09-21"', "published: on")
    assert [line.split(": ")[1] for line in tree.told()] == [
        "wrong-type",
        "unknown-outcome",
        "bad-number",
        "unknown-key",
    ]


def test_values_in_other_units_keep_their_typed_digits(tree: Tree) -> None:
    site, _ = tree.read()
    assert site is not None
    first = site.write_ups["quiet-lantern"].trials[0]
    # 2.404 GHz and 196.2 W as typed: a shift of the point, no rounding error of a multiplication.
    assert first.measured["core_clock_mhz"] == 2404.0 and first.decimals["core_clock_mhz"] == 0
    assert first.measured["board_power_w"] == 196.2 and first.decimals["board_power_w"] == 1


def test_units_that_do_not_convert_are_refused(tree: Tree) -> None:
    tree.edit(LANTERN, "unit: GHz", "unit: kW")
    assert tree.told() == [
        f"{LANTERN}:29:45: wrong-unit: `columns.core_clock_mhz.unit` is kW, which does not convert into MHz | Write such as MHz."
    ]
    tree.edit(LANTERN, "unit: kW", "unit: furlongs")
    assert tree.told() == [
        f"{LANTERN}:29:45: unknown-unit: `columns.core_clock_mhz.unit` is `furlongs`, which is no unit known here | Write such as MHz."
    ]


def test_absent_values_have_no_key_and_defaults_are_filled_in(tree: Tree) -> None:
    site, _ = tree.read()
    assert site is not None
    trials = site.write_ups["quiet-lantern"].trials
    crashed = trials[20]
    assert (
        crashed.outcome is Outcome.CRASHED
        and "score" not in crashed.measured
        and crashed.measured["duration_s"] == 36.1
    )
    assert crashed.settings == {
        "power_limit_pct": 100.0, "voltage_offset_mv": -170.0, "core_offset_mhz": 0.0, "memory_offset_mhz": 0.0, "fan_mode": "auto",
    }  # fmt: skip
    assert [t.line for t in trials] == list(range(2, 29)) and [t.order for t in trials] == list(range(27))
    assert trials[24].excluded == "Window opened during the run" and not trials[24].counts
    assert trials[24].note == '"Cold" air, see notes'


def test_a_score_on_a_failed_run_is_allowed(tree: Tree) -> None:
    tree.edit(LANTERN_TRIALS, "r21,100,-170,crashed,,", "r21,100,-170,crashed,5100,")
    site, problems = tree.read()
    assert site is not None and "quiet-lantern" in site.write_ups
    assert [p.rule for p in problems] == ["score-not-used"]


def test_spaces_around_numbers_and_blank_lines_do_no_harm(tree: Tree) -> None:
    text = tree.text(LANTERN_TRIALS).replace(R01, "\n" + R01.replace(",8014,", ", 8014 ,")) + "\n,,,,,,,,,,,,,,,,,\n"
    site, problems = tree.write(LANTERN_TRIALS, text).read()
    assert problems == () and site is not None
    assert site.write_ups["quiet-lantern"].trials[0].measured["score"] == 8014.0
    assert site.write_ups["quiet-lantern"].trials[0].line == 3


def test_cells_are_found_behind_quoted_commas_and_line_breaks() -> None:
    source = SourceText("x.csv", 'a,"b,\nc",d\n1,"x ""y"", z",3\n')
    assert cell_place(source, 1, 2) == (2, 4, 1)
    assert cell_place(source, 3, 1) == (3, 3, 12)
    assert cell_place(source, 3, 2) == (3, 16, 1)
