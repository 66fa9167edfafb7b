"""The picture that stands beside a link to a write-up: card, title, first figure, site. Drawn from the same numbers."""

import textwrap

from benchgalley.records.write_up import WriteUp

from . import page_paths
from .edition import Edition
from .headline import headline

_LINE = 38
"""Characters that fit on a line of the title."""
_LINES = 3
_LETTER = 40
"""Width of a digit of the large figure."""


def social_picture(edition: Edition, write_up: WriteUp) -> bytes:
    """PNG of 1200 by 630 pixels. Same content, same bytes: the typeface comes with the library that draws."""
    import vl_convert

    # A file of its own and never part of a page; `headline` gives the figure the first screen begins with.
    found = headline(edition, write_up)
    first = next(iter((*found.gained, *found.cost)), None)
    lines = textwrap.wrap(write_up.title.text, _LINE, break_long_words=True)
    if len(lines) > _LINES:
        lines = [*lines[: _LINES - 1], textwrap.shorten(" ".join(lines[_LINES - 1 :]), _LINE, placeholder=" …")]
    text = first.text if first is not None else ""
    label = "" if first is None else ", ".join(part for part in (first.label, first.interval) if part)
    parts = (edition.site.settings.title.text, "Invented data" if write_up.invented else "")
    svg = edition.templates.fill(
        "social.svg",
        page_paths.social(write_up.slug),
        card=f"{write_up.card.maker} {write_up.card.model}, {write_up.load.name} {write_up.load.version}",
        title=lines,
        size=52,
        figure=text,
        band=min(1080, _LETTER * len(text) + 12),
        label=label,
        foot=". ".join(part for part in parts if part),
    )
    picture: bytes = vl_convert.svg_to_png(svg.decode(), scale=1, ppi=72)
    return picture


def social_words(edition: Edition, write_up: WriteUp) -> str:
    """The picture in words, for those who cannot see it."""
    found = headline(edition, write_up)
    first = next(iter((*found.gained, *found.cost)), None)
    figure = f": {first.text} {first.label}" if first is not None else ""
    return f"{write_up.title.text}{figure}"
