"""Values of a TOML table for a frozen class, with a sentence where one does not fit."""

from __future__ import annotations

import typing
from collections.abc import Hashable, Mapping
from dataclasses import fields
from functools import lru_cache
from typing import Any

from ..errors import OptionError
from .model import Music

_WORDS = {str: "a text", int: "a whole number", float: "a number", bool: "true or false"}


def _plain(kind: Any, value: Any, what: str) -> Any:
    good = isinstance(value, (int, float)) if kind is float else isinstance(value, kind)
    if not good or (isinstance(value, bool) and kind is not bool):
        raise OptionError(f"{what} must be {_WORDS[kind]}.")
    if kind is str and not value.strip():
        raise OptionError(f"{what} must not be empty.")
    return kind(value)


def _tuple(kinds: tuple[Any, ...], value: Any, what: str) -> tuple[Any, ...]:
    each = kinds[0]
    length = None if kinds[-1] is Ellipsis else len(kinds)
    if not isinstance(value, list) or (length is not None and len(value) != length):
        count = "a list" if length is None else f"a list of {length}"
        example = "1, 2" if each is float else '"one", "two"'
        raise OptionError(f"{what} must be {count}, as in [{example}].")
    return tuple(_plain(each, item, what) for item in value)


def _value(kind: Any, value: Any, what: str) -> Any:
    origin, arguments = typing.get_origin(kind), typing.get_args(kind)
    if origin is tuple:
        return _tuple(arguments, value, what)
    if type(None) in arguments:
        return _value(next(a for a in arguments if a is not type(None)), value, what)
    return _plain(kind, value, what)


@lru_cache
def _hints(kind: Any) -> dict[str, Any]:
    return typing.get_type_hints(typing.cast(Hashable, kind))


def values_of(kind: type[Any], data: Mapping[str, Any], where: str) -> dict[str, Any]:
    """The entries of a table as the fields of ``kind`` want them; nested classes (texts, music) are left to the caller.

    Raises OptionError naming the entry that is unknown or of the wrong kind.
    """
    hints = _hints(typing.cast(Hashable, kind))
    names = [item.name for item in fields(kind) if item.name not in ("id", "texts")]
    strange = sorted(set(data) - set(names))
    if strange:
        raise OptionError(f"{where}: there is no {', '.join(strange)}, only {', '.join(names)}.")
    return {name: _value(hints[name], value, f"{where}: {name}") for name, value in data.items() if name != "music"}


def music_of(data: Any, where: str) -> dict[str, Any]:
    """The entries of a music table. Raises OptionError when they do not fit."""
    if not isinstance(data, dict):
        raise OptionError(f'{where}: music must be a table, as in {{ metre = "3/4", bpm = [50, 66], counts = 48 }}.')
    values = values_of(Music, data, f"{where}, music")
    low, high = values.get("bpm") or (1.0, 1.0)
    if (
        values.get("pauses", 0) < 0
        or not 0 < low <= high
        or any(values.get(name, 1) <= 0 for name in ("counts", "seconds", "tempo", "times"))
    ):
        raise OptionError(f"{where}: in music, numbers must be above 0 and bpm the slower first.")
    return values
