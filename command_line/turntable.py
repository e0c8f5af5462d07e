"""The command ``turntable``: a film of one or two reviewed takes, side by side on turning stages."""

from __future__ import annotations

import argparse
from pathlib import Path

from ..analysis_core.errors import OptionError
from ..analysis_core.film.modes import MODES, SLOW_INTO, speed_of
from ..analysis_core.film.wish import Wish
from ..analysis_core.wording import doing, told
from . import options
from .blender_process import note_if_slow, run_job
from .output import Output

HELP = "render a film that turns round one or two reviewed takes"
EXAMPLE = "in-the-round turntable out/careless out/careful --out out/side_by_side.mp4"

#: Larger sides are a slip of the keyboard rather than a film.
_LARGEST_SIDE = 8192


def size(text: str) -> tuple[int, int]:
    """Width and height of a picture, for argparse."""
    width, _, height = text.lower().partition("x")
    if not (width.isdecimal() and height.isdecimal()):
        raise argparse.ArgumentTypeError(f"{text!r} must be width x height, such as 1280x720")
    pixels = int(width), int(height)
    if any(side % 2 or not 64 <= side <= _LARGEST_SIDE for side in pixels):
        raise argparse.ArgumentTypeError(f"{text!r} must have even sides of 64 to {_LARGEST_SIDE} pixels, such as 1280x720")
    return pixels


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes."""
    _add_what_and_where(parser)
    _add_what_is_heard_and_seen_beside(parser)
    parser.add_argument("--pictures", type=Path, metavar="DIR", help="keep the film's pictures there too, as numbered PNG files")
    parser.add_argument("--draft", action="store_true", help="quicker, with rougher edges")
    options.add_figure(parser)
    parser.add_argument("--names", action="store_true", help="name the takes' files in the picture (default: before and now)")
    parser.add_argument("--force", action="store_true", help="replace the film when it is there already")


def _add_what_and_where(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "reviews", type=Path, nargs="+", metavar="REVIEW", help="one or two folders that the command review wrote"
    )
    parser.add_argument("--out", type=Path, required=True, metavar="FILE.mp4", help="the film to write")
    parser.add_argument("--size", type=size, default=(1280, 720), metavar="WxH", help="pixels of the picture (default: 1280x720)")
    parser.add_argument("--fps", type=options.whole, default=24, metavar="N", help="pictures per second (default: 24)")
    parser.add_argument("--seconds", type=options.positive, default=10.0, metavar="S", help="length of the film (default: 10)")
    parser.add_argument(
        "--mode",
        choices=MODES,
        default="hold",
        help="hold: slow into each kept correction, all the way round it, on; play: the phrase plays while the stage turns; "
        "still-view: it plays, seen from where the worst correction is best seen (default: hold)",
    )
    parser.add_argument(
        "--slow",
        type=options.positive,
        metavar="FACTOR",
        help="speed as a share of the dancer's own, such as 0.5 for half: near each hold, or throughout with --mode play and "
        f"still-view (default: {SLOW_INTO} near holds, else 1)",
    )


def _add_what_is_heard_and_seen_beside(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--music", type=Path, metavar="FILE", help="a sound file; it is heard where the dancer's own speed is seen"
    )
    parser.add_argument(
        "--music-offset",
        type=options.number,
        default=0.0,
        metavar="S",
        help="second of the sound file at which the first take begins (default: 0)",
    )
    parser.add_argument(
        "--reference",
        type=Path,
        metavar="FILE",
        help="a film from a phone, seen in step beside the dancer; with one take only",
    )
    parser.add_argument(
        "--reference-offset",
        type=options.number,
        default=0.0,
        metavar="S",
        help="second of that film at which the take begins (default: 0)",
    )
    parser.add_argument(
        "--no-beside",
        action="store_true",
        help="leave out the music and the film that Blender remembers for the first take (beside.json in its folder); "
        "without this they are used where --music or --reference name none",
    )


def run(arguments: argparse.Namespace, output: Output) -> None:
    """Render one film. Raises InTheRoundError."""
    from ..analysis_core.film.plan import seconds_for
    from ..analysis_core.film.reference import with_remembered
    from ..analysis_core.review import read_review
    from ..analysis_core.write.files import require_place

    if arguments.out.suffix.lower() != ".mp4":
        raise OptionError(f"{arguments.out} must end in .mp4.")
    if len(arguments.reviews) > 2:
        raise OptionError(f"A turntable shows one or two takes, not {len(arguments.reviews)}.")
    reviews = [read_review(folder) for folder in arguments.reviews]
    speed_of(arguments.slow, arguments.mode)
    wish = Wish(
        size=arguments.size,
        fps=arguments.fps,
        seconds=arguments.seconds,
        mode=arguments.mode,
        slow=arguments.slow,
        look=arguments.figure,
        names=arguments.names,
        draft=arguments.draft,
        music=str(arguments.music.absolute()) if arguments.music else "",
        music_offset=arguments.music_offset,
        reference=str(arguments.reference.absolute()) if arguments.reference else "",
        reference_offset=arguments.reference_offset,
        pictures=str(arguments.pictures.absolute()) if arguments.pictures else "",
    )
    wish.require_room(len(reviews))
    require_place(arguments.out, overwrite=arguments.force)
    missing: list[str] = []
    if not arguments.no_beside:
        wish, missing = with_remembered(wish, arguments.reviews[0], len(reviews))
    note_if_slow(output)
    output.progress(doing.STARTING_BLENDER)
    job = {"do": "turntable", "reviews": [str(folder) for folder in arguments.reviews], "to": str(arguments.out.absolute())}
    result = run_job(job | {"wish": wish.to_json()}, output, debug=arguments.debug)
    text = told.film(arguments.out, result["seconds"], result["pictures"], result["engine"])
    if result["resumed"]:
        text += told.resumed(result["resumed"])
    result["without"] = [*missing, *result["without"]]
    for sentence in result["without"]:
        text += told.without(sentence)
    if wish.music and not result["music"] and not result["without"]:
        text += told.NO_MUSIC
    if result["left_out"]:
        kept = sum(finding.decision == "kept" for finding in reviews[0].findings)
        room = round(seconds_for(kept))
        text += told.too_short(result["left_out"], room)
    output.result({"turntable": str(arguments.out), **result}, text)
