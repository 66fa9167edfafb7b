"""JSON set out one value a line, byte for byte as the standard library's `indent` sets it.

With an indent the library encodes value by value in Python; here its compiled encoder writes each innermost object or
list in one go, with the line break as separator.
"""

import json
from functools import lru_cache
from typing import Any


def as_lines(value: Any, indent: int, *, sort_keys: bool = False, depth: int = 0) -> str:
    """The text of a plain value whose keys are texts; `depth`: how many others it stands inside.

    NaN and infinity are no JSON: ValueError.
    """
    line = "\n" + " " * indent * (depth + 1)
    encode = _encoder(f",{line}", sort_keys).encode
    if not value or not isinstance(value, dict | list):
        return encode(value)
    inner = value.values() if isinstance(value, dict) else value
    if not any(isinstance(each, dict | list) for each in inner):
        body = encode(value)[1:-1]
    elif isinstance(value, dict):
        keys = sorted(value) if sort_keys else value
        body = f",{line}".join(
            [f"{encode(key)}: {as_lines(value[key], indent, sort_keys=sort_keys, depth=depth + 1)}" for key in keys]
        )
    else:
        body = f",{line}".join([as_lines(each, indent, sort_keys=sort_keys, depth=depth + 1) for each in inner])
    opening, closing = "{}" if isinstance(value, dict) else "[]"
    return f"{opening}{line}{body}{line[:-indent]}{closing}"


@lru_cache(maxsize=64)
def _encoder(separator: str, sort_keys: bool) -> json.JSONEncoder:
    return json.JSONEncoder(ensure_ascii=False, allow_nan=False, sort_keys=sort_keys, separators=(separator, ": "))
