"""A chart as it stands on a page: picture, caption, table of what is drawn, file to download, live specification."""

from typing import Any
from xml.etree import ElementTree as Xml

from markupsafe import Markup

from benchgalley.records.figure import Figure

from . import page_paths
from .edition import Edition

_SVG = "http://www.w3.org/2000/svg"
_SOURCE_LINE = 20
"""Height of the line that names the source, in the units of the picture."""


def plate(
    edition: Edition,
    figure: Figure,
    here: str,
    file: str,
    *,
    source: str,
    alternative: str = "",
    caption: Markup | None = None,
) -> Markup:
    """The figure element. The picture needs no script; the specification makes it answer to pointer and keyboard."""
    page = edition.templates.fill(
        "figure.html",
        here,
        figure=figure,
        anchor=page_paths.anchor(figure.id),
        file=file,
        source=source,
        picture=Markup(figure.svg),  # drawn by the charts room from numbers, not from foreign markup
        spec=_spec(figure),
        alternative=alternative or figure.alternative,
        caption=caption or Markup(""),
        row_addresses=_by_row(figure),
    )
    return Markup(page.decode())  # a template with escaping on


def as_file(figure: Figure, source: str) -> bytes:
    """The chart as an SVG file that stands alone: on white, named, with the line that says where it comes from."""
    Xml.register_namespace("", _SVG)
    root = Xml.fromstring(figure.svg)
    left, top, width, height = (float(part) for part in root.get("viewBox", "0 0 640 400").split())
    below = height + _SOURCE_LINE
    root.set("viewBox", f"{left:g} {top:g} {width:g} {below:g}")
    root.set("width", f"{width:g}")
    root.set("height", f"{below:g}")
    root.attrib.pop("class", None)
    ground = Xml.Element(
        f"{{{_SVG}}}rect", x=f"{left:g}", y=f"{top:g}", width=f"{width:g}", height=f"{below:g}", fill="#ffffff"
    )
    named = {"title": figure.title, "desc": figure.alternative}
    words = [Xml.Element(f"{{{_SVG}}}{tag}") for tag in named]
    for element, text in zip(words, named.values(), strict=True):
        element.text = text
    for position, element in enumerate((*words, ground)):
        root.insert(position, element)
    line = Xml.SubElement(
        root, f"{{{_SVG}}}text", {"x": f"{left + 4:g}", "y": f"{top + height + 14:g}", "fill": "#545e59"}
    )
    line.set("font-size", "11")
    line.set("font-family", "sans-serif")
    line.text = source
    return Xml.tostring(root, encoding="unicode").encode()


def site_source(edition: Edition) -> str:
    """What a chart over several write-ups says about where it comes from."""
    settings = edition.site.settings
    parts = (settings.author, settings.title.text, settings.data_licence, settings.address)
    return ". ".join(part for part in (*parts, settings.notice) if part)


def _by_row(figure: Figure) -> list[str]:
    """The addresses each row of the figure's table shows, so that table and marks light up together."""
    rows, drawn = len(figure.rows), figure.addresses
    if figure.kind == "power-scaling" and len(drawn) >= rows:
        drawn = drawn[:rows]  # the points come first, what was read off the curve after them
    if not rows or len(drawn) % rows:
        return [""] * rows
    each = len(drawn) // rows
    return [" ".join(drawn[at * each : (at + 1) * each]) for at in range(rows)]


def _spec(figure: Figure) -> dict[str, Any] | None:
    return dict(figure.spec) or None
