"""Sentences in panels: broken into lines that fit, because a label is cut off otherwise."""

from __future__ import annotations

import textwrap
from typing import Any

#: Average width of a letter in Blender's interface font, pixels at a scale of 1.
_LETTER = 6.3
_MARGIN = 46.0


def letters(context: Any, indent: float = 0.0) -> int:
    """How many letters fit into a line of the region that is drawn."""
    scale = context.preferences.system.ui_scale
    width = context.region.width / scale if context.region else 300.0
    return max(int((width - _MARGIN - indent) / _LETTER), 16)


def sentence(layout: Any, context: Any, text: str, icon: str = "NONE", indent: float = 0.0) -> None:
    """Draw a sentence in as many lines as it needs; the icon stands before the first."""
    column = layout.column(align=True)
    column.scale_y = 0.8
    has_icon = icon != "NONE"
    for number, line in enumerate(textwrap.wrap(text, letters(context, indent + 20.0 * has_icon)) or [""]):
        if has_icon:
            column.label(text=line, icon=icon if number == 0 else "BLANK1")
        else:
            column.label(text=line)
