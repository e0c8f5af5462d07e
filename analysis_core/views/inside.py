"""How a moment would look at the edge of its band: the same body with few joints turned, feet where they were.

An illustration, never a measurement and never a prescription: nobody danced it. It goes from what was measured towards what the
dancer showed (standing, her own demi-plié, relevé, stretched foot, the other leg), and is left away where she showed nothing
that goes so far.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..body.anatomy import LEG_JOINTS
from ..body.geometry import UP
from ..body.movement import SEGMENTS, SIDES, SUFFIXES, Movement, arch_between
from ..findings.evidence import Evidence
from ..findings.finding import Finding
from ..review import Review
from .drawing import Drawing, Sweep
from .inside_moves import MOVES, Asked, knee_direction
from .measures import drawing_of
from .moment import normed, sweep_between
from .pose import Pose
from .seen import Seen, observation_of


@dataclass(frozen=True)
class Inside:
    """A pose at the edge of the band. frame: of the take, whose moment it stands for; parts: segments that were turned."""

    finding: str
    frame: int
    pose: Pose
    parts: tuple[str, ...]


def change_to_edge(finding: Finding) -> float | None:
    """How far the number has to go to the nearest edge of its band, in its unit; None within it."""
    low, high = finding.band
    if high is not None and finding.value > high:
        return high - finding.value
    if low is not None and finding.value < low:
        return low - finding.value
    return None


def inside_of(finding: Finding, review: Review, evidence: Evidence | None = None) -> Inside | None:
    """The body at the edge of a finding's band at its decisive moment.

    None where the fault has no pose, the number is inside, the body was not seen, the legs do not reach, or the dancer showed
    nothing that goes so far. evidence: of the review, where many findings are asked for.
    """
    move = MOVES.get((finding.fault, finding.measure))
    change = change_to_edge(finding)
    if move is None or change is None:
        return None
    evidence = evidence or Evidence(review.movement, review.phrase)
    seen = Seen(finding, evidence, observation_of(finding, evidence))
    drawing = drawing_of(finding, review, evidence)
    before = Pose.of(review.movement, seen.frame)
    if drawing is None or not all(np.isfinite(a).all() for a in (before.joints, before.rotations, before.feet, before.mass)):
        return None
    sweep = _measured_sweep(drawing)
    turn = 0.0 if sweep is None else np.radians(change) * float(np.sign(sweep.angle_rad * finding.value))
    pose = move(Asked(seen, before, change, turn, sweep))
    if pose is None or not _shown_by_the_dancer(seen, before, pose):
        return None
    apart = np.abs(pose.rotations - before.rotations).max(axis=(1, 2))
    parts = tuple(SEGMENTS[row] for row in np.flatnonzero(apart > 1e-4))
    return Inside(finding.id, seen.frame, pose, parts)


def _measured_sweep(drawing: Drawing) -> Sweep | None:
    if drawing.reading != "angle":
        return None
    return next((shape for shape in drawing.shapes if isinstance(shape, Sweep) and shape.role == "measured"), None)


def _bend(pose: Pose, side: str) -> float:
    hip, knee, ankle = (pose.joint(name, side) for name in LEG_JOINTS)
    return float(np.arccos(np.clip(normed(knee - hip) @ normed(ankle - knee), -1, 1)))


def _shown_by_the_dancer(seen: Seen, before: Pose, after: Pose) -> bool:
    """Whether no knee bends further and no leg turns out further than the dancer did somewhere in the take."""
    movement = seen.evidence.movement
    for side, suffix in SUFFIXES.items():
        most = float(np.nanmax(np.abs(movement.angle("knee_flexion" + suffix))))
        if _bend(after, side) > max(most, _bend(before, side)) + np.radians(1.0):
            return False
        shown = movement.angle("knee_turnout" + suffix)
        if not np.isfinite(shown).any():
            continue
        out = 1.0 if side == "left" else -1.0
        turned = out * sweep_between(knee_direction(before, side), knee_direction(after, side), UP)
        now = float(shown[seen.frame])
        if np.isfinite(now) and turned > 0 and now + turned > float(np.nanmax(shown)) + np.radians(1.0):
            passive = float(movement.standing.passive_turnout_rad[SIDES.index(side)])
            if not (np.isfinite(passive) and now + turned <= passive):
                return False
    return True


#: A pose is held so long, so that what a figure smooths over time sees nothing else, seconds.
_HELD_S = 0.5


def held_after(movement: Movement, shown: tuple[Inside, ...]) -> tuple[Movement, tuple[int, ...]]:
    """The movement with every pose held after its end, for a figure that is to be shown in them; and a frame of each pose."""
    held = max(round(_HELD_S * movement.rate_hz), 1)
    rows = np.repeat([item.frame for item in shown], held).astype(np.int64)
    order = np.concatenate([np.arange(movement.frames), rows])
    fields = (
        "joint_centres_m", "segment_rotations", "segment_origins_m", "angles_rad", "foot_points_m", "foot_heights_m",
        "arch_heights_m", "ground_m",
        "centre_of_mass_m", "centre_of_mass_share", "trust", "joint_error_m", "joint_source", "segment_residual_m",
    )  # fmt: skip
    longer = {name: getattr(movement, name)[order] for name in fields}
    for number, item in enumerate(shown):
        part = slice(movement.frames + number * held, movement.frames + (number + 1) * held)
        lifted = item.pose.feet[..., 2] - movement.foot_points_m[item.frame, ..., 2]
        longer["joint_centres_m"][part], longer["segment_rotations"][part] = item.pose.joints, item.pose.rotations
        longer["segment_origins_m"][part], longer["foot_points_m"][part] = item.pose.origins, item.pose.feet
        longer["foot_heights_m"][part] += lifted
        longer["arch_heights_m"][part] += arch_between(lifted)
    frames = tuple(movement.frames + number * held + held // 2 for number in range(len(shown)))
    return replace(movement.alone(), time_s=np.arange(order.size) / movement.rate_hz, **longer), frames
