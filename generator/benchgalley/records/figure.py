"""A drawn chart with everything a page needs of it."""

from dataclasses import dataclass, field


@dataclass(frozen=True, kw_only=True, slots=True)
class Figure:
    """One chart: picture, caption, alternative text, table of what is drawn, specification for the browser."""

    id: str
    """Unique on its page and permanent: `score-against-power`, `offset-ladder`."""
    kind: str
    """Key of the chart kind, as in `![…](chart:offset-ladder)`."""
    title: str
    caption: str
    """One or two sentences: what is drawn, what the bars are, how many runs."""
    alternative: str
    """What it shows, in words with figures; the accessible name."""
    columns: tuple[str, ...]
    """Heads of the data table, with units."""
    rows: tuple[tuple[str, ...], ...]
    """Cells of the data table, as printed."""
    svg: str = field(repr=False)
    """Static picture, ids stable and unique, no style attribute and no script."""
    spec: str = field(repr=False)
    """Compiled Vega specification with its data, as JSON, for the runtime in the browser; empty: none."""
    addresses: tuple[str, ...] = ()
    """Addresses drawn, for linking chart, table and text."""
