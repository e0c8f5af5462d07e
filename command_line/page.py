"""The command ``page``: one HTML file that a student opens on a phone, offline."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..analysis_core.wording import doing
from ..analysis_core.wording import told as say
from . import options
from .blender_process import BlenderError, note_if_slow, run_job
from .output import Output

if TYPE_CHECKING:
    from ..analysis_core.page import Pictures, Story

HELP = "make the student's page: what to work on, in words, pictures and 3-D, in one file that works offline"
EXAMPLE = "in-the-round page out/careful out/careless --out out/page.html"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes."""
    parser.add_argument("review", type=Path, metavar="REVIEW", help="a folder that the command review wrote")
    parser.add_argument(
        "before", type=Path, nargs="?", metavar="REVIEW_BEFORE", help="the review of an earlier take of the same phrase"
    )
    parser.add_argument("--out", type=Path, required=True, metavar="FILE.html", help="the page to write")
    parser.add_argument("--film", type=Path, metavar="FILE.mp4", help="a film to put in, as turntable makes it")
    parser.add_argument("--name", default="", metavar="NAME", help="the student's name on the page (default: nobody is named)")
    parser.add_argument(
        "--database", metavar="FILE|URL", help="the record: say what it shows to be better than in the term before"
    )
    options.add_figure(parser)
    parser.add_argument("--no-pictures", action="store_true", help="words and 3-D only: quick, and Blender is not needed")
    parser.add_argument(
        "--room",
        action="store_true",
        help="also write each correction as a .usdz beside the page, life size in the room (experimental)",
    )
    parser.add_argument("--force", action="store_true", help="replace the page when it is there already")


def _rendered(arguments: argparse.Namespace, output: Output) -> Pictures:
    """Pictures of the cards by Blender's module, in a child process."""
    import tempfile

    from ..analysis_core.page import Pictures

    note_if_slow(output)
    output.progress(doing.STARTING_BLENDER)
    folders = [str(folder) for folder in (arguments.review, arguments.before) if folder is not None]
    with tempfile.TemporaryDirectory(prefix="dance_page_") as temporary:
        run_job({"do": "page", "reviews": folders, "to": temporary, "figure": arguments.figure}, output, debug=arguments.debug)
        return Pictures.from_folder(Path(temporary))


def _pictures(arguments: argparse.Namespace, story: Story, output: Output) -> Pictures:
    """Pictures, or none with a sentence that says why."""
    from ..analysis_core.page import Pictures

    if arguments.no_pictures:
        return Pictures()
    try:
        return _rendered(arguments, output)
    except BlenderError as error:
        output.note(say.no_pictures(error))
        return Pictures()


def _better(database: str | None, sha256: str) -> dict[tuple[str, str], str]:
    """What the record shows to be better than in the term before; nothing without a record."""
    if database is None:
        return {}
    from datetime import date

    from ..analysis_core.record.places import place_of
    from ..analysis_core.record.store import open_store
    from ..analysis_core.record.terms import better_than_last_term

    with open_store(place_of(database), today=date.today()) as store, store.read() as connection:
        return {(item.fault, item.side): item.since for item in better_than_last_term(connection, sha256)}


def _room(arguments: argparse.Namespace, story: Story, output: Output) -> dict[str, Any]:
    """The corrections life size in the room, when they are asked for."""
    if not arguments.room:
        return {}
    from ..analysis_core.page.room import write_rooms
    from ..analysis_core.wording.page import EXPERIMENTAL

    output.progress(doing.WRITING_ROOMS)
    paths = write_rooms(story, arguments.out, look=arguments.figure, overwrite=arguments.force)
    if paths:
        output.note(EXPERIMENTAL)
    return {"room": [str(path) for path in paths]}


def _text(told: dict[str, Any]) -> str:
    from ..analysis_core.wording import page as words

    return "\n".join([words.written(told), *map(words.for_the_room, told.get("room", []))])


def run(arguments: argparse.Namespace, output: Output) -> None:
    """Write one page. Raises InTheRoundError."""
    from ..analysis_core.errors import OptionError
    from ..analysis_core.page import story_of, write_page
    from ..analysis_core.page.film import film_of
    from ..analysis_core.page.room import paths_beside
    from ..analysis_core.page.write import LARGEST_BYTES, VIEWER
    from ..analysis_core.review import read_review
    from ..analysis_core.wording.page import MISSING_VIEWER
    from ..analysis_core.write.files import require_place

    if arguments.out.suffix.lower() not in (".html", ".htm"):
        raise OptionError(f"{arguments.out} must end in .html.")
    require_place(arguments.out, overwrite=arguments.force)
    film = None if arguments.film is None else film_of(arguments.film)
    reviews = [read_review(folder) for folder in (arguments.review, arguments.before) if folder is not None]
    output.progress(doing.PUTTING_WORDS_TOGETHER)
    better = _better(arguments.database, reviews[0].take.sha256)
    story = story_of(*reviews, name=arguments.name.strip(), better=better)
    if arguments.room:
        require_place(*paths_beside(arguments.out, len(story.cards)), overwrite=arguments.force)
    pictures = _pictures(arguments, story, output)
    if not VIEWER.is_file():
        output.note(MISSING_VIEWER)
    output.progress(doing.WRITING_PAGE)
    told = write_page(story, arguments.out, pictures, film, look=arguments.figure, overwrite=arguments.force)
    told |= _room(arguments, story, output)
    if told["bytes"] > LARGEST_BYTES:
        output.note(say.too_large(told["bytes"]))
    output.result(told, _text(told))
