"""The command ``scene``: a reviewed take as a Blender file."""

from __future__ import annotations

import argparse
from pathlib import Path

from ..analysis_core.errors import OptionError
from ..analysis_core.wording import doing, told
from . import options
from .blender_process import run_job
from .output import Output

HELP = "build the Blender file of a reviewed take"
EXAMPLE = "in-the-round scene out/careless --out out/careless.blend"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes."""
    parser.add_argument("review", type=Path, metavar="REVIEW", help="a folder that the command review wrote")
    parser.add_argument("--out", type=Path, required=True, metavar="FILE.blend", help="the file to write")
    options.add_figure(parser)
    parser.add_argument("--force", action="store_true", help="replace the file when it is there already")


def run(arguments: argparse.Namespace, output: Output) -> None:
    """Build and save one scene. Raises InTheRoundError."""
    from ..analysis_core.review import read_review
    from ..analysis_core.write.files import whole_file

    if arguments.out.suffix.lower() != ".blend":
        raise OptionError(f"{arguments.out} must end in .blend.")
    read_review(arguments.review)
    # The whole file is ours to take away again, since a child that crashed cannot.
    with whole_file(arguments.out, overwrite=arguments.force) as temporary:
        output.progress(doing.STARTING_BLENDER)
        job = {"do": "scene", "review": str(arguments.review), "to": str(temporary), "figure": arguments.figure}
        result = run_job(job, output, debug=arguments.debug)
    text = told.scene(arguments.out, result["frames"], result["rate_hz"], result["findings"])
    output.result({"scene": str(arguments.out), **result}, text)
