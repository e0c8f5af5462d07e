"""The phrase against the simulated dancer, whose contacts and steps are known exactly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from in_the_round.analysis_core.body.movement import Movement
from in_the_round.analysis_core.phrase import Counts, scale_from_free_fall, understand_phrase
from in_the_round.analysis_core.phrase.phase import Phrase
from in_the_round.simulated_dancer import Body, Simulation, demo_phrase, simulate

#: A touch-down or lift-off that is further from the truth than this is another event, s.
SAME_EVENT_S = 0.2


@pytest.fixture(scope="module")
def danced() -> Simulation:
    """The demo phrase at 240 Hz; its movement is exact."""
    return simulate(demo_phrase(), body=Body(stature_m=1.62), rate_hz=240.0, facing_rad=0.7, seed=3)


@pytest.fixture(scope="module")
def phrase(danced: Simulation) -> Phrase:
    """What is understood of it."""
    return understand_phrase(danced.movement, Counts(danced.tempo_bpm, danced.offset_s))


def _times(phrase: Phrase, foot: str, part: str, end_s: float) -> list[tuple[str, float]]:
    chosen = [contact for contact in phrase.contacts if contact.foot == foot and contact.part == part]
    events = [("on", contact.start_s) for contact in chosen] + [("off", contact.end_s) for contact in chosen]
    return [(kind, time) for kind, time in events if 0.02 < time < end_s - 0.02]


def event_errors(truth: Phrase, found: Phrase, part: str, end_s: float) -> tuple[np.ndarray, int]:
    """Errors of events that are in both, s, and the number of events that are in one only."""
    errors, odd = [], 0
    for foot in ("left", "right"):
        true, got = _times(truth, foot, part, end_s), _times(found, foot, part, end_s)
        for kind, time in true:
            near = [abs(other - time) for other_kind, other in got if other_kind == kind]
            if near and min(near) < SAME_EVENT_S:
                errors.append(min(near))
            else:
                odd += 1
        odd += sum(
            all(other_kind != kind or abs(other - time) >= SAME_EVENT_S for other_kind, other in true) for kind, time in got
        )
    return np.array(errors), odd


@pytest.mark.parametrize("part", ["foot", "toe", "heel"])
def test_contact_events_reach_the_target(danced: Simulation, phrase: Phrase, part: str) -> None:
    """Median ≤ 10 ms and 95 % ≤ 25 ms at 240 Hz (the product's target), none missed and none invented."""
    errors, odd = event_errors(danced.phrase, phrase, part, danced.movement.time_s[-1])
    assert odd == 0
    assert errors.size >= 20
    assert np.median(errors) <= 0.010
    assert np.percentile(errors, 95) <= 0.025


def _only(phrase: Phrase, kind: str):
    phases = [phase for phase in phrase.phases if phase.kind == kind]
    assert len(phases) == 1
    return phases[0]


def test_the_pirouette_is_told(danced: Simulation, phrase: Phrase) -> None:
    """One turn to the right en dehors on the left leg, with preparation, relevé and closing where they were danced."""
    turn, truth = _only(phrase, "turn"), danced.phrase.of_kind("turn")[0]
    told = vars(turn)
    assert turn.side == "right"
    assert (told["direction"], told["support"]) == ("en dehors", "left")
    assert told["revolutions"] == pytest.approx(1.0, abs=0.01)
    assert told["turned_deg"] == pytest.approx(-360.0, abs=2.0)
    assert told["releve_s"] == pytest.approx(truth.releve_s, abs=0.12)
    assert told["close_s"] == pytest.approx(truth.close_s, abs=0.12)
    assert told["preparation_s"] == pytest.approx(truth.preparation_s, abs=0.2)


def test_the_sautes_fly(danced: Simulation, phrase: Phrase) -> None:
    """Three jumps from and to both feet, in free fall, each with its landing."""
    jumps, truth = phrase.of_kind("jump"), danced.phrase.of_kind("jump")
    assert len(jumps) == len(truth) == 3
    for jump, true in zip(jumps, truth, strict=True):
        assert jump.fitted_gravity == pytest.approx(9.81, rel=0.03)
        assert jump.apex_s == pytest.approx(true.apex_s, abs=0.01)
        assert jump.take_off_s == pytest.approx(true.take_off_s, abs=0.03)
        assert jump.landing_s == pytest.approx(true.landing_s, abs=0.03)
        assert (jump.take_off_feet, jump.landing_feet) == ("both", "both")
    landings = phrase.of_kind("landing")
    assert [landing.jump for landing in landings] == ["jump-1", "jump-2", "jump-3"]
    for landing, true in zip(landings, danced.phrase.of_kind("landing"), strict=True):
        assert landing.lowest_s == pytest.approx(true.lowest_s, abs=0.05)


def test_the_same_saute_again_is_recognised(phrase: Phrase) -> None:
    """The three sautés are one step danced three times."""
    jumps = phrase.of_kind("jump")
    assert {jump.same_as for jump in jumps} == {"jump-1"}
    assert [jump.repetition for jump in jumps] == [1.0, 2.0, 3.0]
    assert {jump.repetitions for jump in jumps} == {3.0}


def test_the_slow_plie_is_told(danced: Simulation, phrase: Phrase) -> None:
    """The first plié: bottom, bend and depth of the truth, and the dancer's own best."""
    plie, truth = phrase.of_kind("plie")[0], danced.phrase.of_kind("plie")[0]
    assert plie.side == "both"
    assert plie.bottom_s == pytest.approx(truth.bottom_s, abs=0.03)
    assert plie.knee_flexion_deg == pytest.approx(truth.knee_flexion_deg, abs=1.0)
    assert plie.depth_m == pytest.approx(truth.depth_m, abs=0.005)
    assert plie.depth_ratio == pytest.approx(1.0, abs=0.02)


def test_pliés_know_what_they_are_for(phrase: Phrase) -> None:
    """A plié of its own, one before the pirouette, one before the first sauté and one after the last."""
    uses = [plie.use for plie in phrase.of_kind("plie")]
    assert uses[0] == "plié"
    assert uses.count("preparation") == 1
    assert uses.count("take-off") == 1
    assert uses.count("landing and take-off") == 2
    assert uses[-1] == "landing"


def test_releves_and_the_balance(danced: Simulation, phrase: Phrase) -> None:
    """Relevés at the true height; the held retiré is a balance on the left foot."""
    releves = phrase.of_kind("releve")
    assert [releve.side for releve in releves] == ["both", "left", "left"]
    for releve, truth in zip(releves, danced.phrase.of_kind("releve"), strict=True):
        assert releve.height_m == pytest.approx(truth.height_m, abs=0.005)
    held = [balance for balance in phrase.of_kind("balance") if balance.side == "left"]
    assert len(held) == 1
    assert held[0].pose == "retiré"
    assert held[0].hold_s == pytest.approx(danced.phrase.of_kind("balance")[0].hold_s, abs=0.3)


def test_ids_are_unique_and_in_order(phrase: Phrase) -> None:
    """Ids such as plie-1, plie-2 in order of time."""
    ids = [phase.id for phase in phrase.phases]
    assert len(set(ids)) == len(ids)
    starts = [phase.start_s for phase in phrase.phases]
    assert starts == sorted(starts)
    assert [plie.id for plie in phrase.of_kind("plie")] == [f"plie-{n + 1}" for n in range(len(phrase.of_kind("plie")))]


def test_every_phase_has_its_count(danced: Simulation, phrase: Phrase) -> None:
    """The slow plié is deepest at 2.0 s: at 120 beats a minute that is bar 2, count 1."""
    plie = phrase.of_kind("plie")[0]
    assert (plie.music.bar, plie.music.count) == (2.0, pytest.approx(1.0, abs=0.05))
    assert plie.music.beat_error_s == pytest.approx(0.0, abs=0.03)


def _scaled(movement: Movement, factor: float) -> Movement:
    """The same movement in wrong metres."""
    standing = replace(
        movement.standing,
        leg_length_m=movement.standing.leg_length_m * factor,
        stature_m=movement.standing.stature_m * factor,
    )
    return replace(
        movement,
        kind="skeleton",
        joint_centres_m=movement.joint_centres_m * factor,
        foot_points_m=movement.foot_points_m * factor,
        foot_heights_m=movement.foot_heights_m * factor,
        centre_of_mass_m=movement.centre_of_mass_m * factor,
        standing=standing,
    )


@pytest.mark.parametrize("wrong", [0.85, 1.0, 1.2])
def test_free_fall_tells_the_scale(danced: Simulation, wrong: float) -> None:
    """Lengths that are wrong by a factor are put right by its inverse, within the stated ± (two SD) and 5 %."""
    scale = scale_from_free_fall(_scaled(danced.movement, wrong))
    assert scale is not None
    assert scale.flights == 3
    assert scale.factor == pytest.approx(1.0 / wrong, rel=0.05)
    assert abs(scale.factor - 1.0 / wrong) < 2 * scale.plus_minus
    assert "frame rate" in scale.why
    assert scale.doubt is None


def test_a_wrong_rate_looks_like_a_wrong_scale(danced: Simulation) -> None:
    """Played at 1.1 times the rate, gravity reads 1.21 times too large: nothing in the fall tells the two apart."""
    fast = replace(danced.movement, rate_hz=264.0, time_s=danced.movement.time_s / 1.1)
    scale = scale_from_free_fall(fast)
    assert scale is not None
    assert scale.fall_factor == pytest.approx(1.0 / 1.21, rel=0.05)


def test_a_fall_that_makes_a_grown_body_a_child_is_doubted_and_hardly_believed(danced: Simulation) -> None:
    """Played at 1.2 times the rate the flights make a dancer of 1.65 m one of 1.15 m: the file's own body counts for more then.

    Catches a figure of 1.44 m, made so by the one turning jump of a take (seen in an open recording).
    """
    fast = replace(danced.movement, rate_hz=288.0, time_s=danced.movement.time_s / 1.2)
    scale = scale_from_free_fall(fast)
    assert scale is not None
    assert scale.doubt is not None
    stature_m = danced.movement.standing.stature_m
    assert scale.fall_factor * stature_m < 1.25
    assert scale.factor * stature_m > 1.4


def test_without_a_jump_there_is_no_scale(danced: Simulation) -> None:
    """The first five seconds have no flight."""
    frames = slice(0, 1200)
    short = replace(
        danced.movement,
        **{
            name: getattr(danced.movement, name)[frames]
            for name in (
                "time_s", "joint_centres_m", "segment_rotations", "segment_origins_m", "angles_rad", "foot_points_m",
                "foot_heights_m", "ground_m", "centre_of_mass_m", "centre_of_mass_share", "trust",
                "joint_error_m", "joint_source",
            )
        },
    )  # fmt: skip
    assert scale_from_free_fall(short) is None
    assert understand_phrase(short).of_kind("jump") == ()


def test_a_lifted_floor_changes_nothing(danced: Simulation, phrase: Phrase) -> None:
    """The same phrase on a stage 0.8 m above the floor of the recording: there is no single floor."""
    up = np.array([0.0, 0.0, 0.8])
    stage = replace(
        danced.movement,
        foot_points_m=danced.movement.foot_points_m + up,
        foot_heights_m=danced.movement.foot_heights_m + 0.8,
        joint_centres_m=danced.movement.joint_centres_m + up,
        centre_of_mass_m=danced.movement.centre_of_mass_m + up,
    )
    found = understand_phrase(stage)
    assert [phase.id for phase in found.phases] == [phase.id for phase in phrase.phases]
    assert [round(c.start_s, 3) for c in found.contacts] == [round(c.start_s, 3) for c in phrase.contacts]


def test_a_foot_that_cannot_be_seen_is_no_flight(danced: Simulation) -> None:
    """With the left foot missing for a second while standing, no jump is invented."""
    points, heights = danced.movement.foot_points_m.copy(), danced.movement.foot_heights_m.copy()
    points[480:720, 0], heights[480:720, 0] = np.nan, np.nan
    found = understand_phrase(replace(danced.movement, foot_points_m=points, foot_heights_m=heights))
    assert len(found.of_kind("jump")) == 3
    assert not any(contact.foot == "left" and contact.start_s < 2.5 < contact.end_s for contact in found.contacts)


def test_the_mirror_twin_is_told_mirrored(phrase: Phrase) -> None:
    """Left and right exchanged: the same steps on the other side, turning the other way."""
    twin = understand_phrase(
        simulate(demo_phrase(), body=Body(stature_m=1.62), rate_hz=240.0, facing_rad=0.7, seed=3, mirror=True).movement
    )
    swap = {"left": "right", "right": "left", "both": "both", None: None}

    def told(found: Phrase, *, mirror: bool) -> list[tuple[object, ...]]:
        return sorted((phase.kind, swap[phase.side] if mirror else phase.side, round(phase.start_s, 2)) for phase in found.phases)

    assert told(twin, mirror=True) == told(phrase, mirror=False)
    turn = twin.of_kind("turn")[0]
    assert (turn.direction, turn.support, turn.side) == ("en dehors", "right", "left")


@pytest.mark.parametrize("rate_hz", [60.0, 120.0])
def test_other_rates_tell_the_same_steps(phrase: Phrase, rate_hz: float) -> None:
    """The kinds and sides of turn, jumps, relevés and landings do not hang on the rate."""
    found = understand_phrase(
        simulate(demo_phrase(), body=Body(stature_m=1.62), rate_hz=rate_hz, facing_rad=0.7, seed=3).movement
    )
    for kind in ("turn", "jump", "releve", "landing"):
        assert [phase.side for phase in found.of_kind(kind)] == [phase.side for phase in phrase.of_kind(kind)]
