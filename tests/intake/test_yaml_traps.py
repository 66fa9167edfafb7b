# ruff: noqa: E501 - the messages are compared whole
"""YAML files: each trap gives one clear problem with its place, never a traceback and never a wrong reading."""

import pytest

from benchgalley.intake.yaml_nodes import scalar_under
from tests.intake.tree import BENCH, CARD, LANTERN, LOAD, SITE, Tree


@pytest.mark.parametrize(
    ("file", "old", "new", "expected"),
    [
        # keys
        (CARD, "model: Lantern 60", "modell: Lantern 60",
         ["1:1: missing-key: `model` is missing | Write `model: ...`.",
          "2:1: unknown-key: `modell` is not a key here | Did you mean `model`?"]),
        (CARD, "model: Lantern 60", "model:",
         ["2:1: missing-key: `model` has no value | Write `model: ...`."]),
        (CARD, "model: Lantern 60", "model: Lantern 60\nmaker: Other",
         ["3:1: duplicate-key: `maker` stands here a second time; the first is on line 1 | Keep one of them."]),
        (CARD, "  a: {note: Bought new}", "  a: {note: Bought new, colour: red}",
         ["10:25: unknown-key: `samples.a.colour` is not a key here | Keys here: `note`, `contributed`."]),
        # numbers
        (CARD, "stock_board_power_w: 200", "stock_board_power_w: 200 W",
         ["3:22: wrong-type: `stock_board_power_w` is `200 W`, which carries the unit `W`; a number was expected"
          " | Write 200; the name says the unit."]),
        (CARD, "stock_board_power_w: 200", "stock_board_power_w: 200,5",
         ["3:22: wrong-type: `stock_board_power_w` is `200,5`, which has a decimal comma; a number was expected"
          " | Write 200.5."]),
        (CARD, "stock_board_power_w: 200", "stock_board_power_w: true",
         ["3:22: wrong-type: `stock_board_power_w` is `true`, which is a word, not a number; a number was expected"
          " | Write a number."]),
        (CARD, "stock_board_power_w: 200", "stock_board_power_w: 0200",
         ["3:22: wrong-type: `stock_board_power_w` is `0200`, which some readers take for base eight;"
          " a number was expected | Write 200."]),
        (CARD, "stock_board_power_w: 200", 'stock_board_power_w: "200"',
         ['3:22: wrong-type: `stock_board_power_w` is the text "200"; a number was expected | Write 200 unquoted.']),
        (CARD, "stock_board_power_w: 200", "stock_board_power_w: -200",
         ["3:22: out-of-range: `stock_board_power_w` is -200; a number above 0 was expected | "]),
        (CARD, "stock_board_power_w: 200", "stock_board_power_w: [200]",
         ["3:22: wrong-type: `stock_board_power_w` is a sequence; a number was expected | "]),
        (CARD, "stock_board_power_w: 200", "stock_board_power_w: 12:30:00",
         ["3:22: wrong-type: `stock_board_power_w` is `12:30:00`, which is a time or a number in base sixty;"
          " a number was expected | Write one plain number; the key names its unit."]),
        (CARD, "[50, 110]", "[110, 50]",
         ["4:24: wrong-type: `power_limit_range_pct` was expected to be the lowest and the highest | Write [50, 110]."]),
        (LOAD, "run_length_s: 60", "run_length_s: 1_000",
         ["5:15: wrong-type: `run_length_s` is `1_000`, which has underscores; a number was expected | Write 1000."]),
        (LOAD, "run_length_s: 60", "run_length_s: .inf",
         ["5:15: wrong-type: `run_length_s` is `.inf`, which is not a finite number; a number was expected"
          " | Write a finite number, or leave the value out."]),
        # words
        (LOAD, "output_checked: true", "output_checked: on",
         ["6:17: wrong-type: `output_checked` is `on`; true or false was expected | "]),
        (LOAD, "better: higher", "better: highest",
         ["4:31: unknown-word: `score.better` is `highest`; one of `higher`, `lower` was expected | Did you mean `higher`?"]),
        (BENCH, "    measures_at: wall", "    measures_at: walls",
         ["21:18: unknown-word: `instruments.wall-meter.measures_at` is `walls`; one of `card sensor`, `slot and cable`,"
          " `wall`, `air`, `software` was expected | Did you mean `wall`?"]),
        (BENCH, "columns: [wall_power_w]", "columns: [wall_power]",
         ["20:15: unknown-column: `wall_power` is no measured column of trials.csv | Did you mean `wall_power_w`?"]),
        (BENCH, "columns: [wall_power_w]", "columns: [board_power_w]",
         ["8:3: two-instruments: `board_power_w` is supplied by `card-sensor` and by `wall-meter`"
          " | Name each column under one instrument."]),
        (BENCH, "    calibrated: 2026-03-01\n    channel_spread: bench\n  thermometer", "    calibrated: last spring\n  thermometer",
         ["27:17: wrong-type: `instruments.wall-meter.calibrated` is `last spring`; a date was expected"
          " | Write year-month-day, such as 2026-03-01."]),
        (BENCH, "  wall-meter:", "  Wall Meter:",
         ["18:3: bad-name: the name `instruments.Wall Meter` is not made of small letters, digits and single hyphens"
          " | Write `wall-meter`."]),
        (CARD, "  a: {note: Bought new}", "  a204719: {note: Bought new}",
         ["10:12: serial-number: the sample name `a204719` looks like a serial number | Give samples an alias such as a, b, c."]),
        # the language of YAML itself
        (CARD, "model: Lantern 60", "model: &m Lantern 60",
         ["2:8: yaml-alias: an anchor (`m`) stands here | Write the value out in full."]),
        (CARD, "model: Lantern 60", "model: *m",
         ["2:8: yaml-alias: an alias (`m`) stands here | Write the value out in full."]),
        (CARD, "model: Lantern 60", "model: !!python/object:os.system x",
         ["2:8: yaml-tag: a tag (`tag:yaml.org,2002:python/object:os.system`) stands here"
          " | Remove it; write the plain value."]),
        (CARD, "model: Lantern 60", "model: " + "[" * 40,
         ["2:31: yaml-depth: more than 24 levels are nested | Nest less."]),
        (CARD, "model: Lantern 60", "---\nmodel: Lantern 60",
         ["2:1: yaml-documents: a second document starts here | Keep one document."]),
        (CARD, "model: Lantern 60", "model: a: b",
         ["2:9: yaml-syntax: this is not YAML: mapping values are not allowed in this context | Indent with spaces,"
          " put a space after each colon, and quote texts that hold `: `, ` #` or start with one of @ ` % & * ! [ {."]),
        (CARD, "model: Lantern 60", 'model: "Lan\\atern"',
         ["2:8: control-character: `model` holds U+0007 | Delete it."]),
        (CARD, "model: Lantern 60", "model: Lan\x07tern",
         ["2:11: control-character: the invisible character U+0007 stands here | Delete it."]),
        (CARD, "model: Lantern 60", "model: Lan\u202etern",
         ["2:11: control-character: the invisible character U+202E stands here | Delete it."]),
        # site.yaml
        (SITE, "confidence_pct: 95", "confidence_pct: 0.95",
         ["7:17: out-of-range: `confidence_pct` is 0.95; at least 50 was expected | "]),
        (SITE, "address: https://bench.example/", "address: javascript:alert(1)",
         ["3:10: wrong-type: `address` is `javascript:alert(1)`; a web address such as https://bench.example/ was expected | "]),
        (SITE, "{hours_a_day: 3,", "{hours_a_day: 30,",
         ["9:24: out-of-range: `running.hours_a_day` is 30; at most 24 was expected | "]),
        (SITE, "language: en", "language: on_off",
         ["6:11: wrong-type: `language` is `on_off`; a language tag was expected | "]),
    ],
)  # fmt: skip
def test_trap(tree: Tree, file: str, old: str, new: str, expected: list[str]) -> None:
    assert tree.edit(file, old, new).told() == [f"{file}:{line}" for line in expected]


@pytest.mark.parametrize(
    ("old", "new", "version"),
    [
        ("version: 1.10", "version: 1.10", "1.10"),
        ("version: 1.10", "version: 010", "010"),
        ("version: 1.10", "version: no", "no"),
        ("version: 1.10", "version: 12:30:00", "12:30:00"),
        ("version: 1.10", "version: 2026-03-01", "2026-03-01"),
        ("version: 1.10", 'version: "1e3"', "1e3"),
    ],
)
def test_a_text_stays_as_typed(tree: Tree, old: str, new: str, version: str) -> None:
    site, problems = tree.edit(LOAD, old, new).read()
    assert problems == () and site is not None
    assert site.loads["harbour-scene"].version == version


def test_1e3_is_a_thousand(tree: Tree) -> None:
    # YAML 1.1 takes 1e3 for a text, YAML 1.2 for a number.
    site, problems = tree.edit(LOAD, "run_length_s: 60", "run_length_s: 1e3").read()
    assert problems == () and site is not None
    assert site.loads["harbour-scene"].run_length_s == 1000.0


def test_unknown_limits_are_not_zero(tree: Tree) -> None:
    site, _ = tree.read()
    assert site is not None
    sensor = site.benches["shed"].instrument_for("board_power_w")
    assert sensor is not None and sensor.offset_error is None and sensor.gain_error_pct == 5.0
    software = site.benches["shed"].instrument_for("fan_rpm")
    assert software is not None and software.gain_error_pct is None and software.sampling_interval_s is None


def test_an_alias_bomb_is_refused_at_its_first_anchor(tree: Tree) -> None:
    bomb = "a: &a [x, x, x]\n" + "".join(
        f"{c}: &{c} [{', '.join(['*' + p] * 9)}]\n" for p, c in zip("abcdefgh", "bcdefghi", strict=True)
    )
    assert (
        tree.write(SITE, bomb).told()[0]
        == f"{SITE}:1:4: yaml-alias: an anchor (`a`) stands here | Write the value out in full."
    )


def test_deep_nesting_does_not_recurse(tree: Tree) -> None:
    (line,) = tree.write(SITE, "[" * 200_000).told()
    assert line.startswith(f"{SITE}:1:1001: yaml-syntax: this is not YAML: exceeded maximum nesting depth")


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"", "1:1: empty-file: the file is empty | Write its keys, or remove it."),
        (b"maker: caf\xe9\n", "1:11: bad-encoding: the byte 0xE9 is not UTF-8 here | Save the file as UTF-8."),
        ("maker: x".encode("utf-16"), "1:1: bad-encoding: the file is UTF-16; UTF-8 was expected | Save it as UTF-8."),
        (b"a: b\x00", "1:5: control-character: the invisible character U+0000 stands here | Delete it."),
        (b"- a\n- b\n", "1:1: wrong-type: the file is a sequence; a mapping was expected | "),
        (b"just text", "1:1: wrong-type: the file is a scalar; a mapping was expected | "),
        (b"a: " + b"x" * 1_100_000, "1:1: file-too-large: the file has 1.0 MiB; at most 1 MiB are read | Split it, or move sensor readings into a log."),
    ],
)  # fmt: skip
def test_bytes_that_are_no_card_file(tree: Tree, data: bytes, expected: str) -> None:
    assert tree.write(CARD, data).told() == [f"{CARD}:{expected}"]


def test_a_byte_order_mark_is_accepted_and_said_nothing_of(tree: Tree) -> None:
    tree.write(CARD, b"\xef\xbb\xbf" + tree.text(CARD).encode())
    tree.write(LANTERN, b"\xef\xbb\xbf" + tree.text(LANTERN).replace("\n", "\r\n").encode())
    assert tree.told() == []


def test_windows_line_ends_do_not_move_places(tree: Tree) -> None:
    tree.write(CARD, tree.text(CARD).replace("model:", "modell:").replace("\n", "\r\n"))
    assert [line.split(" ")[0] for line in tree.told()] == [f"{CARD}:1:1:", f"{CARD}:2:1:"]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("title: A day\ncard: vesper\nbench: b\n", "vesper"),
        ("card: vesper\ncard: other\n", "vesper"),
        ("setpoints:\n  card: inner\n  tuned: [card, x]\ncard: 'vesper'\n", "vesper"),
        ("title: card\nbench: card\ncard: >-\n  vesper\n", "vesper"),
        ("title: |\n  card: no\nbench: b\n", ""),
        ("card: [vesper]\nbench: b\n", ""),
        ("card:\n", ""),
        ("card: vesper\nbench: [\n", "vesper"),  # what is wrong further down is told where the whole is read
        ("bench: [\ncard: vesper\n", ""),
        ("", ""),
    ],
)
def test_one_scalar_is_found_without_reading_the_rest(text, found):
    assert scalar_under("card", text) == found
