"""The command ``hand-over``: a clean take for the animator, and the cleaned recording itself."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..analysis_core.errors import OptionError
from ..analysis_core.wording import numbers
from . import options
from .output import Output

if TYPE_CHECKING:
    from ..analysis_core.hand_over.give import HandOver, Wishes
    from ..analysis_core.review import Review

HELP = "hand a clean take to an animator, with feet that hold, in the formats asked for"
EXAMPLE = "in-the-round hand-over out/careful --out out/for_animator --formats bvh,glb,fbx"

#: What lies beside the files of every hand-over.
_BESIDE = ("bone_names.json", "note.html", "note.json")
_FORMATS = ("c3d", "bvh", "fbx", "glb", "usd", "usdz", "blend")


def _formats(text: str) -> tuple[str, ...]:
    asked = tuple(dict.fromkeys(word.strip().lower() for word in text.split(",") if word.strip()))
    unknown = [word for word in asked if word not in _FORMATS]
    if unknown or not asked:
        raise argparse.ArgumentTypeError(f"{', '.join(unknown) or text!r} is no format. Choose from {', '.join(_FORMATS)}")
    return asked


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes."""
    parser.add_argument("review", type=Path, metavar="DIR", help="a folder that the command review wrote")
    parser.add_argument("--out", type=Path, required=True, metavar="DIR2", help="the folder to write to")
    parser.add_argument(
        "--formats", type=_formats, metavar="LIST", help=f"of {','.join(_FORMATS)} (default: all that the take allows)"
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


def _recording(review: Review, arguments: argparse.Namespace) -> Path | str:
    """The recording that a review was made of, told by its content; a sentence when it is nowhere near."""
    import hashlib

    name, given, folder = review.take.file, arguments.recording, arguments.review.resolve()
    near = (review.take.folder and Path(review.take.folder), folder, folder.parent, folder.parent.parent, Path.cwd())
    places = [given] if given is not None else [place / name for place in near if place]
    for place in places:
        if place.is_file() and hashlib.sha256(place.read_bytes()).hexdigest() == review.take.sha256:
            return place
    where = f"{given} is not the recording of this review" if given is not None else f"{name} is not where it was reviewed"
    return f"{where}; the cleaned C3D is made from it. Say where it lies with --recording."


def _wanted(review: Review, arguments: argparse.Namespace) -> tuple[str, ...]:
    """The formats to write. Raises OptionError when one cannot be made of this take."""
    if arguments.formats is None:
        return tuple(name for name in _FORMATS if name != "c3d" or review.take.kind == "markers")
    if "c3d" in arguments.formats and review.take.kind != "markers":
        raise OptionError(f"{review.take.file} is a skeleton; a C3D file holds markers. Leave c3d out of --formats.")
    formats: tuple[str, ...] = arguments.formats
    return formats


def _write_c3d(review: Review, recording: Path, path: Path, *, overwrite: bool) -> tuple[str, ...]:
    from ..analysis_core.body.landmarks import load_landmarks
    from ..analysis_core.capture import capture
    from ..analysis_core.settings import Settings
    from ..analysis_core.write.c3d import write_cleaned_c3d

    inferred = {item.what: item.value for item in review.take.inferred}
    person = inferred.get("person")
    settings = Settings(
        up=inferred.get("up axis"), unit=inferred.get("unit"), rate_hz=review.take.rate_hz,
        person=None if person == "the only one" else person,
    )  # fmt: skip
    cleaned = capture(recording, settings, load_landmarks(None)).cleaned
    return write_cleaned_c3d(cleaned, review.phrase.phases, path, overwrite=overwrite)


def _wishes(arguments: argparse.Namespace) -> Wishes:
    from ..analysis_core.hand_over.give import Wishes

    root = "in-place" if arguments.in_place else arguments.root_motion
    return Wishes(arguments.feet, arguments.rest, arguments.rate, root, arguments.cut_unusable, arguments.reduce_keys)


def run(arguments: argparse.Namespace, output: Output) -> None:
    """Write the hand-over of one review. Raises InTheRoundError."""
    from ..analysis_core.hand_over.files import paths_of, write_own_files
    from ..analysis_core.hand_over.give import hand_over, note_of
    from ..analysis_core.hand_over.note import write_note
    from ..analysis_core.review import read_review
    from ..analysis_core.write.files import require_place

    review = read_review(arguments.review)
    formats = _wanted(review, arguments)
    paths = paths_of(arguments.out, Path(review.take.file).stem, formats)
    require_place(*paths.values(), *(arguments.out / name for name in _BESIDE), overwrite=arguments.force)
    recording = _recording(review, arguments) if "c3d" in paths else None
    lost: tuple[str, ...] = ()
    if isinstance(recording, str):
        if arguments.formats is not None:
            raise OptionError(recording)
        # Nobody asked for it by name: the rest is written, and the note says what is missing.
        lost, recording = (recording,), None
        del paths["c3d"]
    output.progress("Holding the feet")
    given = hand_over(review, _wishes(arguments))
    if recording is not None:
        lost = _write_c3d(review, recording, paths["c3d"], overwrite=arguments.force)
    write_own_files(given, paths, output.progress, overwrite=arguments.force)
    if "blend" in paths:
        _write_with_blender(given, paths["blend"], arguments, output)
    note = note_of(given, review, {kind: path.name for kind, path in paths.items()}, lost)
    write_note(note, arguments.out, overwrite=arguments.force)
    output.result({**note, "folder": str(arguments.out)}, _text(note, arguments.out))


def _write_with_blender(given: HandOver, path: Path, arguments: argparse.Namespace, output: Output) -> None:
    """The .blend, by a child process that is handed what was prepared here."""
    import pickle
    import tempfile

    from .blender_process import run_job

    output.progress("Starting Blender")
    with tempfile.TemporaryDirectory() as folder:
        prepared = Path(folder) / "prepared"
        prepared.write_bytes(pickle.dumps(given))
        job = {"do": "hand-over", "prepared": str(prepared), "to": str(path), "force": arguments.force}
        run_job(job, output, debug=arguments.debug)


def _text(note: dict[str, Any], folder: Path) -> str:
    rate = numbers.hertz(note["rate_hz"])
    lines = [f"{note['take']}: {note['frames']} frames at {rate}, {note['rest_pose']}, feet {note['feet']}"]
    kinds = ("measured", "filled", "unusable")
    lines += [f"  {what}: {numbers.seconds(sum(end - start for start, end in note[f'{what}_s']), 2)}" for what in kinds]
    if note["holding"] is not None:
        before, after = note["holding"]["sliding_before_mm_s"], note["holding"]["sliding_after_mm_s"]
        slid = numbers.number(before["mean"], "mm/s")
        lines.append(f"  planted feet slid at {slid} on average, now at {numbers.plain(after['mean'])}")
        lines.append(f"  {len(note['holding']['left_as_danced'])} places left as danced: the foot travels there")
    lines += [f"  {sentence}" for sentence in note["could_not_be_kept"]]
    lines.append("written: " + ", ".join(str(folder / name) for name in (*note["files"].values(), *_BESIDE)))
    return "\n".join(lines)
