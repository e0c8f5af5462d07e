"""The take's time in Blender: rate, range, and a marker for each correction."""

from __future__ import annotations

from collections.abc import Sequence

from bpy.types import Scene

from ..analysis_core.body.movement import Movement
from ..analysis_core.findings.finding import Finding
from ..analysis_core.wording.names import fault_title

FRAME_START = 1
#: Blender cuts names here.
_LONGEST_NAME = 63
#: What a timeline that shows the whole take has room for: a letter, and the sign and the air of a marker, as shares of its width.
#: Measured in a window of 1600 pixels; a wider one has more room.
_LETTER, _SIGN = 6.2 / 1500, 26.0 / 1500
#: So much as a share of the take is seen after its end.
_AFTER_THE_END = 0.025


def set_rate(scene: Scene, rate_hz: float) -> None:
    """One frame for each sample, played in real time, dropping pictures where the machine is too slow."""
    scene.render.fps = max(round(rate_hz), 1)
    scene.render.fps_base = scene.render.fps / rate_hz
    scene.sync_mode = "FRAME_DROP"


def set_range(scene: Scene, frames: int) -> None:
    """Sample i lies on FRAME_START + i."""
    scene.frame_start, scene.frame_end = FRAME_START, FRAME_START + frames - 1
    scene.frame_set(FRAME_START)


def marker_name(finding: Finding, room: int = _LONGEST_NAME) -> str:
    """Id and fault, or as many of its words as there is room for and Blender keeps; the id alone always."""
    words = fault_title(finding.fault).split()
    for count in range(len(words), 0, -1):
        name = " ".join([finding.id, *words[:count]]) + ("" if count == len(words) else "…")
        if len(name) <= room and len(name.encode()) <= _LONGEST_NAME:
            return name
    return finding.id


def marker_names(findings: Sequence[Finding], peaks: Sequence[int], frames: int) -> list[str]:
    """The names of the markers on the frames ``peaks``: none runs into the next marker while the whole take is looked at."""
    after = [*sorted(peaks), FRAME_START + round((1.0 + _AFTER_THE_END) * frames)]
    names = []
    for finding, peak in zip(findings, peaks, strict=True):
        gap = next(other for other in after if other > peak) - peak
        names.append(marker_name(finding, int((gap / frames - _SIGN) / _LETTER)))
    return names


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


def add_markers(scene: Scene, findings: tuple[Finding, ...], movement: Movement) -> list[str]:
    """A marker at each finding's peak; return their names.

    Their cameras are not bound to them: a bound marker would take the camera over for all that follows it.
    """
    peaks = peak_frames(findings, movement.rate_hz, (FRAME_START, FRAME_START + movement.frames - 1))
    names = marker_names(findings, peaks, movement.frames)
    for name, frame in zip(names, peaks, strict=True):
        scene.timeline_markers.new(name, frame=frame)
    return names
