"""Keys in the 3D view: Page Down and Page Up go through the corrections."""

from __future__ import annotations

from typing import Any, Literal

import bpy

from .blender_types import there

#: Key and direction. Kept by value: references to keymap items would not survive a reload of the keymaps.
_KEYS: tuple[tuple[Literal["PAGE_DOWN", "PAGE_UP"], str], ...] = (("PAGE_DOWN", "NEXT"), ("PAGE_UP", "PREVIOUS"))
_OPERATOR = "dance_review.step"


def register() -> None:
    """Add the keys; in background there are none."""
    keyconfig = there(bpy.context.window_manager).keyconfigs.addon
    if keyconfig is None:
        return
    keymap = keyconfig.keymaps.new(name="3D View", space_type="VIEW_3D")
    for key, direction in _KEYS:
        item = keymap.keymap_items.new(_OPERATOR, key, "PRESS")
        properties: Any = item.properties  # of an operator that Blender's types do not know
        properties.direction = direction


def unregister() -> None:
    """Take them away again."""
    keyconfig = there(bpy.context.window_manager).keyconfigs.addon
    keymap = keyconfig.keymaps.get("3D View") if keyconfig else None
    if keymap is None:
        return
    for item in [item for item in keymap.keymap_items if item.idname == _OPERATOR]:
        keymap.keymap_items.remove(item)
