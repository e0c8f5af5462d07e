"""Entries in Blender's own menus."""

from typing import Any

import bpy

from .blender_types import there


def _import_entry(self: Any, context: bpy.types.Context) -> None:
    there(self.layout).operator("dance_review.open_take", text="Dance Take (.c3d, .bvh)")


def register() -> None:
    """Add the entries."""
    bpy.types.TOPBAR_MT_file_import.append(_import_entry)


def unregister() -> None:
    """Take them away again."""
    bpy.types.TOPBAR_MT_file_import.remove(_import_entry)
