"""Claims on benches unlike the one of the corpus: a load told in seconds, a second card, a second language."""

from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from benchgalley.claims import judge
from benchgalley.derive import evaluate
from benchgalley.intake import read_site

from .test_corpus import outcome
from .world import BENCH, CARD, FRONT, LOAD, PLANS, SITE, SLUG, World, trials_csv

OTHER = "tarn-heron"


@lru_cache(maxsize=2)
def built(seconds: bool) -> World:
    """The corpus's bench with its score in seconds, or with a second card beside the first."""
    load = LOAD.replace("unit: points, better: higher", "unit: s, better: lower") if seconds else LOAD
    files = {
        "site.yaml": SITE, "benches/loft.yaml": BENCH, "loads/tidal-loop.yaml": load, "cards/skiff-7.yaml": CARD,
        f"write-ups/{SLUG}/write-up.md": FRONT + "Nothing.\n", f"write-ups/{SLUG}/trials.csv": trials_csv(PLANS),
    }  # fmt: skip
    if not seconds:
        heron = CARD.replace("Brackwater", "Tarn").replace("Skiff 7", "Heron")
        front = FRONT.replace("Skiff 7", "Heron").replace("skiff-7", "heron")
        files |= {
            "cards/heron.yaml": heron, f"write-ups/{OTHER}/write-up.md": front + "Nothing.\n",
            f"write-ups/{OTHER}/trials.csv": trials_csv(PLANS),
        }  # fmt: skip
    with TemporaryDirectory() as folder:
        for name, text in files.items():
            path = Path(folder) / "content" / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        site, problems = read_site(Path(folder))
    assert site is not None and not problems, problems
    return World(site, evaluate(site))


def verdicts(here: World, prose: str) -> tuple[str, ...]:
    return outcome(judge(here.with_prose(prose + "\n"), here.site, here.results))


@pytest.mark.parametrize(
    ("prose", "expected"),
    [
        ("Tuned took [6249 s](claim:tuned/score).", "agrees"),
        ("Tuned took [6251 s](claim:tuned/score).", "disagrees"),
        ("Tuned took [104.15 min](claim:tuned/score).", "agrees"),
        ("Tuned took [6249 frames](claim:tuned/score).", "disagrees"),
        ("Tuned took [6249 seconds](claim:tuned/score), as the clock said.", "agrees"),
        ("Eased took [109 s](claim:eased/score/saved) less than stock.", "agrees"),
        ("Eased took [109 s](claim:eased/score/saved) more than stock.", "disagrees"),
        ("Eased gained [1.7 %](claim:eased/score/change-percent) against stock.", "agrees"),
        ("Eased lost [1.7 %](claim:eased/score/change-percent) against stock.", "disagrees"),
        ("Eased was [faster](claim:eased/score) than stock.", "agrees"),
        ("Eased was [slower](claim:eased/score) than stock.", "disagrees"),
        ("Each watt took [29.21 s/W](claim:tuned/score-per-watt).", "unjudged"),
        ("Tuned took 6249 s.", "unbound-number"),
    ],
)
def test_a_score_in_seconds(prose, expected):
    assert verdicts(built(True), prose) == (expected,)


@pytest.mark.parametrize(
    ("prose", "expected"),
    [
        ("The Heron drew [214 W](claim:tarn-heron:tuned/board-power).", "agrees"),
        ("The Heron drew [214 W](claim:tuned/board-power).", "disagrees"),
        ("The Skiff 7 drew [214 W](claim:tarn-heron:tuned/board-power).", "disagrees"),
        ("The Skiff 7 drew [214 W](claim:tuned/board-power).", "agrees"),
        ("Unlike the Heron it drew [214 W](claim:tuned/board-power).", "agrees"),
        ("The Skiff 7 drew what the Heron did, [214 W](claim:tarn-heron:tuned/board-power).", "agrees"),
        ("It drew [214 W](claim:tarn-heron:tuned/board-power).", "agrees"),
        ("The Heron is rated for [255 W](given:card).", "agrees"),
    ],
)
def test_a_second_card(prose, expected):
    assert verdicts(built(False), prose) == (expected,)
