"""The only file that knows Blender versions: 4.5 LTS to 5.2 LTS."""

from __future__ import annotations

import ctypes
import sys
from typing import Any

import bpy

from .blender_types import of_kind

#: The quick engines end the process without these.
_NEEDED_TO_DRAW = "libEGL.so.1"
_FEW_SAMPLES = 8
_IS_5 = bpy.app.version >= (5, 0, 0)
EEVEE = "BLENDER_EEVEE" if _IS_5 else "BLENDER_EEVEE_NEXT"


def curves_of(datablock: Any, name: str) -> Any:
    """Give a datablock an action of its own; return the collection that takes its curves."""
    action = bpy.data.actions.new(name)
    slot = action.slots.new(id_type=datablock.id_type, name=name)
    strip = of_kind(action.layers.new("Layer").strips.new(type="KEYFRAME"), bpy.types.ActionKeyframeStrip)
    data = datablock.animation_data_create()
    data.action = action
    data.action_slot = slot
    return strip.channelbag(slot, ensure=True).fcurves


def can_draw() -> bool:
    """Whether Workbench and EEVEE can render here; without libEGL they would end the process."""
    if not sys.platform.startswith("linux"):
        return True
    try:
        ctypes.CDLL(_NEEDED_TO_DRAW)
    except OSError:
        return False
    return True


def choose_engine(scene: Any) -> str:
    """Set a scene to the quickest engine that can draw here; return its name.

    Without the graphics libraries that is Cycles with few samples.
    """
    if can_draw():
        scene.render.engine = "BLENDER_WORKBENCH"
        return "Workbench"
    scene.render.engine = "CYCLES"
    scene.cycles.samples = _FEW_SAMPLES
    scene.cycles.use_denoising = False
    scene.cycles.use_adaptive_sampling = False
    return "Cycles"


def strips_of(editor: Any) -> Any:
    """The strips of a sequence editor."""
    return editor.strips if hasattr(editor, "strips") else editor.sequences


def new_effect(editor: Any, name: str, kind: str, channel: int, pictures: int, source: Any = None) -> Any:
    """An effect strip over so many pictures from the first one on."""
    given = {} if source is None else {"input1": source}
    length = {"length": pictures} if _IS_5 else {"frame_end": 1 + pictures}
    return strips_of(editor).new_effect(name=name, type=kind, channel=channel, frame_start=1, **length, **given)


def unstamped(scene: Any) -> None:
    """Let pictures and films of a scene say nothing of where and when they were made."""
    scene.render.use_stamp = False
    for name in ("date", "time", "frame", "camera", "scene", "filename", "render_time", "hostname", "memory", "note", "lens"):
        setattr(scene.render, f"use_stamp_{name}", False)


def write_pictures(scene: Any) -> None:
    """Set a scene's output to PNG pictures without an alpha channel."""
    image = scene.render.image_settings
    if _IS_5:
        image.media_type = "IMAGE"
    image.file_format = "PNG"
    image.color_mode, image.color_depth = "RGB", "8"


def write_film(scene: Any, *, sound: bool = False) -> None:
    """Set a scene's output to an MP4 film with H.264, and AAC where there is sound."""
    image = scene.render.image_settings
    if _IS_5:
        image.media_type = "VIDEO"
    image.file_format = "FFMPEG"
    film = scene.render.ffmpeg
    film.format = "MPEG4"
    film.codec = "H264"
    # A tenth of what "HIGH" and "REALTIME" write, for the same eye: small enough to be sent to a phone.
    film.constant_rate_factor = "MEDIUM"
    film.ffmpeg_preset = "GOOD"
    film.gopsize = 48
    film.audio_codec = "AAC" if sound else "NONE"
    film.audio_bitrate = 128


def new_curve(curves: Any, path: str, index: int, group: str) -> Any:
    """A curve of an action; in a group of its own name where this Blender can group the curves of a slot as they are made."""
    if _IS_5:
        return curves.new(path, index=index, group_name=group)
    return curves.new(path, index=index)
