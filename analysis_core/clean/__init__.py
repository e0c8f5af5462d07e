"""Gaps, swaps, spikes, smoothing, trust: from a Take to a CleanedTake and a verdict."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..on_demand import on_demand

if TYPE_CHECKING:
    from .cleaning import clean_take
    from .verdict import judge_capture, mix_ups

__all__ = ["clean_take", "judge_capture", "mix_ups"]

# A review is read for its words on the capture; nothing is cleaned then.
__getattr__, __dir__ = on_demand(
    __name__,
    {
        "clean_take": ("cleaning", "clean_take"),
        "judge_capture": ("verdict", "judge_capture"),
        "mix_ups": ("verdict", "mix_ups"),
    },
)
