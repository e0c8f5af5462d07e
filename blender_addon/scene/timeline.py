"""The take's time in Blender: rate, range, and a marker for each correction."""

from __future__ import annotations

from typing import Any

from .. import state as states
from ..analysis_core.body.movement import Movement, frame_at
from ..analysis_core.findings.finding import Finding

FRAME_START = 1
#: Blender cuts names here.
_LONGEST_NAME = 63


def set_rate(scene: Any, rate_hz: float) -> None:
    """One frame for each sample, played in real time, dropping pictures where the machine is too slow."""
    scene.render.fps = max(round(rate_hz), 1)
    scene.render.fps_base = scene.render.fps / rate_hz
    scene.sync_mode = "FRAME_DROP"


def set_range(scene: Any, frames: int) -> None:
    """Sample i lies on FRAME_START + i."""
    scene.frame_start, scene.frame_end = FRAME_START, FRAME_START + frames - 1
    scene.frame_set(FRAME_START)


def marker_name(finding: Finding) -> str:
    """Id and fault, as many bytes as Blender keeps."""
    name = f"{finding.id} {states.plain_words(finding.fault)}".encode()[:_LONGEST_NAME]
    return name.decode(errors="ignore")


def add_markers(scene: Any, findings: tuple[Finding, ...], movement: Movement) -> list[str]:
    """A marker at each finding's peak; return their names.

    Their cameras are not bound to them: a bound marker would take the camera over for all that follows it.
    """
    names = []
    for finding in findings:
        names.append(marker_name(finding))
        scene.timeline_markers.new(names[-1], frame=FRAME_START + frame_at(movement, finding.peak_s))
    return names
