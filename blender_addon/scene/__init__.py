"""What Blender is given: figure, colours, timeline, cameras, captions, stage, turntable."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..analysis_core.on_demand import on_demand

if TYPE_CHECKING:
    from .build import build_scene, remove_review

__all__ = ["build_scene", "remove_review"]

# The animator's file is made of none of what shows a review, and does not wait for it.
__getattr__, __dir__ = on_demand(__name__, {name: ("build", name) for name in __all__})
