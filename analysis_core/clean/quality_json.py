"""The ``quality`` object of review.json and of ``check --json``, and back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from ..plain_data import Entries, entry, read_as
from .quality import MarkerQuality, Quality

#: The ways of filling as the contract calls them, and their fields.
_FILLED = {"own path": "filled_own_path", "body part": "filled_body_part", "whole body": "filled_whole_body"}


def _marker_to_json(marker: MarkerQuality) -> dict[str, Any]:
    return {
        "label": marker.label,
        "landmark": marker.landmark,
        "missing_fraction": marker.missing_fraction,
        "longest_gap_s": marker.longest_gap_s,
        "filled": {name: getattr(marker, field) for name, field in _FILLED.items()},
    }


def _marker_from_json(data: Mapping[str, Any]) -> MarkerQuality:
    filled = entry(data, "filled", Entries)
    return read_as(MarkerQuality, data, **{field: entry(filled, name, float) for name, field in _FILLED.items()})


def quality_to_json(quality: Quality) -> dict[str, Any]:
    """The ``quality`` object of the contract."""
    return {
        "verdict": quality.verdict,
        "reasons": list(quality.reasons),
        "missing_fraction": quality.missing_fraction,
        "markers": [_marker_to_json(marker) for marker in quality.markers],
        "events": [asdict(event) for event in quality.events],
    }


def quality_from_json(data: Mapping[str, Any]) -> Quality:
    """The verdict back from the contract's object; unknown fields are passed over."""
    markers = entry(data, "markers", tuple[Entries, ...])
    return read_as(Quality, data, markers=tuple(map(_marker_from_json, markers)))
