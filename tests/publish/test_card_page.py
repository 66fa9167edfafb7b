"""Card page, comparison and social picture: what they say of samples, of failed runs and of what is kept apart."""

import html
import re
import struct
import zlib
from dataclasses import replace

from benchgalley.derive import evaluate
from benchgalley.publish.comparing import comparable
from benchgalley.records.bench import Outcome
from tests.publish.factory import print_site, printed, small_site, without_address

CARD = "cards/lantern-60/index.html"
PICTURE = "write-ups/quiet-lantern/social.png"


def with_second_sample(contributed: str, failing: int = 0):
    """The small site with its first write-up once more as another sample, its first tuned runs failed."""
    site = small_site()
    first = site.write_ups["quiet-lantern"]
    sample = replace(first.card.samples[0], id="z", note="Sent in.", contributed=contributed)
    card = replace(first.card, samples=(*first.card.samples, sample))
    trials = list(first.trials)
    tuned = [i for i, t in enumerate(trials) if t.settings["voltage_offset_mv"] == -110 and not t.sequence]
    for at in tuned[:failing]:
        trials[at] = replace(trials[at], outcome=Outcome.CRASHED)
    again = replace(first, slug="again", sample=sample, card=card, trials=tuple(trials))
    others = {slug: replace(w, card=card) if w.card.id == card.id else w for slug, w in site.write_ups.items()}
    return replace(site, cards={**site.cards, card.id: card}, write_ups={"again": again, **others})


def page(site, name=CARD) -> str:
    figures = dict.fromkeys(site.write_ups, ())
    return print_site(site, evaluate(site), figures=figures)[name].decode()


def part(text: str, anchor: str) -> str:
    start = text.index(f'<section aria-labelledby="{anchor}">')
    return html.unescape(text[start : text.index("</section>", start)])


def test_readers_samples_stand_apart_in_lists_and_tables():
    text = page(with_second_sample("Reader R"))
    own, sent = part(text, "author"), part(text, "readers")
    assert "Sample z" in sent and "contributed: Reader R" in sent and "<table" in sent
    assert "Sample z" not in own and "Reader R" not in own and "<table" in own
    assert "Readers' samples" not in printed()[CARD].decode(), "no heading without samples"


def test_pooled_figures_say_which_samples_they_hold():
    pooled = part(page(with_second_sample("Reader R")), "pooled")
    assert re.search(r"Pooled over the author's a and readers' z \(Reader R\)\.", pooled)
    assert "sample z (5 runs)" in pooled


def test_means_of_survivors_are_said_to_be_that():
    pooled = part(page(with_second_sample("Reader R", failing=2)), "pooled")
    assert "2 of 10 runs at this setting failed (sample z: 2 of 5)" in pooled
    assert "Means are over the runs that completed" in pooled
    assert "at this setting failed" not in part(page(with_second_sample("Reader R")), "pooled")


def test_what_is_not_compared_is_named_with_the_reason():
    site = with_second_sample("Reader R")
    write_up = site.write_ups["again"]
    newer = replace(write_up, load=replace(write_up.load, version="9.9"))
    site = replace(site, write_ups={**site.write_ups, "again": newer})
    assert len(comparable(site.write_ups.values())) == len(comparable(small_site().write_ups.values())) + 1
    reasons = part(page(site, "compare.html"), "apart")
    assert "other version of the load (" in reasons and "9.9" in reasons


def test_rows_of_the_comparison_can_be_filtered_and_carry_their_addresses():
    text = printed()["compare.html"].decode()
    assert 'data-choices="card=Card;load=Load"' in text
    assert "quiet-lantern:tuned/score quiet-lantern:tuned/board-power" in text


def pixels(png: bytes) -> tuple[int, int, bytes]:
    width, height = struct.unpack(">II", png[16:24])
    at, data = 8, b""
    while at < len(png):
        (size,) = struct.unpack(">I", png[at : at + 4])
        if png[at + 4 : at + 8] == b"IDAT":
            data += png[at + 8 : at + 8 + size]
        at += 12 + size
    return width, height, zlib.decompress(data)


def test_the_social_picture_is_small_drawn_and_the_same_each_time():
    files = printed()
    width, height, drawn = pixels(files[PICTURE])
    assert (width, height) == (1200, 630) and len(files[PICTURE]) < 150_000
    assert len(set(zip(drawn[::4], drawn[1::4], strict=False))) > 20, "there are words on it, not one ground"
    assert print_site(small_site())[PICTURE] == files[PICTURE]
    text = files["write-ups/quiet-lantern/index.html"].decode()
    assert '<meta property="og:image" content="https://bench.example/write-ups/quiet-lantern/social.png">' in text
    assert re.search(r'og:image:alt" content="[^"]+38[^"]* W', text)


def test_another_title_gives_another_picture_and_markup_in_it_is_text():
    site = small_site()
    first = site.write_ups["quiet-lantern"]
    title = replace(first.title, text='</text><script>alert(1)</script> & "more" ' * 4, links=())
    other = print_site(replace(site, write_ups={**site.write_ups, first.slug: replace(first, title=title)}))
    assert other[PICTURE] != printed()[PICTURE] and pixels(other[PICTURE])[:2] == (1200, 630)


def test_without_an_address_there_is_no_social_picture():
    assert not [
        name
        for name in print_site(without_address(small_site()))
        if name.endswith("/social.png") and "write-ups" in name
    ]
