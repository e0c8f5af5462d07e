"""From a file to a cleaned take, and the verdict on the capture; nothing here knows of phrases and findings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from .body.landmarks import Landmark, load_landmarks, recognise
from .body.skeleton_sides import sides_put_right
from .body.stood import misplaced_markers
from .clean import clean_take, judge_capture
from .clean.body_seen import require_body, without_the_impossible
from .clean.joined import put_together
from .clean.levelled import levelled
from .clean.made_up import without_made_up
from .clean.quality import Quality
from .read import read_take
from .settings import Settings
from .take import CleanedTake, Take


@dataclass(frozen=True)
class Captured:
    """A take as read and cleaned, with what its labels name (empty for a skeleton)."""

    take: Take
    cleaned: CleanedTake
    landmark_of: Mapping[int, str]
    segment_of: Mapping[int, str]


def clean(take: Take, table: Mapping[str, Landmark], *, as_in: Take | None = None) -> Captured:
    """Name and clean the markers of a take, and turn it level; a skeleton is only cleaned. as_in: a take of the same room, which
    tells how its floor lies. Raises TakeError saying what a take shows that shows no body."""
    take = without_the_impossible(take)
    if take.kind == "skeleton":
        require_body(take, {})
        take = sides_put_right(take)
        return Captured(take, clean_take(take, landmark_of={}, segment_of={}), {}, {})
    recognition = recognise(take.labels, table)
    require_body(take, recognition.landmark_of)
    take = put_together(without_made_up(take))
    take = levelled(take, recognition.landmark_of, recognition.segment_of, as_in)
    cleaned = clean_take(take, landmark_of=recognition.landmark_of, segment_of=recognition.segment_of)
    return Captured(take, cleaned, recognition.landmark_of, recognition.segment_of)


def capture(path: Path, settings: Settings, table: Mapping[str, Landmark]) -> Captured:
    """Read and clean one take. Raises TakeError when the file cannot be read or shows no body."""
    return clean(read_take(path, settings), table)


def check(path: Path, settings: Settings) -> tuple[Take, Quality]:
    """The capture verdict of one take, for use between two tries."""
    table = load_landmarks(settings.landmarks)
    captured = capture(path, settings, table)
    misplaced = misplaced_markers(captured.cleaned, table=table)
    return captured.take, judge_capture(captured.cleaned, landmark_of=captured.landmark_of, misplaced=misplaced)
