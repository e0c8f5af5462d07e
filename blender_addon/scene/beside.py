"""Music and a reference film beside the dancer, in step: a sound strip of the scene, and a picture whose frames are keyed.

Nothing runs on any frame. The files stay where they are; where one is missing, the rest goes on without it.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from bpy.types import Scene
from mathutils import Matrix, Vector

from .. import compat
from ..analysis_core.errors import TakeError
from ..analysis_core.take import Floats
from ..analysis_core.views.beside import Clip, Kind
from ..blender_types import of_kind, optics, there
from .captions import DEPTH_M, half_picture
from .curves import key

#: The custom property that marks what is ours.
MARK = "dance_review_beside"
#: Room of the film in the picture of a camera: below the caption, as shares of the picture's width and height.
_WIDTH, _HEIGHT = 0.27, 0.40
#: In the room it stands so far beside the dancer, and so high, metres. Proposed defaults.
_BESIDE_M, _TALL_M = 1.3, 1.7
#: Longer than any film: Blender holds a film's last frame from here on.
_NO_END = 500_000


@dataclass(frozen=True)
class Timing:
    """Frames of the scene: the first one, how many, and how many in a second."""

    frame_start: int
    frames: int
    rate_hz: float


def _require(clip: Clip, what: str) -> None:
    if not clip.file.is_file():
        raise TakeError(f"{what} {clip.file} is not there. Choose it anew, or take it away from the take.")


# Music --------------------------------------------------------------------------------------------------------------------------


def music_in(scene: Scene) -> list[Any]:
    """The sound strips of a scene that are ours."""
    editor = scene.sequence_editor
    return [] if editor is None else [strip for strip in editor.strips if strip.type == "SOUND" and strip.get(MARK) == "music"]


def remove_music(scene: Scene) -> None:
    """Take the music away; the user's own strips stay."""
    for strip in music_in(scene):
        sound = strip.sound
        there(scene.sequence_editor).strips.remove(strip)
        if sound is not None and sound.users == 0:
            bpy.data.sounds.remove(sound)
        scene.sync_mode = "FRAME_DROP"


def put_music(scene: Scene, clip: Clip, timing: Timing) -> None:
    """Let a sound file play in step with the take. The scene's rate has to be the take's own. Raises TakeError."""
    _require(clip, "The music")
    sound = bpy.data.sounds.load(str(clip.file), check_existing=True)
    heard = sound.channels != "INVALID"
    if sound.users == 0:
        bpy.data.sounds.remove(sound)
    if not heard:
        raise TakeError(f"{clip.file} holds no sound that Blender can play. Choose a WAV, FLAC, MP3, OGG or M4A file, or a film.")
    remove_music(scene)
    editor = scene.sequence_editor or scene.sequence_editor_create()
    channel = max((strip.channel for strip in editor.strips), default=0) + 1
    first = round(timing.frame_start - clip.at_s * timing.rate_hz)
    strip = editor.strips.new_sound(name="Music", filepath=str(clip.file), channel=channel, frame_start=first)
    strip[MARK] = "music"
    sounding(scene, on=True)


def sounding(scene: Scene, *, on: bool) -> None:
    """Let the music be heard at the dancer's own speed; in slow motion it is out, and pictures are dropped instead."""
    found = music_in(scene)
    for strip in found:
        strip.mute = not on
    if found:
        scene.sync_mode = "AUDIO_SYNC" if on else "FRAME_DROP"


# The film -----------------------------------------------------------------------------------------------------------------------


def film_in(scene: Scene) -> Any | None:
    """The picture of the film in a scene; None without one."""
    return next((item for item in scene.objects if item.get(MARK) == "film"), None)


def remove_film(scene: Scene) -> None:
    """Take the film away."""
    item = film_in(scene)
    if item is None:
        return
    image, action = item.data, item.animation_data.action if item.animation_data else None
    bpy.data.objects.remove(item)
    bpy.data.batch_remove([one for one in (image, action) if one is not None and one.users == 0])


def read_film(file: Path) -> tuple[Any, float]:
    """A film and its frames a second. Raises TakeError."""
    image = bpy.data.images.load(str(file), check_existing=True)
    clip = bpy.data.movieclips.load(str(file), check_existing=True) if image.source == "MOVIE" else None
    rate_hz = clip.fps if clip is not None else 0.0
    if clip is not None and clip.users == 0:
        bpy.data.movieclips.remove(clip)
    if rate_hz <= 0.0 or not image.size[0]:
        if image.users == 0:
            bpy.data.images.remove(image)
        raise TakeError(f"{file} is no film that Blender can show. Choose an MP4, MOV, AVI, MKV or WEBM file.")
    return image, rate_hz


def put_film(scene: Scene, clip: Clip, timing: Timing) -> None:
    """Let a film play in step with the take, as a picture in the scene. Raises TakeError."""
    _require(clip, "The film")
    image, rate_hz = read_film(clip.file)
    item = bpy.data.objects.new("Reference film", None)
    item.empty_display_type, item.data = "IMAGE", image
    remove_film(scene)
    item[MARK] = "film"
    item.empty_image_depth, item.empty_image_side = "FRONT", "FRONT"
    item.hide_select = True
    scene.collection.objects.link(item)
    user = item.image_user
    user.frame_start, user.frame_duration, user.use_auto_refresh = timing.frame_start, _NO_END, True
    frames, offsets = _offsets(clip.at_s, rate_hz, image.frame_duration, timing)
    key(compat.curves_of(item, item.name), "image_user.frame_offset", 0, frames, offsets)


def _offsets(at_s: float, rate_hz: float, count: int, timing: Timing) -> tuple[Floats, Floats]:
    """Frames of the scene, and what the film's frame (from 1) lies apart from the scene's (from 1) there; straight in between.

    Blender takes the whole part of it, toward 0. Before it begins and after its end the film stands still.
    """
    ends = np.array([-at_s, -at_s + count / rate_hz]) * timing.rate_hz
    inside = [end for end in ends if 0.0 < end < timing.frames - 1]
    own = np.unique([0.0, *inside, timing.frames - 1.0])
    film = np.clip((own / timing.rate_hz + at_s) * rate_hz + 1.0, 1.0, float(count))
    apart = film - (own + 1.0)
    # Towards 0 is up where the film is behind the scene's own count: a frame less there.
    return own + timing.frame_start, np.where(apart < 0.0, apart - 1.0, apart)


def show_in_picture(scene: Scene, camera: bpy.types.Object) -> None:
    """Hang the film in the lower left of a camera's picture, beside the dancer and below the caption."""
    item = film_in(scene)
    if item is None:
        return
    half_width, half_height = half_picture(camera, scene.render.resolution_x / scene.render.resolution_y)
    width, height = (float(side) for side in item.data.size)
    scale = min(2.0 * half_width * _WIDTH / width, 2.0 * half_height * _HEIGHT / height)
    item.parent = camera
    # A corner of the picture, which is shifted so that the dancer stands beside the words.
    left = half_width * (2.0 * optics(camera).shift_x - 0.95)
    item.empty_display_size = max(width, height) * scale
    item.empty_image_offset = (0.0, 0.0)
    item.rotation_euler = (0.0, 0.0, 0.0)
    item.location = (left, -0.92 * half_height, -DEPTH_M)


def show_in_room(scene: Scene, place: tuple[float, float, float], eye: Any) -> None:
    """Stand the film upright in the room beside the dancer's place, turned to the eye."""
    item = film_in(scene)
    if item is None:
        return
    away = Vector((eye[0] - place[0], eye[1] - place[1], 0.0))
    away = away.normalized() if away.length > 1e-3 else Vector((0.0, -1.0, 0.0))
    right = of_kind(Vector((0.0, 0.0, 1.0)).cross(away), Vector)
    width, height = (float(side) for side in item.data.size)
    item.parent = None
    item.empty_display_size = _TALL_M * max(width, height) / height
    item.empty_image_offset = (-0.5, 0.0)
    turned = Matrix((right.to_tuple(), (0.0, 0.0, 1.0), away.to_tuple())).transposed().to_euler()
    item.rotation_euler = turned
    item.location = Vector((place[0], place[1], 0.0)) + right * (_BESIDE_M + 0.5 * (_TALL_M * width / height - 1.0))


def remove(scene: Scene, kind: Kind) -> None:
    """Take music or film away."""
    (remove_music if kind == "music" else remove_film)(scene)


def put(scene: Scene, kind: Kind, clip: Clip, timing: Timing) -> None:
    """Let music or film play in step with the take. Raises TakeError."""
    (put_music if kind == "music" else put_film)(scene, clip, timing)
