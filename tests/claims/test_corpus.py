"""Runs the corpus: each case is a piece of prose and what must be found in it. See corpus/README.md."""

import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import pytest

from benchgalley.claims import judge
from benchgalley.records.site import Reading

from .world import world

CORPUS = Path(__file__).parent / "corpus"


@dataclass(frozen=True)
class CorpusCase:
    """One block of a corpus file."""

    file: str
    line: int
    title: str
    prose: str
    expected: tuple[str, ...]
    language: str


def read_corpus() -> list[CorpusCase]:
    """Every case of every file."""
    cases = []
    for path in sorted(CORPUS.glob("*.md")):
        if path.name == "README.md":
            continue
        title, start, prose = "", 0, []
        language = path.stem.partition("_")[2] or "en"
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            if line.startswith("## "):
                title, start, prose = line[3:], number, []
            elif line.startswith("=> "):
                body = "\n".join(prose).strip("\n") + "\n"
                cases.append(
                    CorpusCase(
                        path.name,
                        start,
                        title,
                        body,
                        tuple(sorted(w for w in line[3:].split() if w != "none")),
                        language,
                    )
                )
            elif not line.startswith("# "):
                prose.append(line)
    return cases


def outcome(reading: Reading) -> tuple[str, ...]:
    """Verdicts of the bound claims, and rules of everything else that was found."""
    found = [
        f"accepted:{c.verdict}" if c.accepted else c.verdict.value
        for c in reading.claims
        if c.kind != "setting" or c.verdict != "agrees"
    ]
    judged = {(c.where, c.message) for c in reading.claims if c.rule}
    found += [p.rule for p in reading.problems if (p.where, p.message) not in judged and p.rule != "unused-acceptance"]
    return tuple(sorted(found))


CASES = read_corpus()


@pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c.file}:{c.line}")
def test_corpus(case):
    here = world(case.language)
    reading = judge(here.with_prose(case.prose), here.site, here.results)
    said = [f"{c.verdict}: {c.stated!r} {c.message}" for c in reading.claims] + [
        f"{p.rule}: {p.message}" for p in reading.problems
    ]
    assert outcome(reading) == case.expected, f"{case.title}\n{case.prose}" + "\n".join(said)


BEFORE = (
    "The window was shut and the room had the morning to itself, which suits a bench that has no other guests, and the "
    "screen was left on a picture of a harbour. "
)
BEHIND = " I wrote the plan on paper before I began and kept the paper, crossings-out and all.\n"
SENTENCES = [c for c in CASES if re.fullmatch(r"[A-Z\[(\"].*[.!?]\n", c.prose) and c.language == "en"]
"""Cases of one paragraph that may stand among other sentences."""


@pytest.mark.parametrize("case", SENTENCES, ids=lambda c: f"{c.file}:{c.line}")
def test_a_sentence_is_read_alike_in_a_long_paragraph(case):
    """What is passed over unread in a long text must be what states nothing."""
    here = world(case.language)
    reading = judge(here.with_prose(BEFORE + case.prose.rstrip() + BEHIND), here.site, here.results)
    assert outcome(reading) == case.expected, f"{case.title}\n{case.prose}"


def test_the_corpus_is_large_and_covers_every_outcome(record_property):
    seen = Counter(word for case in CASES for word in case.expected)
    record_property("outcomes", dict(seen))
    assert len(CASES) >= 300
    wanted = {
        "agrees",
        "disagrees",
        "unsupported",
        "unjudged",
        "unbound-number",
        "unbound-word",
        "inconsistent",
    }
    assert wanted <= set(seen), wanted - set(seen)


def test_every_word_of_the_vocabulary_is_in_the_corpus():
    """A word without a case is a word nobody has tried."""
    from benchgalley.claims import words_en

    prose = " ".join(case.prose.lower() for case in CASES)
    words = [w.text for w in words_en.CLAIM_WORDS if not w.only_next or w.strict]
    words += [phrase for table in (words_en.HEDGES_BEFORE, words_en.BOUNDS_BEFORE) for phrase, _ in table]
    words += [phrase for table in (words_en.HEDGES_AFTER, words_en.BOUNDS_AFTER) for phrase, _ in table]
    words += [*words_en.FRACTIONS, *words_en.MULTIPLES]
    plain = re.sub(r"[\[\]]", "", prose)
    assert [w for w in words if not re.search(rf"(?<!\w){re.escape(w)}(?!\w)", plain)] == []
