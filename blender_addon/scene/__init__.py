"""What Blender is given: figure, colours, timeline, cameras, captions, stage, turntable."""

from .build import build_scene, remove_review

__all__ = ["build_scene", "remove_review"]
