"""Gaps, swaps, spikes, smoothing, trust: from a Take to a CleanedTake and a verdict."""

from __future__ import annotations

from .cleaning import clean_take
from .verdict import judge_capture

__all__ = ["clean_take", "judge_capture"]
