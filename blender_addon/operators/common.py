"""What the operators share: words instead of tracebacks, and polls that say why."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import bpy

from .. import state as states
from .. import trouble
from ..analysis_core.errors import InTheRoundError
from ..analysis_core.wording import unavailable
from ..blender_types import Ended, there
from ..properties import state_of
from ..saving import save_soon


def has_review(operator: Any, context: bpy.types.Context) -> bool:
    """Poll: this scene shows a review."""
    if context.scene is None or not state_of(context).take_name:
        operator.poll_message_set(unavailable.NO_REVIEW)
        return False
    if there(context.scene).library is not None or there(context.scene).override_library is not None:
        operator.poll_message_set(unavailable.LINKED_SCENE)
        return False
    return True


def has_chosen(operator: Any, context: bpy.types.Context) -> bool:
    """Poll: a correction is chosen."""
    if not has_review(operator, context):
        return False
    if states.chosen(state_of(context)) is None:
        operator.poll_message_set(unavailable.NOTHING_CHOSEN)
        return False
    return True


def refused(operator: Any, error: InTheRoundError, where: Sequence[str] = ()) -> Ended:
    """End of an operator that could not do it: say why, and keep a report that can be sent. where: as ``trouble.remember``."""
    trouble.remember(error, where)
    operator.report({"ERROR"}, str(error))
    return {"CANCELLED"}


def decided(operator: Any, context: bpy.types.Context) -> Ended:
    """End of an operator that changed a decision: write it beside the take, warn when that fails."""
    failure = save_soon(context, state_of(context))
    if failure:
        operator.report({"WARNING"}, failure)
    return {"FINISHED"}
