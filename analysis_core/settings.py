"""What a teacher or an operator can say about a take; everything else is found in the recording.

Each setting is declared once, in ``SETTINGS``: options of the command line, keys of archive.toml, properties and panels in
Blender and what is handed to a worker are all made from it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Literal

#: Instead of beats per minute: propose the tempo from the movement.
AUTO: Literal["auto"] = "auto"


@dataclass(frozen=True)
class Settings:
    """Choices for one review. None = find out from the recording and say so in ``take.inferred``.

    static: a take of the dancer standing still. level: name of a profile of bands. tempo_bpm, offset_s: of the music, the
    offset being the time of count 1; AUTO proposes both from the movement. landmarks: a studio's own table of labels. person:
    prefix or number of one dancer of several. up: "x", "y", "z", "-x", "-y", "-z". rate_hz. unit: "m", "cm", "mm", "in".
    """

    static: Path | None = None
    level: str = "intermediate"
    tempo_bpm: float | Literal["auto"] | None = None
    offset_s: float = 0.0
    landmarks: Path | None = None
    person: str | None = None
    up: str | None = None
    rate_hz: float | None = None
    unit: str | None = None


@dataclass(frozen=True)
class Choice:
    """One value of a setting that is chosen from a list, with its title and what it means."""

    value: str
    title: str
    says: str


@dataclass(frozen=True)
class Setting:
    """How one setting is asked for.

    field: its name in Settings. name: of the option, the key and the property. about: "review", "music", or "recording" for what
    the recording does not say or says wrongly. says: half a sentence, without a full stop. shown_as: the blank of an option.
    choices: of a list; further_values: whether others are possible (a level may be the path of a profile). For numbers:
    suggested: what a panel begins with; least, most: its limits there; above_zero: whether nothing else makes sense; can_be_left:
    whether it may stay unknown; proposed: how it is called when the program shall propose it (AUTO), "" = it cannot.
    """

    field: str
    name: str
    kind: Literal["file", "words", "choice", "number"]
    about: Literal["review", "music", "recording"]
    title: str
    says: str
    shown_as: str = ""
    choices: tuple[Choice, ...] = ()
    further_values: bool = False
    suggested: float = 0.0
    least: float = float("-inf")
    most: float = float("inf")
    above_zero: bool = False
    can_be_left: bool = True
    proposed: str = ""

    @property
    def default(self) -> Any:
        """What holds when nobody says anything."""
        return getattr(Settings(), self.field)


LEVELS = (
    Choice("young beginner", "Young Beginner", "Bands for children in their first years of class"),
    Choice("older beginner", "Older Beginner", "Bands for beginners who start later"),
    Choice("intermediate", "Intermediate", "Bands for dancers with some years of class"),
    Choice("advanced", "Advanced", "Bands for advanced students and professionals"),
    Choice("free style", "Free Style", "Bands for styles that do not ask for upright trunk and turnout"),
)
_UP = tuple(Choice(axis, axis.upper(), f"{axis.upper()} points up") for axis in ("x", "y", "z", "-x", "-y", "-z"))
_UNITS = (
    Choice("m", "Meters", "Positions are in meters"),
    Choice("cm", "Centimeters", "Positions are in centimeters"),
    Choice("mm", "Millimeters", "Positions are in millimeters"),
    Choice("in", "Inches", "Positions are in inches"),
)
SETTINGS = (
    Setting("static", "static", "file", "review", "Static Take", "the dancer standing still, with the same markers", "TAKE"),
    Setting(
        "level", "level", "choice", "review", "Level", "whose bands to judge by (default: intermediate)", "NAME", LEVELS,
        further_values=True, can_be_left=False,
    ),
    Setting(
        "tempo_bpm", "tempo", "number", "music", "Tempo", "beats of the music per minute; auto: as the movement suggests", "BPM",
        suggested=100.0, least=20.0, most=300.0, above_zero=True, proposed="From the Movement",
    ),
    Setting(
        "offset_s", "offset", "number", "music", "First Count", "when count 1 falls, seconds from the first frame", "S",
        can_be_left=False,
    ),
    Setting(
        "landmarks", "landmarks", "file", "recording", "Names of Markers",
        "your own table of what markers are called (TOML)", "FILE",
    ),
    Setting(
        "up", "up", "choice", "recording", "Up Axis",
        "the axis of the recording that points up; write --up=-y for a negative one", choices=_UP,
    ),
    Setting(
        "rate_hz", "rate", "number", "recording", "Frame Rate", "frames per second", "HZ",
        suggested=240.0, least=1.0, most=10000.0, above_zero=True,
    ),
    Setting("unit", "unit", "choice", "recording", "Unit", "the unit of length", choices=_UNITS),
    Setting(
        "person", "person", "words", "recording", "Dancer",
        "one dancer of several: what her labels begin with, or a number from 1", "NAME",
    ),
)  # fmt: skip


def settings_to_json(settings: Settings) -> dict[str, Any]:
    """Settings as plain values, for another process."""
    values = {item.name: getattr(settings, item.name) for item in fields(Settings)}
    return {name: str(value) if isinstance(value, Path) else value for name, value in values.items()}


def settings_from_json(data: Mapping[str, Any]) -> Settings:
    """Settings back from plain values. Raises TypeError for one that does not exist."""
    files = {setting.field for setting in SETTINGS if setting.kind == "file"}
    values: dict[str, Any] = {name: Path(value) if name in files and value is not None else value for name, value in data.items()}
    return Settings(**values)
