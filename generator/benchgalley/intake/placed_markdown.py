"""CommonMark with tables, where every inline token knows the offset of each of its characters.

markdown-it-py gives lines to block tokens only. Its inline state is the one place every character passes
through, so the offsets are noted there, while parsing, and never guessed afterwards. They lie in
`token.meta` under the keys below until `prose` has turned them into texts; then they are cleared.
"""

import re
from collections.abc import MutableMapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from markdown_it import MarkdownIt
from markdown_it.common.utils import UNESCAPE_ALL_RE, unescapeAll
from markdown_it.parser_inline import ParserInline
from markdown_it.rules_core import text_join
from markdown_it.rules_core.state_core import StateCore
from markdown_it.rules_inline import fragments_join
from markdown_it.rules_inline.state_inline import StateInline
from markdown_it.token import Token

PLACES = "places"
"""Offset of each character of `token.content` in the content of its inline token; `[offset]` for breaks."""
TARGET = "target"
"""On `link_open` and `image`: a `Target`."""


@dataclass(slots=True)
class Target:
    """Destination and title of an inline link or image."""

    destination: str
    """As written, escapes and entities resolved."""
    start: int
    """Offset of the destination; -1 for reference links, whose destination stands elsewhere."""
    length: int
    title: str = ""
    title_places: Sequence[int] = ()


class _PlacedState(StateInline):
    """Inline state that remembers where pending text and tokens come from."""

    def __init__(self, src: str, md: MarkdownIt, env: MutableMapping[str, Any], tokens: list[Token]) -> None:
        self._offsets: list[int] = []
        super().__init__(src, md, env, tokens)

    def append_pending(self, text: str) -> None:
        self._offsets.extend(range(self.pos, self.pos + len(text)))
        super().append_pending(text)

    def pushPending(self) -> Token:  # noqa: N802 - the library's name
        token = super().pushPending()
        # The newline rule may have cut blanks off the end of the pending text: never off its start.
        token.meta[PLACES] = self._offsets[: len(token.content)]
        self._offsets = []
        return token

    def push(self, ttype: str, tag: str, nesting: Literal[-1, 0, 1]) -> Token:
        if not self.pending:
            self._offsets = []
        token = super().push(ttype, tag, nesting)
        token.meta[PLACES] = [self.pos]
        return token


_ANY_SIGN = re.compile(r"[\\`*_\[\]!<&\n\r\0]")


def one_text(content: str) -> Token | None:
    """The token of a content that is one text; None for an empty one and where an inline rule may begin."""
    if not content or _ANY_SIGN.search(content):
        return None
    return Token("text", "", 0, content=content, meta={PLACES: list(range(len(content)))})


class _PlacedParser(ParserInline):
    """Inline parser that resolves the noted offsets before delimiters become emphasis."""

    def parse(self, src: str, md: MarkdownIt, env: MutableMapping[str, Any], tokens: list[Token]) -> list[Token]:
        if (whole := one_text(src)) is not None:
            tokens.append(whole)
            return tokens
        state = _PlacedState(src, md, env, tokens)
        self.tokenize(state)
        _resolve(state.tokens, src, md)
        for rule in self.ruler2.getRules(""):
            rule(state)
        return state.tokens


def _resolve(tokens: list[Token], src: str, md: MarkdownIt) -> None:
    opened: list[Token] = []
    for i, token in enumerate(tokens):
        at = token.meta[PLACES][0] if token.meta.get(PLACES) else 0
        if token.type == "text" and len(token.meta[PLACES]) != len(token.content):
            token.meta[PLACES] = _autolink_places(token.content, at, src)
        elif token.type == "text" and token.content in "*_":
            token.meta[PLACES] = [_run_offset(tokens, i, at)]
        elif token.type == "text" and i and tokens[i - 1].markup == "autolink" and tokens[i - 1].nesting == 1:
            token.meta[PLACES] = _autolink_places(token.content, at, src)
        elif token.type == "text_special":
            token.meta[PLACES] = [at] * len(token.content)
        elif token.type == "code_inline":
            token.meta[PLACES] = _code_places(token, at, src)
        elif token.type == "link_open":
            opened.append(token)
        elif token.type == "link_close" and opened:
            opening = opened.pop()
            opening.meta[TARGET] = _target(opening, "href", at, src, md)
        elif token.type == "image":
            label_start = at + 2
            _shift(token.children or [], label_start)
            token.meta[TARGET] = _target(token, "src", label_start + len(token.content), src, md)


def _run_offset(tokens: list[Token], i: int, at: int) -> int:
    """Delimiter runs push one token a marker, all from the same position: count them."""
    if i and tokens[i - 1].type == "text" and tokens[i - 1].content == tokens[i].content:
        before: list[int] = tokens[i - 1].meta[PLACES]
        if len(before) == 1 and tokens[i].meta[PLACES] == [at] and before[0] >= at:
            return before[0] + 1
    return at


def _autolink_places(content: str, at: int, src: str) -> list[int]:
    start = at + 1
    if src.startswith(content, start):
        return list(range(start, start + len(content)))
    return [start] * len(content)


def _code_places(token: Token, at: int, src: str) -> list[int]:
    start = at + len(token.markup)
    if src[start : start + len(token.content)].replace("\n", " ") != token.content:
        start += 1
    return list(range(start, start + len(token.content)))


def _shift(tokens: list[Token], by: int) -> None:
    for token in tokens:
        if PLACES in token.meta:
            token.meta[PLACES] = [place + by for place in token.meta[PLACES]]
        if (target := token.meta.get(TARGET)) is not None:
            target.start = target.start + by if target.start >= 0 else -1
            target.title_places = [place + by for place in target.title_places]
        _shift(token.children or [], by)


def _target(token: Token, attribute: str, label_end: int, src: str, md: MarkdownIt) -> Target:
    href, title = str(token.attrs.get(attribute, "")), str(token.attrs.get("title", ""))
    if token.markup == "autolink":
        return Target(href, -1, 0)
    if src[label_end : label_end + 2] != "](":
        return Target(md.normalizeLinkText(href), -1, 0, title, [label_end] * len(title))
    start = _skip_blanks(src, label_end + 2)
    if not title and href and src.startswith(href, start) and src[start + len(href) : start + len(href) + 1] == ")":
        return Target(href, start, len(href))  # nothing in it was escaped or encoded
    found = md.helpers.parseLinkDestination(src, start, len(src))
    if not found.ok or md.normalizeLink(found.str) != href:
        return Target(md.normalizeLinkText(href), -1, 0, title, [label_end] * len(title))
    quoted = src[start : start + 1] == "<"
    target = Target(found.str, start + quoted, found.pos - start - 2 * quoted, title)
    if title:
        opening = _skip_blanks(src, found.pos)
        end = md.helpers.parseLinkTitle(src, opening, len(src), None)
        raw = src[opening + 1 : end.pos - 1] if end.ok else ""
        target.title_places = unescaped_places(raw, opening + 1, title)
    return target


def _skip_blanks(src: str, pos: int) -> int:
    while pos < len(src) and src[pos] in " \t\n":
        pos += 1
    return pos


def unescaped_places(raw: str, start: int, value: str) -> list[int]:
    """Offset of each character of `value`, which is `raw` with escapes and entities resolved."""
    places: list[int] = []
    position = 0
    for match in re.finditer(UNESCAPE_ALL_RE, raw):
        places.extend(range(start + position, start + match.start()))
        places.extend([start + match.start()] * len(unescapeAll(match.group())))
        position = match.end()
    places.extend(range(start + position, start + len(raw)))
    return places if len(places) == len(value) else [start] * len(value)


def _runs(tokens: Sequence[Token], kinds: tuple[str, ...]) -> list[list[Token]]:
    runs: list[list[Token]] = []
    current: list[Token] = []
    for token in tokens:
        if token.type in kinds:
            current.append(token)
        else:
            runs.append(current)
            current = []
    return [run for run in (*runs, current) if len(run) > 1]


def _joined(run: list[Token]) -> list[int]:
    return [place for token in run for place in token.meta.get(PLACES, [])[: len(token.content)]]


def _placed_fragments_join(state: StateInline) -> None:
    """The library's rule merges a run of text tokens into its last one: give that one all places."""
    for run in _runs(state.tokens, ("text",)):
        run[-1].meta[PLACES] = _joined(run)
    fragments_join(state)


def _placed_text_join(state: StateCore) -> None:
    """The library's rule merges text and resolved escapes into the first of a run."""
    for block in state.tokens:
        children = block.children or []
        for tokens in (children, *(child.children for child in children if child.children)):
            for run in _runs(tokens, ("text", "text_special")):
                run[0].meta[PLACES] = _joined(run)
    text_join(state)


_PLAIN_BINDING = re.compile(r"(?:claim|given|chart):[a-z0-9:/-]*")
_PLAIN_LINK = re.compile(rf"\[([^\[\]\\`*_<&!\n]+)\]\(({_PLAIN_BINDING.pattern})\)")


def _plain_link(state: StateInline, silent: bool) -> bool:
    """`[41 W](claim:tuned/board-power/saved)`: as nearly every link is written, read in one look.

    The library looks at its label and destination twice, letter by letter; whatever else a link may hold is left to it.
    """
    found = _PLAIN_LINK.match(state.src, state.pos, state.posMax)
    if found is None:
        return False
    if not silent:
        state.pos = found.start(1)
        state.push("link_open", "a", 1).attrs = {"href": found[2]}
        state.append_pending(found[1])
        state.pos = found.end(1)
        state.push("link_close", "a", -1)
    state.pos = found.end()
    return True


class PlacedMarkdown(MarkdownIt):
    """CommonMark and tables; raw HTML stays text."""

    def __init__(self) -> None:
        super().__init__("commonmark", {"html": False})
        self.enable("table")
        parser = _PlacedParser()
        for name, rules in self.get_active_rules().items():
            if name == "inline":
                parser.ruler.enableOnly(rules)
            elif name == "inline2":
                parser.ruler2.enableOnly(rules)
        self.inline = parser
        self.inline.ruler.before("link", "plain_link", _plain_link)
        self.inline.ruler2.at("fragments_join", _placed_fragments_join)
        self.core.ruler.at("text_join", _placed_text_join)

    def normalizeLink(self, url: str) -> str:  # noqa: N802 - the library's name
        """As the library does; a binding destination of plain letters has nothing to encode."""
        return url if _PLAIN_BINDING.fullmatch(url) else super().normalizeLink(url)

    def validateLink(self, url: str) -> bool:  # noqa: N802 - the library's name
        """Every link stays one: `prose` tells refused schemes with their place, and takes the destination out."""
        return True
