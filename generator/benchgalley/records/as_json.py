"""Records as plain JSON and back, so that a later build can take them up without reading what they were made from.

Only what JSON itself can carry, with records as lists of their fields: reading it back runs no foreign code.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import datetime
from enum import Enum
from functools import lru_cache
from operator import attrgetter
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

import orjson

_PLAIN = (str, int, float, bool, NoneType)

Restore = Callable[[Any], Any]


def as_text(value: Any) -> str:
    """A record as JSON text. Raises TypeError for what JSON cannot carry.

    JSON has no form of NaN and infinity: they become null, which `restored` refuses to take for a number.
    """
    try:
        return orjson.dumps(value, default=_opened, option=orjson.OPT_PASSTHROUGH_DATACLASS).decode()
    except orjson.JSONEncodeError as problem:
        raise problem.__cause__ or problem from None


def plain(value: Any) -> Any:
    """A record as lists, objects, texts and numbers. Raises TypeError for what JSON cannot carry."""
    return orjson.loads(as_text(value))


def _opened(value: Any) -> Any:
    """What the encoder has no form of, opened by one step: what it holds may have none either."""
    kind: Any = type(value)
    if fields_of := _getter(kind):
        return fields_of(value)
    if isinstance(value, tuple):
        return tuple(value)
    if isinstance(value, Mapping):
        return {str(key): item for key, item in value.items()}
    raise TypeError(f"{kind.__name__} has no plain form")


def restored(kind: Any, value: Any) -> Any:
    """The record of type `kind` whose plain form is `value`. Raises ValueError or TypeError when it is none."""
    return _restorer(kind)(value)


def _names(kind: Any) -> tuple[str, ...]:
    return tuple(field.name for field in fields(kind))


@lru_cache(maxsize=256)
def _getter(kind: Any) -> Callable[[Any], Any] | None:
    """What gives the fields of a record of this type; None for what is no record."""
    if not is_dataclass(kind):
        return None
    names = _names(kind)
    return attrgetter(*names) if len(names) > 1 else lambda value: [getattr(value, name) for name in names]


@lru_cache(maxsize=512)
def _restorer(kind: Any) -> Restore:
    origin, arguments = get_origin(kind), get_args(kind)
    if origin in (Union, UnionType):
        return _of_union(arguments)
    if origin is tuple:
        return _of_tuple(arguments)
    if origin is not None and issubclass(origin, Mapping):
        return _of_mapping(arguments[1])
    if is_dataclass(kind) and isinstance(kind, type):
        return _of_record(kind)
    if isinstance(kind, type) and issubclass(kind, tuple):
        return _of_named_tuple(kind)
    if isinstance(kind, type) and issubclass(kind, Enum):
        return kind
    if kind is datetime:
        return datetime.fromisoformat
    if kind is float:
        return _number
    if kind in (*_PLAIN, Any):
        return _as_it_is
    raise TypeError(f"{kind} has no plain form")


def _as_it_is(value: Any) -> Any:
    return value


def _number(value: Any) -> Any:
    if value is None:
        raise ValueError("a number that was not finite cannot be read back")
    return value


def _of_union(kinds: tuple[Any, ...]) -> Restore:
    others = [kind for kind in kinds if kind not in _PLAIN]
    if not others:
        return _as_it_is
    if len(others) > 1:
        raise TypeError("a union of records has no plain form")
    restore = _restorer(others[0])
    return lambda value: None if value is None else restore(value)


def _of_tuple(kinds: tuple[Any, ...]) -> Restore:
    if len(kinds) == 2 and kinds[1] is Ellipsis:
        restore = _restorer(kinds[0])
        if restore is _as_it_is:
            return tuple
        return lambda value: tuple([restore(item) for item in value])
    each = _each(kinds)
    return lambda value: tuple(each(value))


def _of_named_tuple(kind: Any) -> Restore:
    hints = get_type_hints(kind)
    each = _each([hints[name] for name in kind._fields])
    return lambda value: kind(*each(value))


def _of_mapping(kind: Any) -> Restore:
    restore = _restorer(kind)
    if restore is _as_it_is:
        return dict
    return lambda value: {key: restore(item) for key, item in value.items()}


def _of_record(kind: type) -> Restore:
    hints, names = get_type_hints(kind), _names(kind)
    each = _each([hints[name] for name in names])
    return lambda value: kind(**dict(zip(names, each(value), strict=True)))


def _each(kinds: Sequence[Any]) -> Callable[[Sequence[Any]], list[Any]]:
    """Restores one value of each type. Most are what they are in JSON, and nothing is asked of those."""
    restores = [_restorer(kind) for kind in kinds]
    others = [(place, restore) for place, restore in enumerate(restores) if restore is not _as_it_is]

    def restored_each(values: Sequence[Any]) -> list[Any]:
        if len(values) != len(restores):
            raise ValueError(f"{len(values)} values where {len(restores)} were kept")
        found = list(values)
        for place, restore in others:
            found[place] = restore(found[place])
        return found

    return restored_each
