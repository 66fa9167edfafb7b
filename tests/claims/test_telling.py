"""What is passed over unread states nothing: sentences drawn at random from every word of the tables, read whole."""

import random
from dataclasses import replace

from benchgalley.claims import particles_en, words_en
from benchgalley.claims.reading import read
from benchgalley.claims.telling import telling
from benchgalley.claims.unit_lexicon import UnitLexicon
from benchgalley.claims.vocabulary import vocabulary, words_of

from .world import world

SENTENCES = 6000
PLAIN = sorted(words_of("the a it its card bench run was is went came stayed of and on in by we set took kept"))


def words() -> list[list[str]]:
    """The words to draw from: of claims, of the lists, of ordinary prose, of place, of quantities."""
    claims = sorted({w for word in words_en.CLAIM_WORDS for w in word.words if w != "-"})
    others = sorted({w for text in (words_en.LISTS | particles_en.LISTS).values() for w in text.split()})
    return [claims, others, PLAIN, sorted(particles_en.HANDLED), words_en.LISTS["quantities"].split()]


def test_what_is_passed_over_states_nothing():
    known, pools, draw = vocabulary("en"), words(), random.Random(20_261_004)
    lexicon, passed, missed = UnitLexicon(()), 0, []
    template = next(t for t in world().with_prose("It ran.\n").texts if t.text == "It ran.")
    for _ in range(SENTENCES):
        drawn = [draw.choice(draw.choice(pools)) for _ in range(draw.randint(3, 9))]
        sentence = " ".join(drawn).capitalize() + "."
        if telling(sentence, [], known):
            continue
        passed += 1
        whole = read(replace(template, text="7. " + sentence, positions=()), known, lexicon)  # a digit: read it all
        if len(whole.numbers) > 1 or any(word.free for word in whole.words):
            missed.append(sentence)
    assert passed > SENTENCES / 20
    assert not missed, "\n".join(missed[:20])
