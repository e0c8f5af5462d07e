"""Pseudonyms: two random words that come from nothing about the dancer, and in no order."""

from __future__ import annotations

import secrets
import tomllib
from collections.abc import Collection
from functools import cache
from pathlib import Path

from ..errors import RecordError

_MOST_TRIES = 1000


@cache
def words() -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The two lists of words."""
    data = tomllib.loads(Path(__file__).with_name("pseudonyms.toml").read_text(encoding="utf-8"))
    return tuple(data["first"]), tuple(data["second"])


def draw(taken: Collection[str]) -> str:
    """A pseudonym that is not taken yet, such as "amber-heron". Raises RecordError when nearly all are."""
    first, second = words()
    for _ in range(_MOST_TRIES):
        found = f"{secrets.choice(first)}-{secrets.choice(second)}"
        if found not in taken:
            return found
    raise RecordError("Nearly all pseudonyms are taken. Name the dancer yourself, with words that say nothing about her.")
