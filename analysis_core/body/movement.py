"""The dancer in motion: what the body model makes of a cleaned take."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..take import CleanedTake, Floats, Kind
from ..wording import capture as say
from .anatomy import FOOT_POINTS as FOOT_POINTS
from .anatomy import JOINTS as JOINTS
from .anatomy import SEGMENTS as SEGMENTS
from .anatomy import SIDE_SIGNS as SIDE_SIGNS
from .anatomy import SIDE_SUFFIXES
from .anatomy import SIDES as SIDES
from .anatomy import SUFFIXES as SUFFIXES
from .geometry import reject
from .landmarks import Recognition

if TYPE_CHECKING:
    # Who reads a movement back needs nothing of what builds a body.
    from .calibration import Functional

_SIDED_ANGLES = (
    "hip_flexion",
    "hip_abduction",
    "knee_flexion",
    "ankle_dorsiflexion",
    "foot_turnout",
    "knee_turnout",
    "leg_elevation",
    "leg_azimuth",
    "plantarflexion",
    "foot_deviation",
    "frontal_knee",
    "elbow_flexion",
)
ANGLES = (
    *(f"{name}{suffix}" for suffix in SIDE_SUFFIXES for name in _SIDED_ANGLES),
    "pelvis_yaw",
    "pelvis_tilt",
    "pelvis_obliquity",
    "trunk_pitch",
    "trunk_roll",
    "shoulder_roll",
    "thorax_yaw",
    "thorax_extension",
    "thorax_side_bend",
    "thorax_twist",
    "head_yaw",
    "head_pitch",
    "head_roll",
    "head_heading",
)

#: Angles that are told, to people and in files, as a change from standing (catalogue: minus static).
FROM_STANDING = (
    "pelvis_tilt", "thorax_extension", "thorax_side_bend", "thorax_twist", "head_pitch", "head_roll", "head_yaw",
    "foot_deviation.L", "foot_deviation.R",
)  # fmt: skip


#: A foot that stands further stretched than this (cosine of its plantarflexion) does not show how its leg is turned.
_LEAST_ACROSS = 0.3
#: A dancer whose knees are bent further than this is not standing but crouching or about to move. Proposed default.
_CROUCHED_RAD = np.radians(15.0)


@dataclass(frozen=True)
class Standing:
    """The dancer's own reference, from the static take, a skeleton's rest pose, or a moment of standing in the phrase.

    from_static: False when there was no static take (then every ± is wider). angles_rad: median of every angle of
    ANGLES while standing. leg_length_m, shank_length_m, thigh_length_m, foot_length_m, stature_m: medians, NaN when unknown.
    demi_plie_rad, releve_m, pointed_rad: the dancer's own greatest knee bend with heels down, heel height and
    plantarflexion, each (2,) left, right; NaN where nothing shows it.
    """

    from_static: bool
    angles_rad: dict[str, float]
    leg_length_m: float
    thigh_length_m: float
    shank_length_m: float
    foot_length_m: float
    stature_m: float
    demi_plie_rad: Floats
    releve_m: Floats
    pointed_rad: Floats
    #: Shoulder above the base of the neck along the upright axis of the thorax (2,), left, right, metres.
    shoulder_height_m: Floats = field(default_factory=lambda: np.full(2, np.nan))
    #: Passive turnout (outward rotation of the hip) that was measured by hand, (2,), left, right, radians; NaN when not given.
    passive_turnout_rad: Floats = field(default_factory=lambda: np.full(2, np.nan))

    #: There was a standing to count changes from: a static take, a skeleton's rest pose, or a moment of the phrase.
    neutral: bool = True

    @property
    def why_no_changes(self) -> str | None:
        """Why changes from standing cannot be told; None when they can."""
        if self.crouched:
            return say.CROUCHED
        if not self.neutral:
            return say.NOBODY_STANDS
        return None

    def angle(self, name: str) -> float:
        """One angle of ANGLES while standing, radians; 0 where it is not known, so that nothing is taken off."""
        return float(np.nan_to_num(self.angles_rad.get(name, 0.0)))

    def part_of(self, name: str, angles: Floats) -> Floats:
        """How much (F,) of one angle of ANGLES among angles (F, A) is the dancer's own way of standing, radians.

        Ankle markers that turn a shank about its length turn a stretched foot less: by the cosine of its plantarflexion.
        """
        part = np.full(angles.shape[0], self.angle(name))
        if name.startswith("foot_deviation"):
            bent = "plantarflexion" + name[-2:]
            across = np.cos(angles[:, ANGLES.index(bent)]) / max(float(np.cos(self.angle(bent))), _LEAST_ACROSS)
            part *= np.nan_to_num(across, nan=1.0)
        return part

    @property
    def crouched(self) -> bool:
        """Whether a knee is so bent that this is no standing to count changes from; knees that are not known do not say so."""
        return any(self.angles_rad.get("knee_flexion" + suffix, np.nan) > _CROUCHED_RAD for suffix in SIDE_SUFFIXES)


@dataclass(frozen=True)
class Recording:
    """What a movement was made from. standing: place (3,) of every landmark while the dancer stood still; functional: what the
    movement itself told of the body; misplaced: what sits elsewhere than its name says, in sentences."""

    cleaned: CleanedTake
    recognition: Recognition
    standing: dict[str, Floats]
    functional: Functional | None = None
    misplaced: tuple[str, ...] = ()


@dataclass(frozen=True)
class Movement:
    """Joint centres, segment frames, angles, feet and centre of mass of every frame. Z up, floor at 0, NaN = not known.

    Joints: hip, knee, ankle, shoulder, elbow, wrist are joint centres; hand the third metacarpal head; heel the back of the
    calcaneus, toe the tip of the big toe; pelvis the middle of the hips, lumbar the lumbosacral joint, neck the middle
    between seventh cervical vertebra and suprasternal notch, head the centre of the head.

    time_s (F,). joint_centres_m (F, J, 3) in the order of JOINTS. segment_rotations (F, S, 3, 3) in the order of SEGMENTS:
    columns are the segment's axes in the laboratory: X forward, Y up along the segment towards the body, Z to the
    dancer's right (both sides). segment_origins_m (F, S, 3): proximal end. angles_rad (F, A) in the order of ANGLES, signs:
    hip_flexion, hip_abduction, knee_flexion (negative = past straight), ankle_dorsiflexion, elbow_flexion positive as named;
    foot_turnout and knee_turnout positive outward from the pelvis' forward (knee_turnout NaN below 25° of bend);
    leg_elevation from hanging (0) to overhead (180°), leg_azimuth outward from forward; plantarflexion 0 with the foot at
    a right angle to the shank; foot_deviation positive winged, negative sickled; frontal_knee positive inside; pelvis_yaw,
    thorax_yaw and head_heading unwrapped, positive turning to the left, NaN where a tilted segment has no heading and the whole
    body does not tell it; pelvis_tilt positive tipped forward;
    pelvis_obliquity, shoulder_roll positive with the right side up; trunk_pitch positive forward, trunk_roll positive to right;
    thorax_extension, _side_bend, _twist and head_pitch (chin up), head_roll, head_yaw: ISB Z-X-Y of thorax in pelvis and of
    head in thorax. All as measured: ``change`` counts from standing, ``told`` as they are told.
    foot_points_m (F, 2, 4, 3): FOOT_POINTS of the left and right foot. foot_heights_m (F, 2, 4): each above its own height
    with the foot flat. arch_heights_m (F, 2): the inner arch of each foot above where it is in standing, NaN without a marker
    there. ground_m (F, 2): height of the ground below each foot (0 on a level floor; steps and stages otherwise).
    centre_of_mass_m (F, 3), centre_of_mass_share (F,): share of the body's mass that was known.
    trust (F, J) 0..1. joint_error_m (F, J): expected 1-SD error. joint_source (F, J): the least direct Source among the
    samples that the joint rests on. segment_residual_m (F, S): root mean square distance of a segment's markers from the
    rigid segment; NaN where no markers hold it (skeletons, parts between joints). A file holds all of it; a movement that was
    just made from markers is a ``RecordedMovement``.
    """

    kind: Kind
    rate_hz: float
    time_s: Floats
    joint_centres_m: Floats
    segment_rotations: Floats
    segment_origins_m: Floats
    angles_rad: Floats
    foot_points_m: Floats
    foot_heights_m: Floats
    arch_heights_m: Floats
    ground_m: Floats
    centre_of_mass_m: Floats
    centre_of_mass_share: Floats
    trust: Floats
    joint_error_m: Floats
    joint_source: NDArray[np.uint8]
    segment_residual_m: Floats
    standing: Standing
    #: Height of the floor in the recording, metres: what was taken off all heights.
    floor_m: float = 0.0
    #: What was concluded on the way, in words (scale from free fall, no static take, ...).
    warnings: tuple[str, ...] = ()
    #: The body does not fall as bodies do: the rate or the unit is wrong, and what hangs on them is not told.
    doubted: bool = False

    def alone(self) -> Movement:
        """The movement without what it was made from, as a file holds it."""
        return self

    @property
    def frames(self) -> int:
        """Number of samples."""
        return int(self.time_s.shape[0])

    def joint(self, name: str) -> Floats:
        """Positions (F, 3) of one joint of JOINTS."""
        return self.joint_centres_m[:, JOINTS.index(name)]

    def angle(self, name: str) -> Floats:
        """One angle of ANGLES (F,), radians, as measured."""
        return self.angles_rad[:, ANGLES.index(name)]

    def change(self, name: str) -> Floats:
        """One angle of ANGLES less its value in standing (F,), radians; the angle itself where standing does not tell it."""
        return self.angle(name) - self.standing.part_of(name, self.angles_rad)

    def told(self, name: str) -> Floats:
        """One angle of ANGLES as it is told (F,), radians: those of FROM_STANDING less standing, the others as measured."""
        return self.change(name) if name in FROM_STANDING else self.angle(name)

    def segment(self, name: str) -> Floats:
        """Rotation matrices (F, 3, 3) of one segment of SEGMENTS."""
        return self.segment_rotations[:, SEGMENTS.index(name)]

    def foot_line(self, side: str, frame: int | slice = slice(None)) -> Floats:
        """Where a foot points in some frames (F, 3) or in one (3,), see ``foot_line``."""
        return foot_line(self.foot_points_m[frame, SIDES.index(side)], self.segment("foot" + SUFFIXES[side])[frame])

    def heel_height_m(self, side: str) -> Floats:
        """Heel above its own flat height (F,), metres; catalogue M16."""
        return self.foot_heights_m[:, SIDES.index(side), FOOT_POINTS.index("heel")]

    def arch_drop_m(self, side: str) -> Floats:
        """How far (F,) the inner arch of a foot has sunk since standing, against its own heel and inner ball, metres."""
        foot = SIDES.index(side)
        return np.asarray(arch_between(self.foot_heights_m[:, foot]) - self.arch_heights_m[:, foot])


@dataclass(frozen=True)
class RecordedMovement(Movement):
    """A movement beside the recording that it was made from, so that a ± can be told for every number; never read from a file."""

    recording: Recording = field(kw_only=True, repr=False, compare=False)

    @classmethod
    def of(cls, movement: Movement, recording: Recording) -> RecordedMovement:
        """A movement with what it was made from."""
        return cls(**_fields_of(movement), recording=recording)

    def alone(self) -> Movement:
        """The movement without what it was made from, as a file holds it."""
        return Movement(**_fields_of(self))


def _fields_of(movement: Movement) -> dict[str, Any]:
    return {item.name: getattr(movement, item.name) for item in fields(Movement)}


def arch_between(heights: Floats) -> Floats:
    """What the heights (…, 4) of FOOT_POINTS are at the inner arch (…), halfway from the heel to the inner ball."""
    return np.asarray(0.5 * (heights[..., FOOT_POINTS.index("heel")] + heights[..., FOOT_POINTS.index("ball_medial")]))


def foot_line(foot_points: Floats, foot: Floats) -> Floats:
    """Line (..., 3) from the heel to the middle of the ball, as far as it is level when the dancer stands, metres.

    foot_points (..., 4, 3), foot: rotation (..., 3, 3). A shoe's heel tips the line itself: on the way to full relevé in a heel
    of 6 cm it passes the vertical while the foot does not, and would point back.
    """
    line = 0.5 * (foot_points[..., 1, :] + foot_points[..., 2, :]) - foot_points[..., 0, :]
    return reject(line, foot[..., 1])


def frame_at(movement: Movement, time_s: float) -> int:
    """Index of the sample nearest to a time, clipped to the take."""
    return int(np.clip(round(time_s * movement.rate_hz), 0, movement.frames - 1))
