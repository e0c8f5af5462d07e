"""Measures and steps against formulas of their own: windows, holds, what was not seen, counts, limits that rise, words."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from in_the_round.analysis_core.body.movement import ANGLES, FOOT_POINTS, JOINTS, SEGMENTS, Movement
from in_the_round.analysis_core.body.own_ranges import own_ranges
from in_the_round.analysis_core.errors import OptionError
from in_the_round.analysis_core.findings.catalogue import catalogue, load_profile
from in_the_round.analysis_core.findings.causes import chains_of, edges, order
from in_the_round.analysis_core.findings.evidence import Evidence
from in_the_round.analysis_core.findings.explain import explain
from in_the_round.analysis_core.findings.find import find, observe
from in_the_round.analysis_core.findings.measure_jumps import _arrival_s
from in_the_round.analysis_core.findings.measure_posture import hip_hikes
from in_the_round.analysis_core.findings.measure_releve import low_releve
from in_the_round.analysis_core.findings.measure_time_and_balance import off_the_count
from in_the_round.analysis_core.findings.measure_turns import axis_tilts
from in_the_round.analysis_core.findings.observation import NotTold, Observation
from in_the_round.analysis_core.findings.uncertainty import standard_errors
from in_the_round.analysis_core.phrase import understand_phrase
from in_the_round.analysis_core.phrase.counts import Counts
from in_the_round.analysis_core.phrase.phase import Contact, Landing, Phase, Phrase
from in_the_round.analysis_core.phrase.plies import held_bottom
from in_the_round.analysis_core.phrase.properties import phase_from
from in_the_round.analysis_core.phrase.steps import find_steps
from in_the_round.analysis_core.phrase.understand import course_of
from in_the_round.analysis_core.take import Floats, Side
from in_the_round.analysis_core.wording.findings import NO_SLOW_PLIE
from in_the_round.simulated_dancer import demo_phrase, simulate
from in_the_round.simulated_dancer.phrases import turns_from_fifth
from in_the_round.simulated_dancer.steps import Plie, Stand
from in_the_round.simulated_dancer.truth_of_faults import true_values

RATE = 100.0


@cache
def danced() -> Movement:
    """The exact movement of the demo phrase: no markers, no noise."""
    return simulate(demo_phrase(), rate_hz=RATE).movement


@cache
def steps() -> Phrase:
    return understand_phrase(danced())


def smooth_way(share: Floats) -> Floats:
    """From 0 to 1 with least jerk: s³ (10 - 15 s + 6 s²), Flash & Hogan 1985."""
    s = np.clip(share, 0.0, 1.0)
    return s**3 * (10 - 15 * s + 6 * s**2)


@pytest.mark.parametrize("hold_s", [0.17, 0.5, 1.2])
@pytest.mark.parametrize("down_s", [0.45, 0.9])
def test_a_held_plie_arrives_when_its_way_down_ends_and_pushes_when_its_hold_ends(hold_s: float, down_s: float) -> None:
    """Catches the lowest centre of mass anywhere in the hold taken for the arrival, and for the push."""
    time = np.arange(0.0, 3.5, 1 / RATE)
    arrives, pushes = 0.4 + down_s, 0.4 + down_s + hold_s
    bend = np.radians(60.0) * (smooth_way((time - 0.4) / down_s) - smooth_way((time - pushes) / 0.4))
    arrival, push = held_bottom(bend + np.radians(0.1) * np.sin(37.0 * time), RATE)
    assert arrival / RATE == pytest.approx(arrives, abs=0.04)
    assert push / RATE == pytest.approx(pushes, abs=0.05)


def test_a_plie_that_is_not_held_arrives_where_it_is_deepest() -> None:
    time = np.arange(0.0, 2.0, 1 / RATE)
    bend = np.radians(60.0) * (smooth_way((time - 0.2) / 0.7) - smooth_way((time - 0.9) / 0.7))
    arrival, push = held_bottom(bend, RATE)
    assert arrival / RATE == pytest.approx(0.9, abs=0.02)
    assert push / RATE == pytest.approx(0.9, abs=0.10)


def with_angles(movement: Movement, names: tuple[str, ...], frames: slice, value: float) -> Movement:
    angles = movement.angles_rad.copy()
    angles[frames, [ANGLES.index(name) for name in names]] = value
    return replace(movement, angles_rad=angles)


def test_a_loaded_knee_that_is_not_seen_does_not_halve_a_plie() -> None:
    """Catches an unseen knee that counts as a straight one."""
    plie = steps().of_kind("plie")[0]
    unseen = with_angles(danced(), ("knee_flexion.L",), slice(plie.start - 20, plie.end + 20), np.nan)
    again = min(understand_phrase(unseen).of_kind("plie"), key=lambda p: abs(p.start_s - plie.start_s))
    for name in ("knee_flexion_deg", "depth_m", "bottom_s"):
        assert getattr(again, name) == pytest.approx(getattr(plie, name), rel=0.02), name


@pytest.mark.parametrize(("unseen", "told"), [(slice(0, 0), [0.3]), (slice(195, 202), [0.3]), (slice(140, 232), [])])
def test_a_foot_that_is_not_seen_at_lift_off_makes_no_long_step(unseen: slice, told: list[float]) -> None:
    """A step of 0.3 m, 5 m from the room's origin. Catches missing samples that count as that origin (a step of 5.24 m)."""
    course = course_of(danced())[0]
    size = course.frames
    on, load = np.ones((size, 2), dtype=bool), np.zeros((size, 2))
    on[201:230, 1] = False
    load[:260, 0], load[260:, 1] = 1.0, 1.0
    points = np.zeros((size, 2, 4, 3)) + np.array([4.0, 3.0, 0.0])
    points[215:, 1, :, 0] += 0.3
    points[unseen, 1] = np.nan
    stances = (((0.0, size - 1.0),), ((0.0, 200.0), (230.0, size - 1.0)))
    course = replace(
        course,
        movement=replace(danced(), foot_points_m=points),
        feet=replace(course.feet, on=on, stances=stances),
        load=load,
        yaw_rad=np.zeros(size),
    )
    assert [step.length_m for step in find_steps(course)] == pytest.approx(told)


def test_a_grand_plie_in_second_is_no_demi_plie() -> None:
    """Catches the own demi-plié of 115° that made every other plié shallow."""
    time = np.arange(0.0, 12.0, 1 / RATE)

    def bend(start: float, degrees: float) -> Floats:
        return np.asarray(np.radians(degrees) * np.sin(np.pi * np.clip((time - start) / 3.0, 0.0, 1.0)) ** 2)

    angles = np.zeros((time.size, len(ANGLES)))
    for name in ("knee_flexion.L", "knee_flexion.R"):
        angles[:, ANGLES.index(name)] = bend(1.0, 62.0) + bend(6.0, 115.0)
    plie = own_ranges(angles, np.zeros((time.size, 2, len(FOOT_POINTS))), 1 / float(time[1] - time[0])).demi_plie_rad
    assert np.degrees(plie) == pytest.approx([62.0, 62.0], abs=1.0)


def raised(movement: Movement, curve_m: Floats, side: int) -> Movement:
    """The movement with a heel at other heights."""
    heights = movement.foot_heights_m.copy()
    heights[:, side, FOOT_POINTS.index("heel")] = curve_m
    return replace(movement, foot_heights_m=heights)


@pytest.mark.parametrize(("sink_mm", "least", "most"), [(0.0, 0.0, 4.0), (15.0, 12.0, 18.0)])
@pytest.mark.parametrize("later_s", [-0.1, 0.0, 0.3])
def test_coming_down_from_a_turn_is_no_sinking_relevé(sink_mm: float, least: float, most: float, later_s: float) -> None:
    """A heel that stays up and comes down 0.1 s before, with, or 0.3 s after the end of the turning; and one that sinks by 15 mm.

    Catches the way down counted as sinking (43 of 47 turns), and a sink that is lost with it.
    """
    (turn,) = Evidence(danced(), steps()).turns
    time = danced().time_s
    up, down = turn.phase.start_s - 0.05, turn.phase.end_s + later_s
    heel = 0.130 * (smooth_way((time - up + 0.3) / 0.3) - smooth_way((time - down) / 0.4))
    middle = 0.5 * (up + down)
    heel -= 0.001 * sink_mm * smooth_way((time - middle) / 0.15) * (1 - smooth_way((time - down) / 0.4))
    told = list(low_releve(Evidence(raised(danced(), heel, 0 if turn.support == "left" else 1), steps())))
    (sink,) = [o for o in told if isinstance(o, Observation) and o.measure == "sink"]
    assert least <= sink.value <= most


def made(name: str, side: Side, start_s: float, end_s: float, **told: float | str | None) -> Phase:
    """A phase at 100 frames a second."""
    span = {"start": round(100 * start_s), "end": round(100 * end_s), "start_s": start_s, "end_s": end_s}
    return phase_from(name.rpartition("-")[0], id=name, side=side, properties=told, **span)


def plie_like(number: int, time_s: float, kind: str = "plie", **more: float | str) -> Phase:
    frame = round(time_s * RATE)
    facts = {"arrival_s": time_s, "use": "plié", "support": "both", "same_as": f"{kind}-1", **more}
    span = {"start": frame - 10, "end": frame + 10, "start_s": time_s - 0.1, "end_s": time_s + 0.1}
    return phase_from(kind, id=f"{kind}-{number}", side="both", properties=facts, **span)


def timing(phases: list[Phase], tempo_bpm: float) -> list[Observation | NotTold | None]:
    """What is told of the timing of some steps, on feet that stay flat."""
    flat = replace(danced(), foot_heights_m=np.zeros_like(danced().foot_heights_m))
    feet = tuple(Contact(side, "foot", 0.0, 100.0) for side in ("left", "right"))
    return list(off_the_count(Evidence(flat, Phrase(feet, tuple(phases)), Counts(tempo_bpm))))


def late(told: list[Observation | NotTold | None]) -> list[float]:
    return [o.value for o in told if isinstance(o, Observation) and o.measure == "late"]


@pytest.mark.parametrize("late_s", [0.0, 0.1, 0.19, -0.19])
def test_pliés_are_as_late_as_they_are(late_s: float) -> None:
    """Catches pliés more than a quarter of a beat late that were dropped in silence (0.19 s at 105 beats a minute)."""
    beat = 60 / 105.0
    told = timing([plie_like(n, 4 * n * beat + late_s) for n in range(1, 6)], 105.0)
    assert late(told) == pytest.approx([late_s], abs=0.002)


def test_pliés_on_the_half_beat_may_be_on_the_and() -> None:
    """Half of them seem early, half late: it is neither. Catches a mean of 0 from both, and silence."""
    beat = 60 / 105.0
    told = timing([plie_like(n, 4 * n * beat + beat / 2 + 0.01 * (-1) ** n) for n in range(1, 7)], 105.0)
    assert late(told) == []
    (said,) = [o for o in told if isinstance(o, NotTold)]
    assert "'and'" in said.why
    assert "6 pliés" in said.why


def test_a_series_of_jumps_is_told_by_the_instant_that_fits_the_counts() -> None:
    """Take-offs on the count: apexes, contacts and bottoms are beside it. Catches "early 126 ms" from the pliés of the jumps."""
    beat = 60 / 110.0
    jumps = []
    for n in range(1, 7):
        off = 2 * n * beat
        jump = plie_like(n, off, "jump", take_off_s=off, apex_s=off + 0.15, landing_s=off + 0.3)
        jumps += [replace(jump, start=round(off * RATE), start_s=off, end=round((off + 0.3) * RATE), end_s=off + 0.3)]
        jumps.append(plie_like(n, off - 0.16, use="landing and take-off"))
        jumps.append(plie_like(n, off + 0.46, "landing", jump=jump.id, lowest_s=off + 0.46))
    assert late(timing(jumps, 110.0)) == pytest.approx([0.0], abs=0.002)


@pytest.mark.parametrize(("leg_deg", "limit"), [(20.0, 5.0), (45.0, 5.0), (67.5, 7.5), (85.0, 9.444)])
def test_the_limit_of_a_hiked_hip_rises_with_the_leg(leg_deg: float, limit: float) -> None:
    """Catalogue, hip-hikes: evenly from 45° to twice as much at 90°. Catches silence at 60°, and one limit for all heights."""
    size = danced().frames
    angles = {"leg_elevation.R": leg_deg, "leg_elevation.L": 0.0, "knee_flexion.R": 2.0, "pelvis_obliquity": 8.0}
    movement = danced()
    for name in ("trunk_pitch", "trunk_roll"):
        angles[name] = 0.0
    for name, degrees in angles.items():
        movement = with_angles(movement, (name,), slice(None), float(np.radians(degrees)))
    gesture = made("leg-gesture-1", "right", 1.0, 3.0, support="left", peak_s=2.0)
    feet = (Contact("left", "foot", 0.0, size / RATE), Contact("right", "foot", 0.0, 0.9))
    evidence = Evidence(movement, Phrase(feet, (gesture,)))
    (told,) = [o for o in hip_hikes(evidence) if o is not None]
    assert isinstance(told, Observation)
    assert told.value == pytest.approx(8.0, abs=0.1)
    assert 5.0 * told.widened[0] == pytest.approx(limit, abs=0.01)
    found = find(movement, Phrase(feet, (gesture,)), load_profile("intermediate")).findings
    hikes = [f for f in found if f.fault == "hip-hikes"]
    assert [f.band[1] for f in hikes] == pytest.approx([limit] if limit < 7.5 else [], abs=0.01)


def test_hips_that_were_seen_are_not_said_to_be_unseen() -> None:
    """With the leg at 95° nothing is asked of the hips. Catches the reason "hips could not be seen" where they were."""
    movement = with_angles(danced(), ("leg_elevation.R",), slice(None), float(np.radians(95.0)))
    movement = with_angles(movement, ("knee_flexion.R",), slice(None), 0.0)
    gesture = made("leg-gesture-1", "right", 1.0, 3.0, support="left", peak_s=2.0)
    feet = (Contact("left", "foot", 0.0, movement.frames / RATE),)
    assert [o for o in hip_hikes(Evidence(movement, Phrase(feet, (gesture,)))) if o is not None] == []


@pytest.mark.parametrize(
    ("along", "across", "words"),
    [(0.1, 0.0, "forward"), (-0.1, 0.01, "back"), (0.0, 0.1, "right"), (0.02, -0.1, "left"), (-0.1, -0.08, "back and left")],
)
def test_a_tilted_axis_says_which_way(along: float, across: float, words: str) -> None:
    """In the dancer's own directions, wherever she faces in the room."""
    (turn,) = Evidence(danced(), steps()).turns
    ahead = danced().segment("pelvis")[:, :2, 0]
    ahead = ahead / np.linalg.norm(ahead, axis=1)[:, None]
    right = np.stack([ahead[:, 1], -ahead[:, 0]], axis=1)
    mass = danced().centre_of_mass_m.copy()
    ball = Evidence(danced(), steps()).ball(turn.support)
    mass[:, :2] = ball[:, :2] + along * ahead + across * right
    (told,) = axis_tilts(Evidence(replace(danced(), centre_of_mass_m=mass), steps()))
    assert isinstance(told, Observation)
    assert told.says == f"axis leans {words}"


def test_two_readings_of_one_landing_are_ordered_by_what_they_are() -> None:
    """Catches "no chain" where the load peaks some milliseconds before the bend."""
    (edge,) = [e for e in edges() if (e.cause, e.effect) == ("stiff-landing", "heavy-landing")]
    assert edge.within == "event"
    landing = next(p for p in steps().phases if p.kind == "landing")
    assert list(find(danced(), steps(), load_profile("intermediate")).findings) == []
    from in_the_round.analysis_core.findings.finding import Finding, View

    def finding(name: str, fault: str, onset_s: float) -> Finding:
        view = View((0.0, 0.0, 0.0), (0.0, 0.0, 0.0), "side")
        return Finding(
            name, fault, landing.id, "both", onset_s, onset_s, onset_s, onset_s + 0.1, 1.0, "ratio", (None, None), 0.1, 0.6,
            "fault", "high", "", (), view, "",
        )  # fmt: skip

    linked = order(
        (finding("f1", "heavy-landing", landing.start_s), finding("f2", "stiff-landing", landing.start_s + 0.12)),
        steps(),
        danced(),
    )
    assert chains_of(linked) == (("f2", "f1"),)
    assert linked[0].came_after == ("f2",)


UNSEEN: dict[str, tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...], int | None]] = {
    **{
        f"{side} knee": (
            (f"knee{s}",),
            tuple(f"{a}{s}" for a in ("knee_flexion", "knee_turnout", "frontal_knee", "ankle_dorsiflexion", "plantarflexion")),
            (f"thigh{s}", f"shank{s}"),
            None,
        )
        for side, s in (("left", ".L"), ("right", ".R"))
    },
    **{
        f"{side} foot": (
            (f"heel{s}", f"toe{s}"),
            tuple(f"{a}{s}" for a in ("foot_turnout", "plantarflexion", "foot_deviation", "ankle_dorsiflexion")),
            (f"foot{s}", f"toes{s}"),
            number,
        )
        for number, (side, s) in enumerate((("left", ".L"), ("right", ".R")))
    },
    "hips": (
        ("hip.L", "hip.R", "pelvis", "lumbar"),
        tuple(a for a in ANGLES if not a.startswith(("head", "elbow"))),
        ("pelvis",),
        None,
    ),
    "head": (("head",), ("head_yaw", "head_pitch", "head_roll", "head_heading"), ("head",), None),
    "left arm": (("elbow.L", "wrist.L", "hand.L"), ("elbow_flexion.L",), ("upper_arm.L", "forearm.L"), None),
}


def without(movement: Movement, part: str, frames: slice) -> Movement:
    """The movement with one part of the body not seen for some frames."""
    joints, angles, segments, foot = UNSEEN[part]
    place, angle, turn = movement.joint_centres_m.copy(), movement.angles_rad.copy(), movement.segment_rotations.copy()
    points, heights, mass = movement.foot_points_m.copy(), movement.foot_heights_m.copy(), movement.centre_of_mass_m.copy()
    place[frames, [JOINTS.index(name) for name in joints]] = np.nan
    angle[frames, [ANGLES.index(name) for name in angles]] = np.nan
    turn[frames, [SEGMENTS.index(name) for name in segments]] = np.nan
    if foot is not None:
        points[frames, foot], heights[frames, foot] = np.nan, np.nan
    if part == "hips":
        mass[frames] = np.nan
    return replace(
        movement,
        joint_centres_m=place,
        angles_rad=angle,
        segment_rotations=turn,
        foot_points_m=points,
        foot_heights_m=heights,
        centre_of_mass_m=mass,
    )


def all_told(movement: Movement, phrase: Phrase) -> list[Observation]:
    told = list(observe(Evidence(movement, phrase), load_profile("intermediate")))
    return [o for o in told if isinstance(o, Observation) and np.isfinite(o.value)]


def test_a_measure_says_whether_it_is_made_of_a_path() -> None:
    """Catches a path over the floor that is taken for a curve, or the other way round: nobody asks the shape of what is made."""
    evidence = Evidence(danced(), steps())
    made = [(one, np.shape(one.made_of(evidence))) for one in all_told(danced(), steps()) if one.made_of is not None]
    assert [one.fault for one, shape in made if shape != ((evidence.frames, 2) if one.path else (evidence.frames,))] == []
    assert any(one.path for one, _ in made)


def test_what_is_not_seen_changes_no_number_by_more_than_its_error() -> None:
    """A fuzz: a part of the body is missing for 0.03 to 0.6 s; each number stays within its ±, or is not told.

    Catches missing samples that count as zeros, and extremes of what is left that are told as those of the whole.
    """
    profile, movement = load_profile("intermediate"), danced()
    whole = all_told(movement, steps())
    limits = [profile.entries[o.fault].measures[o.measure] for o in whole]
    errors = standard_errors(whole, limits, Evidence(movement, steps()))
    random = np.random.default_rng(20)
    wrong, compared = [], 0
    for _ in range(14):
        part = list(UNSEEN)[int(random.integers(len(UNSEEN)))]
        start = int(random.integers(0, movement.frames - 60))
        stop = start + int(random.integers(3, 60))
        gone = without(movement, part, slice(start, stop))
        told = all_told(gone, understand_phrase(gone))
        for number, sd in zip(whole, errors, strict=True):
            twins = [
                o
                for o in told
                if (o.fault, o.measure, o.side, o.phase.kind) == (number.fault, number.measure, number.side, number.phase.kind)
                and o.phase.start <= number.phase.end
                and number.phase.start <= o.phase.end
            ]
            if not twins:
                continue
            twin = min(twins, key=lambda o: abs(o.phase.start - number.phase.start) + abs(o.phase.end - number.phase.end))
            compared += 1
            if abs(twin.value - number.value) > 1.96 * sd + 1e-9:
                wrong.append((part, start, stop, number.fault, number.measure, number.phase.id, number.value, twin.value))
    assert wrong == []
    assert compared > 0.9 * 14 * len(whole)


def test_a_profile_says_which_steps_a_measure_judges(tmp_path: Path) -> None:
    """Catches knees over feet that are asked for in every step of a dance that does not ask for them."""
    free = load_profile("free style")
    assert free.asks("knee-inside-toes", "landing")
    assert not free.asks("knee-inside-toes", "plie")
    assert not free.asks("trunk-leans", "plie")
    told = {(o.fault, o.phase.kind) for o in observe(Evidence(danced(), steps()), free)}
    assert ("knee-inside-toes", "landing") in told
    assert ("knee-inside-toes", "plie") not in told
    path = tmp_path / "own.toml"
    path.write_text('[steps]\nknee-inside-toes = ["jumping"]\n', encoding="utf-8")
    with pytest.raises(OptionError, match="plie"):
        load_profile(str(path))


@pytest.mark.parametrize(("feet", "height_m", "judged"), [("both", 0.05, True), ("left", 0.05, False), ("left", 0.12, True)])
def test_a_small_hop_between_steps_is_no_jump(feet: str, height_m: float, judged: bool) -> None:
    """Catches landings, heels and stretched feet that are asked of every hop in a chain of steps."""
    facts = {"take_off_feet": feet, "landing_feet": "right" if feet == "left" else feet, "height_m": height_m}
    jump = made("jump-1", "right", 1.0, 1.2, **facts)
    landing = made("landing-1", "right", 1.2, 1.5, jump="jump-1")
    evidence = Evidence(danced(), Phrase((), (jump, landing)))
    assert [p.id for p in (*evidence.jumps, *evidence.landings)] == (["jump-1", "landing-1"] if judged else [])


@pytest.mark.parametrize(
    ("what", "starts_s", "travel_m", "feet", "judged"),
    [
        ("a quick series in its place", (1.0, 1.68, 2.36, 3.04), 0.02, "both", 4),
        ("three", (1.0, 1.68, 2.36), 0.02, "both", 3),
        ("two only", (1.0, 1.68), 0.02, "both", 0),
        ("now and then", (1.0, 1.5, 2.6, 3.2), 0.02, "both", 0),
        ("steps that go on", (1.0, 1.68, 2.36, 3.04), 0.25, "both", 0),
        ("nobody knows whether they go on", (1.0, 1.68, 2.36, 3.04), None, "both", 0),
        ("on one foot", (1.0, 1.68, 2.36, 3.04), 0.02, "right", 0),
        ("four that are even, after one by the way", (1.0, 2.1, 2.78, 3.46, 4.14), 0.02, "both", 4),
        ("far apart", (1.0, 3.0, 5.0, 7.0), 0.02, "both", 0),
    ],
)
def test_small_jumps_are_judged_where_they_are_a_series(
    what: str, starts_s: tuple[float, ...], travel_m: float | None, feet: str, judged: int
) -> None:
    """Jumps of 3 cm. Catches quick petit allegro that is passed over, and hops of a chain of steps that are judged as jumps."""
    facts = {"take_off_feet": feet, "landing_feet": feet, "height_m": 0.03, "travel_m": travel_m}
    jumps = tuple(made(f"jump-{n}", "right", s, s + 0.16, take_off_s=s, **facts) for n, s in enumerate(starts_s))
    assert len(Evidence(danced(), Phrase((), jumps)).jumps) == judged, what


@pytest.mark.parametrize("slow", [False, True])
def test_a_preparation_is_no_measure_of_itself(slow: bool) -> None:
    """Turns from preparations of 0.86 of the dancer's own demi-plié, alone and after a slow plié that shows it.

    Catches "0.99 of the own demi-plié" where nothing but the preparations themselves shows one.
    """
    phrase = ((Plie(4),) if slow else ()) + turns_from_fifth()
    dance = simulate((Stand(2), *phrase), rate_hz=RATE)
    exact = dance.movement
    shown = own_ranges(exact.angles_rad, exact.foot_heights_m, RATE).demi_plie_rad
    movement = replace(exact, standing=replace(exact.standing, demi_plie_rad=shown))
    evidence = Evidence(movement, understand_phrase(movement))
    told = [o for o in observe(evidence, load_profile("intermediate")) if o.fault == "shallow-plie"]
    true = [v.value for v in true_values(dance) if v.fault == "shallow-plie" and v.value < 0.95]
    if slow:
        assert [o.value for o in told if isinstance(o, Observation)] == pytest.approx(true, abs=0.03)
        assert len(true) == 2
    else:
        assert told
        assert {o.why for o in told if isinstance(o, NotTold)} == {NO_SLOW_PLIE}
        assert not [o for o in told if isinstance(o, Observation)]
        assert true == []


def test_every_fault_says_how_it_is_measured() -> None:
    """The page docs/findings.md is the catalogue's own data, whole and up to date; run scripts/make_findings_page.py."""
    from importlib.util import module_from_spec, spec_from_file_location

    root = Path(__file__).resolve().parents[2]
    spec = spec_from_file_location("make_findings_page", root / "scripts" / "make_findings_page.py")
    assert spec is not None
    assert spec.loader is not None
    script = module_from_spec(spec)
    spec.loader.exec_module(script)
    text = (root / "docs" / "findings.md").read_text(encoding="utf-8")
    assert text == script.page(load_profile("intermediate"))
    assert text.count("**When.**") == len(catalogue()) == 46
    for entry in catalogue().values():
        told = explain(entry)
        assert all(text.strip() for _, text in told.lines()), entry.fault
        assert len(told.bands) == len(entry.measures)


def test_toes_that_trail_over_the_floor_do_not_arrive_by_their_height() -> None:
    """Low jump of a child: pointed toes 0 to 20 mm over the floor all through the flight pass 15 mm whenever they like, and two
    feet that land together were told 90 ms apart. A foot that was 60 mm up arrives where it passes 15 mm."""
    heights = np.zeros((60, 2, 4))
    heights[20:30, 0] = 0.001 * np.array([10, 18, 12, 8, 17, 20, 16, 12, 9, 5])[:, None]
    heights[20:30, 1] = 0.001 * np.array([10, 40, 60, 60, 60, 60, 50, 40, 30, 20])[:, None]
    seen = SimpleNamespace(
        rate_hz=100.0, samples=lambda seconds: round(100 * seconds), movement=SimpleNamespace(foot_heights_m=heights)
    )
    landing = cast(Landing, SimpleNamespace(start=30))
    assert np.isnan(_arrival_s(cast(Evidence, seen), "left", landing))
    assert _arrival_s(cast(Evidence, seen), "right", landing) == pytest.approx(0.2925)
