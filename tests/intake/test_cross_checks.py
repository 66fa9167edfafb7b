# ruff: noqa: E501 - the messages are compared whole
"""What only several files together can tell."""

import shutil

import pytest

from benchgalley.intake import read_site
from tests.intake.tree import CARD, LANTERN, LANTERN_TRIALS, PEBBLE, PEBBLE_LOG, PEBBLE_TRIALS, SITE, Tree, told

WITHOUT_PLACE = [
    f"{LANTERN_TRIALS}:{line}:1: run-without-place: the trial `{trial}` (power_limit_pct {limit}, voltage_offset_mv -110) belongs to no setpoint and no sequence | Declare one for it in write-up.md, or give the reason in `excluded`."
    for line, trial, limit in ((24, "r23", 90), (25, "r24", 70))
]
UNUSED = "content/write-ups/pebble-by-log/images/frame.png:1:1: unused-image: no text shows this image | Place it with ![what it shows](images/frame.png), or remove it."


def soak_differs(limit: str) -> list[str]:
    return [
        f"{LANTERN_TRIALS}:27:99: sequence-settings-differ: the trial `r26` (and 1 more) is marked `soak`, but power_limit_pct is 80, not {limit} | Correct the settings or the mark."
    ]


@pytest.mark.parametrize(
    ("file", "old", "new", "expected"),
    [
        (LANTERN, "card: lantern-60", "card: lantern-6",
         ["7:7: unknown-card: there is no card `lantern-6` | Did you mean `lantern-60`?"]),
        (LANTERN, "sample: a", "sample: c",
         ["8:9: unknown-sample: there is no sample `c` | Sample ids: `a`, `b`."]),
        (LANTERN, "bench: shed", "bench: barn",
         ["9:8: unknown-bench: there is no bench `barn` | Bench ids: `shed`."]),
        (LANTERN, "load: harbour-scene", "load: harbour",
         ["10:7: unknown-load: there is no load `harbour` | Did you mean `harbour-scene`?"]),
        (LANTERN, "baseline: stock\n", "",
         ["2:1: missing-key: `baseline` is missing | Write `baseline: ...`."]),
        (LANTERN, "baseline: stock", "baseline: stok",
         ["17:11: unknown-setpoint: `baseline` is `stok`, which is no setpoint here | Did you mean `stock`?"]),
        (LANTERN, "    power_limit_pct: 80", "    power_limit_pct: 81",
         [*soak_differs("81"), "13:3: setting-without-runs: no run in trials.csv has the settings of `tuned` (power_limit_pct 81, voltage_offset_mv -110) | Check the settings here and in trials.csv, or remove the setpoint."]),
        (LANTERN, "    power_limit_pct: 80", "    power_limit_pct: 120",
         [*soak_differs("120"), "13:3: outside-power-limit-range: `tuned` sets a power limit of 120 %, but `lantern-60` allows 50 % to 110 % | Correct the setpoint, or `power_limit_range_pct` in the card file.",
          "13:3: setting-without-runs: no run in trials.csv has the settings of `tuned` (power_limit_pct 120, voltage_offset_mv -110) | Check the settings here and in trials.csv, or remove the setpoint."]),
        (LANTERN, "    power_limit_pct: 80\n    voltage_offset_mv: -110", "    power_limit_pct: 100\n    voltage_offset_mv: 0",
         ["13:3: same-settings: the setpoints `stock` and `tuned` have the same settings | Keep one of them, or change a setting."]),
        (LANTERN, "kind: soak, setpoint: tuned", "kind: soak, setpoint: turned",
         ["26:32: unknown-setpoint: `sequences.soak.setpoint` is `turned`, which is no setpoint here | Did you mean `tuned`?"]),
        (LANTERN, "    held: {voltage_offset_mv: -110}", "    held: {voltage_offset_mv: -111}",
         [*WITHOUT_PLACE, "20:3: sequence-without-runs: no run in trials.csv belongs to `limit-walk` | Check what is held here and the settings in trials.csv, or remove the sequence."]),
        (LANTERN, "    held: {voltage_offset_mv: -110}", "    held: {power_limit_pct: 80}",
         ["23:29: setting-varies: `sequences.limit-walk.held.power_limit_pct` is held and varied at once | "]),
        (LANTERN, "  soak: {kind: soak", "  rest: {kind: soak",
         [f"{LANTERN_TRIALS}:{line}:99: unknown-sequence: `soak` is no sequence of this write-up | Sequences: `power-sweep`, `limit-walk`, `offset-ladder`, `rest`." for line in (27, 28)]),
        (LANTERN, "  soak: {kind: soak", "  tuned: {kind: soak",
         ["26:3: name-taken: `tuned` is a setpoint and a sequence | Rename one: addresses need one meaning."]),
        (LANTERN, "kind: ladder, setting: voltage_offset_mv", "kind: ladder, setting: voltage_offset",
         ["25:42: unknown-word: `sequences.offset-ladder.setting` is `voltage_offset`; one of `power_limit_pct`, `voltage_offset_mv`, `core_offset_mhz`, `memory_offset_mhz`, `fan_mode` was expected | Did you mean `voltage_offset_mv`?"]),
        (LANTERN, "saving: tuned/board-power/saved", "saving: tuned board-power",
         ["32:11: bad-address: `claims.saving` is `tuned board-power`, which is no address | Write setpoint/quantity or setpoint/quantity/relation, such as tuned/board-power/saved."]),
        (LANTERN, "margins: {score: 5 %, board-power: 2 W}", "margins: {scor: 5 %, board-power: 2 K}",
         ["30:11: unknown-quantity: `scor` is no quantity | Did you mean `score`?",
          "30:35: wrong-type: `margins.board-power` is `2 K`; a margin in W or percent was expected | Write such as `1 %`."]),
        (LANTERN, "published: 2026-09-20", "published: 20 September 2026",
         ["6:12: wrong-type: `published` is `20 September 2026`; a date was expected | Write year-month-day, such as 2026-03-01."]),
        (LANTERN, "published: 2026-09-20", "published: 2026-02-30",
         ["6:12: wrong-type: `published` is `2026-02-30`; a date was expected | Write year-month-day, such as 2026-03-01."]),
        (LANTERN, "(chart:score-against-power ", "(chrt:score-against-power ",
         ["60:47: unknown-destination: `chrt:score-against-power` is no destination for an image | Did you mean `chart:`?"]),
        (LANTERN, "[8 GB](given:card)", "[8 GB](javascript:alert)",
         ["45:38: unknown-destination: `javascript:alert` is no destination for a link | Use https:, http:, mailto:, claim:, given: or a relative path."]),
        (PEBBLE, "![The last frame of the load, a grey field]", "![]",
         ["34:1: missing-alternative-text: this image has no alternative text | Write what it shows between the square brackets."]),
        (PEBBLE, "(images/frame.png", "(images/fram.png",
         [UNUSED, "34:45: unknown-image: `images/fram.png` is no image of this write-up | Did you mean `images/frame.png`?"]),
        (PEBBLE, "time_zone: \"+02:00\"", "time_zone: Europe/Nowhere",
         ["18:14: unknown-time-zone: `logs.time_zone` is `Europe/Nowhere`, which is no time zone known on this machine | Write an offset such as \"+01:00\", or a zone name of the IANA data base."]),
        (PEBBLE, "decimal: \",\"", "decimal: \";\"",
         ["20:12: unknown-word: `logs.decimal` is `;`; one of `.`, `,` was expected | "]),
        (PEBBLE, "  separator: \";\"", "  separator: \",\"",
         ["20:12: ambiguous-decimal: the decimal sign of the logs is also their separator or their thousands sign | Say `separator` and `decimal` as they stand in the file."]),
        (PEBBLE, "{rule: fixed,", "{rule: fixt,",
         ["22:18: unknown-word: `logs.window.rule` is `fixt`; one of `fixed`, `steady` was expected | Did you mean `fixed`?"]),
        (PEBBLE, "unit: kW", "unit: K",
         ["15:54: wrong-unit: `logs.columns.board_power_w.unit` is `K`, which does not convert into W | Write such as W."]),
        (PEBBLE_TRIALS, "p1,100,completed,513.2,20.5,40.0,2026-09-12T14:00:08+02:00,6.1,logs/evening.csv", "p1,100,completed,513.2,20.5,40.0,2026-09-12T14:00:08+02:00,6.1,logs/morning.csv",
         ["2:64: missing-log: the log `logs/morning.csv` is not there | Add the file, or correct the name."]),
        (PEBBLE_TRIALS, "p1,100,completed,513.2,20.5,40.0,2026-09-12T14:00:08+02:00,6.1,logs/evening.csv", "p1,100,completed,513.2,20.5,40.0,2026-09-12T14:00:08+02:00,6.1,../../../../../etc/passwd",
         ["2:64: bad-path: `log` is `../../../../../etc/passwd`, which climbs out of its folder with `..` | Write a path such as logs/evening.csv."]),
        (PEBBLE_TRIALS, "p1,100,completed,513.2,20.5,40.0,2026-09-12T14:00:08+02:00,6.1,logs/evening.csv", "p1,100,completed,513.2,20.5,40.0,2026-09-12T14:00:08+02:00,6.1,/etc/passwd",
         ["2:64: bad-path: `log` is `/etc/passwd`, which is an absolute path | Write a path such as logs/evening.csv."]),
    ],
)  # fmt: skip
def test_trap(tree: Tree, file: str, old: str, new: str, expected: list[str]) -> None:
    whole = [line if line.startswith("content/") else f"{file}:{line}" for line in expected]
    assert tree.edit(file, old, new).told() == whole


def test_a_broken_card_is_told_once_and_takes_its_write_up_along(tree: Tree) -> None:
    site, problems = tree.edit(CARD, "maker: Marrowby", "maker:").read()
    assert told(problems) == [f"{CARD}:1:1: missing-key: `maker` has no value | Write `maker: ...`."]
    assert site is not None and list(site.write_ups) == ["pebble-by-log"] and list(site.cards) == ["pebble-4"]


def test_without_site_yaml_there_is_no_site_but_every_other_problem_is_told(tree: Tree) -> None:
    (tree.root / SITE).unlink()
    site, problems = tree.edit(CARD, "maker: Marrowby", "maker:").read()
    assert site is None
    assert told(problems) == [
        f"{CARD}:1:1: missing-key: `maker` has no value | Write `maker: ...`.",
        f"{SITE}:1:1: missing-file: this file is missing | Add it.",
    ]


def test_an_empty_folder_is_told_about(tmp_path_factory: pytest.TempPathFactory) -> None:
    site, problems = read_site(tmp_path_factory.mktemp("empty"))
    assert site is None and told(problems) == [f"{SITE}:1:1: missing-file: this file is missing | Add it."]


def test_names_are_kebab_case_and_unique_over_write_ups_and_cards(tree: Tree) -> None:
    ups = tree.root / "content/write-ups"
    shutil.copytree(ups / "quiet-lantern", ups / "Quiet Lantern")
    shutil.copytree(ups / "quiet-lantern", ups / "pebble-4")
    assert tree.told() == [
        "content/write-ups/Quiet Lantern:1:1: bad-name: the name `Quiet Lantern` is not made of small letters, digits and single hyphens | Write `quiet-lantern`.",
        "content/write-ups/pebble-4:1:1: name-taken: `pebble-4` is a write-up and a card | Rename one: addresses need one meaning.",
    ]


def test_links_that_leave_the_site_are_refused(tree: Tree, tmp_path_factory: pytest.TempPathFactory) -> None:
    outside = tmp_path_factory.mktemp("outside")
    (outside / "secret.csv").write_text("secret")
    (tree.root / PEBBLE_LOG).unlink()
    (tree.root / PEBBLE_LOG).symlink_to(outside / "secret.csv")
    (tree.root / CARD).unlink()
    (tree.root / CARD).symlink_to(outside / "secret.csv")
    (tree.root / "content/write-ups/aside").symlink_to(outside)
    assert tree.told() == [
        f"{CARD}:1:1: link-leaves-site: this is a symbolic link to a place outside the site | Copy the file into the site.",
        "content/write-ups/aside:1:1: link-leaves-site: this is a symbolic link to a place outside the site | Copy it in.",
        f"{PEBBLE_TRIALS}:2:64: missing-log: the log `logs/evening.csv` is a symbolic link to a place outside the site | Add the file, or correct the name.",
    ]


def test_stray_files_are_warned_of_and_do_not_stop_the_build(tree: Tree) -> None:
    tree.write("content/write-ups/quiet-lantern/notes.txt", "mine").write("content/cards/old.yml", "x: 1")
    tree.write("content/write-ups/quiet-lantern/images/x.png", b"\x89PNG\r\n\x1a\nrest").write(
        "content/.DS_Store", b"\0"
    )
    site, problems = tree.read()
    assert told(problems) == [
        "content/cards/old.yml:1:1: unexpected-file: a .yaml file was expected here | Rename it to old.yaml.",
        "content/write-ups/quiet-lantern/images/x.png:1:1: unused-image: no text shows this image | Place it with ![what it shows](images/x.png), or remove it.",
        "content/write-ups/quiet-lantern/notes.txt:1:1: unexpected-file: nothing reads this file; it is not published | Move it out of the write-up, or name it in trials.csv if it is a log.",
    ]
    assert [str(p.severity) for p in problems] == ["error", "warning", "warning"]
    assert site is not None and list(site.write_ups) == ["pebble-by-log", "quiet-lantern"]


def test_a_run_that_belongs_nowhere_is_warned_of(tree: Tree) -> None:
    tree.edit(LANTERN_TRIALS, "r05,90,0,", "r05,91,25,")
    assert tree.told() == [
        f"{LANTERN_TRIALS}:6:1: run-without-place: the trial `r05` (power_limit_pct 91, voltage_offset_mv 25) belongs to no setpoint and no sequence | Declare one for it in write-up.md, or give the reason in `excluded`."
    ]


def test_a_run_marked_with_a_sequence_must_have_its_settings(tree: Tree) -> None:
    tree.edit(LANTERN_TRIALS, "r26,80,-110,", "r26,80,-100,")
    assert tree.told() == [
        f"{LANTERN_TRIALS}:27:99: sequence-settings-differ: the trial `r26` is marked `soak`, but voltage_offset_mv is -100, not -110 | Correct the settings or the mark."
    ]


ALL_SHARE = "Its marked runs all share that: {} for `marked`, or correct the settings or the mark."
CORRECT = "Correct the settings or the mark."


@pytest.mark.parametrize(
    ("held", "offsets", "expected"),
    [
        ("", (-60, -60, -60), ("(and 2 more) is marked `marked`, but voltage_offset_mv is -60, not 0", ALL_SHARE.format("write `held: {voltage_offset_mv: -60}`"))),
        ("held: {voltage_offset_mv: -50, memory_offset_mhz: 0}, ", (-60, -60, -60), ("(and 2 more) is marked `marked`, but voltage_offset_mv is -60, not -50", ALL_SHARE.format("write `held: {voltage_offset_mv: -60}`"))),
        ("held: {voltage_offset_mv: -60}, ", (0, 0, 0), ("(and 2 more) is marked `marked`, but voltage_offset_mv is 0, not -60", ALL_SHARE.format("leave `held` out"))),
        ("", (-60, -60, -70), ("(and 2 more) is marked `marked`, but voltage_offset_mv is -60, not 0", CORRECT)),
        ("held: {voltage_offset_mv: -60}, ", (-70, -60, -60), ("is marked `marked`, but voltage_offset_mv is -70, not -60", CORRECT)),
    ],
)  # fmt: skip
def test_runs_marked_with_other_settings_are_told_once(
    tree: Tree, held: str, offsets: tuple[int, int, int], expected: tuple[str, str]
) -> None:
    tree.edit(
        LANTERN,
        "  soak: {kind: soak",
        f"  marked: {{kind: sweep, setting: power_limit_pct, {held}order: shuffled}}\n  soak: {{kind: soak",
    )
    heads = tree.text(LANTERN_TRIALS)
    width = heads.split("\n")[0].count(",")
    rows = [f"m{i},{90 - i},{offset},completed,8000".split(",") for i, offset in enumerate(offsets)]
    for row in rows:
        row += [""] * (width + 1 - len(row))
        row[heads.split("\n")[0].split(",").index("sequence")] = "marked"
    tree.write(LANTERN_TRIALS, heads.rstrip("\n") + "\n" + "\n".join(map(",".join, rows)) + "\n")
    line = heads.rstrip("\n").count("\n") + 2
    message, mend = expected
    (told_once,) = [told_line for told_line in tree.told() if "sequence-settings-differ" in told_line]
    column = len(",".join(rows[0]).rstrip(",")) - len("marked") + 1
    assert told_once == f"{LANTERN_TRIALS}:{line}:{column}: sequence-settings-differ: the trial `m0` {message} | {mend}"


def test_only_one_write_up_reads_what_its_numbers_need(tree: Tree) -> None:
    site, problems = read_site(tree.root, only="quiet-lantern")
    assert problems == () and site is not None and list(site.write_ups) == ["quiet-lantern"]
    site, _ = read_site(tree.root, only="pebble-by-log")
    # Its prose refers to a number of the other write-up.
    assert site is not None and list(site.write_ups) == ["pebble-by-log", "quiet-lantern"]
    site, problems = read_site(tree.root, only="quiet-lanten")
    assert told(problems) == [
        "content/write-ups:1:1: unknown-write-up: there is no write-up `quiet-lanten` | Did you mean `quiet-lantern`?"
    ]


def test_progress_is_told_of_every_write_up(tree: Tree) -> None:
    seen: list[tuple[str, int, int]] = []
    read_site(tree.root, progress=lambda what, done, of: seen.append((what, done, of)))
    assert seen == [("pebble-by-log", 0, 2), ("quiet-lantern", 1, 2), ("", 2, 2)]


@pytest.mark.parametrize(
    ("name", "data", "message"),
    [
        ("x.svg", b"<svg/>", "bad-image: this is no PNG, JPEG, WebP or GIF image by its name | Save it as PNG."),
        (
            "x.png",
            b"<svg/>",
            "bad-image: the file is not the png image its name says | Save it again, or correct its name.",
        ),
        ("con.png", b"\x89PNG\r\n\x1a\n", "bad-path: the name uses the reserved name `con.png` | Rename the file."),
    ],
)
def test_images_that_are_none(tree: Tree, name: str, data: bytes, message: str) -> None:
    file = f"content/write-ups/pebble-by-log/images/{name}"
    assert tree.write(file, data).told() == [f"{file}:1:1: {message}"]


def test_the_site_says_whose_numbers_are_missing(tree: Tree) -> None:
    site, _ = tree.read()
    assert site is not None and site.refused == frozenset()
    site, _ = tree.edit(LANTERN_TRIALS, "r01,100,0,completed", "r01,100,0,complete").read()
    assert site is not None and site.refused == {"quiet-lantern", "lantern-60"}
