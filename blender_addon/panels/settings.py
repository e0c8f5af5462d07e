"""The settings of a review, drawn alike in the file browser and in the sidebar."""

from __future__ import annotations

from typing import Any


def _optional(layout: Any, owner: Any, use: str, value: str, heading: str) -> None:
    row = layout.row(heading=heading)
    row.prop(owner, use, text="")
    sub = row.row()
    sub.enabled = getattr(owner, use)
    sub.prop(owner, value, text="")


def draw_settings(layout: Any, owner: Any) -> None:
    """Level, static take and music first; what is usually found in the recording below."""
    layout.use_property_split = True
    layout.use_property_decorate = False
    column = layout.column()
    column.prop(owner, "level")
    column.prop(owner, "static")
    _optional(column, owner, "use_tempo", "tempo", "Tempo")
    if owner.use_tempo:
        column.prop(owner, "offset")
    column = layout.column()
    column.prop(owner, "person")
    column.prop(owner, "landmarks")
    column.prop(owner, "up")
    column.prop(owner, "unit")
    _optional(column, owner, "use_rate", "rate", "Frame Rate")
