"""Perform a phrase: the exact truth, and the marker take that cameras would have made of it."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from ..analysis_core.body.anatomy import OTHER
from ..analysis_core.body.movement import Movement
from ..analysis_core.phrase.phase import Phrase
from ..analysis_core.take import Take
from .body import Body
from .faults import BuiltInFault, Fault, build_in
from .figure import Figure, figure_of, mirrored, placed
from .labels import label_of
from .markers import Noise, arch_places, marker_places, recorded_markers
from .rotations import Floats
from .score import Score, Step
from .solver import solve_pose
from .steps import PhraseStep, Stand
from .truth import angles_of, movement_of, phrase_of
from .wear import AS_NAMED, Wear, worn


@dataclass(frozen=True)
class Simulation:
    """One performance. ``movement`` and ``phrase`` are exact; ``take`` and ``static_take`` are what was recorded.

    landmark_of, segment_of: marker index -> landmark (with .L / .R) and body part. offset_s: time of the first beat.
    built_in: the faults that were built in, as truth. steps: the score that was danced, with the times of its moments.
    to_music: whether the counts are known to the one who looks at the take.
    """

    body: Body
    take: Take
    static_take: Take
    movement: Movement
    static_movement: Movement
    phrase: Phrase
    tempo_bpm: float
    offset_s: float
    landmark_of: dict[int, str]
    segment_of: dict[int, str]
    built_in: tuple[BuiltInFault, ...] = ()
    steps: tuple[Step, ...] = ()
    to_music: bool = False


def take_of(positions_m: Floats, labels: tuple[str, ...], rate_hz: float, name: str) -> Take:
    """A marker take (F, N, 3) that comes from no file."""
    digest = hashlib.sha256(np.ascontiguousarray(positions_m).tobytes()).hexdigest()
    return Take(Path(name), digest, "markers", rate_hz, 1, labels, positions_m)


def _times(end_s: float, rate_hz: float) -> Floats:
    return np.arange(round(end_s * rate_hz), dtype=np.float64) / rate_hz


#: How differently, beside neutral, a dancer stands from one static take to the next: shares of ``Noise.stance_rad``. Not the line
#: of the hips: it would bend a knee along.
_STANCE = {
    "tilt": 0.9, "thorax_extension": 0.9, "thorax_side": 0.9, "thorax_twist": 0.9,
    "head_pitch": 0.9, "head_roll": 0.9, "head_yaw": 0.9,
}  # fmt: skip


def standing_figure(body: Body, rate_hz: float, seconds: float = 3.0, stance_rad: float = 0.0, seed: int = 0) -> Figure:
    """The dancer standing still with feet parallel and arms held a little away, for the static take.

    stance_rad: 1 SD by which trunk and head are beside neutral; the seed says how.
    """
    # Nothing moves: one pose serves every frame.
    one, time_s = _stood(body, rate_hz, stance_rad, seed if stance_rad else 0), _times(seconds, rate_hz)
    again = np.zeros(time_s.size, dtype=np.intp)
    return Figure(
        time_s, one.joints[again], one.rotations[again], one.origins[again], one.foot_points[again], one.arch_sink_m[again],
        one.centre_of_mass[again], {name: points[again] for name, points in one.points.items()},
    )  # fmt: skip


@lru_cache(maxsize=64)
def _stood(body: Body, rate_hz: float, stance_rad: float, seed: int) -> Figure:
    """Three frames of the dancer standing still; solved once for each dancer, for it takes as long as many frames of a dance."""
    score = Score(body, 0.5)
    score.stand_in("parallel")
    score.hold_arms("away")
    random = np.random.default_rng(seed)
    beside = {name: share * stance_rad * random.normal() for name, share in _STANCE.items()}
    # Who tips the pelvis to stand stays upright above it.
    beside["thorax_extension"] += beside["tilt"]
    for name, angle in beside.items():
        score[name].start += angle
    return figure_of(body, solve_pose(score, _times(3 / rate_hz, rate_hz)))


def _danced(phrase: Sequence[PhraseStep], body: Body, beat_s: float, position: str, duration_s: float | None) -> Score:
    """The score of a phrase, danced from a position; who is done before the time is over stands."""
    score = Score(body, beat_s)
    score.stand_in(position)
    for step in phrase:
        step.perform(score)
    if duration_s is not None and duration_s > score.now_s:
        Stand((duration_s - score.now_s) / score.beat_s).perform(score)
    return score


def simulate(
    phrase: Sequence[PhraseStep],
    *,
    body: Body | None = None,
    rate_hz: float = 240.0,
    tempo_bpm: float = 120.0,
    facing_rad: float = 0.0,
    place_m: tuple[float, float] = (0.0, 0.0),
    mirror: bool = False,
    noise: Noise | None = None,
    seed: int = 0,
    duration_s: float | None = None,
    start_position: str = "first",
    faults: Sequence[Fault] = (),
    camera_seed: int | None = None,
    wear: Wear = AS_NAMED,
    to_music: bool = False,
) -> Simulation:
    """Perform a phrase of steps and record it.

    facing_rad: direction of the dancer's front from the laboratory's x, positive to the left. place_m: on the floor.
    mirror: perform the mirror twin (left and right exchanged). seed: of skin, places of markers and camera noise;
    camera_seed: of the camera noise alone, for two takes of the same dancer on the same day.
    faults: built into the phases that they name. duration_s: cut or extended by standing to this length. wear: which markers are
    worn, and where.
    Equal arguments give equal takes, to rounding.
    """
    body, noise = body or Body(), noise or Noise()
    score = _danced(phrase, body, 60.0 / tempo_bpm, start_position, duration_s)
    built_in = build_in(score, tuple(faults))
    pose = solve_pose(score, _times(duration_s or score.now_s, rate_hz))

    def stand_there(figure: Figure) -> Figure:
        return placed(mirrored(figure) if mirror else figure, facing_rad, place_m)

    if mirror:
        score.mirror_names()
        built_in = tuple(replace(b, side=OTHER.get(b.side or "", b.side)) for b in built_in)
    figure, still = stand_there(figure_of(body, pose)), stand_there(standing_figure(body, rate_hz))
    angles, still_angles = angles_of(figure), angles_of(still)
    movement = movement_of(body, figure, angles, still, still_angles, rate_hz)
    stood = stand_there(standing_figure(body, rate_hz, stance_rad=noise.stance_rad, seed=seed)) if noise.stance_rad else still
    places = worn((*marker_places(body), *arch_places(body)), wear)

    def recorded(what: Figure, bent: dict[str, Floats], name: str, camera: int) -> Take:
        labels = tuple(label_of(place.landmark, wear.habit) for place in places)
        return take_of(recorded_markers(places, what, bent, noise, rate_hz, seed, camera), labels, rate_hz, name)

    return Simulation(
        body=body,
        take=recorded(figure, angles, "simulated.c3d", seed + 1_000_003 if camera_seed is None else camera_seed),
        static_take=recorded(
            stood, still_angles if stood is still else angles_of(stood), "simulated_static.c3d", seed + 2_000_003
        ),
        movement=movement,
        static_movement=movement_of(body, still, still_angles, still, still_angles, rate_hz),
        phrase=phrase_of(score, movement),
        tempo_bpm=tempo_bpm,
        offset_s=0.0,
        landmark_of={i: place.landmark for i, place in enumerate(places)},
        segment_of={i: place.segment for i, place in enumerate(places)},
        built_in=built_in,
        steps=tuple(score.steps),
        to_music=to_music,
    )
