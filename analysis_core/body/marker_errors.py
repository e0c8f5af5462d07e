"""How far a marker is from where the bone is: the table ``marker_errors.toml``."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path


@dataclass(frozen=True)
class MarkerErrors:
    """1-SD errors of ``marker_errors.toml`` in metres; stance_deg: how alike a dancer stands, by part, in degrees.

    fitted: share of what a fit of the legs leaves open that their joints truly err by.
    """

    misplaced_m: Mapping[str, float]
    skin_m: Mapping[str, float]
    bony: float
    centre_m: Mapping[str, float]
    stance_deg: Mapping[str, float]
    fitted: float


@cache
def marker_errors() -> MarkerErrors:
    """The table of marker errors."""
    data = tomllib.loads((Path(__file__).parent / "marker_errors.toml").read_text(encoding="utf-8"))

    def metres(part: str) -> dict[str, float]:
        return {name: value / 1000 for name, value in data[part].items()}

    return MarkerErrors(
        metres("misplaced_mm"),
        metres("skin_mm"),
        float(data["bony"]["share"]),
        metres("centre_mm"),
        data["stance_deg"],
        float(data["fitted"]["share"]),
    )
