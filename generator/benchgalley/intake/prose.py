"""Prose: the body of a write-up and the texts of YAML files, as tokens and as readable texts with places."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from markdown_it.token import Token

from ..records.write_up import Text, TextLink
from .files import UNPRINTABLE
from .placed_markdown import PLACES, TARGET, PlacedMarkdown, Target, one_text
from .problem_list import ProblemList, SourceText, clip, nearest
from .scalar_positions import Place
from .source_places import content_places, row_places

OWN_SCHEMES = ("claim", "given", "chart")
"""Link destinations that bind a text to the data."""
WEB_SCHEMES = ("https", "http", "mailto")
_SCHEME = re.compile(r"([A-Za-z][A-Za-z0-9+.-]*):")


@dataclass(frozen=True, kw_only=True, slots=True)
class ImageUse:
    """An image or chart placed in the prose."""

    destination: str
    alternative: Text
    line: int
    column: int
    length: int


@dataclass(slots=True)
class Prose:
    """What a body gave."""

    tokens: tuple[Token, ...]
    texts: list[Text] = field(default_factory=list)
    """In source order: headings, paragraphs, list items, table cells."""
    attached: list[Text] = field(default_factory=list)
    """Alternative texts, captions and link titles, in source order."""
    images: list[ImageUse] = field(default_factory=list)


@lru_cache(maxsize=1)
def _markdown() -> PlacedMarkdown:
    return PlacedMarkdown()


class _Builder:
    """Turns inline tokens into texts; counts links over the document."""

    def __init__(self, source: SourceText, prose: Prose, problems: ProblemList) -> None:
        self._source = source
        self._prose = prose
        self._problems = problems
        self._links = 0

    def text(self, place: str, children: Sequence[Token], places: Sequence[Place], *, counted: bool) -> Text:
        """The readable text of some inline tokens; `counted` says whether its links are rendered."""
        characters: list[str] = []
        positions: list[Place] = []
        links: list[TextLink] = []
        code: list[tuple[int, int]] = []
        opened: list[tuple[int, Token, int]] = []
        for child in children:
            offsets = child.meta.get(PLACES) or [0]
            if child.type in ("text", "code_inline"):
                if child.type == "code_inline":
                    code.append((len(positions), len(positions) + len(child.content)))
                characters.append(child.content)
                positions.extend(_places(places, offsets, len(child.content)))
            elif child.type in ("softbreak", "hardbreak"):
                characters.append(" ")
                positions.extend(_places(places, offsets, 1))
            elif child.type == "link_open":
                opened.append((len(positions), child, self._links if counted else -1))
                self._links += counted
            elif child.type == "link_close" and opened:
                links.append(self._link(*opened.pop(), len(positions), places))
            elif child.type == "image":
                self._image(child, places)
        text = Text(
            place=place,
            text="".join(characters),
            positions=tuple(positions),
            file=self._source.file,
            links=tuple(sorted(links, key=lambda link: link.start)),
            code=tuple(code),
        )
        self._refuse_unprintable(text)
        return text

    def _link(self, start: int, token: Token, number: int, end: int, places: Sequence[Place]) -> TextLink:
        target: Target = token.meta.get(TARGET) or Target(str(token.attrs.get("href", "")), -1, 0)
        at = _destination_at(target, places)
        offsets = token.meta.get(PLACES) or [0]
        near = at or (*places[min(offsets[0], len(places) - 1)], 1)
        self._judge_scheme(token, "href", target.destination, near, (*WEB_SCHEMES, "claim", "given"))
        if target.title:
            self._attach("meta", target, places)
        return TextLink(start=start, end=end, destination=target.destination, token=number, destination_at=at)

    def _image(self, token: Token, places: Sequence[Place]) -> None:
        target: Target = token.meta.get(TARGET) or Target(str(token.attrs.get("src", "")), -1, 0)
        alternative = self.text("alt", token.children or [], places, counted=False)
        start = places[min((token.meta.get(PLACES) or [0])[0], len(places) - 1)]
        at = _destination_at(target, places) or (*start, 1)
        self._judge_scheme(token, "src", target.destination, at, ("chart",))
        self._prose.images.append(
            ImageUse(destination=target.destination, alternative=alternative, line=at[0], column=at[1], length=at[2])
        )
        if alternative.text.strip():
            self._prose.attached.append(alternative)
        else:
            self._problems.add(
                self._source.problem(
                    "missing-alternative-text",
                    start[0],
                    start[1],
                    "this image has no alternative text",
                    "Write what it shows between the square brackets.",
                )
            )
        if target.title:
            self._attach("caption", target, places)

    def _attach(self, place: str, target: Target, places: Sequence[Place]) -> None:
        positions = _places(places, target.title_places, len(target.title))
        self._prose.attached.append(inline_text(place, target.title, positions, self._source, self._problems))

    def _judge_scheme(
        self, token: Token, attribute: str, destination: str, at: tuple[int, int, int], allowed: Sequence[str]
    ) -> None:
        match = _SCHEME.match(destination)
        if match is None and not destination.startswith("//"):
            return
        scheme = match[1].lower() if match else ""
        if scheme in allowed:
            return
        # The page never gets such a destination, whatever becomes of the problem.
        token.attrs[attribute] = "#"
        close = nearest(scheme, allowed)
        self._problems.add(
            self._source.problem(
                "unknown-destination",
                at[0],
                at[1],
                f"`{clip(destination)}` is no destination for {'a link' if attribute == 'href' else 'an image'}",
                f"Did you mean `{close}:`?"
                if close
                else f"Use {', '.join(f'{s}:' for s in allowed)} or a relative path.",
                length=at[2],
            )
        )

    def _refuse_unprintable(self, text: Text) -> None:
        for found in UNPRINTABLE.finditer(text.text):
            line, column = text.positions[found.start()]
            self._problems.add(
                self._source.problem(
                    "control-character",
                    line,
                    column,
                    f"this gives the invisible character U+{ord(found.group()):04X}",
                    "Delete it.",
                )
            )


def _places(places: Sequence[Place], offsets: Sequence[int], length: int) -> list[Place]:
    last = len(places) - 1
    if length and len(offsets) == length and offsets[-1] <= last:
        first = offsets[0]
        if offsets[-1] - first == length - 1 and offsets == list(range(first, first + length)):
            return list(places[first : first + length])  # nearly always: the text as it stands in its line
    if len(offsets) != length:
        offsets = [offsets[0] if offsets else 0] * length
    return [places[min(offset, last)] for offset in offsets]


def _destination_at(target: Target, places: Sequence[Place]) -> tuple[int, int, int] | None:
    if not 0 <= target.start < len(places):
        return None
    line, column = places[target.start]
    return line, column, target.length


def inline_text(place: str, value: str, positions: Sequence[Place], source: SourceText, problems: ProblemList) -> Text:
    """A text of one paragraph (title, summary, caption ...) read as inline Markdown, with its places."""
    whole = one_text(value)
    children = [whole] if whole is not None else _markdown().parseInline(value)[0].children or []
    prose = Prose(tokens=())
    ends = [*positions, positions[-1]] if positions else [(1, 1)]
    text = _Builder(source, prose, problems).text(place, children, ends, counted=False)
    if prose.images:
        problems.add(
            source.problem("image-in-text", *ends[0], f"an image stands in a {place}", "Place images in the body.")
        )
    return text


def read_body(source: SourceText, first_line: int, problems: ProblemList) -> Prose:
    """Tokens and texts of the Markdown that starts on line `first_line` of a file."""
    lines = source.lines[first_line - 1 :]
    tokens = _markdown().parse("\n".join(lines))
    prose = Prose(tokens=tuple(tokens))
    builder = _Builder(source, prose, problems)
    for place, token, places in _placed_blocks(tokens, lines, first_line):
        if token.type == "inline":
            text = builder.text(place, token.children or [], places, counted=True)
        else:
            text = _code_block(place, token, lines, first_line, source.file)
        if text.text.strip():
            prose.texts.append(text)
    _clear(tokens)
    return prose


def _clear(tokens: Sequence[Token]) -> None:
    for token in tokens:
        if token.meta:
            token.meta.pop(PLACES, None)
            token.meta.pop(TARGET, None)
        if token.children:
            _clear(token.children)


def _placed_blocks(
    tokens: Sequence[Token], lines: Sequence[str], first_line: int
) -> Iterator[tuple[str, Token, list[Place]]]:
    """Every token with readable text: what kind of place it is, and where its content stands."""
    lists = 0
    heading = False
    row: list[list[Place]] = []
    for i, token in enumerate(tokens):
        if token.type in ("list_item_open", "list_item_close"):
            lists += token.nesting
        elif token.type in ("heading_open", "heading_close"):
            heading = token.nesting > 0
        elif token.type == "tr_open":
            row = row_places(_row(tokens, i), lines, first_line)[::-1]
        elif token.type in ("fence", "code_block"):
            yield "list" if lists else "paragraph", token, []
        elif token.type == "inline" and tokens[i - 1].type in ("th_open", "td_open"):
            yield "table", token, row.pop()
        elif token.type == "inline":
            place = "heading" if heading else "list" if lists else "paragraph"
            yield place, token, content_places(token, lines, first_line)


def _row(tokens: Sequence[Token], opening: int) -> list[Token]:
    cells: list[Token] = []
    for token in tokens[opening + 1 :]:
        if token.type == "tr_close":
            break
        if token.type == "inline":
            cells.append(token)
    return cells


def _code_block(place: str, token: Token, lines: Sequence[str], first_line: int, file: str) -> Text:
    start = (token.map[0] if token.map else 0) + (token.type == "fence")
    positions: list[Place] = []
    for k, part in enumerate(token.content.split("\n")):
        line = lines[start + k] if start + k < len(lines) else ""
        column = max(1, len(line) - len(part) + 1)
        positions.extend((start + k + first_line, column + i) for i in range(len(part) + 1))
    text = token.content.replace("\n", " ")
    return Text(place=place, text=text, positions=tuple(positions[: len(text)]), file=file, code=((0, len(text)),))
