"""A small review of the simulated dancer with hand-made findings, for tests of what Blender shows of a review."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from in_the_round.analysis_core.body.movement import ANGLES
from in_the_round.analysis_core.clean.quality import MarkerQuality, Quality
from in_the_round.analysis_core.findings.finding import Finding, Unsure, View
from in_the_round.analysis_core.phrase.phase import Phase, Phrase
from in_the_round.analysis_core.phrase.properties import phase_from
from in_the_round.analysis_core.review import Markers, Review, TakeSummary
from in_the_round.analysis_core.take import Inference, Source
from in_the_round.simulated_dancer.files import write_c3d
from in_the_round.simulated_dancer.phrases import demo_phrase
from in_the_round.simulated_dancer.simulate import Simulation, simulate

RATE_HZ = 60.0
SECONDS = 6.0


def _finding(name: str, fault: str, side: str | None, peak_s: float, parts: tuple[str, ...], **more: object) -> Finding:
    values: dict[str, object] = {
        "id": name,
        "fault": fault,
        "phase": "plie-1",
        "side": side,
        "start_s": peak_s - 0.2,
        "onset_s": peak_s - 0.2,
        "peak_s": peak_s,
        "end_s": peak_s + 0.2,
        "value": 31.0,
        "unit": "mm",
        "band": (0.0, 10.0),
        "plus_minus": 6.0,
        "severity": 0.7,
        "grade": "fault",
        "confidence": "high",
        "band_source": "proposed default, no published norm",
        "parts": parts,
        "view": View((0.0, -3.0, 1.0), (0.0, 0.0, 0.8), "front"),
        "cue": "Let the heel stay heavy until the knee has bent as far as it wants to",
        **more,
    }
    return Finding(**values)


FINDINGS = (
    _finding("f0", "heels-lift-in-plie", "right", 1.5, ("foot.R",), measure="height", may_have_led_to=("f1",)),
    _finding("f1", "knee-inside-toes", "right", 2.0, ("thigh.R", "shank.R"), came_after=("f0",), measure="angle", unit="°",
             severity=0.9, caution="Stop when the knee hurts, and ask a health professional"),
    _finding("f2", "trunk-leans", None, 3.0, ("thorax",), measure="pitch", grade="watch", severity=0.3,
             unit="°", band=(None, 8.0)),
    _finding("f3", "head-lifts", None, 4.0, ("head", "neck"), grade="watch", severity=0.2, unit="°", band=(5.0, None)),
    _finding("f4", "heels-lift-in-plie", "right", 5.0, ("foot.R",), severity=0.4, phase="plie-2", plus_minus_within_take=2.0),
)  # fmt: skip


#: Three times the same plié.
def _plie(number: int, start_s: float, end_s: float, **told: float | str) -> Phase:
    frames = {"start": round(60 * start_s), "end": round(60 * end_s)}
    return phase_from("plie", id=f"plie-{number}", side=None, start_s=start_s, end_s=end_s, properties=told, **frames)


PLIES = (
    _plie(1, 1.0, 4.5, bar=1.0, count=3.0),
    _plie(2, 4.6, 5.5, same_as="plie-1"),
    _plie(3, 5.6, 5.8333, same_as="plie-1"),
)


def _markers(dance: Simulation) -> Markers:
    """All markers measured, but for frame 100: there the first is filled, the second a guess, and the third is not there."""
    positions = dance.take.positions_m.astype(np.float32)
    source = np.full(positions.shape[:2], Source.MEASURED, dtype=np.uint8)
    source[100, :3] = (Source.BODY_PART, Source.WHOLE_BODY, Source.NONE)
    positions[100, 2] = np.nan
    return Markers(dance.take.labels, positions, source)


def made_review() -> Review:
    """The review: 6 s at 60 Hz, five findings, one thing that cannot be told."""
    dance = simulate(demo_phrase(), rate_hz=RATE_HZ, duration_s=SECONDS)
    return Review(
        take=TakeSummary(
            "morning class.c3d", "0" * 64, "markers", RATE_HZ, dance.movement.frames, SECONDS,
            (Inference("up axis", "z", "the head is above the feet along it"),), ("No static take: every ± is wider",),
        ),
        profile="intermediate",
        quality=Quality(
            "usable", ("Left heel marker missing from 4.2 s: stick it back.",), 0.01,
            (MarkerQuality("left heel", "calcaneus.L", 0.01, 0.2, 0.01, 0.0, 0.0),), (),
        ),
        movement=dance.movement,
        phrase=Phrase(dance.phrase.contacts, PLIES),
        analysed=FINDINGS,
        unsure=(Unsure("feet-not-pointed", "jump-1", "the toe markers are missing"),),
        markers=_markers(dance),
    )  # fmt: skip


def leaning_review(review: Review) -> Review:
    """The same dance a quarter turn round and elsewhere in the room, with 15° more of a forward lean from 2 to 3 s."""
    old = review.movement
    quarter = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    angles = old.angles_rad.copy()
    angles[:, ANGLES.index("pelvis_yaw")] += np.pi / 2
    angles[(old.time_s >= 2) & (old.time_s <= 3), ANGLES.index("trunk_pitch")] += np.radians(15.0)
    movement = replace(
        old,
        joint_centres_m=old.joint_centres_m @ quarter.T + np.array([2.0, 1.0, 0.0]),
        segment_rotations=quarter @ old.segment_rotations,
        segment_origins_m=old.segment_origins_m @ quarter.T + np.array([2.0, 1.0, 0.0]),
        foot_points_m=old.foot_points_m @ quarter.T + np.array([2.0, 1.0, 0.0]),
        centre_of_mass_m=old.centre_of_mass_m @ quarter.T + np.array([2.0, 1.0, 0.0]),
        angles_rad=angles,
    )
    return replace(review, take=replace(review.take, file="evening class.c3d", sha256="1" * 64), movement=movement)


def write_nameless_static(path: Path) -> None:
    """The dancer standing still, with labels that no table knows."""
    still = simulate(demo_phrase()[:1], rate_hz=RATE_HZ).static_take
    write_c3d(path, still, tuple(f"M{index + 1:03d}" for index in range(len(still.labels))))
