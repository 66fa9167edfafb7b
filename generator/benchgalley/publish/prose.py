"""The body of a write-up as HTML, made from the very tokens whose claims were checked.

Two barriers keep foreign markup out: the renderer escapes every text it prints and never prints raw HTML,
and what it made passes through a sanitiser with our own list of elements before charts are set in.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import nh3
from markdown_it import MarkdownIt
from markdown_it.renderer import RendererHTML
from markdown_it.token import Token
from markupsafe import Markup, escape

from benchgalley.records.address import Address
from benchgalley.records.write_up import Claim, Text, WriteUp

from . import page_paths
from .corrections import Correction
from .edition import target
from .templates import long_date
from .typesetting import typeset

_SCHEMES = {"http", "https", "mailto"}
_TAGS = {
    "a", "blockquote", "br", "button", "code", "del", "div", "em", "figcaption", "figure", "h2", "h3", "h4", "h5", "h6",
    "hr", "img", "li", "ol", "p", "pre", "s", "small", "span", "strong", "sup", "table", "tbody", "td", "th", "thead",
    "tr", "ul",
}  # fmt: skip
_ATTRIBUTES = {
    "*": {"class", "id"},
    "a": {"href", "title", "aria-label"},
    "button": {"type", "popovertarget"},
    "div": {"role", "aria-label", "tabindex"},
    "img": {"src", "alt", "loading"},
    "ol": {"start"},
    "pre": {"tabindex"},
    "th": {"scope"},
}
_CLEANER = nh3.Cleaner(tags=_TAGS, attributes=_ATTRIBUTES, url_schemes=_SCHEMES, link_rel=None)


@dataclass(frozen=True, kw_only=True, slots=True)
class Galley:
    """What the prose of one write-up is set with."""

    write_up: WriteUp
    claims: tuple[Claim, ...]
    marks: Callable[[Address], tuple[tuple[str, str, str], ...]]
    """Address → (letter, caveat code, caveat title) of the caveats that bear on it."""
    chart: Callable[[str, str, Markup], Markup | None]
    """(chart kind, alternative text, caption as written) → the figure; None when there is no such chart."""
    revised: Callable[[Address], Correction | None] = lambda _: None
    """Address → the latest revision that changed it."""


@dataclass(slots=True)
class _Setting:
    """State of one rendering."""

    galley: Galley
    links: dict[int, int]
    """id() of each `link_open` token → its number over the whole document."""
    open_links: list[str] = field(default_factory=list)
    """What closes each link that is open."""
    figures: list[Markup] = field(default_factory=list)
    level: int = 1
    heading_ids: set[str] = field(default_factory=set)
    shift: int = 0


def render(galley: Galley) -> Markup:
    """The prose of a write-up."""
    tokens: Sequence[Token] = galley.write_up.tokens
    links = [token for token in walk(tokens, into_images=False) if token.type == "link_open"]
    setting = _Setting(galley=galley, links={id(token): number for number, token in enumerate(links)})
    levels = [int(token.tag[1]) for token in tokens if token.type == "heading_open"]
    setting.shift = 2 - min(levels, default=2)
    clean = _sanitised(_RENDERER.render(tokens, _OPTIONS, {"setting": setting}))
    return Markup(_PLACED.sub(lambda place: setting.figures[int(place[1])], clean))  # sanitised above


def line(text: Text, galley: Galley, *, interactive: bool = True) -> Markup:
    """A title, summary or note with its bound numbers; plain wording when not `interactive`."""
    if not interactive:
        return escape(typeset(text.text))
    index = next((i for i, t in enumerate(galley.write_up.texts) if t is text), -1)
    parts: list[str] = []
    end = 0
    for link in text.links:
        parts.append(str(escape(typeset(text.text[end : link.start]))))
        words = str(escape(typeset(text.text[link.start : link.end])))
        opening, closing = _dressed(link.destination, galley, _claim_in(galley, index, link.destination))
        parts += [opening, words, closing]
        end = link.end
    parts.append(str(escape(typeset(text.text[end:]))))
    return Markup("".join(parts))  # every part is escaped or ours


def walk(tokens: Iterable[Token], *, into_images: bool = True) -> Iterator[Token]:
    """Tokens and their children in document order; links are numbered without those in alternative texts."""
    for token in tokens:
        yield token
        if into_images or token.type != "image":
            yield from walk(token.children or (), into_images=into_images)


def inline(source: str, galley: Galley) -> Markup:
    """A caption as written: its bound numbers become numbers, its other markup is set as in the text."""
    if not source:
        return Markup("")
    env = {"setting": _Setting(galley=galley, links={})}
    return Markup(_sanitised(_RENDERER.render(_markdown().parseInline(source), _OPTIONS, env)))


def _sanitised(html: str) -> str:
    return _CLEANER.clean(html).replace("&nbsp;", "\u00a0")


@lru_cache(maxsize=1)
def _markdown() -> MarkdownIt:
    parser = MarkdownIt("commonmark", {"html": False})
    # Every destination is judged when it is rendered; the parser's own list would drop `claim:` links unseen.
    parser.validateLink = lambda url: True  # type: ignore[method-assign]
    return parser


def contents(write_up: WriteUp) -> list[tuple[str, str]]:
    """(anchor, words) of the headings of the topmost level in the text."""
    tokens = write_up.tokens
    heads = [(i, int(t.tag[1])) for i, t in enumerate(tokens) if t.type == "heading_open"]
    top = min((level for _, level in heads), default=1)
    taken: set[str] = set()
    named = [(_heading_id(_words(tokens[i + 1]), taken), _words(tokens[i + 1]), level) for i, level in heads]
    return [(anchor, words) for anchor, words, level in named if level == top]


def claim_anchor(claim: Claim) -> str:
    """Id of the place in the prose where a claim of the body stands."""
    return f"claim-{claim.token}"


def working_id(address: str) -> str:
    """Id of the popover that holds the working of an address."""
    return f"working:{address}"


_OPTIONS = MarkdownIt("commonmark").options
_PLACED = re.compile(r'<div class="placed-(\d+)"></div>')


def _place(number: int) -> str:
    return f'<div class="placed-{number}"></div>'


def _claim_in(galley: Galley, index: int, destination: str) -> Claim | None:
    wanted = target(galley.write_up, destination) if destination.startswith("claim:") else None
    candidates = [c for c in galley.claims if c.text_index == index and c.address == wanted]
    return candidates[0] if wanted is not None and candidates else None


def _dressed(destination: str, galley: Galley, claim: Claim | None) -> tuple[str, str]:
    """Opening and closing markup for a link of the prose."""
    scheme = destination.partition(":")[0].lower() if ":" in destination else ""
    if scheme == "claim":
        return _number(destination, galley, claim)
    if scheme == "given":
        source = destination.partition(":")[2] or "stated"
        return f'<span class="given"{_anchor(claim)}>', f'<span class="aside"> (given: {escape(source)})</span></span>'
    if (href := _outward(destination, scheme)) is not None:
        return f'<a href="{escape(href)}">', "</a>"
    return "<span>", "</span>"


def _outward(destination: str, scheme: str) -> str | None:
    """The link as it may stand on the page; None when it may not be one."""
    if scheme in _SCHEMES:
        return destination
    neighbour = re.fullmatch(r"\.\./([a-z0-9][a-z0-9-]*)/(?:write-up\.md|index\.html)?(#[\w/-]+)?", destination)
    if neighbour is not None:
        return f"../{neighbour[1]}/index.html{neighbour[2] or ''}"
    # Intake has seen to it that what is linked within the site is published there.
    return destination if re.fullmatch(r"(?:#[\w/-]+|trials\.csv|(?:\.\./){2}[a-z-]+\.html)", destination) else None


def _anchor(claim: Claim | None) -> str:
    return f' id="{claim_anchor(claim)}"' if claim is not None and claim.token >= 0 else ""


def _number(destination: str, galley: Galley, claim: Claim | None) -> tuple[str, str]:
    address = target(galley.write_up, destination)
    if address is None:
        return "<span>", "</span>"
    here = address.within(galley.write_up.slug)
    accepted = claim is not None and bool(claim.accepted)
    word = " word" if claim is not None and claim.kind == "word" else ""
    opening = (
        f'<button type="button" class="number{word}{" accepted" if accepted else ""}"{_anchor(claim)}'
        f' popovertarget="{escape(working_id(here))}">'
    )
    closing = "</button>"
    for letter, code, title in galley.marks(address):
        href = page_paths.anchor(f"caveat-{code}")
        closing += (
            f'<sup class="mark"><a href="#{href}" aria-label="Caveat {letter}: {escape(title)}">{letter}</a></sup>'
        )
    if (correction := galley.revised(address)) is not None:
        closing += _revised(correction)
    if claim is not None and claim.accepted:
        closing += f' <small class="kept">(not shown by these runs; kept because: {escape(claim.accepted)})</small>'
    return opening, closing


def _revised(correction: Correction) -> str:
    """The note at a number that a revision changed: what it was where that is known, else a mark."""
    day = escape(long_date(correction.date))
    href = escape(f"#{correction.anchor}")
    if correction.was:
        was = escape(typeset(correction.was))
        return f' <small class="revised">(<a href="{href}">corrected {day}</a>, was <del>{was}</del>)</small>'
    return f'<sup class="mark"><a class="revised" href="{href}" aria-label="Revised {day}">r</a></sup>'


class _Renderer(RendererHTML):
    """markdown-it's renderer with our own links, figures, tables and headings; `env["setting"]`: a `_Setting`."""

    def text(self, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
        return str(escape(typeset(tokens[idx].content)))

    # Raw HTML is not parsed at all (intake switches it off); should a token of it arrive, it is text.
    def html_block(self, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
        return f"<p>{escape(tokens[idx].content)}</p>\n"

    def html_inline(self, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
        return str(escape(tokens[idx].content))

    def link_open(self, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
        setting: _Setting = env["setting"]
        destination = str(tokens[idx].attrs.get("href", ""))
        number = setting.links.get(id(tokens[idx]), -1)
        claims = setting.galley.claims
        claim = next((c for c in claims if c.token == number >= 0), None)
        if number < 0 and destination.startswith("claim:"):
            wanted = target(setting.galley.write_up, destination)
            claim = next((c for c in claims if c.place == "caption" and c.address == wanted), None)
        opening, closing = _dressed(destination, setting.galley, claim)
        setting.open_links.append(closing)
        return opening

    def link_close(self, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
        setting: _Setting = env["setting"]
        return setting.open_links.pop() if setting.open_links else ""

    def paragraph_open(self, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
        if tokens[idx].hidden:
            return ""
        return '<div class="plate">\n' if _holds_picture(tokens[idx + 1]) else "<p>"

    def paragraph_close(self, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
        if tokens[idx].hidden:
            # As markdown-it's own renderer does: a tight item's text and a nested block start on lines of their own.
            following = tokens[idx + 1] if idx + 1 < len(tokens) else None
            return "\n" if following is not None and following.nesting >= 0 else ""
        return "</div>\n" if _holds_picture(tokens[idx - 1]) else "</p>\n"

    def image(self, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
        setting: _Setting = env["setting"]
        token = tokens[idx]
        source = str(token.attrs.get("src", ""))
        words = "".join(t.content for t in walk(token.children or ()) if t.type in ("text", "code_inline"))
        caption = inline(str(token.attrs.get("title", "")), setting.galley)
        if source.startswith("chart:"):
            figure = setting.galley.chart(source.removeprefix("chart:").strip(), words, caption)
            if figure is None:
                return f'<p class="absent">No chart: {escape(words)}</p>'
            setting.figures.append(figure)
            return _place(len(setting.figures) - 1)
        name = source.removeprefix("images/")
        images = setting.galley.write_up.images
        if name not in images and source not in images:
            return str(escape(words))
        caption = caption or inline(_own_caption(setting.galley.write_up, name), setting.galley)
        below = f"<figcaption>{caption}</figcaption>" if caption else ""
        picture = f'<img src="images/{escape(name)}" alt="{escape(words)}" loading="lazy">'
        return f'<figure class="picture">{picture}{below}</figure>'

    def heading_open(self, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
        setting: _Setting = env["setting"]
        wanted = int(tokens[idx].tag[1]) + setting.shift
        setting.level = max(2, min(wanted, setting.level + 1, 6))
        anchor = _heading_id(_words(tokens[idx + 1]), setting.heading_ids)
        return f'<h{setting.level} id="{anchor}">'

    def heading_close(self, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
        return f"</h{env['setting'].level}>\n"

    def table_open(self, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
        return '<div class="wide" role="region" aria-label="Table in the text" tabindex="0"><table>\n'

    def table_close(self, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
        return "</table></div>\n"

    def th_open(self, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
        return f'<th scope="col"{_alignment(tokens[idx])}>'

    def td_open(self, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
        return f"<td{_alignment(tokens[idx])}>"

    def fence(self, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
        return f'<pre tabindex="0"><code>{escape(tokens[idx].content)}</code></pre>\n'

    code_block = fence


_RENDERER = _Renderer()


def _words(inline: Token) -> str:
    return "".join(t.content for t in inline.children or () if t.type in ("text", "code_inline"))


def _heading_id(words: str, taken: set[str]) -> str:
    stem = "part-" + (re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-") or "x")
    anchor, count = stem, 1
    while anchor in taken:
        count += 1
        anchor = f"{stem}-{count}"
    taken.add(anchor)
    return anchor


def _own_caption(write_up: WriteUp, name: str) -> str:
    """The caption the front matter gives to an image."""
    images = write_up.front.get("images")
    entry = images.get(name) if isinstance(images, Mapping) else None
    return str(entry.get("caption", "")) if isinstance(entry, Mapping) else ""


def _alignment(token: Token) -> str:
    """markdown-it states it as a style attribute, which the page's policy refuses."""
    return ' class="right"' if "right" in str(token.attrs.get("style", "")) else ""


def _holds_picture(inline: Token) -> bool:
    return any(t.type == "image" for t in inline.children or ())
