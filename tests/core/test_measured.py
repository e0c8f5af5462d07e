"""Numbers that were judged, gathered: worked by hand on made numbers, and held against the findings of a danced take."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from in_the_round.analysis_core.findings.catalogue import catalogue, load_profile
from in_the_round.analysis_core.findings.measured import Number, Untold, gathered, step_of
from in_the_round.analysis_core.findings.measures_version import measures_version
from in_the_round.analysis_core.findings.observation import Observation
from in_the_round.analysis_core.phrase.phase import Phase
from in_the_round.analysis_core.phrase.properties import phase_from
from in_the_round.analysis_core.review import Review

SPAN = {"start": 0, "end": 1, "start_s": 0.0, "end_s": 0.1}
DEMO = Path(__file__).parents[2] / "demo_data"


def turn(number: int) -> Phase:
    told = {"direction": "en dehors", "support": "left"}
    return phase_from("turn", id=f"turn-{number}", side="left", properties=told, **SPAN)


def number(phase: Phase, value: float, sd: float, within: float | None, excess: float) -> Number:
    told = Observation("heel-lifts-early", "height", phase, "left", value, 0, 0, 0, ("heel.L",))
    return Number(told, sd, within, excess)


def test_a_group_worked_by_hand() -> None:
    """31, 8 and 12 mm against 10 mm: mean 17, sample standard deviation √151, two outside."""
    numbers = [
        number(turn(1), 31.0, 3.0, 1.0, 21.0),
        number(turn(2), 8.0, 4.0, 2.0, -2.0),
        number(turn(3), 12.0, 5.0, 2.0, 2.0),
    ]
    (group,) = gathered(numbers, [], catalogue())
    assert (group.fault, group.measure, group.side, group.step) == ("heel-lifts-early", "height", "left", "turn en dehors")
    assert (group.n, group.outside, group.worst, group.unit, group.cannot_tell) == (3, 2, 31.0, "mm", None)
    assert group.value == pytest.approx(17.0)
    assert group.sd == pytest.approx(math.sqrt((14**2 + 9**2 + 5**2) / 2))
    assert group.plus_minus == pytest.approx(1.96 * math.sqrt(50 / 3))
    assert group.plus_minus_within_take == pytest.approx(1.96 * math.sqrt(3))


def test_inside_its_band_a_number_is_kept_with_how_near_the_edge_it_comes() -> None:
    (group,) = gathered([number(turn(1), 2.0, 1, None, -8.0), number(turn(2), 9.0, 1, None, -1.0)], [], catalogue())
    assert (group.outside, group.worst, group.plus_minus_within_take) == (0, 9.0, None)


def test_what_cannot_be_told_is_no_number() -> None:
    """Catches "not seen" taken for 0, and a step that was not seen counted among those that were."""
    unseen = Untold("heel-lifts-early", "", None, turn(2), "the left heel could not be seen")
    (group,) = gathered([number(turn(1), 2.0, 1, 1, -8.0)], [unseen], catalogue())
    assert (group.n, group.value, group.cannot_tell) == (1, 2.0, None)
    nothing = gathered([], [unseen], catalogue())
    assert {item.measure for item in nothing} == set(catalogue()["heel-lifts-early"].measures)
    assert {(item.n, item.value, item.worst, item.plus_minus, item.outside) for item in nothing} == {(0, None, None, None, 0)}
    assert {item.cannot_tell for item in nothing} == {"the left heel could not be seen"}


@pytest.mark.parametrize(
    ("kind", "properties", "words"),
    [
        ("turn", {"direction": "en dedans"}, "turn en dedans"),
        ("turn", {"direction": None}, "turn"),
        ("jump", {"take_off_feet": "both", "landing_feet": "left"}, "jump from two feet to one foot"),
        ("landing", {"landing_feet": "both"}, "landing on two feet"),
        ("plie", {"size": "grand", "support": "both"}, "grand plié"),
        ("releve", {"support": "right"}, "relevé on one foot"),
        ("balance", {"pose": "retiré"}, "balance retiré"),
        ("leg-gesture", {"direction": "side"}, "leg gesture to the side"),
        ("step", {}, "step"),
        ("static", {}, "standing"),
    ],
)
def test_a_step_has_the_same_words_in_every_take(kind: str, properties: dict[str, str | None], words: str) -> None:
    phase = phase_from(kind, id="x", side=None, properties={**properties, "repetition": 2.0}, **SPAN)
    assert step_of(phase) == words


def test_the_demo_take_keeps_what_lies_inside_the_band_too(careless_review: Review) -> None:
    """Every finding is the value of a group that counts it as outside; far more numbers lie inside their bands."""
    review = careless_review
    groups = {(item.fault, item.measure, item.side, item.step): item for item in review.measured}
    assert len(groups) == len(review.measured)
    phases = {phase.id: phase for phase in review.phrase.phases}
    for finding in review.analysed:
        sides = [finding.side] if finding.side != "both" else ["left", "right", "both"]
        keys = [(finding.fault, finding.measure, side, step_of(phases[finding.phase])) for side in sides]
        found = [groups[key] for key in keys if key in groups]
        assert any(item.outside for item in found), finding
        assert any(finding.value == item.worst for item in found) or any(item.n > 1 for item in found), finding
    assert sum(item.n - item.outside for item in review.measured) > 5 * sum(item.outside for item in review.measured)
    assert review.placement is not None
    assert review.measures_version == measures_version(load_profile("intermediate"))


def test_other_bands_are_another_version_and_other_words_are_not(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text('name = "own"\n', encoding="utf-8")
    own = measures_version(load_profile(str(path)))
    path.write_text('name = "renamed"\n', encoding="utf-8")
    assert measures_version(load_profile(str(path))) == own
    path.write_text("tolerance = 1.2\n", encoding="utf-8")
    assert measures_version(load_profile(str(path))) != own
