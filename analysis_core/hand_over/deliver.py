"""A whole hand-over into a folder: files, map of bone names, note. Blender's own file is written by who has Blender."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, ExitStack
from dataclasses import replace
from pathlib import Path
from typing import Any

from ..errors import OptionError, OutputError
from ..review import Review, read_review
from ..wording import hand_over as words
from ..write.files import whole_file
from .catalogue import write_catalogue
from .files import paths_of, write_own_files
from .for_blender import action_names
from .formats import BESIDE, FORMATS
from .give import HandOver, hand_over, note_of
from .note import pages_of, write_note
from .wishes import Wishes

Say = Callable[[str, float], None]
#: Begins Blender's file of what is handed over, at a path; it is whole when the block ends.
Blend = Callable[[HandOver, Path], AbstractContextManager[None]]


def _recording(review: Review, folder: Path, given: Path | None) -> Path | str:
    """The recording that a review was made of, told by its content; a sentence when it is nowhere near."""
    name, folder = review.take.file, folder.resolve()
    near = (review.take.folder and Path(review.take.folder), folder, folder.parent, folder.parent.parent, Path.cwd())
    places = [given] if given is not None else [place / name for place in near if place]
    for place in places:
        if place.is_file() and hashlib.sha256(place.read_bytes()).hexdigest() == review.take.sha256:
            return place
    return words.no_recording(name, given)


def _wanted(review: Review, formats: Sequence[str] | None) -> tuple[str, ...]:
    """The formats to write. Raises OptionError when one cannot be made of this take."""
    if formats is None:
        return tuple(name for name in FORMATS if name != "c3d" or review.take.kind == "markers")
    if "c3d" in formats and review.take.kind != "markers":
        raise OptionError(f"{review.take.file} is a skeleton; a C3D file holds markers. Leave c3d out of --formats.")
    return tuple(formats)


def _write_c3d(given: HandOver, review: Review, recording: Path, path: Path, *, overwrite: bool) -> tuple[str, ...]:
    # Here, not above: all that reads and cleans recordings is needed for this format alone.
    from ..body.landmarks import load_landmarks
    from ..capture import capture
    from ..settings import Settings
    from ..write.c3d import write_cleaned_c3d

    inferred = {item.what: item.value for item in review.take.inferred}
    person = inferred.get("person")
    settings = Settings(
        up=inferred.get("up axis"), unit=inferred.get("unit"), rate_hz=review.take.rate_hz,
        person=None if person == "the only one" else person,
    )  # fmt: skip
    cleaned = capture(recording, settings, load_landmarks(None)).cleaned
    start, stop = (round(time * cleaned.take.rate_hz) for time in given.kept_s)
    kept = slice(start, stop) if given.wishes.cut_unusable else None
    return write_cleaned_c3d(cleaned, review.phrase.phases, path, kept=kept, overwrite=overwrite)


def deliver(
    folder: Path,
    out: Path,
    wishes: Wishes,
    formats: Sequence[str] | None,
    blend: Blend | None,
    say: Say,
    *,
    recording: Path | None = None,
    overwrite: bool = False,
) -> dict[str, Any]:
    """Write the hand-over of the review in ``folder`` to ``out``; return the note.

    formats: of FORMATS, None for all that the take allows. blend: writes Blender's own file, while all others are written; None
    where there is no Blender. say: told what is being done and how far it is. recording: where the recording lies now.
    Raises InTheRoundError; what is there already is an error unless ``overwrite``.
    """
    review = read_review(folder)
    paths = paths_of(out, Path(review.take.file).stem, _wanted(review, formats))
    for path in (*paths.values(), *(out / name for name in BESIDE)):
        if path.exists() and not overwrite:
            raise OutputError(f"{path} is there already. Choose another folder, or add --force to replace it.")
    if "blend" in paths and blend is None:
        raise OptionError("A .blend is written by Blender, and there is none in this process. Leave blend out of the formats.")
    found = _recording(review, folder, recording) if "c3d" in paths else None
    lost: tuple[str, ...] = ()
    if isinstance(found, str):
        if formats is not None:
            raise OptionError(found)
        # Nobody asked for it by name: the rest is written, and the note says what is missing.
        lost, found = (found,), None
        del paths["c3d"]
    if set(paths) == {"c3d"}:
        # Markers have no skeleton whose feet could be held: they are as measured, and the note says so.
        wishes = replace(wishes, feet="measured")
    say(words.HOLDING_FEET if wishes.feet == "held" else words.PUTTING_TOGETHER, 0.05)
    given = hand_over(review, wishes)
    with ExitStack() as stack:
        if "blend" in paths and blend is not None:
            stack.enter_context(blend(given, stack.enter_context(whole_file(paths["blend"], overwrite=overwrite))))
        if found is not None:
            say(words.writing("C3D"), 0.2)
            lost = _write_c3d(given, review, found, paths["c3d"], overwrite=overwrite)
        write_own_files(given, paths, lambda what, share: say(what, 0.3 + 0.4 * share), overwrite=overwrite)
        note = note_of(given, review, {kind: path.name for kind, path in paths.items()}, lost)
        pages = pages_of(note)
        if "blend" in paths:
            say(words.WRITING_WITH_BLENDER, 0.7)
    if "blend" in paths:
        write_catalogue(out, action_names(given))
    write_note(pages, out, overwrite=overwrite)
    return note
