"""Options that several commands share, and the settings they stand for."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from ..analysis_core.figure.looks import DEFAULT_LOOK, LOOKS
from ..analysis_core.settings import AUTO, SETTINGS, Setting, Settings


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


def _number_or_auto(text: str) -> float | str:
    """A number above zero, or the word for "propose it", for argparse."""
    return AUTO if text == AUTO else positive(text)


def _type_of(setting: Setting) -> Callable[[str], Any]:
    if setting.kind == "file":
        return Path
    if setting.kind != "number":
        return str
    if setting.proposed:
        return _number_or_auto
    return positive if setting.above_zero else number


def add_settings(parser: argparse.ArgumentParser, leave_out: Sequence[str] = ()) -> None:
    """Options for what can be said about a take, from its one declaration. leave_out: names that are not asked for."""
    recording = parser.add_argument_group("when the recording does not say it, or says it wrongly")
    for setting in SETTINGS:
        if setting.name not in leave_out:
            (recording if setting.about == "recording" else parser).add_argument(
                f"--{setting.name}",
                type=_type_of(setting),
                choices=None if setting.further_values or not setting.choices else [item.value for item in setting.choices],
                metavar=setting.shown_as or None,
                help=setting.says,
            )


def add_figure(parser: argparse.ArgumentParser) -> None:
    """What the dancer wears."""
    told = "; ".join(f"{name}: {look.description.lower()}" for name, look in LOOKS.items())
    parser.add_argument("--figure", choices=tuple(LOOKS), default=DEFAULT_LOOK, help=f"{told} (default: {DEFAULT_LOOK})")


def settings_from(arguments: argparse.Namespace) -> Settings:
    """The settings that the given options stand for; an option that a command does not have keeps its default."""
    given = vars(arguments)
    said = {setting.field: given.get(setting.name) for setting in SETTINGS}
    return Settings(**{field: value for field, value in said.items() if value is not None})
