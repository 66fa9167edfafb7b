# ruff: noqa: E501, W291 - hard line breaks are blanks at line ends; expected texts stay whole
"""Every character of every text knows where it stands; links know their token and their destination."""

from collections.abc import Sequence

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from markdown_it.token import Token

from benchgalley.intake.problem_list import ProblemList, SourceText
from benchgalley.intake.prose import Prose, inline_text, read_body
from benchgalley.records.write_up import Text
from tests.intake.tree import Tree

SAMPLE = """\
First *paragraph* with **strong [12 W](claim:a/b)** text, `code 5 W`, an escape \\* and &amp; and
a second line  
after a hard break, then <https://bench.example/x>.

> quoted [1 °C](<claim:c/d>) text
> over two lines
lazy third line

- item one
  goes on
  - nested [2 %](claim:e/f "Title with 3 W")
    1. deeper

      para in item
- item two

| head | [4 W](claim:g/h) |
| :--- | ---: |
| a \\| b | `x` *y* |
| short |

1. | in | list |
   |----|------|
   | [5](claim:i/j) | & |

> | quoted | table |
> |--------|-------|
> | 7 | 8 |

Setext [6](claim:k/l) heading
=============================

### Closed *heading* ###

![alt with [9 W](claim:m/n)](chart:offset-ladder "Caption \\"of\\" [10 W](claim:o/p)")

\tcode block 11 W

```text
fence 12 W
```

[ref link][r] and [r] and ***both*** and _a_b_

[r]: claim:q/r
"""


def body(text: str) -> tuple[Prose, SourceText, list[str]]:
    source, problems = SourceText("body.md", text), ProblemList()
    prose = read_body(source, 1, problems)
    return prose, source, [p.rule for p in problems.sorted()]


def misplaced(texts: Sequence[Text], source: SourceText) -> list[tuple[str, str, str]]:
    """(text, character, character found in its place): resolved escapes, entities and breaks left out."""
    found = []
    for text in texts:
        assert len(text.positions) == len(text.text)
        for character, (line, column) in zip(text.text, text.positions, strict=True):
            there = (source.line(line) + "\n")[column - 1]
            if character != there and not (there in "\\&" or (character == " " and there in "\n\t\\")):
                found.append((text.text, character, there))
    return found


def test_every_character_stands_where_it_says() -> None:
    prose, source, rules = body(SAMPLE)
    assert rules == []
    assert misplaced([*prose.texts, *prose.attached], source) == []
    assert [(t.place, t.text) for t in prose.texts] == [
        ("paragraph", "First paragraph with strong 12 W text, code 5 W, an escape * and & and a second line after a hard break,"
                      " then https://bench.example/x."),
        ("paragraph", "quoted 1 °C text over two lines lazy third line"),
        ("list", "item one goes on"), ("list", "nested 2 %"), ("list", "deeper"), ("list", "para in item"),
        ("list", "item two"),
        ("table", "head"), ("table", "4 W"), ("table", "a | b"), ("table", "x y"), ("table", "short"),
        ("table", "in"), ("table", "list"), ("table", "5"), ("table", "&"),
        ("table", "quoted"), ("table", "table"), ("table", "7"), ("table", "8"),
        ("heading", "Setext 6 heading"), ("heading", "Closed heading"),
        ("paragraph", "code block 11 W "), ("paragraph", "fence 12 W "),
        ("paragraph", "ref link and r and both and a_b"),
    ]  # fmt: skip
    assert [(t.place, t.text) for t in prose.attached] == [
        ("meta", "Title with 3 W"), ("alt", "alt with 9 W"), ("caption", 'Caption "of" 10 W'),
    ]  # fmt: skip


def test_links_know_text_destination_and_token() -> None:
    prose, source, _ = body(SAMPLE)
    opened = [child for token in prose.tokens for child in token.children or [] if child.type == "link_open"]
    seen = []
    for text in prose.texts:
        for link in text.links:
            assert opened[link.token].attrs["href"] == link.destination.replace("°", "%C2%B0")
            at = None
            if link.destination_at:
                line, column, length = link.destination_at
                at = source.line(line)[column - 1 : column - 1 + length]
                assert at == link.destination
            seen.append((text.text[link.start : link.end], link.destination, at is not None))
    assert seen == [
        ("12 W", "claim:a/b", True), ("https://bench.example/x", "https://bench.example/x", False), ("1 °C", "claim:c/d", True),
        ("2 %", "claim:e/f", True), ("4 W", "claim:g/h", True), ("5", "claim:i/j", True), ("6", "claim:k/l", True),
        ("ref link", "claim:q/r", False), ("r", "claim:q/r", False),
    ]  # fmt: skip
    assert [link.token for text in prose.texts for link in text.links] == list(range(9))
    attached = [(link.destination, link.token) for text in prose.attached for link in text.links]
    # In alternative texts and captions nothing is rendered as a link: no token stands for it.
    assert attached == [("claim:m/n", -1), ("claim:o/p", -1)]


def test_code_is_marked() -> None:
    prose, _, _ = body("a `5 W` b\n\n    6 W\n")
    assert [[t.text[a:b] for a, b in t.code] for t in prose.texts] == [["5 W"], ["6 W "]]


def test_the_tokens_are_those_of_the_library(tree: Tree) -> None:
    """Noting places changes nothing that is printed."""
    plain = MarkdownIt("commonmark", {"html": False}).enable("table")
    for text in (SAMPLE, tree.text("content/write-ups/quiet-lantern/write-up.md")):
        prose, _, _ = body(text)
        assert [t.as_dict() for t in prose.tokens] == [t.as_dict() for t in plain.parse(text)]


def test_raw_html_stays_text() -> None:
    prose, _, _ = body("<script>alert(1)</script> <b>x</b>\n")
    assert prose.texts[0].text == "<script>alert(1)</script> <b>x</b>"


@pytest.mark.parametrize("destination", ["javascript:alert(1)", "JAVASCRIPT:alert(1)", "data:text/html,x", "//other.example/x", "file:///etc/passwd", "vbscript:x"])  # fmt: skip
def test_other_schemes_are_problems_and_never_reach_the_page(destination: str) -> None:
    prose, _, rules = body(f"[x]({destination}) and ![y]({destination}) and <javascript:alert(1)>\n")
    assert rules == ["unknown-destination"] * 3
    for token in prose.tokens:
        for child in token.children or []:
            assert set(child.attrs.values()) <= {"#", ""}


def test_an_invisible_character_made_by_an_entity_is_a_problem() -> None:
    _, _, rules = body("a &#x202E; b\n")
    assert rules == ["control-character"]


_PIECES = st.lists(
    st.sampled_from(
        ["word", " ", "\n", "*", "**", "_", "`", "``", "[1 W](claim:a/b)", "![a](chart:x 'c')", "\\", "&amp;", "&lt", "|",
         "> ", "- ", "1. ", "\n\n", "  \n", "# ", "    ", "\t", "<https://e.example>", "é", "]", "[", "(", ")", "|---|---|\n",
         "\\|", "===\n", "```\n", "\u00a0", "~", "!", "<b>", "[r]", "[r]: images/x.png\n", "'", '"']
    ),
    max_size=40,
)  # fmt: skip


@given(_PIECES)
@example(["- ", "|---|---|\n", "\t", "word"])
@settings(max_examples=300, deadline=None)
def test_any_markdown_is_placed_and_parsed_as_the_library_does(pieces: list[str]) -> None:
    text = "".join(pieces)
    prose, source, rules = body(text)
    plain = MarkdownIt("commonmark", {"html": False}).enable("table")
    if "unknown-destination" not in rules:  # those alone are changed: the destination is taken out
        assert [t.as_dict() for t in prose.tokens] == [t.as_dict() for t in plain.parse(text)]
    coarse = {(number, 1) for number in range(1, len(source.lines) + 2)}
    for printed in [*prose.texts, *prose.attached]:
        # Titles of reference links have no place of their own; every other text is placed to the character.
        if printed.place != "meta" and not set(printed.positions) & coarse:
            assert misplaced([printed], source) == []


@given(st.text(max_size=60))
@settings(max_examples=200, deadline=None)
def test_any_text_gives_as_many_places_as_characters(text: str) -> None:
    problems = ProblemList()
    source = SourceText("x", text)
    placed = inline_text("title", text, [(1, i + 1) for i in range(len(text))], source, problems)
    assert len(placed.positions) == len(placed.text)


def test_front_matter_strings_are_placed_whatever_their_style(tree: Tree) -> None:
    file = "content/write-ups/quiet-lantern/write-up.md"
    styles = {
        "summary: plain [1 W](claim:tuned/score) text\n  over two lines\n": "plain 1 W text over two lines",
        "summary: 'single ''quoted'' [1 W](claim:tuned/score)\n  two lines'\n": "single 'quoted' 1 W two lines",
        'summary: "double \\"quoted\\" \\u0041 [1 W](claim:tuned/score)\n  two \\\n  lines"\n': 'double "quoted" A 1 W two lines',
        "summary: |\n  literal [1 W](claim:tuned/score)\n  two lines\n": "literal 1 W two lines",
        "summary: >\n  folded [1 W](claim:tuned/score)\n  two lines\n\n  new paragraph\n": "folded 1 W two lines new paragraph",
        "summary: >-\n\n  late start [1 W](claim:tuned/score)\n    indented\n  back\n": "late start 1 W indented back",
    }
    original = tree.text(file)
    start, end = original.index("summary:"), original.index("published:")
    for style, expected in styles.items():
        tree.write(file, original[:start] + style + original[end:])
        site, problems = tree.read()
        assert [p for p in problems if p.rule != "disagrees"] == [] and site is not None
        summary = site.write_ups["quiet-lantern"].summary
        assert summary.text.strip() == expected
        source = SourceText(file, tree.text(file))
        wrong = [(c, there) for _, c, there in misplaced([summary], source) if c != there]
        assert [w for w in wrong if w[1] not in "'\\"] == [], style
        line, column, length = summary.links[0].destination_at or (0, 0, 0)
        assert source.line(line)[column - 1 :][:length] == "claim:tuned/score", style


def test_front_texts_follow_the_body(tree: Tree) -> None:
    site, _ = tree.read()
    assert site is not None
    places = [text.place for text in site.write_ups["quiet-lantern"].texts]
    assert places[:3] == ["title", "summary", "paragraph"]
    assert places[-8:] == ["alt", "caption", "label", "label", "label", "meta", "revision", "meta"]


def test_no_place_is_left_behind_in_the_tokens() -> None:
    def metas(tokens: Sequence[Token]) -> list[dict[str, object]]:
        return [m for t in tokens for m in (t.meta, *metas(t.children or []))]

    prose, _, _ = body(SAMPLE)
    assert all(meta == {} for meta in metas(prose.tokens))
