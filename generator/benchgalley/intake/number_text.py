"""Numbers as people type them: read strictly, and told apart from everything that only looks like one."""

import math
import re

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_LEADING_ZERO = re.compile(r"[+-]?0[0-9]+")
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
_GROUPED = re.compile(r"[+-]?[0-9]{1,3}(?:[,.' \u00a0\u202f_][0-9]{3})+(?:[.,][0-9]+)?")
_WITH_UNIT = re.compile(r"([+-]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?)\s*(%|[^\W\d_].*|°.*|Ω.*)")
_SIXTIES = re.compile(r"[+-]?[0-9]+(?::[0-9]+)+(?:\.[0-9]+)?")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_PREFIXED = re.compile(r"[+-]?0[xXoObB][0-9A-Fa-f]+")
_ROMAN = frozenset("0123456789")


def read_number(text: str) -> float | None:
    """The number `text` writes in plain decimal or `1e3` notation, finite; else None."""
    if _NUMBER.fullmatch(text) is None:
        return None
    value = float(text)
    return value if math.isfinite(value) else None


def number_fault(text: str) -> tuple[str, str]:
    """What `text` is instead of a number, and what to write: two sentence parts.

    Only for texts `read_number` refuses, or that YAML's older rules read otherwise (leading zeros).
    """
    for test in (_words_for, _marks_for, _digits_for):
        if (found := test(text)) is not None:
            return found
    return "is not a number", "Write digits, with a point for decimals."


def _words_for(text: str) -> tuple[str, str] | None:
    bare = text.strip().lower()
    if bare == "":
        return "is empty", "Write a number."
    if bare.lstrip("+-.") in ("nan", "inf", "infinity"):
        return "is not a finite number", "Write a finite number, or leave the value out."
    if bare in ("n/a", "na", "null", "none", "~", "-", "--", "?"):
        return "is a placeholder, not a number", "Leave the value out when it was not measured."
    if bare in ("true", "false", "yes", "no", "on", "off"):
        return "is a word, not a number", "Write a number."
    return None


def _marks_for(text: str) -> tuple[str, str] | None:
    if text != text.strip():
        return "has a space around it", f"Write {text.strip()}."
    if text[0] in "\u2212\u2012\u2013\u2014" and read_number(plain := "-" + text[1:]) is not None:
        return "has a typographic minus", f"Write {plain} with a plain hyphen."
    if any(c.isdigit() and c not in _ROMAN for c in text):
        return "has digits other than 0 to 9", "Write it with the digits 0 to 9."
    if _PREFIXED.fullmatch(text):
        return "is not a decimal number", "Write it in decimal digits."
    if _SIXTIES.fullmatch(text):
        return "is a time or a number in base sixty", "Write one plain number; the key names its unit."
    if _DATE.fullmatch(text):
        return "is a date", "Write a number."
    return None


def _digits_for(text: str) -> tuple[str, str] | None:
    if read_number(text.replace("_", "")) is not None and "_" in text:
        return "has underscores", f"Write {text.replace('_', '')}."
    if _GROUPED.fullmatch(text):
        return "has a thousands separator or a decimal comma", (
            "Write the digits without separators and a point for decimals."
        )
    if _DECIMAL_COMMA.fullmatch(text):
        return "has a decimal comma", f"Write {text.replace(',', '.')}."
    if _NUMBER.fullmatch(text):
        return "is too large", "Write a number a computer can hold."
    if match := _WITH_UNIT.fullmatch(text):
        return f"carries the unit `{match[2]}`", f"Write {match[1].replace(',', '.')}; the name says the unit."
    return None


def has_leading_zero(text: str) -> bool:
    """Whether `text` is a whole number such as `010`, which older YAML rules read in base eight."""
    return _LEADING_ZERO.fullmatch(text) is not None


def decimals_of(text: str) -> int:
    """Decimals of a number as typed: 1 for `41.0`, 0 for `41`, 4 for `1.2e-3`."""
    mantissa, _, exponent = text.lower().partition("e")
    _, _, fraction = mantissa.partition(".")
    return max(0, len(fraction) - int(exponent or 0))
