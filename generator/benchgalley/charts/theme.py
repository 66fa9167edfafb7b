"""One look for every figure: colours, shapes, dashes, sizes.

Colours come from the set of Okabe and Ito (2008), which stays apart under the common colour-vision deficiencies.
Contrast on white by the WCAG 2.2 formula, rounded down: ink 16.2, muted 6.1, series 1 5.1, series 2 3.8,
series 3 3.4, series 4 4.5, good 4.5, bad 4.5, note 4.5; lines need 3 and text 4.5 (success criteria 1.4.11, 1.4.3).
The set differs little in lightness, so shape and dash carry each series as well, and words carry every state.

A drawn picture holds these hex values as fallback; each also becomes a class name, and the site's style sheet
(`layouts/assets/charts.css`) sets the colour of the class for light and dark.
"""

from typing import Any

INK = "#1c2126"
MUTED = "#59636e"
LINE = "#d5dae0"
PAPER = "#ffffff"
SERIES = ("#0072b2", "#d55e00", "#009e73", "#a56187")
GOOD = "#008762"
BAD = "#c35600"
NOTE = "#9e6d00"

VARIABLES: dict[str, str] = {
    INK: "ink", MUTED: "muted", LINE: "line", PAPER: "paper",
    SERIES[0]: "series-1", SERIES[1]: "series-2", SERIES[2]: "series-3", SERIES[3]: "series-4",
    GOOD: "good", BAD: "bad", NOTE: "note",
}  # fmt: skip
"""Fixed colour -> CSS variable of the site without its two dashes."""

WIDTH = 640
"""Width of every picture in its own units; the style sheet scales it to the column."""
FONT_SIZE = 17
"""Large enough to be read when 640 units are shown on a phone's 320 CSS pixels."""

STYLES = 16
"""Number of looks; the first is the baseline's, later ones repeat the four colours with other shapes."""
STYLE_COLOURS = tuple(INK if i == 0 else SERIES[(i - 1) % len(SERIES)] for i in range(STYLES))
_SHAPES = ("square", "triangle-up", "diamond", "cross", "triangle-down", "triangle-right", "triangle-left")
STYLE_SHAPES = tuple("circle" if i == 0 else _SHAPES[(i - 1) % len(_SHAPES)] for i in range(STYLES))

DASHES: dict[str, list[int]] = {"solid": [1, 0], "dashed": [8, 5], "dotted": [2, 4], "dash-dot": [8, 4, 2, 4]}
"""Dash name -> lengths of stroke and gap."""

DIAGONAL_CROSS = "M-1,-0.7L-0.7,-1L0,-0.3L0.7,-1L1,-0.7L0.3,0L1,0.7L0.7,1L0,0.3L-0.7,1L-1,0.7L-0.3,0Z"
OUTCOMES: dict[str, tuple[str, str]] = {
    "completed": ("circle", GOOD),
    "crashed": (DIAGONAL_CROSS, BAD),
    "artefacts": ("triangle-up", BAD),
    "hung": ("square", BAD),
    "aborted": ("diamond", NOTE),
}
"""Outcome of a run -> (shape, colour). The word stands beside it in every figure."""


_GROUPED = "replace(replace(datum.label, ',', abs(datum.value) < 10000 ? '' : '\u202f'), ',', '\u202f')"
"""Axis figures grouped as the text groups them: thin spaces, from five digits."""


def configuration() -> dict[str, Any]:
    """Vega-Lite configuration shared by all figures."""
    axis = {
        "labelColor": INK, "titleColor": INK, "domainColor": MUTED, "tickColor": MUTED, "gridColor": LINE,
        "labelFontSize": FONT_SIZE, "titleFontSize": FONT_SIZE, "titleFontWeight": "normal", "titlePadding": 10,
        "labelPadding": 6, "tickSize": 6, "gridWidth": 1, "labelExpr": _GROUPED,
    }  # fmt: skip
    return {
        "aria": False,  # the page names the whole picture; a name on every mark would only add weight
        "background": "transparent",
        "font": "sans-serif",
        "axis": axis,
        "view": {"stroke": None},
        "text": {"fontSize": FONT_SIZE, "fill": INK},
    }
