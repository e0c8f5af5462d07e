"""The command ``turntable``: a film of one or two reviewed takes, side by side on turning stages."""

from __future__ import annotations

import argparse
from pathlib import Path

from ..analysis_core.errors import OptionError
from ..analysis_core.wording.numbers import seconds
from ..analysis_core.write.files import whole_file
from . import options
from .blender_process import run_job
from .output import Output
from .system_libraries import rendering_advice

HELP = "render a film that turns round one or two reviewed takes"
EXAMPLE = "in-the-round turntable out/careless out/careful --out out/side_by_side.mp4 --size 1280x720 --fps 24 --seconds 10"

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
    parser.add_argument("reviews", type=Path, nargs="+", metavar="DIR", help="one or two folders that the command review wrote")
    parser.add_argument("--out", type=Path, required=True, metavar="FILE.mp4", help="the film to write")
    parser.add_argument("--size", type=size, default=(1280, 720), metavar="WxH", help="pixels of the picture (default: 1280x720)")
    parser.add_argument("--fps", type=options.whole, default=24, metavar="N", help="pictures per second (default: 24)")
    parser.add_argument("--seconds", type=options.positive, default=10.0, metavar="S", help="length of the film (default: 10)")
    options.add_figure(parser)
    parser.add_argument("--names", action="store_true", help="name the takes' files in the picture (default: before and now)")
    parser.add_argument("--force", action="store_true", help="replace the film when it is there already")


def run(arguments: argparse.Namespace, output: Output) -> None:
    """Render one film. Raises InTheRoundError."""
    from ..analysis_core.review import read_review

    if arguments.out.suffix.lower() != ".mp4":
        raise OptionError(f"{arguments.out} must end in .mp4.")
    if len(arguments.reviews) > 2:
        raise OptionError(f"A turntable shows one or two takes, not {len(arguments.reviews)}.")
    for folder in arguments.reviews:
        read_review(folder)
    advice = rendering_advice()
    with whole_file(arguments.out, overwrite=arguments.force) as temporary:
        if advice is not None:
            output.note(advice)
        output.progress("Starting Blender")
        job = {"do": "turntable", "reviews": [str(folder) for folder in arguments.reviews], "to": str(temporary)}
        job |= {
            "size": arguments.size,
            "fps": arguments.fps,
            "seconds": arguments.seconds,
            "figure": arguments.figure,
            "names": arguments.names,
        }
        result = run_job(job, output, debug=arguments.debug)
    text = f"{arguments.out}: {seconds(result['seconds'])}, {result['pictures']} pictures, rendered with {result['engine']}"
    output.result({"turntable": str(arguments.out), **result}, text)
