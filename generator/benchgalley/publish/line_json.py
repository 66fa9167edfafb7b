"""JSON set out one value a line, byte for byte as the standard library's `indent` sets it.

With an indent the library encodes value by value in Python; here its compiled encoder writes each innermost object or
list in one go, with the line break as separator.
"""

import json
from functools import lru_cache
from json.encoder import encode_basestring as quoted
from typing import Any

_NESTED = frozenset({dict, list})


def as_lines(value: Any, indent: int, *, sort_keys: bool = False, depth: int = 0) -> str:
    """The text of a plain value whose keys are texts; `depth`: how many others it stands inside.

    NaN and infinity are no JSON: ValueError.
    """
    line = "\n" + " " * indent * (depth + 1)
    if not value or not isinstance(value, dict | list):
        return _encoder("", sort_keys).encode(value)
    if isinstance(value, list):
        body = f",{line}".join(_each(value, indent, sort_keys, depth + 1))
        return f"[{line}{body}{line[:-indent]}]"
    if _is_flat(value):
        body = _encoder(f",{line}", sort_keys).encode(value)[1:-1]
    else:
        keys = sorted(value) if sort_keys else list(value)
        texts = _each([value[key] for key in keys], indent, sort_keys, depth + 1)
        body = f",{line}".join([f"{quoted(key)}: {text}" for key, text in zip(keys, texts, strict=True)])
    return f"{{{line}{body}{line[:-indent]}}}"


def _each(values: list[Any], indent: int, sort_keys: bool, depth: int) -> list[str]:
    """The texts of values that stand inside the same one."""
    if not all(isinstance(value, dict) and value and _is_flat(value) for value in values):
        return [
            quoted(value) if isinstance(value, str) else as_lines(value, indent, sort_keys=sort_keys, depth=depth)
            for value in values
        ]
    line = "\n" + " " * indent * (depth + 1)
    # No text in JSON holds a line break as such: between two braces it stands between two values and nowhere else.
    bodies = _encoder(f",{line}", sort_keys).encode(values)[2:-2].split(f"}},{line}{{")
    return [f"{{{line}{body}{line[:-indent]}}}" for body in bodies]


def _is_flat(value: dict[str, Any]) -> bool:
    return _NESTED.isdisjoint(map(type, value.values()))


@lru_cache(maxsize=64)
def _encoder(separator: str, sort_keys: bool) -> json.JSONEncoder:
    return json.JSONEncoder(ensure_ascii=False, allow_nan=False, sort_keys=sort_keys, separators=(separator, ": "))
