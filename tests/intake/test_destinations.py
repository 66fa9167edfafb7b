# ruff: noqa: E501 - the messages are compared whole
"""Charts and relative links of a write-up lead somewhere, and figures that can hardly be right are told."""

import pytest

from benchgalley.charts.draw import OF_WRITE_UP
from benchgalley.intake.destinations import CHART_KINDS, SITE_PAGES
from benchgalley.publish import page_paths
from benchgalley.records.findings import Severity
from tests.intake.log_site import LogForm, readings, result, write
from tests.intake.tree import LANTERN, LANTERN_TRIALS, Tree

CHART = "(chart:score-against-power "


def test_the_kinds_of_charts_are_those_that_are_drawn() -> None:
    assert set(CHART_KINDS) == {kind for kind, _ in OF_WRITE_UP}


def test_the_pages_are_those_that_are_published() -> None:
    """Feed and site map are for machines, and a site without an address has none."""
    named = {
        value
        for name, value in vars(page_paths).items()
        if name.isupper() and isinstance(value, str) and "/" not in value
    }
    assert named - {page_paths.FEED, page_paths.SITEMAP, page_paths.ROBOTS} == SITE_PAGES


@pytest.mark.parametrize(
    ("kind", "message"),
    [
        ("ladder", "`ladder` is no kind of chart | Did you mean `offset-ladder`?"),
        ("offset-lader", "`offset-lader` is no kind of chart | Did you mean `offset-ladder`?"),
        ("score-by-power", "`score-by-power` is no kind of chart | Did you mean `score-against-power`?"),
        ("pie", "`pie` is no kind of chart | Kinds: `score-against-power`, `score-per-watt`, `differences`, `power-scaling`, `trade-front`, `offset-ladder`, `log-window`."),
        ("comparison", "the chart `comparison` stands on the comparison page, not in a write-up | Remove it here."),
        ("samples", "the chart `samples` stands on the page of the card, not in a write-up | Remove it here."),
        ("", "`` is no kind of chart | Kinds: `score-against-power`, `score-per-watt`, `differences`, `power-scaling`, `trade-front`, `offset-ladder`, `log-window`."),
    ],
)  # fmt: skip
def test_a_chart_of_an_unknown_kind_is_a_problem(tree: Tree, kind: str, message: str) -> None:
    assert tree.edit(LANTERN, CHART, f"(chart:{kind} ").told() == [f"{LANTERN}:60:47: unknown-chart: {message}"]


@pytest.mark.parametrize("kind", CHART_KINDS)
def test_every_kind_of_chart_is_accepted(tree: Tree, kind: str) -> None:
    assert tree.edit(LANTERN, CHART, f"(chart:{kind} ").told() == []


WHERE = "Link a published file (trials.csv, images/...), another write-up (../its-name/) or a whole address."


@pytest.mark.parametrize(
    ("destination", "message"),
    [
        ("notes.md", f"`notes.md` leads to no file of the site | {WHERE}"),
        ("./appendix.pdf", f"`./appendix.pdf` leads to no file of the site | {WHERE}"),
        ("logs/evening.csv", f"`logs/evening.csv` leads to no file of the site | {WHERE}"),
        ("write-up.md", f"`write-up.md` is not published with the site | {WHERE}"),
        ("trial.csv", "`trial.csv` leads to no file of the site | Did you mean `trials.csv`?"),
        ("../pebble-by-logs/", "`../pebble-by-logs/` leads to no file of the site | Did you mean `../pebble-by-log/`?"),
        ("images/none.png", f"`images/none.png` leads to no file of the site | {WHERE}"),
        ("../../../site.yaml", f"`../../../site.yaml` leads to no file of the site | {WHERE}"),
        ("/etc/hosts", f"`/etc/hosts` leads to no file of the site | {WHERE}"),
        ("../../cards/lantern-61/", f"`../../cards/lantern-61/` leads to no file of the site | {WHERE}"),
        ("", "this link leads nowhere | Write its destination between the round brackets."),
    ],
)  # fmt: skip
def test_a_relative_link_to_nothing_is_a_problem(tree: Tree, destination: str, message: str) -> None:
    text = tree.text(LANTERN) + f"\nSee [the notes]({destination}).\n"
    line = text.count("\n")
    column = 17 if destination else 6  # of the words, where there is no destination
    told = tree.write(LANTERN, text).told()
    assert told == [f"{LANTERN}:{line}:{column}: dead-link: {message}"]


@pytest.mark.parametrize(
    "destination",
    [
        "trials.csv", "results.csv", "numbers.html#tuned", "quiet-lantern.zip", "../pebble-by-log/", "../pebble-by-log",
        "../pebble-by-log/index.html", "../pebble-by-log/write-up.md", "../../methods.html", "../../", "#charts",
        "../../cards/lantern-60/", "https://example.org/notes.md", "mailto:someone@example.org",
    ],
)  # fmt: skip
def test_links_to_what_is_published_are_accepted(tree: Tree, destination: str) -> None:
    assert tree.write(LANTERN, tree.text(LANTERN) + f"\nSee [the notes]({destination}).\n").told() == []


def test_a_file_that_lies_there_but_is_not_published(tree: Tree) -> None:
    tree.write("content/write-ups/quiet-lantern/notes.md", "mine")
    tree.write(LANTERN, tree.text(LANTERN) + "\nSee [the notes](notes.md).\n")
    assert any("dead-link: `notes.md` is not published with the site" in line for line in tree.told())


R01 = "r01,100,0,completed,8014,196.2,"
R21 = "r21,100,-170,crashed,,"


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (R01, "r01,100,0,completed,0,196.2,",
         "2:21: score-not-positive: the score of trial `r01` is 0, although it completed | Correct the score, or write another outcome."),
        (R21, "r21,100,-170,crashed,7000,",
         "22:22: score-not-used: the trial `r21` has a score, but its outcome is `crashed`: only scores of completed runs are used | Leave the cell empty, or correct the outcome."),
        (R01, "r01,100,0,completed,8014,1962,",
         "2:26: power-beyond-plausible: the board power of trial `r01` is 1962 W, more than 3 times the 200 W of `lantern-60` | Check the unit and the decimal point; power of the whole machine is `wall_power_w`."),
    ],
)  # fmt: skip
def test_figures_that_can_hardly_be_right_are_warned_of(tree: Tree, old: str, new: str, expected: str) -> None:
    site, problems = tree.edit(LANTERN_TRIALS, old, new).read()
    assert [f"{p.where.line}:{p.where.column}: {p.rule}: {p.message} | {p.mend}" for p in problems] == [expected]
    assert problems[0].severity is Severity.WARNING and problems[0].where.file == LANTERN_TRIALS
    assert site is not None and "quiet-lantern" in site.write_ups


def test_power_at_three_times_the_makers_is_still_believed(tree: Tree) -> None:
    assert tree.edit(LANTERN_TRIALS, R01, "r01,100,0,completed,8014,600,").told() == []


def test_implausible_figures_are_told_once_and_not_of_excluded_runs(tree: Tree) -> None:
    rows = [line.split(",") for line in tree.text(LANTERN_TRIALS).rstrip("\n").split("\n")]
    excluded = rows[0].index("excluded")
    for row in rows[1:5]:
        row[4] = "0"
    rows[1][excluded] = "Fan cable loose"
    tree.write(LANTERN_TRIALS, "\n".join(map(",".join, rows)) + "\n")
    (told,) = [line for line in tree.told() if "score-not-positive" in line]
    assert ":3:" in told and "the score of trial `r02` (and 2 more) is 0" in told


def test_logged_power_beyond_what_a_card_draws_is_warned_of(tree: Tree) -> None:
    form = LogForm(time_rule="{header: Time, format: unix_s}")
    form.head = ("Draw [mW]", "Core", "Note")
    rows = [(t, p * 4, c) for t, p, c in readings()]
    trials, problems = result(write(tree, form, form.lines(rows)))
    assert len(trials) == 4
    (warning,) = [p for p in problems if p.rule == "power-beyond-plausible"]
    assert warning.message.startswith("the board power of trial `p1` (and 1 more) is 45")
    assert warning.severity is Severity.WARNING
