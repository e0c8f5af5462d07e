"""Options that several commands share, and the settings they stand for."""

from __future__ import annotations

import argparse
from pathlib import Path

from ..analysis_core.figure.looks import DEFAULT_LOOK, LOOKS
from ..analysis_core.settings import Settings

_UP = ("x", "y", "z", "-x", "-y", "-z")
_UNITS = ("m", "cm", "mm", "in")


def positive(text: str) -> float:
    """A number above zero, for argparse."""
    try:
        number = float(text)
    except ValueError:
        number = 0.0
    if not 0.0 < number < float("inf"):
        raise argparse.ArgumentTypeError(f"{text!r} must be a number above zero")
    return number


def whole(text: str) -> int:
    """A whole number above zero, for argparse."""
    if not text.isdecimal() or int(text) == 0:
        raise argparse.ArgumentTypeError(f"{text!r} must be a whole number above zero")
    return int(text)


def number(text: str) -> float:
    """Any finite number, for argparse."""
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not abs(value) < float("inf"):
        raise argparse.ArgumentTypeError(f"{text!r} is not a number")
    return value


def add_reading(parser: argparse.ArgumentParser) -> None:
    """Options that say what a recording leaves open."""
    group = parser.add_argument_group("when the recording does not say it, or says it wrongly")
    group.add_argument("--landmarks", type=Path, metavar="FILE", help="your own table of marker labels (TOML)")
    group.add_argument("--up", choices=_UP, help="the axis that points up; write --up=-y for a negative one")
    group.add_argument("--rate", type=positive, metavar="HZ", help="frames per second")
    group.add_argument("--unit", choices=_UNITS, help="the unit of length")
    group.add_argument("--person", metavar="NAME", help="one dancer of several: the prefix of the labels, or a number from 1")


def add_music(parser: argparse.ArgumentParser) -> None:
    """Options of the music."""
    parser.add_argument("--tempo", type=positive, metavar="BPM", help="beats of the music per minute")
    parser.add_argument(
        "--offset", type=number, default=0.0, metavar="S", help="when count 1 falls, seconds from the first frame"
    )


def add_figure(parser: argparse.ArgumentParser) -> None:
    """What the dancer wears."""
    told = "; ".join(f"{name}: {look.description.lower()}" for name, look in LOOKS.items())
    parser.add_argument("--figure", choices=tuple(LOOKS), default=DEFAULT_LOOK, help=f"{told} (default: {DEFAULT_LOOK})")


def settings_from(arguments: argparse.Namespace) -> Settings:
    """The settings that the given options stand for; an option that a command does not have keeps its default."""
    given = vars(arguments)
    default = Settings()
    return Settings(
        static=given.get("static"),
        level=given.get("level") or default.level,
        tempo_bpm=given.get("tempo"),
        offset_s=given.get("offset", default.offset_s),
        landmarks=given.get("landmarks"),
        person=given.get("person"),
        up=given.get("up"),
        rate_hz=given.get("rate"),
        unit=given.get("unit"),
    )
