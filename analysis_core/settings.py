"""What a teacher or an operator can say about a take; everything else is found in the recording."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Settings:
    """Choices for one review. None = find out from the recording and say so in ``take.inferred``.

    static: a take of the dancer standing still. level: name of a profile of bands. tempo_bpm, offset_s: of the music, the
    offset being the time of count 1. landmarks: a studio's own table of labels. person: prefix or number of one dancer of
    several. up: "x", "y", "z", "-x", "-y", "-z". rate_hz. unit: "m", "cm", "mm", "in".
    """

    static: Path | None = None
    level: str = "intermediate"
    tempo_bpm: float | None = None
    offset_s: float = 0.0
    landmarks: Path | None = None
    person: str | None = None
    up: str | None = None
    rate_hz: float | None = None
    unit: str | None = None


def settings_to_json(settings: Settings) -> dict[str, Any]:
    """Settings as plain values, for another process."""
    values = {item.name: getattr(settings, item.name) for item in fields(Settings)}
    return {name: str(value) if isinstance(value, Path) else value for name, value in values.items()}


def settings_from_json(data: Mapping[str, Any]) -> Settings:
    """Settings back from plain values. Raises TypeError for one that does not exist."""
    paths = {item.name for item in fields(Settings) if "Path" in str(item.type)}
    values: dict[str, Any] = {name: Path(value) if name in paths and value is not None else value for name, value in data.items()}
    return Settings(**values)
