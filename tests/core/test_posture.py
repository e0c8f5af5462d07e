"""Measures of trunk, pelvis, shoulders and head on a dancer made of written-out courses: every answer is put in by hand.

Which steps and frames are looked at is the catalogue's (windows.toml); each limit is tried on both sides of itself.
"""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from in_the_round.analysis_core.findings import measure_posture as posture
from in_the_round.analysis_core.findings.evidence import Evidence
from in_the_round.analysis_core.findings.limits import LEVERS, POSTURE, STEPS
from in_the_round.analysis_core.findings.observation import NotTold, Observation
from in_the_round.analysis_core.findings.reading import Told
from in_the_round.analysis_core.phrase.phase import Contact, Phase, Phrase
from in_the_round.analysis_core.phrase.properties import phase_from
from in_the_round.analysis_core.take import Floats, Side

RATE_HZ, FRAMES = 100.0, 201
#: Steps last from the first of these frames to the last, both told.
FIRST, LAST = 50, 150
#: What is done is done in these frames: the middle of it is steady, the mean of five frames there is the number itself.
DONE = slice(80, 120)
ALWAYS = slice(None)
#: How the dancer stands: it is taken off what the dancer does.
STOOD_DEG = {"trunk_pitch": 3.0, "trunk_roll": -2.0, "pelvis_tilt": 5.0, "thorax_extension": 1.0, "head_pitch": -4.0}


def course(value: float, frames: slice = DONE, elsewhere: float = 0.0) -> Floats:
    """A course (F,) that has one value in some frames and another in all others."""
    made = np.full(FRAMES, elsewhere)
    made[frames] = value
    return made


def exact_radians(degrees: Floats) -> Floats:
    """Radians (F,) that are no less than these degrees when they are told in degrees again, and the same where a number is."""
    near = np.radians(degrees)
    return np.where(np.degrees(near) < degrees, np.nextafter(near, np.inf), near)


def step(kind: str = "balance", side: Side | None = "left", **told: float | str | None) -> Phase:
    """A step of a kind from FIRST to LAST; side: that it stands on."""
    span = {"start": FIRST, "end": LAST, "start_s": FIRST / RATE_HZ, "end_s": LAST / RATE_HZ}
    return phase_from(kind, id=f"{kind}-1", side=side, properties={"support": side, **told}, **span)


def place(*xyz: float) -> Floats:
    return np.tile(np.array(xyz), (FRAMES, 1))


def down(*feet: Side, seconds: tuple[float, float] = (0.0, 2.0)) -> tuple[Contact, ...]:
    return tuple(Contact(foot, "foot", *seconds) for foot in feet)


#: A chest that leans: its own up (second column) is 0.6 forward and 0.8 up.
LEANING = np.tile(np.array([[0.8, 0.6, 0.0], [-0.6, 0.8, 0.0], [0.0, 0.0, 1.0]]), (FRAMES, 1, 1))


def dancer(
    phases: tuple[Phase, ...] = (),
    contacts: tuple[Contact, ...] = down("left"),
    joints: dict[str, Floats] | None = None,
    thorax: Floats = LEANING,
    **changes_deg: Floats,
) -> Evidence:
    """Evidence of a dancer who only changes these angles (F,) from standing (left: ``knee_left``), degrees."""

    def change_deg(name: str) -> Floats:
        return changes_deg.get(name.replace(".L", "_left").replace(".R", "_right"), np.zeros(FRAMES))

    def joint(name: str) -> Floats:
        # Arms hang.
        return (joints or {}).get(name, place(0.0, 0.0, -0.3 if name.startswith("elbow") else 0.0))

    movement = SimpleNamespace(
        rate_hz=RATE_HZ,
        frames=FRAMES,
        change=lambda name: exact_radians(change_deg(name)),
        angle=lambda name: exact_radians(change_deg(name) + STOOD_DEG.get(name, 0.0)),
        joint=joint,
        segment=lambda name: thorax if name == "thorax" else None,
        heel_height_m=lambda side: np.zeros(FRAMES),
        foot_heights_m=np.zeros((FRAMES, 2, 4)),
        foot_points_m=np.zeros((FRAMES, 2, 4, 3)),
        centre_of_mass_m=np.zeros((FRAMES, 3)),
        standing=SimpleNamespace(shoulder_height_m=(-0.05, -0.06)),
    )
    return Evidence(cast(Any, movement), Phrase(contacts, phases or (step(),)))


def all_told(measure: Callable[[Evidence], Told], evidence: Evidence) -> list[Observation | NotTold]:
    return [told for told in measure(evidence) if told is not None]


def told(measure: Callable[[Evidence], Told], evidence: Evidence, name: str | None = None) -> Observation:
    """The one observation of a measure (of a name)."""
    (one,) = (one for one in all_told(measure, evidence) if name in (None, getattr(one, "measure", None)))
    assert isinstance(one, Observation)
    return one


def is_told(measure: Callable[[Evidence], Told], evidence: Evidence, name: str | None = None) -> bool:
    """Whether a measure (of a name) is told of anything."""
    return any(name in (None, getattr(one, "measure", None)) for one in all_told(measure, evidence))


HIPS = ("hip.L", "hip.R")
#: Measure, what it is called, the angle it is made of, which of -8° and +6° it tells, what must have been seen, and the lever
#: by which an error of a place turns it (metres).
ANGLES = (
    (posture.trunk_leans, "trunk-leans", "pitch", "trunk_pitch", -8.0, ("neck", *HIPS), LEVERS.trunk_m),
    (posture.side_bends, "side-bends", "roll", "trunk_roll", -8.0, ("neck", *HIPS), LEVERS.trunk_m),
    (posture.ribs_flare, "ribs-flare", "tip", "thorax_extension", 6.0, ("neck", "lumbar"), LEVERS.shoulders_m),
    (posture.back_arches, "back-arches", "tilt", "pelvis_tilt", 6.0, (*HIPS, "lumbar"), LEVERS.pelvis_m),
    (posture.pelvis_tucks, "pelvis-tucks", "tilt", "pelvis_tilt", -8.0, (*HIPS, "lumbar"), LEVERS.pelvis_m),
    (posture.head_lifts, "head-lifts", "pitch", "head_pitch", -8.0, ("head", "neck"), LEVERS.head_m),
    (posture.head_lifts, "head-lifts", "roll", "head_roll", -8.0, ("head", "neck"), LEVERS.head_m),
)


@pytest.mark.parametrize(
    ("measure", "fault", "name", "angle", "number", "joints", "lever_m"),
    ANGLES,
    ids=lambda value: getattr(value, "__name__", str(value)),
)
def test_an_angle_is_told_as_it_was_put_in(
    measure: Callable[[Evidence], Told], fault: str, name: str, angle: str, number: float, joints: tuple[str, ...], lever_m: float
) -> None:
    """8° one way and 6° the other. Catches a sign, the wrong direction, an angle that is not counted from standing."""
    both = course(-8.0, slice(60, 80)) + course(6.0, slice(100, 120))
    one = told(measure, dancer(**{angle: both}), name)
    assert (one.fault, one.measure, one.side) == (fault, name, None)
    assert one.value == pytest.approx(number)
    assert (one.start, one.end) == (FIRST, LAST)
    assert (62 <= one.peak <= 77) if number < 0 else (102 <= one.peak <= 117)
    assert (one.joints, one.lever_m) == (joints, lever_m)
    assert one.made_of is not None
    np.testing.assert_allclose(one.made_of(dancer(**{angle: both})), both, atol=1e-12)


#: The steps of which each measure is told (catalogue, "asked of").
ASKED_OF = {
    "trunk-leans": {"plie", "releve", "turn", "balance", "landing"},
    "side-bends": {"turn", "balance", "releve", "leg-gesture"},
    "ribs-flare": {"turn", "balance", "releve", "plie"},
    "back-arches": {"plie", "releve", "turn", "balance", "landing", "leg-gesture"},
    "pelvis-tucks": {"plie", "releve", "turn", "balance", "landing", "leg-gesture"},
    "head-lifts": {"turn", "balance", "releve", "plie"},
    "shoulders-lift": {"turn", "balance", "releve"},
}
TURN = step("turn", "left", single_support_s=0.6, close_s=1.3)
STEPS_DANCED = (
    step("plie", use="plié"), step("releve"), TURN, step("balance"), step("leg-gesture", elevation_deg=60.0), step("static"),
    step("jump", take_off_feet="both", landing_feet="left", height_m=0.3),
    step("landing", landing_feet="left", jump="jump-1"),
)  # fmt: skip
MEASURES = {
    "trunk-leans": posture.trunk_leans,
    "side-bends": posture.side_bends,
    "ribs-flare": posture.ribs_flare,
    "back-arches": posture.back_arches,
    "pelvis-tucks": posture.pelvis_tucks,
    "head-lifts": posture.head_lifts,
    "shoulders-lift": posture.shoulders_lift,
}


@pytest.mark.parametrize("fault", ASKED_OF)
def test_a_measure_is_asked_of_its_own_steps(fault: str) -> None:
    found = all_told(MEASURES[fault], dancer(STEPS_DANCED))
    assert {one.phase.kind for one in found} == ASKED_OF[fault]


def test_a_turn_is_judged_while_it_stands_fully_up() -> None:
    """Alone on one foot, flat, from frame 60 to 130: a tenth off each end is 67 to 123. Of a turn on two feet nothing is told."""
    for frame, value in ((66, 0.0), (67, 4.0), (123, 4.0), (124, 0.0)):
        evidence = dancer((TURN,), trunk_pitch=course(20.0, slice(frame, frame + 1)))
        one = told(posture.trunk_leans, evidence)
        assert (one.start, one.end) == (67, 123)
        # The mean of five frames of which one is 20, or of those at the end repeated.
        assert one.value == pytest.approx(value if frame not in (67, 123) else 3 * value), frame
    assert all_told(posture.trunk_leans, dancer((step("turn", "both", single_support_s=0.6, close_s=1.3),))) == []


UP = {"trunk_pitch": course(7.0)}
BELOW = -1e-9


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize(
    ("measure", "limit"),
    [
        *((one, POSTURE.leg_high_deg) for one in (posture.trunk_leans, posture.ribs_flare, posture.back_arches)),
        *((one, POSTURE.leg_high_deg) for one in (posture.pelvis_tucks, posture.head_lifts)),
        (posture.side_bends, POSTURE.leg_level_deg),
    ],
)
def test_a_leg_that_is_high_asks_for_no_upright_trunk(measure: Callable[[Evidence], Told], limit: float, side: str) -> None:
    """At its limit it is high, below it is not; one that nobody saw counts as low.

    A bent leg counts by its line from hip to ankle: a retiré's is low, that of a développé on its way is not (a pelvis was
    told as tucked by 7° under a thigh at 96°).
    """
    up = f"leg_elevation_{side}"
    assert not is_told(measure, dancer(**{up: course(limit, ALWAYS)}))
    assert is_told(measure, dancer(**{up: course(limit + BELOW, ALWAYS)}))
    assert is_told(measure, dancer(**{up: course(np.nan, ALWAYS)}))
    for line, low in ((30.0, True), (120.0, False)):
        legs = {up: course(line, ALWAYS), f"knee_flexion_{side}": course(STEPS.retire_deg + 30.0, ALWAYS)}
        assert is_told(measure, dancer(**legs)) is low


@pytest.mark.parametrize("measure", [one for name, one in MEASURES.items() if name != "shoulders-lift"])
def test_a_leg_to_the_back_takes_pelvis_and_trunk_with_it_in_whatever_step(measure: Callable[[Evidence], Told]) -> None:
    """A balance with a leg to the back, below 45°. To the front all is judged; to the back only the head to a side.

    Catches 11° of trunk, 10° of head and 7° of pelvis told of an invented dancer in low arabesques and in legs on their way down.
    """
    for direction, judged in (("back", measure is posture.head_lifts), ("front", True)):
        gesture = step("leg-gesture", elevation_deg=44.0, direction=direction)
        found = all_told(measure, dancer((step("balance"), gesture)))
        assert ("balance" in {one.phase.kind for one in found}) is judged
        if measure is posture.head_lifts:
            assert ("pitch" in {getattr(one, "measure", None) for one in found}) is (direction == "front")


@pytest.mark.parametrize("measure", [one for name, one in MEASURES.items() if name != "shoulders-lift"])
@pytest.mark.parametrize("angle", ["trunk_pitch", "trunk_roll"])
def test_a_trunk_that_is_folded_is_meant(measure: Callable[[Evidence], Told], angle: str) -> None:
    """Further than the limit to either side, as measured: how the dancer stands is not taken off. What is not seen is no fold."""
    stood = STOOD_DEG[angle]
    for lean in (POSTURE.folded_deg, -POSTURE.folded_deg):
        assert is_told(measure, dancer(**{angle: course(lean - stood, ALWAYS)}))
        assert not is_told(measure, dancer(**{angle: course(lean * 1.001 - stood, ALWAYS)}))
    assert all_told(measure, dancer(**{angle: course(np.nan, ALWAYS)})) != []


def test_posture_is_told_of_steps_that_are_upright_for_long_enough() -> None:
    """Of the 101 frames of the step 31 upright ones are enough (0.307), 30 are not (0.297)."""
    for measure in (one for name, one in MEASURES.items() if name != "shoulders-lift"):
        assert is_told(measure, dancer(trunk_roll=course(60.0, slice(FIRST + 31, FRAMES))))
        assert not is_told(measure, dancer(trunk_roll=course(60.0, slice(FIRST + 30, FRAMES))))


def test_the_chest_tips_back_in_space() -> None:
    """The thorax extends by 9° on a pelvis tipped back by 5°: the chest is back by 14°, against standing."""
    evidence = dancer(thorax_extension=course(9.0), pelvis_tilt=course(-5.0))
    assert told(posture.ribs_flare, evidence).value == pytest.approx(14.0)


@pytest.mark.parametrize(("side", "stood_mm", "suffix"), [("left", -50.0, ".L"), ("right", -60.0, ".R")])
def test_a_shoulder_is_measured_along_the_chest(side: str, stood_mm: float, suffix: str) -> None:
    """3 cm along the chest's own up below the neck, against 5 or 6 standing; 2 cm along its front and 4 across change nothing."""
    shoulder = LEANING @ np.array([0.02, -0.03, 0.04])
    joints = {"neck": place(0.3, -0.2, 1.4), "shoulder" + suffix: place(0.3, -0.2, 1.4) + shoulder}
    evidence = dancer(joints=joints)
    np.testing.assert_allclose(posture.shoulder_height_mm(evidence, side), -30.0 - stood_mm, atol=1e-9)
    (one,) = (one for one in all_told(posture.shoulders_lift, evidence) if getattr(one, "side", None) == side)
    assert isinstance(one, Observation)
    assert (one.fault, one.measure, one.value) == ("shoulders-lift", "height", pytest.approx(-30.0 - stood_mm))
    assert one.joints == ("shoulder" + suffix, "elbow" + suffix, "neck")


def test_the_highest_shoulder_counts() -> None:
    """Up by 3 mm and down by 7 against standing: a shoulder that sinks is no fault."""
    height = 0.001 * (course(3.0, slice(60, 80)) - course(7.0, slice(100, 120))) - 0.05
    upright = np.tile(np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]]), (FRAMES, 1, 1))
    joints = {"shoulder.L": np.stack([0 * height, 0 * height, height], axis=1)}
    left = next(one for one in posture.shoulders_lift(dancer(joints=joints, thorax=upright)) if one is not None)
    assert isinstance(left, Observation)
    assert left.value == pytest.approx(3.0)


def test_an_arm_that_is_high_lifts_the_shoulder() -> None:
    """An elbow as high as its own shoulder: not asked for; just below it, or not seen: asked for, of that side alone."""
    for elbow_m, sides in ((1.3, ["left"]), (1.3 - 1e-9, ["left", "right"]), (np.nan, ["left", "right"])):
        joints = {"shoulder.R": place(0.0, 0.0, 1.3), "elbow.R": place(0.0, 9.0, elbow_m), "elbow.L": place(0.0, 9.0, -0.1)}
        found = all_told(posture.shoulders_lift, dancer(joints=joints))
        assert [getattr(one, "side", None) for one in found] == sides


def test_of_a_head_that_is_turned_nothing_is_told() -> None:
    """To either side, as far as the limit; a head of which the turn is not known is not taken for turned."""
    for turned, asked in ((POSTURE.head_turned_deg, False), (POSTURE.head_turned_deg + BELOW, True), (np.nan, True)):
        for sign in (1, -1):
            evidence = dancer(head_yaw=course(sign * turned, ALWAYS))
            assert is_told(posture.head_lifts, evidence) is asked
    # A spot hides what the head does meanwhile, not the rest of the step.
    spot = course(80.0, slice(70, 110))
    assert told(posture.head_lifts, dancer(head_yaw=spot, head_pitch=course(9.0, slice(70, 90))), "pitch").value == 0.0


def _high(side: str, degrees: float) -> dict[str, Floats]:
    return {f"leg_elevation_{side}": course(degrees, ALWAYS)}


#: How high the working leg is, and how much wider the limit of its hip is for it: not at all up to 45°, twice at 90°.
WIDER = ((0.0, 1.0), (45.0, 1.0), (54.0, 1.2), (67.5, 1.5), (89.9999, 2.0))


@pytest.mark.parametrize(("support", "working", "up"), [("left", "right", 1), ("right", "left", -1)])
@pytest.mark.parametrize(("leg_deg", "wider"), WIDER)
def test_a_working_hip_is_told_by_how_far_it_is_up(support: Side, working: str, up: int, leg_deg: float, wider: float) -> None:
    """+ is the right side up: 6° of the working side up and 8° of it down. Told as it is; its limit widens with the leg."""
    way = up * (course(6.0, slice(60, 80)) - course(8.0, slice(100, 120)))
    evidence = dancer((step("balance", support),), down(support), pelvis_obliquity=way, **_high(working, leg_deg))
    one = told(posture.hip_hikes, evidence)
    assert (one.fault, one.measure, one.side) == ("hip-hikes", "one_foot", working)
    assert one.value == pytest.approx(6.0, abs=1e-4)
    assert one.widened == (pytest.approx(wider, abs=1e-4), 0.0)
    assert one.curve is not None
    np.testing.assert_allclose(one.curve, up * way[FIRST : LAST + 1], atol=1e-4)
    assert (one.joints, one.lever_m) == (HIPS, LEVERS.hips_m)
    assert one.made_of is not None
    np.testing.assert_allclose(one.made_of(evidence), way, atol=1e-12)


def test_the_hip_that_lies_furthest_over_its_own_limit_is_told() -> None:
    """5° with a low leg is further over than 8° with a leg at nearly 90°, where 2 x 5 would be allowed."""
    leg = course(89.9999, slice(100, 125))
    hip = course(5.0, slice(60, 80)) + course(8.0, slice(100, 120))
    assert told(posture.hip_hikes, dancer(pelvis_obliquity=hip, leg_elevation_right=leg)).value == pytest.approx(5.0)
    hip = course(3.0, slice(60, 80)) + course(8.0, slice(100, 120))
    assert told(posture.hip_hikes, dancer(pelvis_obliquity=hip, leg_elevation_right=leg)).value == pytest.approx(8.0, abs=1e-4)


def test_the_doubt_of_a_moment_widens_with_the_limit() -> None:
    """A hip that rises by 1° a frame through the end of the step: 15 ms, two frames, are 2° to either side; the same at 90°."""
    slope = np.arange(FRAMES) - 140.0
    for leg_deg in (0.0, 89.9999):
        one = told(posture.hip_hikes, dancer(pelvis_obliquity=slope, **_high("right", leg_deg)))
        assert one.extra_sd == pytest.approx(2.0, abs=1e-4)


def test_a_working_hip_is_asked_for_alone_on_one_foot() -> None:
    """Not with the other foot down, nor with a straight leg at 90°, nor folded."""
    hip = course(6.0, slice(60, 80)) + course(3.0, slice(100, 120))
    both = (*down("left"), *down("right", seconds=(0.0, 0.95)))
    assert told(posture.hip_hikes, dancer(contacts=both, pelvis_obliquity=hip)).value == pytest.approx(3.0)
    assert all_told(posture.hip_hikes, dancer(contacts=down("left", "right"), pelvis_obliquity=hip)) == []
    assert all_told(posture.hip_hikes, dancer(pelvis_obliquity=hip, **_high("right", 90.0))) == []
    folded = course(60.0, slice(50, 95))
    assert told(posture.hip_hikes, dancer(pelvis_obliquity=hip, trunk_pitch=folded)).value == pytest.approx(3.0)


@pytest.mark.parametrize("direction", [1, -1])
def test_on_two_feet_either_hip_counts(direction: int) -> None:
    """6° one way, 3° the other: the further one, with its sign, and no limit that widens."""
    way = direction * (course(6.0, slice(60, 80)) - course(3.0, slice(100, 120)))
    one = told(posture.hip_hikes, dancer((step("balance", "both"),), down("left", "right"), pelvis_obliquity=way))
    assert (one.fault, one.measure, one.side) == ("hip-hikes", "two_feet", None)
    assert one.value == pytest.approx(6.0 * direction)
    assert one.widened == (1.0, 0.0)


def test_on_two_feet_both_have_to_be_down() -> None:
    """Of 101 frames 31 with both feet down are enough, 30 are not; a leg at 90° asks for nothing, at less it does."""
    hip = course(6.0, ALWAYS)
    for last, known in ((FIRST + 30, True), (FIRST + 29, False)):
        contacts = (*down("left"), *down("right", seconds=(0.0, last / RATE_HZ)))
        assert (all_told(posture.hip_hikes, dancer((step("balance", "both"),), contacts, pelvis_obliquity=hip)) != []) is known
    for leg_deg, known in ((90.0, False), (89.9, True)):
        evidence = dancer((step("balance", "both"),), down("left", "right"), pelvis_obliquity=hip, **_high("left", leg_deg))
        assert (all_told(posture.hip_hikes, evidence) != []) is known


def test_hips_are_asked_of_their_own_steps() -> None:
    """On one foot in turns, balances and gestures; on two in balances, pliés and gestures; in the order of time."""
    kinds = ("plie", "releve", "balance", "leg-gesture", "static", "turn")
    for support, asked in (("left", ["balance", "leg-gesture", "turn"]), ("both", ["plie", "balance", "leg-gesture"])):
        phases = tuple(
            step(kind, cast(Side, support), use="plié", elevation_deg=60.0, single_support_s=0.6, close_s=1.3) for kind in kinds
        )
        feet: tuple[Side, ...] = ("left", "right") if support == "both" else ("left",)
        found = all_told(posture.hip_hikes, dancer(phases, down(*feet), pelvis_obliquity=course(6.0)))
        assert [one.phase.kind for one in found] == asked


def test_what_is_not_seen_is_not_told() -> None:
    hip = course(np.nan, slice(FIRST, LAST - 20))
    (one,) = all_told(posture.hip_hikes, dancer(pelvis_obliquity=hip))
    assert isinstance(one, NotTold)
    assert one.fault == "hip-hikes"
