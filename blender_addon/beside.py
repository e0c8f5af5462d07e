"""Music and reference film of a scene's take: attached, moved in time, taken away; remembered in the review folder."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import bpy

from .analysis_core.errors import InTheRoundError
from .analysis_core.views.beside import KINDS, Beside, Clip, Kind, read_beside, write_beside
from .blender_types import persistent
from .properties import DanceReviewClip, DanceReviewState, review_of, scene_of
from .saving import folder_of
from .scene import beside as scenes

#: At this speed, per cent, the music is heard.
_OWN_SPEED = 100.0


def clip_of(state: DanceReviewState, kind: Kind) -> Clip | None:
    """What plays beside the take of a scene; None where there is nothing."""
    held = getattr(state, kind)
    return Clip(Path(bpy.path.abspath(held.file)), held.at_s) if held.file else None


def _timing(state: DanceReviewState) -> scenes.Timing:
    return scenes.Timing(state.frame_start, state.frames, state.rate_hz)


def _play(state: DanceReviewState, kind: Kind, clip: Clip) -> None:
    """Put a clip into the scene; what is not there is said in the panel from then on. Raises TakeError."""
    held, scene = getattr(state, kind), scene_of(state)
    held.said = ""
    # Blender reckons how long a sound is by the rate that the scene has just now.
    speed, state.speed = state.speed, _OWN_SPEED
    try:
        scenes.put(scene, kind, clip, _timing(state))
    except InTheRoundError as error:
        held.said = str(error)
        raise
    finally:
        state.speed = speed
    follow_speed(state)


def attach(state: DanceReviewState, kind: Kind, clip: Clip) -> None:
    """Let a file play beside the take, and remember it there. Raises InTheRoundError with what to do; nothing is changed then."""
    held = getattr(state, kind)
    said = held.said
    try:
        _play(state, kind, clip)
    except InTheRoundError:
        held.said = said
        raise
    _hold(state, kind, clip)
    _remember(state)


def detach(state: DanceReviewState, kind: Kind) -> None:
    """Take music or film away from the take. Raises InTheRoundError when that cannot be remembered."""
    scenes.remove(scene_of(state), kind)
    _hold(state, kind, None)
    _remember(state)


def _hold(state: DanceReviewState, kind: Kind, clip: Clip | None) -> None:
    held = getattr(state, kind)
    held["at_s"] = 0.0 if clip is None else clip.at_s  # not by its update, which would put it into the scene again
    held.file, held.said = "" if clip is None else str(clip.file), ""


def _remember(state: DanceReviewState) -> None:
    folder = folder_of(state)
    if folder.is_dir():
        write_beside(folder, Beside(**{kind: clip_of(state, kind) for kind in KINDS}))


def move(held: DanceReviewClip) -> None:
    """The second at which the take begins was changed in the panel."""
    state = review_of(scene_of(held))
    kind = next(kind for kind in KINDS if getattr(state, kind) == held)
    clip = clip_of(state, kind)
    if clip is None:
        return
    try:
        _play(state, kind, clip)
        _remember(state)
    except InTheRoundError as error:
        held.said = str(error)


def bring(state: DanceReviewState) -> None:
    """Bring into a new scene what the review folder remembers; what cannot be played is said in the panel."""
    try:
        beside = read_beside(folder_of(state))
    except InTheRoundError as error:
        state.music.said = str(error)
        return
    for kind in KINDS:
        clip = getattr(beside, kind)
        if clip is not None:
            _hold(state, kind, clip)
            try:
                _play(state, kind, clip)
            except InTheRoundError as error:
                getattr(state, kind).said = str(error)


def follow_speed(state: DanceReviewState) -> None:
    """Slow motion keeps the sound out."""
    scenes.sounding(scene_of(state), on=state.speed >= _OWN_SPEED)


@persistent
def _after_load(*_: Any) -> None:
    """Another Blender file: what was moved away is looked for where the review folder knows it, else said."""
    for scene in bpy.data.scenes:
        state = review_of(scene)
        clips = [clip for kind in KINDS if (clip := clip_of(state, kind)) is not None]
        if state.take_name and any(not clip.file.is_file() for clip in clips):
            bring(state)


def register() -> None:
    """Follow file load."""
    bpy.app.handlers.load_post.append(_after_load)


def unregister() -> None:
    """Leave no handler behind."""
    if _after_load in bpy.app.handlers.load_post:
        bpy.app.handlers.load_post.remove(_after_load)
