"""How true the measurement is: the simulated dancer, recorded with noise and skin movement, against its exact movement."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
from bench_common import Row
from in_the_round.analysis_core.body.anatomy import LEG_JOINTS, SIDES
from in_the_round.analysis_core.body.movement import ANGLES, JOINTS, Movement
from in_the_round.analysis_core.body.solve import solve
from in_the_round.analysis_core.clean import clean_take
from in_the_round.analysis_core.phrase import understand_phrase
from in_the_round.analysis_core.phrase.phase import Phrase
from in_the_round.simulated_dancer import Body, Simulation, demo_phrase, simulate
from in_the_round.simulated_dancer.phrases import short
from in_the_round.simulated_dancer.rotations import about_x
from in_the_round.simulated_dancer.trials import Recorded, record, review_of, strange

#: Bodies, rates and facings that are run; what must not matter varies with them.
PERFORMERS = (
    (Body(stature_m=1.35), 120.0, 0.0, 1),
    (Body(stature_m=1.62), 240.0, 0.7, 2),
    (Body(stature_m=1.85), 200.0, 2.5, 3),
)
FLEXIONS = ("hip_flexion", "knee_flexion", "ankle_dorsiflexion")
TRUNK_AND_HEAD = ("trunk_pitch", "trunk_roll", "head_pitch")
#: A found event further from a true one than this is another event.
_SAME_EVENT_S = 0.15


@cache
def _measured() -> tuple[tuple[Simulation, Movement, Phrase], ...]:
    """Every performance with the movement and phrase that the analysis makes of its recording."""
    result = []
    for body, rate_hz, facing_rad, seed in PERFORMERS:
        true = simulate(demo_phrase(), body=body, rate_hz=rate_hz, facing_rad=facing_rad, seed=seed)
        of = {"landmark_of": true.landmark_of, "segment_of": true.segment_of}
        movement = solve(clean_take(true.take, **of), clean_take(true.static_take, **of))
        result.append((true, movement, understand_phrase(movement)))
    return tuple(result)


def _rms(values: list[np.ndarray]) -> float:
    return float(np.sqrt(np.nanmean(np.concatenate([np.ravel(value) for value in values]) ** 2)))


def joints() -> list[Row]:
    """Distance of every joint centre from the true one, root mean square."""
    most = {"hip": 10.0, "knee": 6.0, "ankle": 6.0}
    rows = []
    for name in dict.fromkeys(joint.split(".")[0] for joint in JOINTS):
        columns = [i for i, joint in enumerate(JOINTS) if joint.split(".")[0] == name]
        apart = [
            np.linalg.norm(found.joint_centres_m[:, columns] - true.movement.joint_centres_m[:, columns], axis=2)
            for true, found, _ in _measured()
        ]
        rows.append(Row(name, 1000.0 * _rms(apart), "mm", most.get(name)))
    return rows


def _apart(found: Movement, true: Movement, names: Sequence[str]) -> np.ndarray:
    """Differences (F, len(names)) of angles as they are told, radians; whole turns do not count."""
    return np.stack([np.angle(np.exp(1j * (found.told(name) - true.told(name)))) for name in names], axis=1)


def angles() -> list[Row]:
    """Difference of every angle from the true one, root mean square; whole turns do not count."""
    rows = []
    for name in dict.fromkeys(angle.split(".")[0] for angle in ANGLES):
        both_sides = [angle for angle in ANGLES if angle.split(".")[0] == name]
        apart = [_apart(found, true.movement, both_sides) for true, found, _ in _measured()]
        most = 2.0 if name in (*FLEXIONS, "foot_turnout") else 1.5 if name in TRUNK_AND_HEAD else None
        rows.append(Row(name, float(np.degrees(_rms(apart))), "°", most))
    return rows


@cache
def _rooms() -> dict[str, Recorded]:
    """Strange bodies and rooms, and a take that holds no moment of standing."""
    bodies = strange()
    return bodies | {"begins and ends in movement, no static": replace(bodies["kind"], static=False, part=(0.3, 0.75))}


def _as_recorded(danced: Simulation, recorded: Recorded, frames: int) -> Simulation:
    """The exact movement of those frames only that were recorded."""
    first = round(recorded.part[0] * danced.movement.frames)
    joints, angles = (part[first : first + frames] for part in (danced.movement.joint_centres_m, danced.movement.angles_rad))
    return replace(danced, movement=replace(danced.movement, joint_centres_m=joints, angles_rad=angles))


@cache
def _strangers() -> dict[str, tuple[Simulation, Movement]]:
    """A short phrase on every strange body and in every strange room, with what the analysis makes of it."""
    result = {}
    for name, recorded in _rooms().items():
        danced = record(recorded, phrase=short("turn"))
        found = review_of(danced, static=recorded.static).movement
        result[name] = (_as_recorded(danced, recorded, found.frames), found)
    return result


def _level(points: np.ndarray, name: str) -> np.ndarray:
    """Exact points as the laboratory sees them in which the floor slopes."""
    slope_rad = _rooms()[name].slope_rad
    return points @ about_x(slope_rad)[0].T if slope_rad else points


def strange_joints() -> list[Row]:
    """Hips, knees and ankles on strange bodies and in strange rooms beside a kind one, root mean square."""
    rows = []
    for name, (true, found) in _strangers().items():
        for joint in LEG_JOINTS:
            columns = [i for i, other in enumerate(JOINTS) if other.split(".")[0] == joint]
            exact = _level(true.movement.joint_centres_m[:, columns], name)
            apart = np.linalg.norm(found.joint_centres_m[:, columns] - exact, axis=2)
            rows.append(Row(f"{name}: {joint}", 1000.0 * _rms([apart]), "mm"))
    return rows


def strange_angles() -> list[Row]:
    """Bends and trunk on the same, root mean square."""
    rows = []
    groups = {"hip, knee, ankle": FLEXIONS, "foot turnout": ("foot_turnout",), "trunk, head": TRUNK_AND_HEAD}
    for name, (true, found) in _strangers().items():
        for group, names in groups.items():
            of_group = [angle for angle in ANGLES if angle.split(".")[0] in names]
            apart = _apart(found, true.movement, of_group)
            rows.append(Row(f"{name}: {group}", float(np.degrees(_rms([apart]))), "°"))
    return rows


def centre_of_mass() -> list[Row]:
    """Distance of the centre of mass from the true one, root mean square."""
    apart = [np.linalg.norm(found.centre_of_mass_m - true.movement.centre_of_mass_m, axis=1) for true, found, _ in _measured()]
    return [Row("centre of mass", 1000.0 * _rms(apart), "mm", 10.0)]


def contacts() -> list[Row]:
    """Time between true and found beginnings and ends of contact, whole feet, heels and toes together."""
    apart: list[float] = []
    missed = invented = 0
    for true, found, phrase in _measured():
        end_s = float(found.time_s[-1])
        for foot in SIDES:
            for part in ("foot", "heel", "toe"):
                for edge in ("start_s", "end_s"):
                    was = [getattr(c, edge) for c in true.phrase.contacts if (c.foot, c.part) == (foot, part)]
                    is_ = [getattr(c, edge) for c in phrase.contacts if (c.foot, c.part) == (foot, part)]
                    # The take's own beginning and end are no events.
                    was, is_ = ([t for t in times if 0.05 < t < end_s - 0.05] for times in (was, is_))
                    near = [min((abs(t - s) for s in is_), default=np.inf) for t in was]
                    apart += [distance for distance in near if distance <= _SAME_EVENT_S]
                    missed += sum(distance > _SAME_EVENT_S for distance in near)
                    invented += sum(min((abs(t - s) for t in was), default=np.inf) > _SAME_EVENT_S for s in is_)
    return [
        Row("median", 1000.0 * float(np.median(apart)), "ms", 10.0),
        Row("95 % within", 1000.0 * float(np.percentile(apart, 95)), "ms", 25.0),
        Row(f"events missed, of {missed + len(apart)}", missed, "", 0),
        Row("events invented", invented, "", 0),
    ]
