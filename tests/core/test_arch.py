"""The inner arch (foot-wings): told where it carries a marker, against what was built in; nothing is told without."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from in_the_round.analysis_core.body.anatomy import ARCH, SIDE_SUFFIXES
from in_the_round.analysis_core.body.landmarks import load_landmarks, recognise
from in_the_round.analysis_core.body.movement import JOINTS
from in_the_round.analysis_core.findings.evidence import Evidence
from in_the_round.analysis_core.findings.finding import Finding
from in_the_round.analysis_core.findings.measure_feet import foot_wings
from in_the_round.analysis_core.findings.observation import NotTold
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.views.drawing import Bracket
from in_the_round.analysis_core.views.measures import drawing_of
from in_the_round.analysis_core.wording import findings as say
from in_the_round.simulated_dancer import Fault
from in_the_round.simulated_dancer.phrases import barre, short
from in_the_round.simulated_dancer.trials import Recorded, record, review_of
from in_the_round.simulated_dancer.wear import Wear

#: Demi-plié and grand plié in first.
PLIES = barre()[:3]
MARKED = Wear(arch=True)


def wings(review: Review) -> list[Finding]:
    return [finding for finding in review.findings if finding.fault == "foot-wings"]


@pytest.mark.parametrize(("sunk_mm", "grade"), [(24.0, "fault"), (11.5, "watch")])
def test_an_arch_that_sinks_is_told_by_as_much(sunk_mm: float, grade: str, reviewed: Callable[..., Review]) -> None:
    """Catches a sign, the wrong foot, and an arch that is counted from the floor of another moment."""
    review = reviewed(Fault("foot-wings", "plie-1", sunk_mm, "right"), phrase=PLIES, wear=MARKED)
    (told,) = wings(review)
    assert (told.side, told.phase, told.grade) == ("right", "plie-1", grade)
    assert abs(told.value - sunk_mm) < told.plus_minus < 6.0


def test_landings_are_looked_at_too(reviewed: Callable[..., Review]) -> None:
    told = wings(reviewed(Fault("foot-wings", "landing-2", 22.0), phrase=short("jump"), wear=MARKED))
    assert {(one.phase, one.side, one.grade) for one in told} == {("landing-2", "both", "fault")}


def test_the_clean_twin_is_silent_and_says_nothing_of_markers(reviewed: Callable[..., Review]) -> None:
    """Relevés and jumps lift the whole foot. Catches a heel that rises, or a foot that comes down, taken for the arch."""
    review = reviewed(wear=MARKED)
    assert review.findings == ()
    assert "foot-wings" not in {item.fault for item in review.unsure}
    numbers = [number for number in review.measured if number.fault == "foot-wings"]
    assert {number.step for number in numbers} > {"plie"} or len(numbers) > 1
    assert all(abs(number.worst or 0.0) < 3.0 for number in numbers)


def test_without_a_marker_it_is_said_so(reviewed: Callable[..., Review]) -> None:
    """The same sunken arch, unmarked. Catches a number that is made of heel and ball."""
    review = reviewed(Fault("foot-wings", "plie-1", 24.0, "right"), phrase=PLIES)
    assert wings(review) == []
    assert say.cannot_be_told(say.NO_ARCH_MARKERS) in {item.why for item in review.unsure if item.fault == "foot-wings"}


def test_who_never_stands_is_told_that() -> None:
    """Catches a take with the marker that is told it has none."""
    review = review_of(record(Recorded(rate_hz=60.0, wear=MARKED), (), PLIES))
    unknown = np.full_like(review.movement.arch_heights_m, np.nan)
    told = list(foot_wings(Evidence(replace(review.movement, arch_heights_m=unknown), review.phrase)))
    assert [one.why for one in told if isinstance(one, NotTold)] == [say.ARCH_WITHOUT_STANDING]


def test_the_drawing_is_as_long_as_the_number(reviewed: Callable[..., Review]) -> None:
    """Read with a ruler from the drawing of the finding itself, which no measure fed; it lies at the inner side of the foot."""
    review = reviewed(Fault("foot-wings", "plie-1", 24.0, "right"), phrase=PLIES, wear=MARKED)
    (told,) = wings(review)
    drawing = drawing_of(told, review)
    assert drawing is not None
    (bracket,) = (shape for shape in drawing.shapes if isinstance(shape, Bracket) and shape.role == "measured")
    assert 1000 * np.linalg.norm(np.subtract(bracket.tip, bracket.base)) == pytest.approx(told.value, abs=0.1)
    frame = round(told.peak_s * review.movement.rate_hz)
    heel, inner, outer = review.movement.foot_points_m[frame, 1, :3]
    middle = 0.5 * (np.asarray(bracket.tip) + np.asarray(bracket.base))
    assert np.linalg.norm((middle - inner)[:2]) < np.linalg.norm((middle - outer)[:2])
    assert np.linalg.norm((middle - heel)[:2]) == pytest.approx(np.linalg.norm((middle - inner)[:2]), abs=0.005)


def test_the_marker_does_not_move_the_foot(reviewed: Callable[..., Review]) -> None:
    """24 mm of sinking, with the marker and without it. Catches an arch that tips the foot it sinks in."""
    sunk = Fault("foot-wings", "plie-1", 24.0, "right")
    with_it, without = (reviewed(sunk, phrase=PLIES, wear=wear).movement for wear in (MARKED, Wear()))
    apart = np.linalg.norm(with_it.joint_centres_m - without.joint_centres_m, axis=2)
    for name in ("ankle.R", "heel.R", "toe.R"):
        assert np.nanmax(apart[:, JOINTS.index(name)]) < 0.0015, name


def test_plain_words_name_the_marker() -> None:
    labels = ("Left inner arch", "R navicular", "navicular_tuberosity.L", "right medial arch")
    assert {*recognise(labels[:2], load_landmarks()).landmark_of.values()} == {ARCH + suffix for suffix in SIDE_SUFFIXES}
    assert {*recognise(labels[2:], load_landmarks()).landmark_of.values()} == {ARCH + suffix for suffix in SIDE_SUFFIXES}
