# ruff: noqa: E501 - the messages are compared whole
"""The `logs` of the front matter: everything missing is told at once, with the words that are allowed."""

import pytest

from tests.intake.log_site import LogForm, readings, result, write
from tests.intake.tree import PEBBLE, PEBBLE_LOG, Tree, told

COLUMNS = "Write such as `columns: {board_power_w: header in the log}`."
FORMATS = "`iso8601`, `local`, `unix_s`, `unix_ms`, `elapsed_s`"
TIME = f"Write `time: {{header: ..., format: ...}}` with one of the formats {FORMATS}; `local` needs `time_zone` beside it."


def with_rules(tree: Tree, rules: str) -> list[str]:
    """What is told of the write-up with other rules for its logs, in the file that holds them."""
    front = tree.text(PEBBLE)
    start, stop = front.index("logs:\n"), front.index("margins:")
    tree.write(PEBBLE, front[:start] + rules + front[stop:])
    return [line for line in tree.told() if line.startswith(PEBBLE)]


@pytest.mark.parametrize(
    ("rules", "expected"),
    [
        ("logs:\n  separator: ';'\n",
         [f"14:3: missing-key: `logs.columns` is missing | {COLUMNS}", f"14:3: missing-key: `logs.time` is missing | {TIME}"]),
        ("logs:\n  columns: {board_power_w: Draw}\n", [f"14:3: missing-key: `logs.time` is missing | {TIME}"]),
        ("logs:\n  columns: {board_power_w: Draw}\n  time: {}\n",
         ["15:9: missing-key: `logs.time.header` is missing | Write `header: ...`.",
          "15:9: missing-key: `logs.time.format` is missing | Write `format: ...` with one of " + FORMATS + "."]),
        ("logs:\n  time: {header: Clock}\n",
         [f"14:3: missing-key: `logs.columns` is missing | {COLUMNS}",
          "14:9: missing-key: `logs.time.format` is missing | Write `format: ...` with one of " + FORMATS + "."]),
    ],
)  # fmt: skip
def test_every_missing_key_is_told_at_once(tree: Tree, rules: str, expected: list[str]) -> None:
    assert with_rules(tree, rules) == [f"{PEBBLE}:{line}" for line in expected]


def test_a_zone_alone_needs_no_logs(tree: Tree) -> None:
    assert with_rules(tree, 'logs: {time_zone: "+02:00"}\n') == []


@pytest.mark.parametrize(
    ("separator", "shown", "written"), [(";", "`;`", '";"'), ("\t", "a tab", "tab"), ("|", "`|`", '"|"')]
)
def test_the_separator_of_a_log_is_named(tree: Tree, separator: str, shown: str, written: str) -> None:
    lines = LogForm(separator=separator).lines(readings())
    # A header that holds the sign the rules expect, as a comma in "Power, W".
    lines[0] = lines[0].replace("Note", '"Note, made by hand"')
    problems = result(write(tree, LogForm(), lines))[1]
    assert told(problems) == [
        f"{PEBBLE_LOG}:1:1: bad-separator: the header holds {shown} three times, but `logs.separator` is `,`, as it is when left out | Write separator: {written} under `logs`."
    ]


def test_a_header_that_is_wrong_as_well_is_no_hindrance(tree: Tree) -> None:
    lines = LogForm(separator=";").lines(readings())
    lines[0] = lines[0].replace("Draw [mW]", "Draw [W]")
    problems = result(write(tree, LogForm(), ["Logger 3", *lines]))[1]
    assert told(problems) == [
        f'{PEBBLE_LOG}:2:1: bad-separator: the header holds `;` three times, but `logs.separator` is `,`, as it is when left out | Write separator: ";" under `logs`.'
    ]


def without_separator(tree: Tree, lines: list[str]) -> list[str]:
    write(tree, LogForm(separator=";", decimal=","), lines)
    return told(result(tree.edit(PEBBLE, "  separator: ';'\n", ""))[1])


def test_the_separator_is_named_although_the_decimal_sign_is_a_comma(tree: Tree) -> None:
    lines = LogForm(separator=";", decimal=",").lines(readings())
    assert without_separator(tree, lines) == [
        f'{PEBBLE_LOG}:1:1: bad-separator: the header holds `;` three times, but `logs.separator` is `,`, as it is when left out | Write separator: ";" under `logs`.'
    ]


def test_commas_between_numbers_with_decimal_commas_are_told(tree: Tree) -> None:
    lines = LogForm(separator=",", decimal=".").lines(readings())
    assert without_separator(tree, lines) == [
        f"{PEBBLE_LOG}:1:1: ambiguous-decimal: the columns of the log are separated by `,`, which is also its decimal sign | Write `decimal: .`, or export the log with another separator."
    ]
