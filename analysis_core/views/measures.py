"""For every measure of the catalogue: what to draw, from the joints that its number was made of."""

from __future__ import annotations

import numpy as np

from ..findings.evidence import Evidence
from ..findings.finding import Finding
from ..review import Review
from ..wording import findings as say
from ..wording import numbers
from .drawing import Drawing
from .measures_of_feet import (
    both_feet,
    foot_turned_on_floor,
    foot_turnout_lost,
    knee_against_foot,
    knee_direction_lost,
    knee_from_plane,
)
from .measures_of_legs import bend_share, foot_deviation, knee_bend, leg_height, one_knee_bends_more, stretch_share
from .measures_of_lengths import (
    arch_drop,
    fall_and_stop,
    forefoot_height,
    hand_sunk,
    hands_apart,
    heel_height,
    heel_sunk,
    hips_beside,
    jump_share,
    releve_share,
    retire_share,
    shoulder_up,
    support_margin,
    toe_off_leg,
    way_on_floor,
)
from .measures_of_time import head_time, heel_time, mass_time, sway, toe_time, touches
from .measures_of_trunk import (
    axis_tilt,
    chest_tip,
    chest_twist,
    head_pitch,
    head_roll,
    head_turned,
    hip_line,
    pelvis_facing,
    pelvis_tilt,
    trunk_pitch,
    trunk_roll,
)
from .seen import Draw, Seen, observation_of, turns_of

#: Fault and measure -> what is drawn.
DRAW: dict[tuple[str, str], Draw] = {
    ("heel-lifts-early", "height"): heel_height,
    ("heel-lifts-early", "lead"): heel_time,
    ("foot-slips-parallel", "yaw"): foot_turned_on_floor,
    ("foot-slips-parallel", "slip"): way_on_floor,
    ("turnout-lost-supporting", "loss"): foot_turnout_lost,
    ("turnout-lost-working", "loss"): knee_direction_lost,
    ("turnout-lost-finish", "loss"): foot_turnout_lost,
    ("turnout-lost-finish", "skid"): foot_turnout_lost,
    ("axis-tilts", "tilt"): axis_tilt,
    ("turn-travels", "travel"): way_on_floor,
    ("turn-hops", "clearance"): forefoot_height,
    ("late-spot", "lead"): head_time,
    ("late-spot", "apart"): head_turned,
    ("arms-drop", "drop"): hand_sunk,
    ("arms-drop", "difference"): hands_apart,
    ("turn-angle-off", "residual"): pelvis_facing,
    ("low-retire", "height"): retire_share,
    ("low-retire", "gap"): toe_off_leg,
    ("low-releve", "share"): releve_share,
    ("low-releve", "sink"): heel_sunk,
    ("shoulders-lead", "twist"): chest_twist,
    ("trunk-leans", "pitch"): trunk_pitch,
    ("side-bends", "roll"): trunk_roll,
    ("ribs-flare", "tip"): chest_tip,
    ("back-arches", "tilt"): pelvis_tilt,
    ("pelvis-tucks", "tilt"): pelvis_tilt,
    ("shoulders-lift", "height"): shoulder_up,
    ("head-lifts", "pitch"): head_pitch,
    ("head-lifts", "roll"): head_roll,
    ("hip-hikes", "one_foot"): hip_line,
    ("hip-hikes", "two_feet"): hip_line,
    ("knee-hyperextends", "beyond"): knee_bend,
    ("knee-inside-toes", "angle"): knee_against_foot,
    ("knee-inside-toes", "displacement"): knee_from_plane,
    ("foot-forces-turnout", "angle"): knee_against_foot,
    ("foot-forces-turnout", "beyond_hips"): both_feet,
    ("foot-sickles", "working"): foot_deviation,
    ("foot-sickles", "supporting"): foot_deviation,
    ("foot-wings", "drop"): arch_drop,
    ("knee-bends-working", "flexion"): knee_bend,
    ("knee-bends-supporting", "flexion"): knee_bend,
    ("uneven-height", "difference"): leg_height,
    ("uneven-plie", "bend"): one_knee_bends_more,
    ("uneven-plie", "shift"): hips_beside,
    ("heels-lift-in-plie", "height"): heel_height,
    ("shallow-plie", "share"): bend_share,
    ("heavy-landing", "load"): fall_and_stop,
    ("stiff-landing", "share"): bend_share,
    ("uneven-landing", "bend"): one_knee_bends_more,
    ("uneven-landing", "time"): toe_time,
    ("heels-miss-floor", "height"): heel_height,
    ("heels-miss-floor", "touches"): touches,
    ("rushed-take-off", "share"): bend_share,
    ("low-jump", "share"): jump_share,
    ("feet-not-pointed", "share"): stretch_share,
    ("feet-not-pointed", "late"): toe_time,
    ("turnout-lost-in-air", "loss"): foot_turnout_lost,
    ("landing-off-axis", "margin"): support_margin,
    ("landing-off-axis", "settling"): mass_time,
    ("off-the-count", "late"): mass_time,
    ("off-the-count", "spread"): mass_time,
    ("balance-sways", "area"): sway,
    ("balance-hops", "shift"): way_on_floor,
    ("balance-hops", "turn"): foot_turned_on_floor,
    ("balance-heel-sinks", "sink"): heel_sunk,
}


def drawing_of(finding: Finding, review: Review, evidence: Evidence | None = None) -> Drawing | None:
    """What to draw for a finding; None for a correction of the teacher's own, and where the body parts were not seen.

    evidence: of the review, where many findings are drawn.
    """
    draw = DRAW.get((finding.fault, finding.measure))
    if draw is None:
        return None
    evidence = evidence or Evidence(review.movement, review.phrase)
    seen = Seen(finding, evidence, observation_of(finding, evidence))
    shapes, reading, place = draw(seen)
    words = numbers.together(say.value(finding))
    drawing = Drawing(finding.id, seen.frame / evidence.rate_hz, tuple(shapes), reading, place, words, turns_of(seen))
    return drawing if all(np.isfinite(point).all() for point in drawing.points) else None
