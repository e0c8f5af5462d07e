"""Who follows when a value of the panels is changed, from when the add-on is enabled until it is disabled."""

from __future__ import annotations

from typing import Any

import bpy

from . import beside, properties, second_take, walk
from .changes import Change


def _show_difference(context: bpy.types.Context, second: properties.DanceReviewSecond) -> None:
    second_take.show_difference(second)
    if 0 <= second.chosen < len(second.differences):
        walk.leave_correction(context, properties.review_of(properties.scene_of(second)))


def register() -> None:
    """Name them."""
    properties.CHOSEN.followed_by(walk.show_chosen)
    properties.DISPLAY.followed_by(walk.apply_display)
    properties.SPEED.followed_by(lambda _, state: walk.apply_speed(state))
    properties.DIFFERENCE.followed_by(_show_difference)
    properties.MOVED.followed_by(lambda _, clip: beside.move(clip))


def unregister() -> None:
    """Nobody follows."""
    changes: tuple[Change[Any], ...] = (
        properties.CHOSEN, properties.DISPLAY, properties.SPEED, properties.DIFFERENCE, properties.MOVED
    )  # fmt: skip
    for change in changes:
        change.followed_by(None)
