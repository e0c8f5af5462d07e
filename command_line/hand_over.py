"""The command ``hand-over``: a clean take for the animator, and the cleaned recording itself."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..analysis_core.hand_over.formats import BESIDE, FORMATS
from ..analysis_core.hand_over.wishes import Root, Wishes
from ..analysis_core.wording import told
from . import options
from .output import Output

if TYPE_CHECKING:
    from ..analysis_core.hand_over.deliver import Blend
    from ..analysis_core.hand_over.give import HandOver

HELP = "hand a clean take to an animator, with feet that hold, in the formats asked for"
EXAMPLE = "in-the-round hand-over out/careful --out out/for_animator --formats bvh,glb,fbx"


def _formats(text: str) -> tuple[str, ...]:
    asked = tuple(dict.fromkeys(word.strip().lower() for word in text.split(",") if word.strip()))
    unknown = [word for word in asked if word not in FORMATS]
    if unknown or not asked:
        raise argparse.ArgumentTypeError(f"{', '.join(unknown) or text!r} is no format. Choose from {', '.join(FORMATS)}")
    return asked


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes."""
    parser.add_argument("review", type=Path, metavar="REVIEW", help="a folder that the command review wrote")
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="the folder to write to")
    parser.add_argument(
        "--formats", type=_formats, metavar="LIST", help=f"of {','.join(FORMATS)} (default: all that the take allows)"
    )
    parser.add_argument(
        "--feet",
        choices=("held", "measured"),
        default="held",
        help="hold planted feet still, or leave them as measured",
    )
    parser.add_argument("--rest", choices=("t-pose", "a-pose"), default="t-pose", help="the pose at rest (default: t-pose)")
    parser.add_argument("--rate", type=options.positive, metavar="HZ", help="frames per second (default: as recorded)")
    travel = parser.add_mutually_exclusive_group()
    travel.add_argument(
        "--root-motion",
        choices=("pelvis", "bone"),
        default="pelvis",
        help="travel on the pelvis, or on a bone 'root' of its own on the floor (default: pelvis)",
    )
    travel.add_argument("--in-place", action="store_true", help="without travel across the floor; turns and jumps stay")
    parser.add_argument(
        "--reduce-keys",
        action="store_true",
        help="few keys with curves between them in glb and blend, within 0.2 degrees and 1 mm",
    )
    parser.add_argument("--cut-unusable", action="store_true", help="only the longest stretch in which the body is known")
    parser.add_argument("--recording", type=Path, metavar="TAKE", help="where the recording lies now, for c3d")
    parser.add_argument("--force", action="store_true", help="replace files that are there already")


def _wishes(arguments: argparse.Namespace) -> Wishes:
    root: Root = "in-place" if arguments.in_place else arguments.root_motion
    return Wishes(arguments.feet, arguments.rest, arguments.rate, root, arguments.cut_unusable, arguments.reduce_keys)


def run(arguments: argparse.Namespace, output: Output) -> None:
    """Write the hand-over of one review. Raises InTheRoundError."""
    with_blender = arguments.formats is None or "blend" in arguments.formats
    note = (_with_blender if with_blender else _delivered)(arguments, output)
    output.result({**note, "folder": str(arguments.out)}, _text(note, arguments.out))


def _delivered(arguments: argparse.Namespace, output: Output, blend: Blend | None = None) -> dict[str, Any]:
    """All but Blender's own file needs no Blender, and does not wait for it."""
    from ..analysis_core.hand_over.deliver import deliver

    return deliver(
        arguments.review, arguments.out, _wishes(arguments), arguments.formats, blend, output.progress,
        recording=arguments.recording, overwrite=arguments.force,
    )  # fmt: skip


def _with_blender(arguments: argparse.Namespace, output: Output) -> dict[str, Any]:
    """Blender's own file is put together in a child process: it starts Blender while all is prepared here, and writes while the
    other files are written."""
    from .blender_process import started

    with started({"do": "hand-over"}, output, debug=arguments.debug) as child:

        @contextmanager
        def blend(given: HandOver, path: Path) -> Iterator[None]:
            from ..analysis_core.hand_over.for_blender import blender_file, pictures

            child.send((str(path), blender_file(given)))
            child.send(pictures(given))
            yield
            child.answer()

        return _delivered(arguments, output, blend)


def _text(note: dict[str, Any], folder: Path) -> str:
    from ..analysis_core.wording import hand_over as words

    files = [folder / name for name in (*note["files"].values(), *BESIDE)]
    return "\n".join([*words.summary(note), told.written(files)])
