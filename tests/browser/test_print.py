"""The printed page: a PDF by Chromium holds every caveat, hazard and disclosure; nothing of the screen's controls."""

import re
import zlib

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser-second")]


def objects(pdf: bytes) -> dict[int, tuple[bytes, bytes]]:
    """Object number -> (dictionary, unpacked stream) of an uncompressed-object PDF as Chromium writes it."""
    found = {}
    for match in re.finditer(rb"(?s)(\d+) 0 obj\s*(.*?)\s*endobj", pdf):
        head, _, rest = match[2].partition(b"stream\n" if b"stream\n" in match[2] else b"stream\r\n")
        body = rest.rpartition(b"endstream")[0]
        if b"/FlateDecode" in head:
            body = zlib.decompressobj().decompress(body)
        found[int(match[1])] = (head, body)
    return found


def code_map(cmap: bytes) -> dict[int, str]:
    """Glyph code -> text of a ToUnicode map (PDF 32000-1, 9.10.3)."""
    table = {}

    def text(digits: bytes) -> str:
        return bytes.fromhex(digits.decode()).decode("utf-16-be")

    for block in re.findall(rb"(?s)beginbfchar(.*?)endbfchar", cmap):
        for code, to in re.findall(rb"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>", block):
            table[int(code, 16)] = text(to)
    for block in re.findall(rb"(?s)beginbfrange(.*?)endbfrange", cmap):
        for low, high, to in re.findall(rb"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>", block):
            for step in range(int(high, 16) - int(low, 16) + 1):
                table[int(low, 16) + step] = chr(ord(text(to)) + step) if len(text(to)) == 1 else text(to)
    return table


def pdf_text(pdf: bytes) -> str:
    """The words of a PDF by its own character maps, without spaces: what a reader could copy out of it."""
    parts = objects(pdf)
    fonts = {}
    for number, (head, _) in parts.items():
        if (to := re.search(rb"/ToUnicode (\d+) 0 R", head)) is not None:
            fonts[number] = code_map(parts[int(to[1])][1])
    words = []
    for head, _ in parts.values():
        if b"/Type /Page\n" not in head and not re.search(rb"/Type\s*/Page\b(?!s)", head):
            continue
        names = {n: int(k) for n, k in re.findall(rb"/(F\d+) (\d+) 0 R", head)}
        for number in re.findall(rb"/Contents (\d+) 0 R", head):
            words.append(page_text(parts[int(number)][1], {n: fonts.get(k, {}) for n, k in names.items()}))
    return "".join(words)


def page_text(content: bytes, fonts: dict[bytes, dict[int, str]]) -> str:
    font, words = {}, []
    for name, shown in re.findall(rb"/(F\d+) [\d.-]+ Tf|(<[0-9A-Fa-f]+>|\[[^\]]*\])\s*T[jJ]", content):
        if name:
            font = fonts.get(name, {})
        for digits in re.findall(rb"<([0-9A-Fa-f]+)>", shown):
            words.append("".join(font.get(int(digits[i : i + 4], 16), "") for i in range(0, len(digits), 4)))
    return "".join(words)


LIGATURES = {"ﬁ": "fi", "ﬂ": "fl", "ﬀ": "ff", "ﬃ": "ffi", "ﬄ": "ffl"}


def squeezed(text: str) -> str:
    for joined, plain in LIGATURES.items():
        text = text.replace(joined, plain)
    return re.sub(r"[\s\u00ad\u200b\ufe0e]+", "", text)


def test_the_pdf_reader_reads(open_tab):
    """The few lines above against a page whose words are known."""
    tab = open_tab()
    tab.page.set_content("<p>Plain words, 193 W \u2212 37 W, \u00e4.</p><details><summary>Fold</summary>deep</details>")
    text = squeezed(pdf_text(tab.page.pdf()))
    assert "Plainwords,193W\u221237W,\u00e4." in text and "Fold" in text
    assert "deep" not in text, "what is not printed is not found"


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts on", "scripts off"])
def test_every_caveat_and_every_disclosure_is_on_paper(scripts, served, write_up_names, open_tab):
    """Reference 3, print: caveat texts kept, disclosures opened. Chromium opens them without scripts too."""
    for name in write_up_names if scripts else write_up_names[-1:]:
        watched = open_tab(served + name, java_script_enabled=scripts)
        page = watched.page
        wanted = page.evaluate(
            "[...document.querySelectorAll('.caveats li, .hazard, .notice-strip, figcaption > p, .at-a-glance dd > p,"
            " main details:not(.working *) > *:not(summary) td')].map(e => e.textContent)"
        )
        assert len(wanted) > 50
        text = squeezed(pdf_text(page.pdf(format="A4", print_background=True)))
        missing = [words for words in wanted if squeezed(words) not in text]
        assert not missing, (name, len(missing), missing[:3])
        assert "Skiptothecontent" not in text and "Filtertheruns" not in text
        page.context.close()


def test_printed_pages_are_dark_on_white_whatever_the_scheme(served, heaviest, open_tab):
    watched = open_tab(served + heaviest, color_scheme="dark")
    watched.page.emulate_media(media="print")
    ink, paper = watched.page.evaluate(
        "[getComputedStyle(document.body).color, getComputedStyle(document.body).backgroundColor]"
    )
    assert ink == "rgb(0, 0, 0)" and paper == "rgb(255, 255, 255)"
    for hidden in ("nav", ".filter", ".skip", ".working"):
        assert not any(e.is_visible() for e in watched.page.locator(hidden).all()[:5]), hidden


def test_printed_tables_are_not_cut(served, write_up_names, page_names, open_tab):
    """A4 upright with 10 mm edges is 718 CSS pixels: no table runs off the paper."""
    watched = open_tab(width=718)
    wide = {}
    for name in (*write_up_names, "compare.html", "ledger.html", "methods.html"):
        watched.goto(served + name)
        watched.page.emulate_media(media="print")
        watched.page.evaluate("dispatchEvent(new Event('beforeprint'))")
        found = watched.page.evaluate(
            "[...document.querySelectorAll('main table, main figure, main svg, main pre')].filter(e =>"
            " e.checkVisibility() && e.getBoundingClientRect().right > innerWidth + 2)"
            ".map(e => [e.outerHTML.slice(0, 80), Math.round(e.getBoundingClientRect().right)])"
        )
        if found:
            wide[name] = found[:4]
    assert not wide, wide
