"""Limits of the measures, read from the table beside this file, which says of each what it is and where it comes from."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Section:
    """The limits of one kind of measure, each by its name: ``TURNS.heel_off_mm``."""

    name: str
    values: Mapping[str, float]

    def __getattr__(self, limit: str) -> float:
        try:
            return self.values[limit]
        except KeyError:
            raise AttributeError(f"limits.toml has no {limit} in [{self.name}]") from None


def _section(name: str) -> Section:
    return Section(name, {limit: entry["value"] for limit, entry in _TABLE[name].items()})


_TABLE = tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))
READING, STEPS, SERIES = _section("reading"), _section("steps"), _section("series")
TURNS, POSTURE, LEGS, JUMPS, HOLDS = (_section(name) for name in ("turns", "posture", "legs", "jumps", "holds"))
ERRORS, LOAD, LEVERS = _section("errors"), _section("load"), _section("levers")
JUDGING, CAUSES, FIRST = _section("judging"), _section("causes"), _section("first")
