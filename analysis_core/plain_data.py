"""Values as JSON can hold them, and back into frozen types: each entry is read as the type of its field asks."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields, is_dataclass
from functools import cache
from types import NoneType, UnionType
from typing import TYPE_CHECKING, Any, Literal, NewType, TypeVar, Union, get_args, get_origin, get_type_hints

import numpy as np

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

_Made = TypeVar("_Made", bound="DataclassInstance")
#: An object whose entries are read one by one.
Entries = dict[str, Any]
#: A number that is always known: nothing makes sense without it.
Known = NewType("Known", float)
#: Reads a value; the text says what it is, for the sentence when it is something else.
Reader = Callable[[Any, str], Any]


def plain(value: Any) -> Any:
    """Numbers as plain floats, not-a-number as None, tuples as lists, texts as they can be written."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if isinstance(value, (float, np.floating)):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.integer):
        return int(value)
    if isinstance(value, str):
        # A file name that the locale could not decode carries its bytes in surrogates.
        return value.encode("utf-8", "surrogateescape").decode("utf-8", "replace")
    return value


def read_as(kind: type[_Made], data: Any, **given: Any) -> _Made:
    """A value of ``kind`` from an object: every field that is not given is read from the entry of its name, as its type asks.

    An entry that is not there leaves the field at its default; other entries are passed over. None stands for a number that is
    not known and is NaN where the field is always a number. Raises TypeError with half a sentence for an entry that is missing
    or of another type.
    """
    entries = _object(data, kind.__name__)
    values = dict(given)
    for name, (wanted, needed) in _fields_of(kind).items():
        if name in given:
            continue
        if name in entries:
            values[name] = reader_of(wanted)(entries[name], name)
        elif needed:
            raise TypeError(f"{name} is missing")
    return kind(**values)


def entry(data: Any, name: str, wanted: Any) -> Any:
    """One entry of an object, read as a type asks. Raises TypeError when it is missing or anything else."""
    entries = _object(data, "what holds " + name)
    if name not in entries:
        raise TypeError(f"{name} is missing")
    return reader_of(wanted)(entries[name], name)


def _object(value: Any, what: str) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise TypeError(f"{what} must be an object")
    return value


def _text(value: Any, what: str) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{what} must be a text")
    return value


def _flag(value: Any, what: str) -> bool:
    if not isinstance(value, bool):
        raise TypeError(f"{what} must be true or false")
    return value


def _known_number(value: Any, what: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or math.isinf(value):
        raise TypeError(f"{what} must be a number")
    return float(value)


def _number(value: Any, what: str) -> float:
    return math.nan if value is None else _known_number(value, what)


def _whole_number(value: Any, what: str) -> int:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or value != value // 1:
        raise TypeError(f"{what} must be a whole number")
    return int(value)


_PLAIN: dict[Any, Reader] = {
    str: _text,
    bool: _flag,
    float: _number,
    Known: _known_number,
    int: _whole_number,
    Any: lambda value, what: value,
}


def _one_of(values: tuple[Any, ...]) -> Reader:
    def read(value: Any, what: str) -> Any:
        if value not in values:
            raise TypeError(f"{what} must be one of {', '.join(map(str, values))}")
        return value

    return read


def _or_none(reader: Reader) -> Reader:
    return lambda value, what: None if value is None else reader(value, what)


def _names_to(reader: Reader) -> Reader:
    return lambda value, what: {name: reader(item, f"{what}: {name}") for name, item in _object(value, what).items()}


def _list_of(kinds: tuple[Any, ...]) -> Reader:
    any_length = kinds[-1] is Ellipsis
    each = [reader_of(kind) for kind in kinds if kind is not Ellipsis]

    def read(value: Any, what: str) -> tuple[Any, ...]:
        if not isinstance(value, list | tuple) or not (any_length or len(value) == len(each)):
            raise TypeError(f"{what} must be a list{'' if any_length else f' of {len(each)}'}")
        return tuple(reader(item, what) for reader, item in zip(each * len(value) if any_length else each, value, strict=True))

    return read


@cache
def reader_of(kind: Any) -> Reader:
    """What reads a value of a type: text, number, choice, list, names to values, a frozen type, or one of these or None."""
    if kind in _PLAIN:
        return _PLAIN[kind]
    if is_dataclass(kind):
        made: Any = kind
        return lambda value, what: read_as(made, value)
    origin, inner = get_origin(kind), get_args(kind)
    if origin is Literal:
        return _one_of(inner)
    if origin is tuple:
        return _list_of(inner)
    if origin is dict:
        return _names_to(reader_of(inner[1]))
    if origin in (Union, UnionType) and len(inner) == 2 and NoneType in inner:
        return _or_none(reader_of(next(item for item in inner if item is not NoneType)))
    raise NotImplementedError(f"nothing is written as {kind}")


@cache
def _fields_of(kind: type[DataclassInstance]) -> dict[str, tuple[Any, bool]]:
    """For each field of a type what it holds, and whether its entry must be there."""
    hints = get_type_hints(kind)
    return {item.name: (hints[item.name], item.default is MISSING and item.default_factory is MISSING) for item in fields(kind)}
