"""The command ``lesson``: the plan of the next class."""

from __future__ import annotations

import argparse
from contextlib import ExitStack
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from ..analysis_core.wording import told
from . import options
from .output import Output

if TYPE_CHECKING:
    from ..analysis_core.lesson.dancers import Dancer
    from ..analysis_core.lesson.model import Library
    from ..analysis_core.lesson.planned import Lesson, Wishes
    from ..analysis_core.record.store import Store

HELP = "plan the next class from the findings of one dancer or a group"
EXAMPLE = "in-the-round lesson out/careless --out out/lesson.html --minutes 75"
_PRINTS = ("teacher", "wall", "student")


def _review(text: str) -> tuple[str | None, Path]:
    """A folder, with the dancer's initials or pseudonym before it where they are given."""
    name, given, folder = text.partition("=")
    return (name.strip() or None, Path(folder)) if given and not Path(text).exists() else (None, Path(text))


def _list(text: str) -> tuple[str, ...]:
    """Words between commas, for argparse."""
    return tuple(word.strip() for word in text.split(",") if word.strip())


def _rung(text: str) -> tuple[str, int]:
    """A ladder and a rung such as heels=2, for argparse."""
    name, _, rung = text.partition("=")
    if not rung.isdecimal():
        raise argparse.ArgumentTypeError(f"{text!r} must be a ladder and a rung, as in heels=2")
    return name.strip(), int(rung)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes."""
    parser.add_argument(
        "reviews",
        type=_review,
        nargs="+",
        metavar="[NAME=]REVIEW",
        help="folders that the command review wrote, one for each dancer in the order of the class list; NAME is a pseudonym "
        "(without one, initials of the folder's name); of a NAME given twice the last counts",
    )
    parser.add_argument("--out", type=Path, metavar="FILE", help="the plan to write, .html or .md; left out only with --json")
    parser.add_argument("--minutes", type=options.positive, default=75.0, metavar="N", help="length of the class, 20 to 120")
    parser.add_argument("--level", metavar="NAME", help="level of the class (default: that of the reviews)")
    parser.add_argument("--age", type=options.positive, metavar="YEARS", help="age of the youngest: sets the limit of jumps")
    parser.add_argument("--title", default="", metavar="TEXT", help="title of the plan")
    parser.add_argument("--force", action="store_true", help="make the plan in FILE anew; what you changed in it is kept")
    parser.add_argument("--print", choices=_PRINTS, default=_PRINTS[0], dest="form", help="for whom (default: teacher)")
    group = parser.add_argument_group("what you know and the takes do not")
    group.add_argument("--goals", type=_list, default=(), metavar="A,B", help="faults or ladders to work on instead")
    group.add_argument("--mastered", type=_rung, action="append", default=[], metavar="LADDER=RUNG", help="what holds already")
    group.add_argument("--state", type=_list, default=(), metavar="A,B", help='such as "growth spurt", "knee pain", "no jumps"')
    group.add_argument(
        "--without", type=_list, default=(), metavar="A,B", help='things that are not there, such as barre, "low step"'
    )
    group.add_argument("--cap", type=int, metavar="N", help="at most so many jumps")
    group.add_argument("--last-jumps", type=int, metavar="N", help="jumps of the last class: at most a fifth more are planned")
    group.add_argument(
        "--database",
        metavar="FILE|URL",
        help="the dancers' record: goals set there go first, ladders begin above the rung that holds, what is held is ticked; "
        "NAME as there",
    )
    group.add_argument("--exercises", type=Path, metavar="FOLDER", help="the studio's own exercises (TOML), over the product's")


def _text(lesson: Lesson, path: Path, kept: int) -> str:
    lines = [told.planned(path, lesson.minutes, lesson.jumps, lesson.jump_limit)]
    lines += [told.goal(goal.ladder.goal, goal.why) for goal in lesson.goals] or [told.NO_GOAL]
    lines += [told.block(block.minutes, block.name) for block in lesson.blocks]
    if kept:
        lines.append(told.texts_kept(kept))
    return "\n".join(lines)


def _wishes(arguments: argparse.Namespace) -> Wishes:
    from ..analysis_core.lesson.planned import Wishes

    return Wishes(
        minutes=arguments.minutes,
        level=arguments.level,
        age=arguments.age,
        title=arguments.title,
        cap=arguments.cap,
        states=arguments.state,
        without=arguments.without,
        goals=arguments.goals,
        mastered=dict(arguments.mastered),
        last_jumps=arguments.last_jumps,
    )


def _store(database: str | None, stack: ExitStack) -> Store | None:
    """The record, if one was named."""
    if database is None:
        return None
    from ..analysis_core.record.places import place_of
    from ..analysis_core.record.store import open_store

    return stack.enter_context(open_store(place_of(database), make=False))


def _remembered(dancers: tuple[Dancer, ...], store: Store, library: Library, output: Output) -> tuple[Dancer, ...]:
    """The dancers with what the record knows; whom it does not know is said."""
    from ..analysis_core.lesson.from_record import with_record

    dancers, unknown = with_record(dancers, store, library, date.today())
    if unknown:
        output.note(told.not_in_record(unknown))
    return dancers


def run(arguments: argparse.Namespace, output: Output) -> None:
    """Plan one class. Raises InTheRoundError."""
    from ..analysis_core.errors import OptionError, OutputError
    from ..analysis_core.lesson.dancers import named, read_dancer
    from ..analysis_core.lesson.from_record import keep_plan
    from ..analysis_core.lesson.library import load_library
    from ..analysis_core.lesson.page import write_lesson
    from ..analysis_core.lesson.plan import plan_lesson
    from ..analysis_core.lesson.plan_json import to_json

    path = arguments.out
    if path is None and not output.as_json:
        raise OptionError("Say with --out where the plan goes (.html or .md), or ask for --json.")
    if path is not None and path.exists() and not arguments.force:
        raise OutputError(f"{path} is there already. Choose another name, or add --force: what you changed in it is kept.")
    library = load_library(arguments.exercises)
    dancers = tuple(read_dancer(folder, name) for name, folder in named(arguments.reviews))
    with ExitStack() as stack:
        store = _store(arguments.database, stack)
        if store is not None:
            dancers = _remembered(dancers, store, library, output)
        lesson = plan_lesson(dancers, _wishes(arguments), library)
        if path is None:
            output.result(to_json(lesson), "")
            return
        lesson, kept = write_lesson(lesson, path, overwrite=arguments.force, form=arguments.form)
        if store is not None:
            keep_plan(lesson, path, store, date.today(), names=arguments.form != "wall")
    output.result({**to_json(lesson), "file": str(path), "kept_texts": kept}, _text(lesson, path, kept))
