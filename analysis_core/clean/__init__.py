"""Gaps, swaps, spikes, smoothing, trust: from a Take to a CleanedTake and a verdict."""
