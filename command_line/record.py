"""The command ``record``: takes, consents and progress of dancers over terms."""

from __future__ import annotations

import argparse
import getpass
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..analysis_core.errors import OptionError, RecordError
from ..analysis_core.wording import doing
from ..analysis_core.wording import keeping as texts
from ..analysis_core.wording import record as progress_words
from . import record_data as objects
from .options import whole
from .output import Output

if TYPE_CHECKING:
    from ..analysis_core.record.names import NamesBook
    from ..analysis_core.record.store import Store

HELP = "keep the record of dancers: takes, consents, progress, export, deletion"
EXAMPLE = "in-the-round record add out/careless --dancer amber-heron --phrase adagio"

#: The passphrase of the names book, for scripts; a terminal is asked for it.
PASSPHRASE = "IN_THE_ROUND_PASSPHRASE"


def _day(text: str) -> date:
    """A date, for argparse."""
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"{text!r} is no date: write year-month-day, for example 2027-07-31") from error


def _name(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("name", metavar="NAME", help="the dancer's pseudonym")


def _add(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("reviews", nargs="+", type=Path, metavar="REVIEW", help="a folder that review wrote")
    parser.add_argument("--dancer", required=True, metavar="NAME", help="the dancer's pseudonym")
    parser.add_argument("--day", type=_day, metavar="DATE", help="when it was recorded (default: today)")
    parser.add_argument("--phrase", default="", metavar="TEXT", help="which phrase it is; progress compares the same phrase")
    parser.add_argument("--term", default="", metavar="TEXT", help="the term it belongs to")
    parser.add_argument("--room", default="", metavar="TEXT", help="where it was recorded")
    parser.add_argument("--no-minor", action="store_true", help="the dancer is of age and has agreed")
    parser.add_argument(
        "--until", type=_day, metavar="DATE", help="with --no-minor: how long it may be kept (default: three years)"
    )
    parser.add_argument("--again", action="store_true", help="take in a take that was deleted before")


def _consent(parser: argparse.ArgumentParser) -> None:
    _name(parser)
    parser.add_argument("--until", type=_day, metavar="DATE", help="the last day of the consent")
    parser.add_argument("--by", default="guardian", metavar="TEXT", help="who gives it: guardian (default), dancer, or in words")
    parser.add_argument("--assent", choices=("yes", "no"), help="whether the child herself agrees")
    parser.add_argument("--purpose", default="review", metavar="P", help="what it is for (default: review)")
    parser.add_argument("--withdraw", action="store_true", help="the consent for this purpose ends today")
    parser.add_argument("--note", default="", metavar="TEXT", help="for example where the signed paper lies")
    parser.add_argument("--adult-on", type=_day, metavar="DATE", help="the day on which the dancer comes of age")
    parser.add_argument("--level", metavar="NAME", help="the dancer's level")


def _progress(parser: argparse.ArgumentParser) -> None:
    _name(parser)
    parser.add_argument("--fault", metavar="F", help="only this correction")
    parser.add_argument("--charts", type=Path, metavar="DIR", help="write a chart (SVG) for each correction")
    parser.add_argument("--force", action="store_true", help="replace charts that are there already")


def _repeatability(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--fault", metavar="F", help="only this correction")


def _due(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--days", type=whole, default=30, metavar="N", help="look so many days ahead (default: 30)")


def _export(parser: argparse.ArgumentParser) -> None:
    _name(parser)
    parser.add_argument("--out", type=Path, required=True, metavar="FILE.zip", help="the file to write")
    parser.add_argument("--force", action="store_true", help="replace the file when it is there already")


def _delete(parser: argparse.ArgumentParser) -> None:
    _name(parser)
    parser.add_argument("--yes", action="store_true", help="do not ask")
    parser.add_argument("--reason", default="asked for", metavar="TEXT", help="why, in words that name nobody")
    parser.add_argument("--forget-names", action="store_true", help="delete the whole names book, when its passphrase is lost")


def _made(parser: argparse.ArgumentParser) -> None:
    _name(parser)
    parser.add_argument(
        "files", nargs="+", type=Path, metavar="FILE", help="a file or folder that the program made of the dancer"
    )
    parser.add_argument("--also", nargs="+", default=[], metavar="NAME", help="other dancers who are in it")
    parser.add_argument("--purpose", metavar="P", help="the consent it rests on, if another than review")


def _goal(parser: argparse.ArgumentParser) -> None:
    _name(parser)
    parser.add_argument("--fault", required=True, metavar="F", help="the correction to work on")
    parser.add_argument("--side", choices=("left", "right", "both"), default="", help="the side, if one")
    parser.add_argument("--end", metavar="TEXT", help="the goal ends today, with this outcome")


def _holds(parser: argparse.ArgumentParser) -> None:
    _name(parser)
    parser.add_argument("ladder", metavar="LADDER", help="the ladder of the lesson, such as heels, or a fault of it")
    parser.add_argument("rung", type=int, metavar="RUNG", help="the rung that holds, 1 to 5; 0: none does any more")
    parser.add_argument("--exercises", type=Path, metavar="FOLDER", help="the studio's own exercises, for a ladder of its own")


def _nothing(parser: argparse.ArgumentParser) -> None:
    """No options of its own."""


@dataclass(frozen=True)
class _Context:
    """What an action works with."""

    arguments: argparse.Namespace
    output: Output
    store: Store
    today: date
    book: NamesBook | None

    def pseudonym(self, name: str) -> str:
        """The pseudonym that a given name stands for."""
        if self.book is None:
            return name
        found = self.book.pseudonym_of(name)
        if found is None:
            raise RecordError(f"{name!r} is not in the names book. Leave --real-name out to give a pseudonym.")
        return found


def _taken_names(context: _Context) -> set[str]:
    from ..analysis_core.record.overview import dancers

    with context.store.read() as connection:
        return {item.pseudonym for item in dancers(connection)}


def _entered(context: _Context, name: str) -> str:
    """The pseudonym of a dancer who may be new; a real name gets one, which the names book keeps."""
    from ..analysis_core.record.pseudonyms import draw

    if context.book is None:
        return name
    known = context.book.pseudonym_of(name)
    if known is None:
        known = draw(_taken_names(context) | set(context.book.names))
        context.book.names[known] = name.strip()
        context.book.write()
    return known


def _run_add(context: _Context) -> None:
    from ..analysis_core.record.dancers import dancer_of, enter_adult, find_dancer, standing_consent
    from ..analysis_core.record.folders import read_folder
    from ..analysis_core.record.takes import When, add_take

    given, today = context.arguments, context.today
    reviews = [read_folder(folder) for folder in given.reviews]
    name = _entered(context, given.dancer)
    when = When(given.day or today, given.room, given.term, given.phrase)
    secret, rows = context.store.secret(), []
    with context.store.begin() as connection:
        if given.no_minor:
            enter_adult(connection, name, today, given.until)
        if find_dancer(connection, name) is None:
            raise RecordError(
                f"There is no consent of {name} in this record. Enter it first: in-the-round record consent {name} --until DATE "
                "--by guardian --assent yes. For a dancer of age who has agreed, add --no-minor."
            )
        dancer = dancer_of(connection, name)
        consent = standing_consent(dancer, "review", today)
        for reviewed in reviews:
            outcome = add_take(connection, dancer, reviewed, when, secret=secret, today=today, again=given.again)
            rows.append(
                {
                    "folder": str(reviewed.folder),
                    "sha256": reviewed.take.sha256,
                    "file": reviewed.take.file,
                    "outcome": outcome,
                }
            )
    remarks = objects.add_remarks(consent, reviews, context.book)
    data = {"dancer": name, "takes": rows, "day": when.day.isoformat(), "remarks": remarks}
    context.output.result(data, texts.added(data))


def _run_list(context: _Context) -> None:
    from ..analysis_core.record.overview import overview

    with context.store.read() as connection:
        lines = overview(connection, context.today)
    data = {"database": context.store.place.words, "dancers": [objects.line_data(line, context.book) for line in lines]}
    context.output.result(data, texts.listed(data))


def _run_show(context: _Context) -> None:
    from ..analysis_core.record.dancers import dancer_of
    from ..analysis_core.record.takes import takes_of

    with context.store.read() as connection:
        dancer = dancer_of(connection, context.pseudonym(context.arguments.name))
        takes = takes_of(connection, dancer.id)
    data = objects.dancer_data(dancer, takes, context.today)
    context.output.result(data, texts.shown(data))


def _run_progress(context: _Context) -> None:
    from ..analysis_core.record.dancers import dancer_of
    from ..analysis_core.record.series import progress_of

    given = context.arguments
    with context.store.read() as connection:
        dancer = dancer_of(connection, context.pseudonym(given.name))
        report = progress_of(connection, dancer.id, fault=given.fault)
    charts: list[str] = []
    if given.charts is not None:
        from ..analysis_core.record.chart import write_charts
        from ..analysis_core.record.takes import keep_files

        paths = write_charts(report, given.charts, overwrite=given.force)
        charts = [str(path) for path in paths]
        with context.store.begin() as connection:
            keep_files(connection, [dancer.id], paths, "chart", context.today)
    data = objects.progress_data(dancer.pseudonym, report, charts)
    context.output.result(data, progress_words.progress(data))


def _run_repeatability(context: _Context) -> None:
    from ..analysis_core.record.repeatability import repeatability_of

    with context.store.read() as connection:
        found = repeatability_of(connection, fault=context.arguments.fault)
    data = {"measures": [objects.repeatability_data(item) for item in found]}
    context.output.result(data, texts.repeatability(data))


def _run_consent(context: _Context) -> None:
    from ..analysis_core.record.dancers import Given, give_consent, withdraw
    from ..analysis_core.record.deletion import delete_made_for

    given, gone = context.arguments, []
    if given.withdraw == (given.until is not None):
        raise OptionError("Give --until with the last day of the consent, or --withdraw, one of the two.")
    name = context.pseudonym(given.name) if given.withdraw else _entered(context, given.name)
    with context.store.begin() as connection:
        if given.withdraw:
            dancer = withdraw(connection, name, given.purpose, context.today)
        else:
            what = Given(
                given.until, given.by, given.purpose, given.assent or "not recorded", given.note, given.adult_on, given.level
            )  # fmt: skip
            dancer = give_consent(connection, name, what, context.today)
    if given.withdraw:
        # Withdrawn first, whatever becomes of the files.
        gone = delete_made_for(context.store, dancer.id, given.purpose)
    data = objects.dancer_data(dancer, [], context.today) | {"deleted": [str(path) for path in gone]}
    context.output.result(data, texts.consented(data, given.purpose, withdrawn=given.withdraw))


def _run_due(context: _Context) -> None:
    from ..analysis_core.record.overview import due
    from ..analysis_core.record.store import drop_old_copies

    old = drop_old_copies(context.store.place, context.today) if context.store.embedded else []
    with context.store.read() as connection:
        found = due(connection, context.today, context.arguments.days)
    data: dict[str, Any] = {"due": [objects.due_data(item) for item in found], "old_copies_deleted": len(old)}
    context.output.result(data, texts.due(data, context.arguments.days))


def _run_export(context: _Context) -> None:
    from ..analysis_core.record.export import export_dancer

    given = context.arguments
    if given.out.suffix.lower() != ".zip":
        raise OptionError(f"{given.out} must end in .zip.")
    name = context.pseudonym(given.name)
    context.output.progress(doing.exporting(name))
    with context.store.begin() as connection:
        done = export_dancer(connection, name, given.out, today=context.today, overwrite=given.force)
    data = {"dancer": name, "file": str(done.file), "rows": done.rows, "files": done.files, "withheld": list(done.withheld)}
    context.output.result(data, texts.exported(data))


def _confirmed(name: str, listing: str) -> None:
    """Ask for the name to be typed. Raises OptionError when nobody can be asked or something else is typed."""
    if not sys.stdin.isatty():
        raise OptionError(f"{listing}\nNothing was deleted. To delete all of it, add --yes.")
    sys.stderr.write(f"{listing}\n{texts.TYPE_THE_NAME}")
    sys.stderr.flush()
    if sys.stdin.readline().strip() != name:
        raise OptionError("Nothing was deleted: another name was typed.")


def _run_delete(context: _Context) -> None:
    from ..analysis_core.record.deletion import delete_dancer, what_would_go

    given = context.arguments
    name = context.pseudonym(given.name)
    with context.store.read() as connection:
        going = what_would_go(connection, name)
    if not given.yes:
        gone = texts.going(going.pseudonym, going.takes, going.files, going.with_others, going.elsewhere)
        _confirmed(given.name, gone)
    if given.forget_names:
        context.store.place.names.unlink(missing_ok=True)
    book = context.book or _book_if_there(context)
    context.output.progress(doing.DELETING)
    done = delete_dancer(context.store, name, reason=given.reason, today=context.today, book=book)
    data = objects.deleted_data(done)
    context.output.result(data, texts.deleted(data))


def _run_made(context: _Context) -> None:
    from ..analysis_core.record.dancers import dancer_of, standing_consent
    from ..analysis_core.record.takes import keep_files

    given = context.arguments
    missing = [path for path in given.files if not path.exists()]
    if missing:
        raise OptionError(f"{missing[0]} is not there.")
    files = [item for path in given.files for item in ([path] if path.is_file() else sorted(path.rglob("*"))) if item.is_file()]
    names = [context.pseudonym(name) for name in (given.name, *given.also)]
    with context.store.begin() as connection:
        dancers = [dancer_of(connection, name) for name in names]
        for dancer in dancers:
            standing_consent(dancer, given.purpose or "review", context.today)
        new = keep_files(connection, [dancer.id for dancer in dancers], files, "made", context.today, given.purpose)
    data = {"dancers": names, "files": [str(path.absolute()) for path in files], "new": new}
    context.output.result(data, texts.noted(new, names))


def _run_goal(context: _Context) -> None:
    from ..analysis_core.findings.catalogue import catalogue
    from ..analysis_core.record.goals import end_goal, set_goal

    given = context.arguments
    if given.fault not in catalogue():
        raise OptionError(f"There is no correction {given.fault!r}. They are: {', '.join(sorted(catalogue()))}.")
    name = context.pseudonym(given.name)
    with context.store.begin() as connection:
        if given.end is None:
            goals = set_goal(connection, name, given.fault, given.side, context.today)
        else:
            goals = end_goal(connection, name, given.fault, given.side, given.end, context.today)
    data = {"dancer": name, "goals": goals}
    context.output.result(data, texts.goals(data))


def _run_holds(context: _Context) -> None:
    from ..analysis_core.lesson.choose import named_ladders
    from ..analysis_core.lesson.library import load_library
    from ..analysis_core.lesson.model import TOP_RUNG
    from ..analysis_core.record.classes import note_mastered

    given, name = context.arguments, context.pseudonym(context.arguments.name)
    (ladder,) = named_ladders([given.ladder], load_library(given.exercises))
    if not 0 <= given.rung <= TOP_RUNG:
        raise OptionError(f"There is no rung {given.rung}: give a number from 0 (none holds) to {TOP_RUNG}.")
    with context.store.begin() as connection:
        found = note_mastered(connection, name, ladder, given.rung, context.today)
    data = {"dancer": name, "mastered": {ladder: item.rung for ladder, item in found.items()}}
    context.output.result(data, texts.mastered(data))


def _run_pseudonym(context: _Context) -> None:
    from ..analysis_core.record.pseudonyms import draw

    found = draw(_taken_names(context))
    context.output.result({"pseudonym": found}, found)


def _run_backup(context: _Context) -> None:
    from ..analysis_core.record.store import save_copy

    path = save_copy(context.store, "asked for", context.today)
    context.output.result({"copy": str(path)}, texts.copied(path))


@dataclass(frozen=True)
class _Action:
    help: str
    options: Callable[[argparse.ArgumentParser], None]
    run: Callable[[_Context], None]
    #: Whether a record is made where there is none.
    makes: bool = False


ACTIONS: dict[str, _Action] = {
    "add": _Action("add reviewed takes of a dancer, with the teacher's decisions", _add, _run_add, makes=True),
    "list": _Action("who is in the record", _nothing, _run_list, makes=True),
    "show": _Action("a dancer's takes and consents", _name, _run_show),
    "progress": _Action("what changed beyond what measuring can show, and what came back", _progress, _run_progress),
    "repeatability": _Action(
        "how well each measure repeats at this studio, from dancers recorded twice within two weeks",
        _repeatability,
        _run_repeatability,
    ),
    "consent": _Action("enter or withdraw a consent", _consent, _run_consent, makes=True),
    "due": _Action("which consents and retention dates end soon", _due, _run_due, makes=True),
    "export": _Action("everything held of a dancer, in open formats", _export, _run_export),
    "delete": _Action("delete a dancer and all files of hers, and prove it", _delete, _run_delete),
    "made": _Action("note films and pages that show a dancer, so that they are deleted with her", _made, _run_made),
    "goal": _Action("set what a dancer works on this term, at most two, or end it", _goal, _run_goal),
    "holds": _Action("note a rung of a ladder that holds: the next lesson begins above it", _holds, _run_holds),
    "pseudonym": _Action("propose a pseudonym that is free", _nothing, _run_pseudonym, makes=True),
    "backup": _Action("a safety copy, while the record is in use", _nothing, _run_backup),
}


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes."""
    actions = parser.add_subparsers(dest="action", required=True, metavar="ACTION")
    for name, action in ACTIONS.items():
        below = actions.add_parser(name, help=action.help, description=f"{action.help[:1].upper()}{action.help[1:]}.")
        action.options(below)
        below.add_argument(
            "--database", metavar="FILE|URL", help="the record: a file (default: in your data folder), or postgresql://…"
        )
        below.add_argument(
            "--real-name", action="store_true", help=f"names are real ones; asks for the passphrase, or takes {PASSPHRASE}"
        )
        for option in ("--json", "--debug"):
            # As for every command; the default is set once, by the command itself.
            below.add_argument(option, action="store_true", default=argparse.SUPPRESS, help=argparse.SUPPRESS)


def _passphrase() -> str:
    given = os.environ.get(PASSPHRASE)
    if given is None and sys.stdin.isatty():
        given = getpass.getpass(texts.ASK_PASSPHRASE)
    if not given:
        raise OptionError(f"--real-name needs the passphrase of the names book: set {PASSPHRASE}, or use a terminal.")
    return given


def _book(store: Store) -> NamesBook:
    from ..analysis_core.record.names import open_names

    return open_names(store.place.names, _passphrase())


def _book_if_there(context: _Context) -> NamesBook | None:
    """The names book for a deletion by pseudonym, where the passphrase is at hand."""
    there = context.store.place.names.exists()
    return _book(context.store) if there and (PASSPHRASE in os.environ or sys.stdin.isatty()) else None


def run(arguments: argparse.Namespace, output: Output) -> None:
    """Do one thing with the record. Raises InTheRoundError."""
    from ..analysis_core.record.deletion import finish_deletions
    from ..analysis_core.record.places import place_of
    from ..analysis_core.record.store import open_store

    action, today = ACTIONS[arguments.action], date.today()
    with open_store(place_of(arguments.database), make=action.makes, today=today) as store:
        if finish_deletions(store, today):
            output.note(texts.DELETION_FINISHED)
        if ":" in store.place.url.partition("://")[2].rpartition("@")[0]:
            output.note(texts.PASSWORD_SEEN)
        action.run(_Context(arguments, output, store, today, _book(store) if arguments.real_name else None))
