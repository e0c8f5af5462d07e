"""Which frames every measure may look at, as data: the table ``windows.toml``."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from ..phrase.phase import PhaseKind


@dataclass(frozen=True)
class Looked:
    """Where one measure is searched. steps: kinds of step that it is asked of. first, last: names of instants (``instants``).

    In a step that is no turn "fully up" and "the way down begins" are its beginning and end. of: where nothing is searched, what
    the number is of; then first and last are empty. only: what narrows the frames, in words.
    """

    steps: tuple[PhaseKind, ...]
    first: str = ""
    last: str = ""
    only: str = ""
    of: str = ""


@cache
def _table() -> Mapping[str, Mapping[str, Mapping[str, Any]]]:
    return tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))


@cache
def windows() -> Mapping[tuple[str, str], Looked]:
    """Where each measure (fault, measure) is searched, in the order of the table."""
    return {
        (fault, measure): Looked(**{**row, "steps": tuple(row["steps"])})
        for fault, measures in _table().items()
        if fault != "instants"
        for measure, row in measures.items()
    }


@cache
def instants() -> Mapping[str, str]:
    """What the names of the instants mean."""
    return {name: str(text) for name, text in _table()["instants"].items()}


def asked_of(fault: str, measure: str) -> tuple[PhaseKind, ...]:
    """Kinds of step that a measure is asked of."""
    return windows()[fault, measure].steps
