"""Problems as a tester reads them: place, figures, what to write instead. Whole texts are compared."""

import pytest

from benchgalley.claims import judge, judge_settings
from benchgalley.derive import evaluate
from benchgalley.intake import read_site
from benchgalley.records.results import Results

from .world import FRONT, SITE, SLUG, world, write_site

MESSAGES = {
    "It drew [43 W](claim:tuned/board-power/saved) less.": (
        "disagrees",
        "tuned/board-power/saved: prose states 43 W, the trials give 41.4 W (95 % interval 40.1 W to 42.6 W, "
        "8 and 10 runs)",
        "Write 41 W, or check runs t1, t2, t3, t4, t5, t6 and others in trials.csv.",
    ),
    "It drew [41 W](claim:tuned/board-power/saved) more.": (
        "disagrees",
        "tuned/board-power/saved: prose states 41 W, the trials give 41.4 W (95 % interval 40.1 W to 42.6 W, "
        "8 and 10 runs)",
        "It lies on the other side: the number is 41.4 W. Turn 'more' round.",
    ),
    "It drew [214.123 W](claim:tuned/board-power).": (
        "disagrees",
        "tuned/board-power: prose states 214.123 W, the trials give 214.0 W (95 % interval 211.3 W to 216.6 W, 8 runs)",
        "Write 214.0 W, or check runs t1, t2, t3, t4, t5, t6 and others in trials.csv.",
    ),
    "It drew [213.950 W](claim:tuned/board-power).": (
        "unsupported",
        "tuned/board-power: prose states 213.950 W, finer than the uncertainty carries: 214.0 W (95 % interval "
        "211.3 W to 216.6 W, 8 runs)",
        "Write 214.0 W.",
    ),
    "Eased ran [cooler](claim:eased/core-temperature/change).": (
        "unsupported",
        "eased/core-temperature/change: the data do not carry 'cooler': the difference is −0.28 K (95 % interval "
        "−0.83 K to 0.28 K, 8 and 10 runs), which holds zero",
        "State the figure without the word, or make more runs: 39 further runs on each side should settle it, if "
        "spread and difference stay as found.",
    ),
    "It drew [214 W](claim:tuned/bord-power).": (
        "unjudged",
        "tuned/bord-power: no number has this address, so '214 W' cannot be judged",
        "Nearest: tuned/board-power, tuned/board-power/runs, tuned/board-power/saved.",
    ),
    "The limit is [85 %](claim:tuned/power-limit).": (
        "disagrees",
        "tuned/power-limit: prose states 85 %, the setting is 84 %",
        "Write 84 %.",
    ),
    "It is [stable](claim:tuned/score).": (
        "unsupported",
        "tuned/score: 'stable' needs a soak: this address belongs to none",
        "Bind it to the failure rate of a soak, e.g. soak/failure-rate/at-most.",
    ),
    "The spread was [12 points](claim:boosted/score/spread).": (
        "unjudged",
        "boosted/score/spread: prose states 12 points, but the number is not determined: one run at boosted: "
        "repeatability cannot be determined",
        "Make the runs that are missing, or leave the statement out.",
    ),
    "It drew 41 W less.": (
        "unbound-number",
        "41 W (less) is bound to no address",
        "Link it: [41 W](claim:…), see `benchgalley suggest`; name the source of an input: [41 W](given:…).",
    ),
    "It ran cooler.": (
        "unbound-word",
        "'cooler' is a claim and is bound to no address",
        "Link it: [cooler](claim:…), or say it without the word.",
    ),
    "It has [16 GB](given:card).": (
        "disagrees",
        "given:card: the card file holds no '16 GB'",
        "Correct the number, add it to the card file, or name another source.",
    ),
}


@pytest.mark.parametrize("prose", MESSAGES, ids=lambda p: p[:40])
def test_message_and_mend(prose):
    here = world()
    problems = judge(here.with_prose(prose + "\n"), here.site, here.results).problems
    plain = [(p.rule, p.message.replace("\u00a0", " "), p.mend.replace("\u00a0", " ")) for p in problems]
    assert plain == [MESSAGES[prose]]


def test_a_problem_points_at_the_linked_text():
    here = world()
    first = FRONT.count("\n") + 1
    body = "At the tuned setting\nthe card drew **[43 W](claim:tuned/board-power/saved)** less than stock.\n"
    (problem,) = judge(here.with_prose(body), here.site, here.results).problems
    assert problem.where.file == f"content/write-ups/{SLUG}/write-up.md"
    assert (problem.where.line, problem.where.column, problem.where.end_column) == (first + 1, 18, 22)
    assert problem.source_line == "the card drew **[43 W](claim:tuned/board-power/saved)** less than stock."
    assert problem.source_line[problem.where.column - 1 : problem.where.end_column - 1] == "43 W"
    assert (problem.address, problem.stated) == ("tuned/board-power/saved", "43 W")
    assert problem.computed.replace("\u00a0", " ") == "41.4 W"


def test_claims_carry_token_place_and_sentence():
    here = world()
    body = "First. It drew [214 W](claim:tuned/board-power) then. Last.\n\n- [41 W](claim:saving) less\n"
    claims = judge(here.with_prose(body), here.site, here.results).claims
    assert [(c.token, c.place, c.stated) for c in claims] == [(0, "paragraph", "214 W"), (1, "list", "41 W")]
    assert claims[0].sentence == "It drew 214 W then."


def test_accepted_word_keeps_its_reason_and_needs_no_mending(tmp_path):
    accepted = "accepted_words:\n  - {word: cooler, address: eased/core-temperature/change, reason: Felt by hand.}\n"
    front = FRONT.replace("invented: true\n", f"{accepted}invented: true\n")
    body = "Eased ran [cooler](claim:eased/core-temperature/change).\n"
    site, problems = read_site(write_site(tmp_path, front=front, body=body))
    assert site is not None and not problems
    reading = judge(site.write_ups[SLUG], site, evaluate(site))
    assert not reading.problems
    assert [(c.verdict.value, c.accepted) for c in reading.claims] == [("unsupported", "Felt by hand.")]


def test_an_acceptance_nothing_needs_is_a_warning(tmp_path):
    accepted = "accepted_words:\n  - {word: cooler, address: tuned/core-temperature/change, reason: Felt by hand.}\n"
    front = FRONT.replace("invented: true\n", f"{accepted}invented: true\n")
    site, _ = read_site(write_site(tmp_path, front=front))
    assert site is not None
    problems = judge(site.write_ups[SLUG], site, evaluate(site)).problems
    assert [(p.rule, p.severity.value) for p in problems] == [("unused-acceptance", "warning")]


def test_acceptance_does_not_cover_a_wrong_number(tmp_path):
    accepted = "accepted_words:\n  - {word: cooler, address: tuned/core-temperature/change, reason: Felt by hand.}\n"
    front = FRONT.replace("invented: true\n", f"{accepted}invented: true\n")
    body = "Tuned ran [9 °C](claim:tuned/core-temperature/change) cooler.\n"
    site, _ = read_site(write_site(tmp_path, front=front, body=body))
    assert site is not None
    rules = {p.rule for p in judge(site.write_ups[SLUG], site, evaluate(site)).problems}
    assert "disagrees" in rules


@pytest.mark.parametrize(
    ("title", "rules"),
    [
        ("Brackwater bench", []),
        ("The bench that saves 41 W", ["unbound-number"]),
        (f"The bench that saves [41 W](claim:{SLUG}:tuned/board-power/saved)", []),
        (f"The bench that saves [43 W](claim:{SLUG}:tuned/board-power/saved)", ["disagrees"]),
        ("The bench that saves [41 W](claim:tuned/board-power/saved)", ["unjudged"]),
    ],
)
def test_the_sites_own_texts_are_judged(tmp_path, title, rules):
    settings = SITE.replace("title: Brackwater bench", f'title: "{title}"')
    site, problems = read_site(write_site(tmp_path, site=settings))
    assert site is not None and not problems
    found = judge_settings(site, evaluate(site))
    assert [p.rule for p in found] == rules
    assert all(p.where.file == "content/site.yaml" and p.source_line.startswith("title:") for p in found)


@pytest.mark.parametrize("key", ["title", "summary"])
def test_title_and_summary_of_a_write_up_are_judged(tmp_path, key):
    lines = {"title": "title: Skiff 7\n", "summary": "summary: An invented card.\n"}
    spoilt = FRONT.replace(lines[key], f'{key}: "It saves [43 W](claim:saving)"\n')
    site, problems = read_site(write_site(tmp_path, front=spoilt))
    assert site is not None and not problems
    found = judge(site.write_ups[SLUG], site, evaluate(site)).problems
    assert [(p.rule, p.stated) for p in found] == [("disagrees", "43 W")]


@pytest.mark.parametrize(
    "image",
    ["![It saves [43 W](claim:saving)](chart:trade-front)", '![x](chart:trade-front "saves [43 W](claim:saving)")'],
)
def test_alternative_text_and_caption_are_judged(image):
    here = world()
    found = judge(here.with_prose(image + "\n"), here.site, here.results).problems
    assert {p.rule for p in found} == {"disagrees"}


def test_settings_and_givens_are_listed_with_their_rule():
    here = world()
    body = "Tuned has a power limit of 84 % and [8 GB](given:card), measured on 2026-09-05 over step 3.\n"
    reading = judge(here.with_prose(body), here.site, here.results)
    assert sorted((e.text, e.rule, e.source) for e in reading.exemptions) == [
        ("2026-09-05", "date", ""),
        ("3", "list number", ""),
        ("8 GB", "given", "card"),
        ("84 %", "setting", "tuned/power-limit"),
    ]
    assert [(c.kind, c.verdict.value) for c in reading.claims] == [("given", "agrees"), ("setting", "agrees")]


def test_judging_computes_only_the_numbers_the_prose_names(monkeypatch):
    here = world()
    asked = []
    results = Results(
        compute=lambda a: asked.append(a) or here.results.find(a),
        list_addresses=lambda scope: pytest.fail("every address was listed"),
        rival_groups=here.results.rivals,
    )
    body = "It drew [214 W](claim:tuned/board-power), [41 W](claim:saving) less than stock.\n"
    assert not judge(here.with_prose(body), here.site, results).problems
    assert [a.local() for a in asked] == ["tuned/board-power", "tuned/board-power/saved"]
