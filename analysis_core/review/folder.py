"""A review folder: review.json and movement.npz, tied by a hash; each written whole or not at all, decisions never lost."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ..damaged_arrays import DAMAGED_ARRAYS
from ..errors import ReviewError
from ..findings.finding import Finding
from ..phrase.phase import Phase
from ..wording import reading as say
from ..write.files import flushed, whole_file
from ..write.locking import only_writer
from .decisions import Decisions, changed, decisions_from_json, difference, fits, match
from .document import (
    FORMAT,
    VERSION,
    analysed_from_json,
    from_json,
    phrase_from_json,
    standing_from_json,
    to_json,
    with_decisions,
)
from .movement_file import read_movement, write_movement
from .review import Review, carry_over

REVIEW_FILE = "review.json"
MOVEMENT_FILE = "movement.npz"

#: What a damaged review.json raises while it is taken apart.
_DAMAGED = (OSError, AttributeError, IndexError, KeyError, TypeError, ValueError, RecursionError)


def _text(data: dict[str, Any]) -> str:
    """A line for each field, and for each item of a list: a text that is indented throughout takes ten times as long to make."""
    encode = json.JSONEncoder(ensure_ascii=False).encode

    def of(value: Any) -> str:
        return "[\n  " + ",\n  ".join(map(encode, value)) + "\n ]" if isinstance(value, list) and value else encode(value)

    return "{\n " + ",\n ".join(f"{encode(name)}: {of(value)}" for name, value in data.items()) + "\n}"


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _damaged(path: Path, error: BaseException) -> ReviewError:
    # Where a parser stopped says something of a text file; what it waited for there says nothing to who copied the folder.
    why = (
        say.unreadable_from_line(error.lineno) if isinstance(error, json.JSONDecodeError) else str(error) or type(error).__name__
    )
    return ReviewError(f"{path} is damaged ({why}). Move it away, then review the take again.")


def _json_of(folder: Path) -> dict[str, Any]:
    """The object of a folder's review.json, of whatever version."""
    path = folder / REVIEW_FILE
    if not path.is_file():
        raise ReviewError(
            f"{folder} holds no {REVIEW_FILE}. Open the take itself in Blender, or: in-the-round review TAKE --out {folder}"
        )
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        if data["format"] != FORMAT or not isinstance(data["version"], int):
            raise ReviewError(f"{path} is no review. Choose a folder that holds one, or review the take again.")
    except _DAMAGED as error:
        raise _damaged(path, error) from error
    assert isinstance(data, dict)
    return data


def read_document(folder: Path) -> dict[str, Any]:
    """The object of review.json as it stands in a folder, fields that this version does not know too.

    Raises ReviewError when the folder holds no review, a damaged one, or one of another version.
    """
    data, path = _json_of(folder), folder / REVIEW_FILE
    if data["version"] < VERSION:
        raise ReviewError(
            f"{path} was written by an earlier version of the program. Review the take again: your decisions are taken over."
        )
    if data["version"] > VERSION:
        raise ReviewError(f"{path} was written by a newer version of the program. Update the program, then open it again.")
    return data


def read_review(folder: Path) -> Review:
    """Read a review folder back.

    Raises ReviewError when it holds no review, a damaged one, one of another version, or two files that do not belong together.
    """
    data, path = read_document(folder), folder / MOVEMENT_FILE
    again = "Review the take again: your decisions are taken over."
    if not path.is_file():
        raise ReviewError(f"{folder} holds {REVIEW_FILE}, but no {MOVEMENT_FILE}. {again}")
    try:
        if _sha256(path) != data["movement_sha256"]:
            raise ReviewError(
                f"{path} does not belong to the {REVIEW_FILE} beside it: it is damaged, of another take, or a copy was "
                f"interrupted. {again}"
            )
        standing = standing_from_json(data["standing"])
    except _DAMAGED as error:
        raise _damaged(folder / REVIEW_FILE, error) from error
    try:
        movement, markers = read_movement(path, data["take"]["kind"], standing)
    except DAMAGED_ARRAYS as error:
        raise ReviewError(f"{path} cannot be read ({error}). {again}") from error
    try:
        return from_json(data, movement, markers)
    except _DAMAGED as error:
        raise _damaged(folder / REVIEW_FILE, error) from error


def read_decisions(folder: Path) -> Decisions:
    """The decisions in a review folder, whatever version wrote it; none when there is no review.

    Raises ReviewError when review.json is damaged.
    """
    if not (folder / REVIEW_FILE).is_file():
        return Decisions()
    data = _json_of(folder)
    try:
        return decisions_from_json(data.get("decisions", {}))
    except _DAMAGED as error:
        raise _damaged(folder / REVIEW_FILE, error) from error


def write_review(review: Review, folder: Path, *, overwrite: bool = False) -> None:
    """Write review.json and movement.npz into a folder, each whole or not at all.

    Raises OutputError when one of them is there already and ``overwrite`` is false, or when it cannot be written.
    """
    with (
        whole_file(folder / REVIEW_FILE, overwrite=overwrite) as review_path,
        whole_file(folder / MOVEMENT_FILE, overwrite=overwrite) as movement_path,
    ):
        write_movement(movement_path, review.movement, review.markers)
        review_path.write_text(_text(to_json(review, _sha256(movement_path))), encoding="utf-8")
        # Both are on the disk before the first takes its place: a full disk leaves the earlier review whole.
        flushed(movement_path)
        flushed(review_path)


def write_again(review: Review, folder: Path) -> Review:
    """Write a review over an earlier one of the same take, with the teacher's decisions carried over; return what was written.

    Raises ReviewError when the earlier one is damaged, so that no decision is lost in silence.
    """
    with only_writer(folder):
        review = carry_over(read_decisions(folder), review)
        write_review(review, folder, overwrite=True)
    return review


def _matched(decisions: Decisions, findings: Sequence[Finding], phases: Sequence[Phase]) -> Decisions:
    return decisions if fits(decisions, findings, phases) else match(decisions, findings, phases)


def save_decisions(folder: Path, before: Decisions, after: Decisions) -> Decisions:
    """Put what was decided and taken back between ``before`` and ``after`` into the review.json of a folder; return all decisions
    that it holds then.

    Decisions that another window made meanwhile stay; where both decided about the same, the last writer's holds. Decisions on
    another analysis of the take are matched to the one that is there. Only the small file is touched, and fields that this
    version does not know stay. Raises ReviewError when there is no readable review, OutputError when it cannot be written.
    """
    path = folder / REVIEW_FILE
    with only_writer(folder):
        data = read_document(folder)
        try:
            theirs = decisions_from_json(data["decisions"])
            findings, phases = analysed_from_json(data), phrase_from_json(data).phases
            merged = changed(theirs, difference(_matched(before, findings, phases), _matched(after, findings, phases)))
            text = _text(with_decisions(data, merged))
        except _DAMAGED as error:
            raise _damaged(path, error) from error
        if merged != theirs:
            with whole_file(path, overwrite=True) as temporary:
                temporary.write_text(text, encoding="utf-8")
    return merged
