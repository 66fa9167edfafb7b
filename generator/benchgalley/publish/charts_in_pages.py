"""A chart as it stands on a page: picture, caption, table of what is drawn, file to download, live specification."""

from xml.etree import ElementTree as Xml

from markupsafe import Markup

from benchgalley.records.figure import Figure

from . import page_paths
from .edition import Edition
from .typesetting import all_escaped, all_typeset, escaped

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
    return edition.templates.part(
        "figure.html",
        here,
        figure=figure,
        anchor=page_paths.anchor(figure.id),
        file=file,
        source=source,
        picture=Markup(figure.svg),  # drawn by the charts room from numbers, not from foreign markup
        alternative=alternative or figure.alternative,
        caption=caption or Markup(""),
        rows=_rows(figure),
    )


def as_file(figure: Figure, source: str) -> bytes:
    """The chart as an SVG file that stands alone: on white, named, with the line that says where it comes from."""
    # Only the outermost tag is read: reading and writing a whole picture again costs as much as making its page.
    opening, drawing = figure.svg.partition(">")[::2]
    drawing = drawing[: drawing.rindex("</svg>")]
    root = Xml.fromstring(f"{opening}/>")
    left, top, width, height = (float(part) for part in root.get("viewBox", "0 0 640 400").split())
    below = height + _SOURCE_LINE
    return (
        f'<svg xmlns="{_SVG}" version="1.1" width="{width:g}" height="{below:g}" '
        f'viewBox="{left:g} {top:g} {width:g} {below:g}">'
        f"<title>{escaped(figure.title)}</title><desc>{escaped(figure.alternative)}</desc>"
        f'<rect x="{left:g}" y="{top:g}" width="{width:g}" height="{below:g}" fill="#ffffff"/>{drawing}'
        f'<text x="{left + 4:g}" y="{top + height + 14:g}" fill="#545e59" font-size="11" font-family="sans-serif">'
        f"{escaped(source)}</text></svg>\n"
    ).encode()


def site_source(edition: Edition) -> str:
    """What a chart over several write-ups says about where it comes from."""
    settings = edition.site.settings
    parts = (settings.author, settings.title.text, settings.data_licence, settings.address)
    return ". ".join(part for part in (*parts, settings.notice) if part)


def _rows(figure: Figure) -> Markup:
    """The rows of the table of what is drawn, their cells set all at once."""
    cells = iter(all_escaped(all_typeset([cell for row in figure.rows for cell in row])))
    rows = []
    for row, shown in zip(figure.rows, _by_row(figure), strict=True):
        about = f' data-address="{escaped(shown)}"' if shown else ""
        first, *others = [next(cells) for _ in row]
        rows.append(f'<tr{about}><th scope="row">{first}</th>{"".join([f"<td>{cell}</td>" for cell in others])}</tr>\n')
    return Markup("".join(rows))


def _by_row(figure: Figure) -> list[str]:
    """The addresses each row of the figure's table shows, so that table and marks light up together."""
    rows, drawn = len(figure.rows), figure.addresses
    if figure.kind == "power-scaling" and len(drawn) >= rows:
        drawn = drawn[:rows]  # the points come first, what was read off the curve after them
    if not rows or len(drawn) % rows:
        return [""] * rows
    each = len(drawn) // rows
    return [" ".join(drawn[at * each : (at + 1) * each]) for at in range(rows)]
