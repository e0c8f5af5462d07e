"""Which steps the measures judge: pliés whose feet stay, landings that stay up, turns on a standing leg, gestures that are meant.

Each rule on a movement made for it: a dancer who stands as the simulated one stands at first, and does one thing. What is asked
of each was seen on stills of real dance (docs/checked_by_eye.md); no source has it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
from in_the_round.analysis_core.body.movement import ANGLES, FOOT_POINTS, JOINTS, Movement
from in_the_round.analysis_core.findings.evidence import Evidence
from in_the_round.analysis_core.findings.measure_plies import uneven_plie
from in_the_round.analysis_core.findings.measure_turns import turn_angle_off
from in_the_round.analysis_core.findings.observation import Observation
from in_the_round.analysis_core.phrase import understand_phrase
from in_the_round.analysis_core.phrase.carrying import Stances, with_carrying_foot
from in_the_round.analysis_core.phrase.contacts import find_feet
from in_the_round.analysis_core.phrase.phase import Contact, Phase, Phrase, Plie
from in_the_round.analysis_core.phrase.properties import phase_from
from in_the_round.analysis_core.phrase.releves import find_releves
from in_the_round.analysis_core.phrase.turns import find_turns
from in_the_round.analysis_core.phrase.understand import course_of
from in_the_round.analysis_core.take import Floats, Kind, Side
from in_the_round.simulated_dancer import demo_phrase, simulate

RATE = 100.0
SECONDS = 4.0
TIME = np.arange(0.0, SECONDS, 1 / RATE)


@cache
def standing() -> Movement:
    """Four seconds in which nothing moves: every frame is the first of the demo."""
    whole = simulate(demo_phrase(), rate_hz=RATE).movement

    def held(value: object) -> object:
        if not isinstance(value, np.ndarray) or value.shape[:1] != (whole.frames,):
            return value
        return np.repeat(value[:1], TIME.size, axis=0)

    made = {name: held(value) for name, value in vars(whole).items()}
    return replace(whole, **{**made, "time_s": TIME})


def bump(start_s: float, end_s: float) -> Floats:
    """From 0 to 1 and back between two times (F,)."""
    share = np.clip((TIME - start_s) / (end_s - start_s), 0.0, 1.0)
    return np.asarray(np.sin(np.pi * share) ** 2)


def ramp(start_s: float, end_s: float) -> Floats:
    """From 0 to 1 between two times (F,)."""
    return np.clip((TIME - start_s) / (end_s - start_s), 0.0, 1.0)


def bent(movement: Movement, degrees: Floats, *names: str) -> Movement:
    """The movement with other angles (F,)."""
    angles = movement.angles_rad.copy()
    angles[:, [ANGLES.index(name) for name in names]] = np.radians(degrees)[:, None]
    return replace(movement, angles_rad=angles)


def slid(movement: Movement, side: int, way_m: Floats) -> Movement:
    """The movement with one foot slid forward over the floor by a way (F,)."""
    points = movement.foot_points_m.copy()
    points[:, side, :, 0] += way_m[:, None]
    return replace(movement, foot_points_m=points)


def heels_at(movement: Movement, side: int, height_m: Floats) -> Movement:
    heights = movement.foot_heights_m.copy()
    heights[:, side, FOOT_POINTS.index("heel")] = height_m
    return replace(movement, foot_heights_m=heights)


def phase(kind: str, side: Side, start_s: float, end_s: float, **told: float | str | None) -> Phase:
    """The first step of a kind."""
    span = {"start": round(start_s * RATE), "end": round(end_s * RATE), "start_s": start_s, "end_s": end_s}
    return phase_from(kind, id=f"{kind}-1", side=side, properties=told, **span)


BOTH_DOWN = tuple(Contact(side, "foot", 0.0, SECONDS) for side in ("left", "right"))
#: A plié from 1 to 3 s with its bottom at 2 s: the knees to 70° and back.
PLIE = phase("plie", "both", 1.0, 3.0, support="both", use="plié", bottom_s=2.0, arrival_s=2.0)
DOWN_AND_UP = 5.0 + 65.0 * bump(1.0, 3.0)
KNEES = ("knee_flexion.L", "knee_flexion.R")


@dataclass(frozen=True)
class Bend:
    """Bent knees, and what moves meanwhile."""

    what: str
    movement: Movement
    judged: bool


@cache
def bends() -> tuple[Bend, ...]:
    plie = bent(standing(), DOWN_AND_UP, *KNEES)
    nobody = slid(plie, 0, np.where((TIME > 1.8) & (TIME < 2.2), np.nan, 0.0))
    return (
        Bend("a plié in its place", plie, True),
        Bend("a foot that creeps by 15 mm", slid(plie, 0, 0.015 * ramp(1.5, 2.5)), True),
        Bend("a foot that draws behind by 12 cm at the bottom", slid(plie, 0, -0.12 * ramp(1.6, 2.4)), False),
        Bend("a foot that closes before the knees go down", slid(plie, 1, 0.12 * ramp(0.9, 1.2)), True),
        Bend("a foot that steps out when the knees have come up", slid(plie, 1, 0.12 * ramp(2.8, 3.0)), True),
        Bend("the body turns by 70° over its feet", bent(plie, 70.0 * ramp(1.4, 2.6), "pelvis_yaw"), False),
        Bend("the body turns by 15°", bent(plie, 15.0 * ramp(1.4, 2.6), "pelvis_yaw"), True),
        Bend("a curtsey: one heel 9 cm over the other", heels_at(plie, 1, 0.09 * bump(1.0, 3.0)), False),
        Bend("a foot that is not seen at the bottom", nobody, True),
    )


@pytest.mark.parametrize("number", range(9))
def test_a_plie_is_judged_where_its_feet_stay(number: int) -> None:
    """Catches knees, heels and turnout that are judged in every bent step (ballroom: 53 and 71 findings a minute), and a rule so
    narrow that a plié which creeps, or is danced right after a foot has closed, is passed over."""
    bend = bends()[number]
    evidence = Evidence(bend.movement, Phrase(BOTH_DOWN, (PLIE,)))
    assert (PLIE in evidence.plies) == bend.judged, bend.what
    assert (PLIE in evidence.judged("plie")) == bend.judged, bend.what


@pytest.mark.parametrize(
    ("bends_by", "over_m", "told"), [(30.0, 0.16, False), (30.0, 0.04, True), (8.0, 0.16, True), (8.0, 0.04, True)]
)
def test_a_lunge_is_no_uneven_plie(bends_by: float, over_m: float, told: bool) -> None:
    """One knee by 30° further and the hips 16 cm over to that foot is a lunge to the side; one of them alone is uneven. Catches
    the side lunges of an invented dancer told as pliés with one knee 34° deeper and the hips 16 cm from the middle."""
    right = DOWN_AND_UP + bends_by * bump(1.0, 3.0)
    lunged = bent(bent(standing(), DOWN_AND_UP, KNEES[0]), right, KNEES[1])
    joints = lunged.joint_centres_m.copy()
    joints[:, JOINTS.index("pelvis"), 1] -= over_m * bump(1.0, 3.0)
    found = list(uneven_plie(Evidence(replace(lunged, joint_centres_m=joints), Phrase(BOTH_DOWN, (PLIE,)))))
    assert any(isinstance(one, Observation) for one in found) is told


def landing_of(bend_deg: Floats) -> Evidence:
    """A jump from 0.6 to 1 s and its landing from 1 to 3 s, deepest at 1.3 s."""
    facts = {"take_off_feet": "both", "landing_feet": "both"}
    jump = phase("jump", "both", 0.6, 1.0, height_m=0.2, **facts)
    landing = phase("landing", "both", 1.0, 3.0, landing_feet="both", jump="jump-1", lowest_s=1.3)
    return Evidence(bent(standing(), bend_deg, *KNEES), Phrase((), (jump, landing)))


def test_a_landing_that_goes_down_to_the_floor_is_none() -> None:
    """A kneel or a lunge on the knee after a jump. Catches heels and unevenness asked of it (ballroom a)."""
    kneels = landing_of(10.0 + 115.0 * ramp(1.0, 2.0))
    assert kneels.landings == ()
    assert kneels.jumps == ()


def test_a_deep_landing_is_one() -> None:
    """Catches a limit so low that deep landings, the ones that matter, are taken for kneels."""
    deep = landing_of(10.0 + 85.0 * bump(1.0, 1.6))
    assert [landing.id for landing in deep.landings] == ["landing-1"]
    assert len(deep.jumps) == 1


def test_a_landing_ends_where_the_knees_bend_for_what_comes_next() -> None:
    """Deepest (60°) at 1.3 s, stretched at 1.9 s, then 100° for the next jump. Catches a landing whose deepest is the next jump's
    crouch (forward jumps: trunk, back and knees judged half a second late), and one that ends at its own bottom."""
    (landing,) = landing_of(10.0 + 50.0 * bump(1.0, 1.6) + 90.0 * bump(1.9, 3.1)).landings
    assert 1.55 <= landing.end_s <= 1.95
    assert landing.end == round(landing.end_s * RATE)


def test_a_landing_that_just_stretches_keeps_its_end() -> None:
    """Also one that gives by 8° on the way, which is not the next plié."""
    (landing,) = landing_of(10.0 + 50.0 * bump(1.0, 1.6) + 8.0 * bump(1.9, 2.4)).landings
    assert landing.end_s == 3.0


@pytest.mark.parametrize(("knee_deg", "judged"), [(4.0, 1), (30.0, 1), (50.0, 0), (100.0, 0)])
@pytest.mark.parametrize("heel_m", [0.0, 0.08])
def test_a_turn_on_a_bent_knee_is_no_pirouette(knee_deg: float, judged: int, heel_m: float) -> None:
    """On the flat foot and on relevé. Catches an axis, a relevé and a hop asked of a turn that kneels (ballroom a, social dance),
    and a knee given in by 30°, a fault to be told, that hides the turn."""
    facts = {"support": "left", "supports": "left", "direction": "en dehors", "single_support_s": 1.0, "close_s": 2.5}
    turn = phase("turn", "right", 0.8, 2.5, turned_deg=-360.0, **facts)
    movement = bent(standing(), knee_deg * ramp(0.5, 1.0), "knee_flexion.L")
    movement = heels_at(movement, 0, heel_m * (ramp(0.9, 1.1) - ramp(2.3, 2.5)))
    assert len(Evidence(movement, Phrase((), (turn,))).turns) == judged


@pytest.mark.parametrize(
    ("support", "left_deg", "right_deg", "judged"),
    [("right", 120.0, 130.0, 0), ("both", 80.0, 75.0, 0), ("both", 40.0, 5.0, 1), ("left", 5.0, 100.0, 1)],
)
def test_the_facing_of_a_turn_that_kneels_is_not_judged(support: str, left_deg: float, right_deg: float, judged: int) -> None:
    """Catches an ending asked of a turn on the knee (ballroom a), and a retiré or a turn from foot to foot taken for kneeling."""
    facts = {"support": support, "supports": support, "preparation_s": 0.9, "close_s": 2.5}
    turn = phase("turn", "left", 1.0, 2.5, turned_deg=320.0, **facts)
    movement = bent(standing(), left_deg * ramp(0.5, 1.0), "knee_flexion.L")
    movement = bent(movement, right_deg * ramp(0.5, 1.0), "knee_flexion.R")
    movement = bent(movement, 320.0 * ramp(1.0, 2.4), "pelvis_yaw")
    told = [one for one in turn_angle_off(Evidence(movement, Phrase((), (turn,)))) if one is not None]
    assert len(told) == judged


@pytest.mark.parametrize(
    ("supports", "turned_deg", "judged"),
    [
        ("right", 320.0, 1),
        ("right-left-right", 400.0, 1),
        ("right-left-right-left", 400.0, 0),
        ("left-right-left-right-left", 720.0, 1),
    ],
)
def test_the_facing_of_a_turn_that_is_walked_is_not_judged(supports: str, turned_deg: float, judged: int) -> None:
    """Catches an ending asked of a turn on four steps (social dance, 41°), and a turn from foot to foot taken for one."""
    turn = phase(
        "turn", "left", 1.0, 2.5, turned_deg=turned_deg, support="right", supports=supports, preparation_s=0.9, close_s=2.5
    )
    movement = bent(standing(), turned_deg * ramp(1.0, 2.4), "pelvis_yaw")
    assert len([one for one in turn_angle_off(Evidence(movement, Phrase((), (turn,)))) if one is not None]) == judged


def test_a_turn_that_goes_on_while_the_feet_close_ends_where_it_stops() -> None:
    """The other foot comes down at 2.2 s, the pelvis stops 0.2 s later, 8° short of a whole turn. Catches a dancer who is told
    that she lacks the 72° that she still turns then (a turn of ballet at 30 Hz, 42°)."""
    facts = {"support": "left", "supports": "left", "preparation_s": 0.9, "close_s": 2.2}
    turn = phase("turn", "left", 1.0, 2.4, turned_deg=352.0, **facts)
    movement = bent(standing(), 280.0 * ramp(1.0, 2.2) + 72.0 * ramp(2.2, 2.4), "pelvis_yaw")
    (told,) = (one for one in turn_angle_off(Evidence(movement, Phrase((), (turn,)))) if isinstance(one, Observation))
    assert told.value == pytest.approx(-8.0, abs=0.1)


@pytest.mark.parametrize(("until_s", "rises"), [(1.08, False), (1.4, True)])
def test_a_heel_that_only_comes_down_has_not_risen_for_a_turn(until_s: float, rises: bool) -> None:
    """Stepped onto with the heel 80 mm up, which rolls down or stays. Catches a low relevé asked of a step (a serve)."""
    facts = {"support": "left", "supports": "left", "direction": "en dehors", "single_support_s": 1.0, "close_s": 1.5}
    turn = phase("turn", "right", 1.0, 1.5, turned_deg=-180.0, **facts)
    movement = heels_at(standing(), 0, np.where(until_s > TIME, 0.08, 0.0))
    (judged,) = Evidence(movement, Phrase((), (turn,))).turns
    assert (judged.leave is not None) == rises


@pytest.mark.parametrize(("steps", "prepared"), [(0, True), (1, True), (2, False)])
def test_a_bend_with_steps_between_prepares_no_turn(steps: int, prepared: bool) -> None:
    """Knees bent at 1 s, alone on the left foot from 1.6 s, feet put down between. Catches a heel and a foot that are judged in a
    bend before a jump (a serve) or other steps (social dance), and a turn that is stepped onto without its preparation."""
    course, _ = course_of(bent(standing(), 360.0 * ramp(1.7, 2.5), "pelvis_yaw"))
    left, right = {
        0: ([(0.0, 399.0)], [(0.0, 160.0), (260.0, 399.0)]),
        1: ([(0.0, 80.0), (158.0, 399.0)], [(0.0, 160.0), (260.0, 399.0)]),
        2: ([(0.0, 110.0), (158.0, 399.0)], [(0.0, 90.0), (112.0, 157.0), (260.0, 399.0)]),
    }[steps]
    on = np.zeros((TIME.size, 2), dtype=bool)
    for foot, stances in enumerate((left, right)):
        for begin, end in stances:
            on[round(begin) : round(end) + 1, foot] = True
    course = replace(course, feet=replace(course.feet, on=on, stances=(tuple(left), tuple(right))))
    bend = phase("plie", "both", 0.7, 1.3, support="both", bottom_s=1.0)
    assert isinstance(bend, Plie)
    (turn,) = find_turns(course, (bend,))
    assert turn.support == "left"
    assert (turn.preparation_s is not None) == prepared


@pytest.mark.parametrize(("other_mm", "goes_over"), [(5.0, True), (45.0, False), (300.0, False)])
def test_the_lower_foot_carries_where_none_seems_to(other_mm: float, goes_over: bool) -> None:
    """Neither foot is told on the floor for 0.3 s, the body does not fall: the left one, which stood, is 50 mm up. Catches a foot
    that goes on standing while it swings (social dance, a "hop" of 53 mm), and a hop that is given to the foot in retiré."""
    low = np.full((TIME.size, 2), 0.001)
    off = (TIME > 1.0) & (TIME < 1.3)
    low[off] = 0.050, other_mm / 1000
    left: Stances = [(0.0, 100.0), (130.0, 399.0)]
    right: Stances = [(0.0, 50.0), (250.0, 399.0)]
    known = np.ones((TIME.size, 2), dtype=bool)
    told = with_carrying_foot((left, right), low, known, np.ones(TIME.size), RATE, "skeleton")
    carried = [any(on <= 115.0 <= off for on, off in stances) for stances in told]
    assert carried == ([False, True] if goes_over else [True, False])


@pytest.mark.parametrize(("kind", "height_m", "found"), [("markers", 0.04, 2), ("skeleton", 0.04, 0), ("skeleton", 0.07, 2)])
def test_heels_of_a_skeleton_that_float_are_no_releve(kind: Kind, height_m: float, found: int) -> None:
    """Catches a relevé, and a trunk judged in it, of a foot that shifts on the floor (a skeleton, 40 mm)."""
    movement = standing()
    for side in range(2):
        movement = heels_at(movement, side, height_m * (ramp(1.0, 1.2) - ramp(1.8, 2.0)))
    course, _ = course_of(replace(movement, kind=kind))
    assert sum(2 if releve.side == "both" else 1 for releve in find_releves(course)) == found


@pytest.mark.parametrize(("rises", "found"), [(True, 1), (False, 0)])
def test_a_heel_that_comes_down_as_weight_comes_on_is_no_releve(rises: bool, found: int) -> None:
    """The left foot stands throughout, its heel rises from 1 s, or is up when the weight comes over it then; it is flat from 2 s.
    Catches a back, a head and a side bend judged in a step of ballroom f whose heel lowers, once the floor is 1 mm higher."""
    up = 0.06 * (ramp(1.0, 1.3) - ramp(1.5, 2.0) if rises else 1.0 - ramp(0.5, 2.0))
    course, _ = course_of(heels_at(standing(), 0, up))
    over = np.where(TIME < 1.0, 0.1, 0.9)
    course = replace(course, load=np.stack([over, 1.0 - over], axis=1))
    assert sum(releve.side == "left" for releve in find_releves(course)) == found


@pytest.mark.parametrize(("seen", "found"), [(True, 1), (False, 0)])
def test_one_heel_up_is_no_releve_beside_a_foot_that_is_not_seen(seen: bool, found: int) -> None:
    """The left heel 60 mm up for 0.8 s, the right foot 200 mm up, or not seen, and maybe the one that stands. Catches a relevé of
    the resting foot of ballroom f whose right heel marker was lost."""
    movement = heels_at(standing(), 0, 0.06 * (ramp(1.0, 1.2) - ramp(1.8, 2.0)))
    heights, points = movement.foot_heights_m.copy(), movement.foot_points_m.copy()
    heights[:, 1] = heights[:, 1] + 0.2 if seen else np.nan
    points[:, 1] = points[:, 1] + [0.0, 0.0, 0.2] if seen else np.nan
    course, _ = course_of(replace(movement, foot_heights_m=heights, foot_points_m=points))
    assert len(find_releves(course)) == found


@pytest.mark.parametrize(("knee_deg", "judged"), [(5.0, True), (30.0, True), (90.0, False)])
def test_a_heel_that_is_up_under_who_kneels_is_no_releve(knee_deg: float, judged: bool) -> None:
    """Catches a back, a head and a side bend asked of a jump that ends on the knee (ballroom a)."""
    releve = phase("releve", "right", 1.0, 2.0, support="right", height_m=0.06)
    movement = bent(standing(), knee_deg * ramp(0.5, 1.0), *KNEES)
    assert bool(Evidence(movement, Phrase(BOTH_DOWN, (releve,))).judged("releve")) == judged


@pytest.mark.parametrize(("height_m", "judged"), [(0.03, False), (0.20, True)])
def test_knees_that_push_a_small_hop_are_no_plie(height_m: float, judged: bool) -> None:
    """Catches a head, a trunk and hips asked of 0.13 s between two steps (ballroom c), and the plié before a jump passed over."""
    plie = phase("plie", "both", 1.0, 2.0, support="both", use="take-off", bottom_s=1.5, arrival_s=1.5)
    jump = phase(
        "jump", "both", 2.0, 2.2, feet="both", height_m=height_m, flight_s=0.2, take_off_feet="both", landing_feet="both"
    )
    movement = bent(standing(), 5.0 + 65.0 * bump(1.0, 2.0), *KNEES)
    assert bool(Evidence(movement, Phrase(BOTH_DOWN, (plie, jump))).judged("plie")) == judged


def test_a_knee_that_bends_at_the_ends_only_hides_no_turn() -> None:
    """Out of a deep preparation and into a deep finish, straight between: its middle value counts, not its greatest."""
    facts = {"support": "left", "supports": "left", "direction": "en dehors", "single_support_s": 1.0, "close_s": 2.5}
    turn = phase("turn", "right", 0.8, 2.5, turned_deg=-360.0, **facts)
    knee = 70.0 * (1 - ramp(1.0, 1.3)) + 70.0 * ramp(2.3, 2.5)
    assert len(Evidence(bent(standing(), knee, "knee_flexion.L"), Phrase((), (turn,))).turns) == 1


@pytest.mark.parametrize(
    ("lasts_s", "elevation_deg", "judged"),
    [(0.2, 40.0, False), (0.38, 55.0, False), (0.38, 85.0, True), (1.0, 40.0, True), (1.0, 85.0, True)],
)
def test_a_leg_that_swings_in_a_step_is_no_gesture(lasts_s: float, elevation_deg: float, judged: bool) -> None:
    """Catches hips and side bends asked of every foot that swings through (ballroom d), and a quick kick to the height of the hip
    that is passed over."""
    told = {"support": "left", "elevation_deg": elevation_deg, "peak_s": 1.0 + lasts_s / 2}
    gesture = phase("leg-gesture", "right", 1.0, 1.0 + lasts_s, **told)
    feet = (
        Contact("left", "foot", 0.0, SECONDS),
        Contact("right", "foot", 0.0, 0.99),
        Contact("right", "foot", 1.01 + lasts_s, 4.0),
    )
    evidence = Evidence(standing(), Phrase(feet, (gesture,)))
    assert bool(evidence.gestures) == judged
    assert bool(evidence.judged("leg-gesture")) == judged


@pytest.mark.parametrize(
    ("lasts_s", "elevation_deg", "steps", "judged"),
    [(0.45, 31.0, True, False), (0.45, 31.0, False, True), (0.45, 85.0, True, True), (1.0, 40.0, True, True)],
)
def test_a_slow_swing_whose_foot_steps_is_no_gesture(lasts_s: float, elevation_deg: float, steps: bool, judged: bool) -> None:
    """Catches a back and a pelvis asked of long steps (ballroom a and b), and a leg that is shown before it steps passed over."""
    end = 1.0 + lasts_s
    gesture = phase("leg-gesture", "right", 1.0, end, support="left", elevation_deg=elevation_deg, peak_s=1.0 + lasts_s / 2)
    step = phase("step", "right", end, end + 0.3, length_m=0.57, direction="front", rise_m=0.0, swing_s=lasts_s)
    feet = (Contact("left", "foot", 0.0, SECONDS), Contact("right", "foot", 0.0, 0.99), Contact("right", "foot", end + 0.01, 4.0))
    phrase = Phrase(feet, (gesture, step) if steps else (gesture,))
    assert bool(Evidence(standing(), phrase).gestures) == judged


def test_a_gesture_in_a_step_that_travels_is_none() -> None:
    """The body goes on by 40 cm while the leg is up. Catches gestures judged in walks."""
    told = {"support": "left", "elevation_deg": 70.0, "peak_s": 1.5}
    gesture = phase("leg-gesture", "right", 1.0, 2.0, **told)
    feet = (Contact("left", "foot", 0.0, SECONDS), Contact("right", "foot", 0.0, 0.99), Contact("right", "foot", 2.01, 4.0))
    centre = standing().centre_of_mass_m.copy()
    centre[:, 0] += 0.4 * ramp(1.0, 2.0)
    assert not Evidence(replace(standing(), centre_of_mass_m=centre), Phrase(feet, (gesture,))).gestures
    assert Evidence(standing(), Phrase(feet, (gesture,))).gestures


def test_the_made_dancer_stands() -> None:
    """What the tests above rest on: nothing moves, the knees are nearly straight and both heels are down."""
    movement = standing()
    assert np.ptp(movement.joint(JOINTS[0]), axis=0) == pytest.approx(0.0, abs=1e-12)
    assert np.degrees(movement.angle("knee_flexion.L")).max() < 10.0
    assert np.abs(movement.foot_heights_m[:, :, FOOT_POINTS.index("heel")]).max() < 0.01


@pytest.mark.parametrize(
    ("hips", "hands", "steps"), [(0.8, 0.5, {"static"}), (0.56, 0.5, set()), (0.1, 0.05, set()), (0.8, 0.02, set())],
    ids=["a bent leg's height", "kneels", "lies", "leans on the hands"],
)  # fmt: skip
def test_only_who_is_up_on_the_feet_stands_or_balances(hips: float, hands: float, steps: set[str]) -> None:
    """Hips and hands at a share of the leg over the floor, all still. Catches a balance told of who kneels, lies or waits
    on hands and feet after a fall, and judged: its foot "hops" when the dancer gets up."""
    movement = standing()
    places, leg = movement.joint_centres_m.copy(), movement.standing.leg_length_m
    for name, share in (("hip", hips), ("wrist", hands)):
        places[:, [JOINTS.index(name + suffix) for suffix in (".L", ".R")], 2] = share * leg
    assert {phase.kind for phase in understand_phrase(replace(movement, joint_centres_m=places)).phases} == steps


def test_a_dancer_stood_on_the_floor_before_she_kneels() -> None:
    """Down to the knees so slowly that the feet never seem to move, their insteps 40 mm lower than the soles. Catches a floor
    between the two, on which the standing foot hangs in the air."""
    movement, down = standing(), ramp(1.0, 3.0)
    places, heights = movement.joint_centres_m.copy(), movement.foot_heights_m - 0.04 * down[:, None, None]
    hips = [JOINTS.index("hip" + suffix) for suffix in (".L", ".R")]
    places[:, hips, 2] -= 0.5 * movement.standing.leg_length_m * down[:, None]
    feet = find_feet(replace(movement, joint_centres_m=places, foot_heights_m=heights))
    stands = TIME < 1.0
    assert feet.on[stands].all()
    assert np.abs(feet.ground_m[stands]).max() < 0.01
