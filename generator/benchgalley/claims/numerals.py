"""Numbers as people write them: `4 100`, `0.30`, `−130`, `1.2×10³`, `thirty`, `two thirds`, `twice`.

Text becomes tokens once; a numeral is read at a token. What stands round it is the matter of `reading`.
"""

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from .tokens import SIGNS, SPACES, VULGAR, Kind, Token
from .vocabulary import Vocabulary


class Style(StrEnum):
    """How a numeral is written."""

    DIGITS = "digits"
    WORDS = "words"
    FRACTION = "fraction"
    MULTIPLE = "multiple"


@dataclass(frozen=True, kw_only=True, slots=True)
class Numeral:
    """One number as written, sign included."""

    start: int
    end: int
    value: Decimal
    """With the sign as typed or said ("minus")."""
    plain: str
    """The magnitude as a plain decimal with the digits as written: `4100`, `0.30`, `1.2E+3`."""
    style: Style
    sign: str = ""
    """`+`, `-` or empty when none is written."""
    first: int = 0
    """Index of its first token, a sign word included."""
    after: int = 0
    """Index of the token after it."""

    @property
    def decimals(self) -> int:
        """Decimals written; negative when the last digit stands before the units."""
        exponent = Decimal(self.plain).as_tuple().exponent
        return -exponent if isinstance(exponent, int) else 0


_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻", "0123456789+-")


_PLAIN = re.compile(r"\d+\.\d+")


def plain_decimal(written: str, decimal_comma: bool) -> str:
    """Digits as written → plain decimal: groups closed up, decimal point, power of ten as `E`."""
    if written.isdecimal() or (not decimal_comma and _PLAIN.fullmatch(written)):
        return written
    mantissa, power = written, ""
    if match := re.search(rf"[{SPACES}]?[×x·][{SPACES}]?10\^?", written):
        mantissa, power = written[: match.start()], written[match.end() :].translate(_SUPERSCRIPTS)
    elif match := re.search("[eE]", written):
        mantissa, power = written[: match.start()], written[match.end() :]
    mantissa = re.sub(rf"[{SPACES}]", "", mantissa)
    mantissa = mantissa.replace(".", "").replace(",", ".") if decimal_comma else mantissa.replace(",", "")
    if mantissa.startswith("."):
        mantissa = "0" + mantissa
    power = power.replace("\u2212", "-").replace("+", "")
    return f"{mantissa}E{power}" if power else mantissa


def numeral_at(tokens: Sequence[Token], i: int, words: Vocabulary, text: str) -> Numeral | None:
    """The numeral that begins at token `i` (after its sign), or None."""
    if i >= len(tokens):
        return None
    token = tokens[i]
    if token.kind is Kind.NUMBER:
        return _digits_at(tokens, i, words, text)
    if token.lower in words.number_starts:
        return _words_at(tokens, i, words)
    return None


def _digits_at(tokens: Sequence[Token], i: int, words: Vocabulary, text: str) -> Numeral:
    token = tokens[i]
    if token.text[-1] in VULGAR:
        return _vulgar_at(tokens, i)
    plain = plain_decimal(token.text, words.decimal_comma)
    start, first, sign = token.start, i, ""
    if i and (before := tokens[i - 1]).end == token.start and before.text in SIGNS:
        # a hyphen after a word or a digit joins ("RX-580", "30-35"); after a space or a bracket it is a sign
        previous = text[before.start - 1] if before.start else " "
        if not (previous.isalnum() or previous in "%°)]"):
            sign, start, first = "+" if before.text == "+" else "-", before.start, i - 1
    if not sign and i and tokens[i - 1].lower in ("minus", "plus", "\u2212"):
        sign, first = "+" if tokens[i - 1].lower == "plus" else "-", i - 1
        start = tokens[first].start
    end, after = token.end, i + 1
    if after < len(tokens) and (scale := words.scales.get(tokens[after].lower)):  # "6.2 thousand"
        plain, end, after = str(Decimal(plain) * Decimal(f"1E{len(str(scale)) - 1}")), tokens[after].end, after + 1
    value = Decimal(plain)
    return Numeral(
        start=start, end=end, value=-value if sign == "-" else value, plain=plain, style=Style.DIGITS,
        sign=sign, first=first, after=after,
    )  # fmt: skip


def _vulgar_at(tokens: Sequence[Token], i: int) -> Numeral:
    """`½` like "half", `1½` like "one and a half"."""
    token = tokens[i]
    part = Fraction(unicodedata.numeric(token.text[-1])).limit_denominator(10)
    if token.text[:-1] in ("", "0"):
        return _exact(tokens, i, i + 1, part, Style.FRACTION)
    value = Decimal(int(token.text[:-1])) + Decimal(_two_digits(part)[1])
    return _spelled(tokens, i, i + 1, value, str(value))


def _words_at(tokens: Sequence[Token], i: int, words: Vocabulary) -> Numeral | None:
    lower = tokens[i].lower
    if lower in words.multiples:
        top, bottom = words.multiples[lower]
        return _exact(tokens, i, i + 1, Fraction(top, bottom), Style.MULTIPLE)
    if lower in words.vague:
        return _vague(tokens, i, words)
    if (few := _few(tokens, i, words)) is not None:
        return few
    whole, after = _cardinal(tokens, i, words)
    fraction, end = _fraction(tokens, i, words)
    if fraction is not None:
        return _exact(tokens, i, end, fraction, Style.FRACTION)
    if whole is None:
        return None
    if (mixed := _and_a_part(tokens, after, words)) is not None:
        part, end = mixed
        value = Decimal(whole) + _two_digits(part)[0]
        return _spelled(tokens, i, end, value, str(value))
    if after + 1 < len(tokens) and tokens[after].lower == "point" and tokens[after + 1].lower in words.units:
        places, end = "", after + 1
        while end < len(tokens) and words.units.get(tokens[end].lower, 10) < 10:
            places, end = places + str(words.units[tokens[end].lower]), end + 1
        if places:
            return _spelled(tokens, i, end, Decimal(f"{whole}.{places}"), f"{whole}.{places}")
    return _spelled(tokens, i, after, Decimal(whole), str(whole))


def _cardinal(tokens: Sequence[Token], i: int, words: Vocabulary) -> tuple[int | None, int]:
    """A whole number in words from token `i`: "twenty-five", "a hundred and twenty", "two thousand"."""
    total, part, seen, end = 0, 0, False, i
    if tokens[i].lower in ("a", "an"):
        following = tokens[i + 1].lower if i + 1 < len(tokens) else ""
        if following == "dozen":
            return 12, i + 2
        if following == "couple" and i + 2 < len(tokens) and tokens[i + 2].lower == "of":
            return 2, i + 3
        if following not in words.scales:
            return None, i
        part, i = 1, i + 1
    while i < len(tokens):
        lower = tokens[i].lower
        if lower in words.units and _fits(part, words.units[lower]):
            part, seen, i = part + words.units[lower], True, i + 1
        elif lower in words.scales and part:
            scale = words.scales[lower]
            if scale == 100:
                part *= 100
            else:
                total, part = total + part * scale, 0
            seen, i = True, i + 1
        elif seen and lower in ("and", "-") and _continues(tokens, i, words, part + total):
            i += 1
            continue
        else:
            break
        end = i
    return (total + part if seen else None), end


def _vague(tokens: Sequence[Token], i: int, words: Vocabulary) -> Numeral | None:
    """ "tens of": a number too vague to hold, but one that is stated."""
    if i + 1 >= len(tokens) or tokens[i + 1].lower != "of":
        return None
    size = words.vague[tokens[i].lower]
    return _spelled(tokens, i, i + 2, Decimal(size), str(size))


def _few(tokens: Sequence[Token], i: int, words: Vocabulary) -> Numeral | None:
    """ "a few", "several"."""
    j = i + 1 if tokens[i].lower == "a" and i + 1 < len(tokens) else i
    return _spelled(tokens, i, j + 1, Decimal(3), "3") if tokens[j].lower in words.lists["few"] else None


def one_of(tokens: Sequence[Token], i: int) -> Numeral:
    """ "A degree": one."""
    return _spelled(tokens, i, i + 1, Decimal(1), "1")


def one_in(tokens: Sequence[Token], first: Numeral, second: Numeral) -> Numeral:
    """ "one in four": the share as a fraction."""
    share = Fraction(int(first.value), int(second.value))
    return _exact(tokens, first.first, second.after, share, Style.FRACTION)


def _fits(part: int, unit: int) -> bool:
    """Whether a number word continues one begun: "twenty" then "five", "hundred" then "twelve"."""
    if part == 0:
        return True
    if part % 100 == 0:
        return 0 < unit < 100
    return part % 100 >= 20 and part % 10 == 0 and 0 < unit < 10


def _continues(tokens: Sequence[Token], i: int, words: Vocabulary, sofar: int) -> bool:
    if i + 1 >= len(tokens) or (unit := words.units.get(tokens[i + 1].lower)) is None:
        return False
    if tokens[i].lower == "-":
        return sofar % 100 >= 20 and sofar % 10 == 0 and unit < 10
    return sofar >= 100 and sofar % 100 == 0 and unit > 0


def _fraction(tokens: Sequence[Token], i: int, words: Vocabulary) -> tuple[Fraction | None, int]:
    """ "half", "a third", "two thirds", "three-quarters": the fraction and the token after it."""
    lower, top = tokens[i].lower, 1
    j = i
    if lower in ("a", "an") or (lower in words.units and 0 < words.units[lower] < 10):
        top = words.units.get(lower, 1)
        j = i + 1
        if j < len(tokens) and tokens[j].text == "-":
            j += 1
    if j >= len(tokens) or tokens[j].lower not in words.fractions:
        return None, i
    name = tokens[j].lower
    if j == i and name != "half":  # "third", "quarter" alone are ordinals or nouns
        return None, i
    if top > 1 and not name.endswith("s"):
        return None, i
    over, under = words.fractions[name]
    return Fraction(over * top, under), j + 1


def _and_a_part(tokens: Sequence[Token], i: int, words: Vocabulary) -> tuple[Fraction, int] | None:
    """ "... and a half" after a whole number."""
    if i + 1 >= len(tokens) or tokens[i].lower != "and":
        return None
    fraction, end = _fraction(tokens, i + 1, words)
    return (fraction, end) if fraction is not None else None


def _two_digits(value: Fraction) -> tuple[Decimal, str]:
    """A fraction in words stands for its value with two significant digits of certainty."""
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    place = exact.adjusted() - 1
    return exact, str(exact.quantize(Decimal(1).scaleb(place)))


def _exact(tokens: Sequence[Token], i: int, end: int, value: Fraction, style: Style) -> Numeral:
    number, plain = _two_digits(value)
    return Numeral(
        start=tokens[i].start,
        end=tokens[end - 1].end,
        value=number,
        plain=plain,
        style=style,
        first=i,
        after=end,
    )


def _spelled(tokens: Sequence[Token], i: int, end: int, value: Decimal, plain: str) -> Numeral:
    sign, first = "", i
    if i and tokens[i - 1].lower in ("minus", "plus"):
        sign, first = "+" if tokens[i - 1].lower == "plus" else "-", i - 1
    return Numeral(
        start=tokens[first].start, end=tokens[end - 1].end, value=-value if sign == "-" else value, plain=plain,
        style=Style.WORDS, sign=sign, first=first, after=end,
    )  # fmt: skip
