"""Colours: contrast by the formula of WCAG 2.2 (relative luminance, contrast ratio), and the style sheet."""

import re
from pathlib import Path

import pytest

from benchgalley.charts import theme

ASSETS = Path(__file__).parents[2] / "layouts" / "assets"


def luminance(colour):
    """WCAG 2.2, definition of relative luminance."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a, b):
    lighter, darker = sorted((luminance(a), luminance(b)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_formula_gives_the_ends_of_its_scale():
    """WCAG 2.2: black on white is 21:1, a colour on itself 1:1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#777777") == 1
    assert contrast("#0072b2", "#ffffff") == pytest.approx(5.18, abs=0.01)


@pytest.mark.parametrize("colour", [*theme.SERIES, theme.MUTED, theme.GOOD, theme.BAD, theme.NOTE])
def test_marks_reach_three_to_one_on_white(colour):
    assert contrast(colour, theme.PAPER) >= 3


@pytest.mark.parametrize("colour", [theme.INK, theme.MUTED])
def test_words_reach_four_and_a_half_to_one_on_white(colour):
    assert contrast(colour, theme.PAPER) >= 4.5


def test_contrast_figures_stated_in_the_theme_are_the_computed_ones():
    named = {
        "ink": theme.INK, "muted": theme.MUTED, "series 1": theme.SERIES[0], "series 2": theme.SERIES[1],
        "series 3": theme.SERIES[2], "series 4": theme.SERIES[3], "good": theme.GOOD, "bad": theme.BAD,
        "note": theme.NOTE,
    }  # fmt: skip
    words = " ".join(theme.__doc__.split())
    for name, colour in named.items():
        stated = re.search(rf"\b{name} (\d+\.\d)", words)
        assert stated and float(stated[1]) == int(contrast(colour, theme.PAPER) * 10) / 10, name


def test_shape_tells_series_apart_without_colour():
    assert len(set(theme.STYLE_SHAPES[:7])) == 7
    assert len(set(zip(theme.STYLE_COLOURS, theme.STYLE_SHAPES, strict=True))) == theme.STYLES
    assert len({shape for shape, _ in theme.OUTCOMES.values()}) == len(theme.OUTCOMES)


def test_each_colour_has_its_rules_in_the_style_sheet():
    css = (ASSETS / "charts.css").read_text("utf-8")
    for colour, variable in theme.VARIABLES.items():
        for paint in ("fill", "stroke"):
            assert f".chart-{paint}-{variable} {{ {paint}: var(--{variable}, {colour}); }}" in css


def test_variables_of_the_site_reach_three_to_one_in_both_schemes():
    css = (ASSETS / "site.css").read_text("utf-8")
    schemes = re.findall(r"--paper: (#[0-9a-f]{6});(.*?)\}", css, re.DOTALL)
    assert len(schemes) >= 2, "light and dark"
    for paper, rest in schemes:
        found = dict(re.findall(r"--([a-z0-9-]+): (#[0-9a-f]{6});", rest))
        for name in ("ink", "muted", "series-1", "series-2", "series-3", "series-4", "good", "bad", "note"):
            assert contrast(found[name], paper) >= (4.5 if name in ("ink", "muted") else 3), (name, paper)
