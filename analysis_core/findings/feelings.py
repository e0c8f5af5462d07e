"""What a correction feels like once it works, read from feelings.toml."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path


@dataclass(frozen=True)
class Feeling:
    """A sensation that a dancer can check alone, without mirror or teacher; ``feel_young`` in words for children."""

    feel: str
    feel_young: str


@cache
def feelings() -> Mapping[str, Feeling]:
    """All sensations by fault, one for each fault of the catalogue."""
    data = tomllib.loads((Path(__file__).parent / "feelings.toml").read_text(encoding="utf-8"))
    return {fault: Feeling(**entry) for fault, entry in data.items()}


def feeling(fault: str, *, young: bool = False) -> str:
    """What a fault's correction should feel like, one sentence. Raises KeyError for a fault that the catalogue lacks."""
    entry = feelings()[fault]
    return entry.feel_young if young else entry.feel
