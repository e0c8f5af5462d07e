"""The command ``stills``: one picture for each correction, its measure drawn on; before and after side by side."""

from __future__ import annotations

import argparse
from pathlib import Path

from ..analysis_core.errors import OptionError
from ..analysis_core.wording import doing, told
from . import turntable
from .blender_process import note_if_slow, run_job
from .output import Output

HELP = "render one picture for each correction, its measure drawn on; with two takes before and after side by side"
EXAMPLE = "in-the-round stills out/careless out/careful --out out/stills"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes."""
    parser.add_argument(
        "reviews", type=Path, nargs="+", metavar="REVIEW", help="one or two folders that the command review wrote"
    )
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="the folder to write to")
    parser.add_argument(
        "--size", type=turntable.size, default=(1280, 720), metavar="WxH", help="pixels of each picture (default: 1280x720)"
    )
    parser.add_argument("--force", action="store_true", help="replace pictures that are there already")


def run(arguments: argparse.Namespace, output: Output) -> None:
    """Render the stills. Raises InTheRoundError."""
    import shutil
    import tempfile

    from ..analysis_core.review import read_review
    from ..analysis_core.write.files import require_place, whole_file

    if len(arguments.reviews) > 2:
        raise OptionError(f"Stills show one or two takes, not {len(arguments.reviews)}.")
    reviews = [read_review(folder) for folder in arguments.reviews]
    require_place(*(arguments.out / f"{finding.id}.png" for finding in reviews[0].findings), overwrite=arguments.force)
    note_if_slow(output)
    output.progress(doing.STARTING_BLENDER)
    written = []
    with tempfile.TemporaryDirectory(prefix="dance_stills_") as temporary:
        job = {"do": "stills", "reviews": [str(folder) for folder in arguments.reviews], "to": temporary}
        result = run_job(job | {"size": arguments.size}, output, debug=arguments.debug)
        for name in result["pictures"]:
            to = arguments.out / name
            with whole_file(to, overwrite=arguments.force) as unfinished:
                shutil.copyfile(Path(temporary) / name, unfinished)
            written.append(str(to))
    text = "\n".join([told.stills(len(written), result["engine"]), *(f"  {path}" for path in written)])
    output.result({"stills": written, "engine": result["engine"]}, text)
