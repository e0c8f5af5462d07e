"""The ± of a finding, how sure it is, and what makes it untold."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from in_the_round.analysis_core.findings.catalogue import catalogue, load_profile
from in_the_round.analysis_core.findings.evidence import Evidence
from in_the_round.analysis_core.findings.find import find
from in_the_round.analysis_core.findings.judging import judge, outside
from in_the_round.analysis_core.findings.measure_preparation import heel_lifts_early
from in_the_round.analysis_core.findings.measure_turns import axis_tilts
from in_the_round.analysis_core.findings.observation import Observation
from in_the_round.analysis_core.findings.uncertainty import standard_errors
from in_the_round.analysis_core.review import Review
from in_the_round.simulated_dancer import Fault


def test_the_claim_gate(reviewed: Callable[..., Review]) -> None:
    """Catalogue 0.2: a watch lies one, a fault two standard deviations outside; in between it cannot be told.

    Nor where the number may as well be none."""
    review = reviewed()
    turn = review.phrase.of_kind("turn")[0]
    entry = catalogue()["axis-tilts"]
    sd = entry.measures["tilt"].sd

    def grade(value: float) -> str | None:
        told = Observation("axis-tilts", "tilt", turn, "left", value, turn.start, turn.start, turn.end, ())
        return judge(told, entry, review.movement, sd).grade

    assert grade(3.0) is None
    assert grade(3.0 + 0.9 * sd) is None
    assert grade(3.0 + 1.1 * sd) == "watch"
    assert grade(5.0 + 0.5 * sd) == "fault"
    # On real jumps: "one foot later, 0.06 s ± 0.06": outside its band of 0.025 s, and no more than its own error from none.
    landing = review.phrase.of_kind("landing")[0]
    told = Observation("uneven-landing", "time", landing, "left", 0.06, landing.start, landing.start, landing.end, ())
    graded = [judge(told, catalogue()["uneven-landing"], review.movement, sd).grade for sd in (0.031, 0.029, 0.015)]
    assert graded == [None, "watch", "fault"]
    assert outside(2.0, (0.0, 3.0)) == 0.0


def test_the_error_comes_from_the_recording_itself(reviewed: Callable[..., Review]) -> None:
    """More dirt on the markers makes a wider ±; the same recording gives the same ±; heights err less than directions do."""
    review = reviewed(Fault("axis-tilts", "turn-1", 8.0), Fault("heel-lifts-early", "turn-1", 32.0))
    limits = {fault: next(iter(catalogue()[fault].measures.values())) for fault in ("axis-tilts", "heel-lifts-early")}
    evidence = Evidence(review.movement, review.phrase)
    told = [
        next(item for item in measure(evidence) if isinstance(item, Observation)) for measure in (axis_tilts, heel_lifts_early)
    ]
    first = standard_errors(told, list(limits.values()), evidence)
    assert standard_errors(told, list(limits.values()), evidence) == first
    # Catalogue 3.6: axis 1 to 2 degrees, heel height 3 mm within a take.
    assert 0.2 < first[0] < 3.0
    assert 0.3 < first[1] < 4.0
    recording = review.movement.recording
    assert recording is not None
    dirty = replace(recording, cleaned=replace(recording.cleaned, error_m=recording.cleaned.error_m + 0.03))
    worse = standard_errors(told, list(limits.values()), Evidence(replace(review.movement, recording=dirty), review.phrase))
    assert worse[0] > first[0]
    assert worse[1] > 3 * first[1]


def test_the_error_within_a_take_leaves_out_what_lasts(reviewed: Callable[..., Review]) -> None:
    """A tilt of the axis rests on where the joints are (the same all the time): far surer between two moments than in itself."""
    faults = (
        Fault("axis-tilts", "turn-1", 8.0),
        Fault("arms-drop", "turn-1", 150.0),
        Fault("uneven-landing", "landing-3", 0.085),
    )
    review = reviewed(*faults)
    tilt, arms, landing = (next(f for f in review.findings if f.fault == fault.fault) for fault in faults)
    for finding in (tilt, arms):
        assert finding.plus_minus_within_take is not None
        assert 0.1 * finding.plus_minus < finding.plus_minus_within_take < 0.8 * finding.plus_minus
    # The time between two feet is no number of one frame: for it the two are not told apart.
    assert landing.plus_minus_within_take is None


def test_a_crouch_is_no_standing_to_count_changes_from(reviewed: Callable[..., Review]) -> None:
    """Who stands in a crouch and then straightens has not pressed the knees back, nor arched."""
    faults = (
        Fault("knee-hyperextends", "balance-1", 14.0),
        Fault("back-arches", "plie-1", 16.0),
        Fault("axis-tilts", "turn-1", 8.0),
    )
    review = reviewed(*faults)
    counted = {"knee-hyperextends", "back-arches"}
    assert {*counted, "axis-tilts"} <= {finding.fault for finding in review.findings}
    standing = review.movement.standing
    bent = {name: angle + np.radians(40.0) * name.startswith("knee") for name, angle in standing.angles_rad.items()}
    movement = replace(review.movement, standing=replace(standing, angles_rad=bent))
    again = find(movement, review.phrase, load_profile("intermediate"))
    found, unsure = again.findings, again.unsure
    assert not counted & {finding.fault for finding in found}
    assert counted <= {item.fault for item in unsure if "should have stood" in item.why}
    assert "axis-tilts" in {finding.fault for finding in found}


def test_a_decisive_moment_that_was_filled_loses_a_class(reviewed: Callable[..., Review]) -> None:
    review = reviewed(Fault("axis-tilts", "turn-1", 8.0), Fault("heel-lifts-early", "turn-1", 32.0))
    tilt = next(f for f in review.findings if f.fault == "axis-tilts")
    source = review.movement.joint_source.copy()
    source[:] = 4
    evidence = Evidence(replace(review.movement, joint_source=source), review.phrase)
    told = next(item for item in axis_tilts(evidence) if isinstance(item, Observation))
    assert tilt.confidence == "medium"
    assert judge(told, catalogue()["axis-tilts"], evidence.movement, 1.0).confidence == "low"
