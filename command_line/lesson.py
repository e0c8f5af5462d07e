"""The command ``lesson``: the plan of the next class."""

from __future__ import annotations

import argparse
from pathlib import Path

from . import options
from .output import Output

HELP = "plan the next class from the findings of one dancer or a group"
EXAMPLE = "in-the-round lesson out/careless --minutes 75 --json"


def _review(text: str) -> tuple[str | None, Path]:
    """A folder, with the dancer's initials or pseudonym before it where they are given."""
    name, given, folder = text.partition("=")
    return (name.strip() or None, Path(folder)) if given and not Path(text).exists() else (None, Path(text))


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes."""
    parser.add_argument("reviews", type=_review, nargs="+", metavar="[NAME=]DIR", help="folders that the command review wrote")
    parser.add_argument("--minutes", type=options.positive, default=75.0, metavar="N", help="length of the class (20 to 120)")
    parser.add_argument("--level", metavar="NAME", help="level of the class (default: that of the reviews)")
    parser.add_argument("--age", type=options.positive, metavar="YEARS", help="age of the youngest: sets the limit of jumps")


def run(arguments: argparse.Namespace, output: Output) -> None:
    """Plan one class. Raises InTheRoundError."""
    from ..analysis_core.lesson.dancers import named, read_dancer
    from ..analysis_core.lesson.library import load_library
    from ..analysis_core.lesson.plan import Wishes, plan_lesson, to_json

    dancers = [read_dancer(folder, name) for name, folder in named(arguments.reviews)]
    wishes = Wishes(minutes=arguments.minutes, level=arguments.level, age=arguments.age)
    lesson = plan_lesson(dancers, wishes, load_library())
    output.result(to_json(lesson), lesson.title)
