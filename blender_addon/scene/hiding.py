"""Hiding what belongs together, from views and pictures."""

from __future__ import annotations

from bpy.types import Collection


def hide(collection: Collection, *, hidden: bool) -> None:
    """Hide a collection or show it. What stays as it is is not told: Blender would go through the whole scene again."""
    for name in ("hide_viewport", "hide_render"):
        if getattr(collection, name) != hidden:
            setattr(collection, name, hidden)
