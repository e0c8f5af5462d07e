"""Values as JSON can hold them, and back into frozen types that pass over what they do not know."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

_Made = TypeVar("_Made", bound="DataclassInstance")


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


def known(kind: type[_Made], data: Mapping[str, Any], **given: Any) -> _Made:
    """A value of ``kind`` from the fields that it has; lists become tuples, what else there is is left out."""
    names = {item.name for item in fields(kind)}
    values = {key: tuple(value) if isinstance(value, list) else value for key, value in data.items() if key in names}
    return kind(**{**values, **given})
