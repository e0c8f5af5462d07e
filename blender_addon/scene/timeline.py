"""The take's time in Blender: rate, range, and a marker for each correction."""

from __future__ import annotations

from typing import Any

from ..analysis_core.body.movement import Movement
from ..analysis_core.findings.finding import Finding
from ..analysis_core.wording.names import fault_title

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
    name = f"{finding.id} {fault_title(finding.fault)}".encode()[:_LONGEST_NAME]
    return name.decode(errors="ignore")


def peak_frames(findings: tuple[Finding, ...], rate_hz: float, frames: tuple[int, int]) -> list[int]:
    """The frame of each finding's peak, no two alike: of those that peak together the worst keeps it, the others follow it, a
    frame apart, or go before it at the end of the take."""
    order = sorted(range(len(findings)), key=lambda index: (findings[index].peak_s, -findings[index].severity))
    result = [0] * len(findings)
    taken: set[int] = set()
    for index in order:
        frame = min(max(frames[0] + round(findings[index].peak_s * rate_hz), frames[0]), frames[1])
        free = next((f for f in range(frame, frames[1] + 1) if f not in taken), None)
        if free is None:
            free = next((f for f in range(frame, frames[0] - 1, -1) if f not in taken), frame)
        taken.add(free)
        result[index] = free
    return result


def add_markers(scene: Any, findings: tuple[Finding, ...], movement: Movement) -> list[str]:
    """A marker at each finding's peak; return their names.

    Their cameras are not bound to them: a bound marker would take the camera over for all that follows it.
    """
    names = [marker_name(finding) for finding in findings]
    peaks = peak_frames(findings, movement.rate_hz, (FRAME_START, FRAME_START + movement.frames - 1))
    for name, frame in zip(names, peaks, strict=True):
        scene.timeline_markers.new(name, frame=frame)
    return names
