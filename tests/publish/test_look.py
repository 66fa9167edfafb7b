"""Contrast of every pair of colours the style sheet uses, both schemes and print.

WCAG 2.2, 1.4.3 (text 4.5:1) and 1.4.11 (marks and borders 3:1), relative luminance as defined there.
"""

import re
from pathlib import Path

import pytest

LAYOUTS = Path(__file__).parents[2] / "layouts"
CSS = (LAYOUTS / "assets" / "site.css").read_text("utf-8")
TEXT = ("ink", "muted", "accent", "good", "bad", "note")
MARKS = ("edge", "series-1", "series-2", "series-3", "series-4")
SIGNALS = {"danger": 4.5, "warning": 4.5, "caution": 4.5, "notice": 4.5}


def scheme(name: str) -> dict[str, str]:
    blocks = re.findall(r":root \{(.*?)\}", CSS, re.S)
    light, dark, printed = (dict(re.findall(r"--([\w-]+): (#[0-9a-f]{3,6})", b)) for b in blocks)
    return {"light": light, "dark": light | dark, "print": light | printed}[name]


def luminance(colour: str) -> float:
    digits = colour[1:] if len(colour) == 7 else "".join(2 * d for d in colour[1:])
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_measure_itself():
    """WCAG 2.2: black on white is 21; #0072B2 on white 5.18 (Okabe and Ito blue, published table)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#0072b2", "#ffffff") == pytest.approx(5.18, abs=0.01)


@pytest.mark.parametrize("name", ["light", "dark", "print"])
@pytest.mark.parametrize("ground", ["paper", "panel"])
def test_text_and_marks_stand_out(name, ground):
    colours = scheme(name)
    for role in TEXT:
        assert contrast(colours[role], colours[ground]) >= 4.5, (role, contrast(colours[role], colours[ground]))
    for role in MARKS:
        assert contrast(colours[role], colours[ground]) >= 3.0, (role, contrast(colours[role], colours[ground]))


@pytest.mark.parametrize("name", ["light", "dark", "print"])
def test_a_bound_number_is_legible_on_its_band(name):
    colours = scheme(name)
    for role in ("ink", "good", "bad"):
        assert contrast(colours[role], colours["mark"]) >= 4.5, (role, contrast(colours[role], colours["mark"]))


@pytest.mark.parametrize("word", SIGNALS)
def test_signal_words_stand_out(word):
    """Colours and ratios after ANSI Z535.6, screen values from memory."""
    ground, text = re.search(rf"\.signal\.{word} \{{ background: (#\w+); color: (#\w+);", CSS).groups()
    assert contrast(ground, text) >= SIGNALS[word]


def test_figures_written_down_are_the_computed_ones():
    written = (LAYOUTS / "README.md").read_text("utf-8")
    found = re.findall(r"\| `--([\w-]+)` \| [^|]+\| ([\d.]+) \| ([\d.]+) \|", written)
    assert len(found) >= 10
    for role, light, dark in found:
        for name, ratio in (("light", light), ("dark", dark)):
            colours = scheme(name)
            assert 0 <= contrast(colours[role], colours["paper"]) - float(ratio) < 0.1, role


def test_motion_is_only_for_those_who_want_it():
    outside = re.sub(r"@media \(prefers-reduced-motion: no-preference\) \{.*?\}\s*\}", "", CSS, flags=re.S)
    assert "transition" not in outside and "animation" not in outside


def test_print_keeps_caveats_and_drops_the_navigation():
    printed = CSS[CSS.index("@media print") :]
    assert ".masthead nav" in printed and "display: none" in printed
    assert not re.search(r"\.(?:caveats|hazards?|notice-strip)[^{]*\{[^}]*display: none", printed)
