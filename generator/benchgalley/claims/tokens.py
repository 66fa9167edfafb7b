"""A text taken apart: words, runs of digits, dates and single marks, each with its place."""

import re
import unicodedata
from collections.abc import Sequence
from enum import StrEnum
from functools import lru_cache
from typing import NamedTuple

SPACES = " \u00a0\u202f\u2009\u2007"
MINUS_SIGNS = "-\u2212\u2013"
HYPHENS = dict.fromkeys("\u2010\u2011\ufe63\uff0d", "-")
"""Marks that look like a hyphen and are read as one."""
SIGNS = MINUS_SIGNS + "+"
VULGAR = "¼½¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"
"""Fractions in one character."""


class Kind(StrEnum):
    """Kind of a token."""

    NUMBER = "number"
    DATE = "date"
    """Date, time of day or a version with two points."""
    WORD = "word"
    MARK = "mark"


class Token(NamedTuple):
    """A word, a run of digits or one mark. A tuple: a write-up has thousands."""

    kind: Kind
    start: int
    end: int
    text: str
    lower: str


@lru_cache(maxsize=2)
def _token_patterns(decimal_comma: bool) -> tuple[re.Pattern[str], re.Pattern[str]]:
    """The pattern of one token with its kinds as groups, and the same without groups."""
    point, group = (",", r"\.") if decimal_comma else (r"\.", ",")
    digits = (
        rf"\d{{0,6}}[{VULGAR}]|(?:\d{{1,3}}(?:[{SPACES}]\d{{3}})+(?!\d)|\d{{1,3}}(?:{group}\d{{3}})+(?!\d)|\d+)(?:{point}\d+)?"
        rf"|(?<![\d.,]){point}\d+"
    )
    power = (
        rf"(?:[eE][+\-\u2212]?\d{{1,2}}(?!\w)"
        rf"|[{SPACES}]?[×x·][{SPACES}]?10(?:\^[+\-\u2212]?\d{{1,2}}(?!\d)|[⁺⁻]?[⁰¹²³⁴-⁹]{{1,2}}(?![⁰¹²³⁴-⁹])))?"
    )
    kinds = (
        rf"(?P<word>(?!v\d)[^\W\d{VULGAR}]\w*(?:['\u2019][^\W\d_]+)?)"  # first, for most tokens are words
        r"|(?P<date>(?<!\w)(?:\d{4}-\d{2}-\d{2}(?:[T ]\d{1,2}:\d{2}(?::\d{2})?Z?)?|\d{1,2}:\d{2}(?::\d{2})?"
        r"|v?\d+(?:\.\d+){2,}(?:[-+.]\w+)*)(?!\w))"
        rf"|(?P<number>(?<!\w)(?:{digits}){power})"
        r"|(?P<rest>\w+)"
        r"|(?P<mark>[^\s\w])"
    )
    plain = r"[A-Za-z]++(?![\w'\u2019])|"  # the most common word, found without looking further
    return re.compile(kinds), re.compile(plain + re.sub(r"\(\?P<\w+>", "(?:", kinds))


def tokens_of(text: str, decimal_comma: bool, spans: Sequence[tuple[int, int]] = ()) -> list[Token]:
    """The tokens of a text in order, or of some stretches of it."""
    found: list[Token] = []
    add, new, find, word, mark = found.append, tuple.__new__, text.find, Kind.WORD, Kind.MARK
    kinds, pieces = _token_patterns(decimal_comma)
    for low, high in spans or ((0, len(text)),):
        end = low
        # only blanks lie between two tokens: a piece stands at its first place behind the one before
        for piece in pieces.findall(text, low, high):
            start = find(piece, end)
            end = start + len(piece)
            if piece.isascii() and piece.isalpha():
                add(new(Token, (word, start, end, piece, piece.lower())))  # its own constructor takes twice as long
            elif piece in _MARKS:
                add(new(Token, (mark, start, end, piece, piece)))
            else:
                add(_other_token(kinds, text, start, high, piece))
    return found


_MARKS = frozenset(".,;:!?()[]%/°-")


def _other_token(kinds: re.Pattern[str], text: str, start: int, high: int, piece: str) -> Token:
    match, end = kinds.match(text, start, high), start + len(piece)
    group = (match.lastgroup if match else None) or "mark"
    if group == "mark":
        piece = HYPHENS.get(piece, piece)
    elif group == "word" and piece[0] in _RAISED and (raised := _raised_digits(text, start, piece)):
        return Token(Kind.NUMBER, start, end, raised, raised)
    return Token(_KINDS[group], start, end, piece, piece.lower().replace("\u2019", "'"))


_KINDS = {"rest": Kind.WORD, "date": Kind.DATE, "number": Kind.NUMBER, "word": Kind.WORD, "mark": Kind.MARK}


_RAISED = frozenset("⁰¹²³⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉①②③④⑤⑥⑦⑧⑨⓪")


def _raised_digits(text: str, start: int, piece: str) -> str:
    """Plain digits of a number in small or circled ones; empty when they stand at a word, as an exponent does."""
    if (start and not text[start - 1].isspace()) or not piece.isdigit():
        return ""
    return "".join(str(unicodedata.digit(c)) for c in piece)
