"""How bad a correction is, as a small ring beside its name.

Blender's own ring is filled with the theme's colour of what is chosen, and cannot be seen on the chosen row.
"""

from __future__ import annotations

from typing import Any

import bpy
import bpy.utils.previews
import numpy as np

from ..analysis_core.figure import palette
from ..analysis_core.take import Floats

#: Pixels of an icon; radii of its hole, of its ring and of the rim round it, as shares of half of that.
_SIZE = 32
_HOLE, _RING, _RIM = 0.40, 0.78, 0.94
#: So many fillings are told apart at the size of a line.
_STEPS = 8
_icons: list[Any] = []


def pixels_of(share: float, fault: bool) -> Floats:
    """A ring (size, size, 4) between light rims, filled to a share from the top on, clockwise, as a body part is: to watch light
    amber on dark, to correct first dark magenta on light, so that both are told and measured without any colour."""
    colour, rest = (palette.FAULT, palette.RIM) if fault else (palette.WATCH, palette.REFERENCE)
    line = (np.arange(_SIZE) + 0.5) / _SIZE * 2.0 - 1.0
    right, up = np.meshgrid(line, line)
    radius, turned = np.hypot(right, up), np.arctan2(right, up) % (2.0 * np.pi) / (2.0 * np.pi)
    edge = 2.0 / _SIZE

    def within(limit: float) -> Floats:
        return np.clip((limit - radius) / edge + 0.5, 0.0, 1.0)

    rim = within(_RIM) - within(_HOLE - (_RIM - _RING))
    ring = within(_RING) - within(_HOLE)
    filled = np.where(turned < share, 1.0, 0.0)[..., None]
    inside = filled * palette.on_screen(colour) + (1.0 - filled) * palette.on_screen(rest)
    pixels = np.empty((_SIZE, _SIZE, 4))
    pixels[..., :3] = ring[..., None] * inside + (1.0 - ring[..., None]) * palette.on_screen(palette.RIM)
    pixels[..., 3] = rim
    return pixels


def icon_of(severity: float, grade: str) -> int:
    """The icon's number for a severity of 0 to 1; 0, no icon, where there is no window. grade: "fault", or anything milder."""
    step = max(round(severity * _STEPS), 1)
    return int(_icons[0][f"{grade == 'fault'}{step}"].icon_id)


def register() -> None:
    """Make all icons."""
    made = bpy.utils.previews.new()
    for fault in (False, True):
        for step in range(1, _STEPS + 1):
            icon = made.new(f"{fault}{step}")
            icon.icon_size = (_SIZE, _SIZE)
            pixels: Any = icon  # whose pixels Blender's types take for a number
            pixels.icon_pixels_float = pixels_of(step / _STEPS, fault).ravel()
    _icons.append(made)


def unregister() -> None:
    """Take them away again."""
    while _icons:
        bpy.utils.previews.remove(_icons.pop())
