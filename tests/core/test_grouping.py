"""Findings gathered for one screen: roots before effects, safety first, one line for every kind of fault."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import pytest
from in_the_round.analysis_core.findings.corrections import corrections, how_often, under_roots
from in_the_round.analysis_core.review import Review
from in_the_round.command_line.review import COLUMNS, LINES, _text
from in_the_round.simulated_dancer.faults import Fault
from in_the_round.simulated_dancer.sautes import Sautes
from in_the_round.simulated_dancer.steps import Stand
from in_the_round.simulated_dancer.trials import Recorded, record, review_of
from in_the_round.simulated_dancer.truth_of_faults import true_values


@pytest.fixture(scope="module")
def review(reviewed: Callable[..., Review]) -> Review:
    """A pirouette whose heel lifts early and whose axis then tilts, and a landing that is stiff."""
    faults = (
        Fault("heel-lifts-early", "turn-1", 32.0), Fault("foot-slips-parallel", "turn-1", 16.0),
        Fault("axis-tilts", "turn-1", 8.0), Fault("stiff-landing", "landing-3", 0.42), Fault("head-lifts", "plie-1", 22.0),
    )  # fmt: skip
    return reviewed(*faults)


def test_what_loads_the_body_is_said_first_and_effects_stand_under_their_root(review: Review) -> None:
    """Would catch an order by severity alone, and an axis that is said beside the heel that it came from."""
    gathered = corrections(review.findings, review.phrase)
    assert gathered[0].fault == "stiff-landing"
    tree = {root.fault: [effect.fault for effect in effects] for root, effects in under_roots(gathered, review.findings)}
    assert {"foot-slips-parallel", "axis-tilts"} <= set(tree["heel-lifts-early"])
    assert sorted([*tree, *(name for names in tree.values() for name in names)]) == sorted(item.fault for item in gathered)


def test_a_step_that_cannot_tell_is_no_chance(review: Review) -> None:
    """Three landings, one without its heels: by hand, 1 of 2. Would catch "1 of 3 times" where the third could not show it."""
    stiff = next(finding for finding in review.findings if finding.fault == "stiff-landing")
    landings = [phase.id for phase in review.phrase.of_kind("landing")]
    assert stiff.phase == landings[-1]
    assert set(stiff.asked_in) <= set(landings)
    assert all(finding.phase in finding.asked_in for finding in review.findings)
    told = replace(stiff, asked_in=(landings[0], landings[-1]))
    assert how_often([told], review.phrase) == (1, 2)
    # A review from before this was kept counts every same step.
    same = review.phrase.same_steps(next(phase for phase in review.phrase.phases if phase.id == stiff.phase))
    assert how_often([replace(stiff, asked_in=())], review.phrase) == (1, len(same))


def test_four_of_five_times_are_four_of_five_steps_that_were_danced_so() -> None:
    """Five jumps, of which four have feet that are not stretched: by the formulas of the truth, and said so.

    Would catch a count of feet in place of jumps, a step that is counted twice, and a series that is cut into two.
    """
    faults = tuple(Fault("feet-not-pointed", f"jump-{number}", 0.5) for number in (1, 2, 4, 5))
    danced = record(Recorded(rate_hz=60.0), faults, (Stand(2), Sautes(5, 0.13), Stand(2)))
    true: dict[str, bool] = {}
    for value in true_values(danced):
        if value.fault == "feet-not-pointed":
            true[value.step] = true.get(value.step, False) or value.outside > 0
    review = review_of(danced)
    found = [finding for finding in review.findings if finding.fault == "feet-not-pointed"]
    assert how_often(found, review.phrase) == (sum(true.values()), len(true)) == (4, 5)
    lines = _text(review, {"review": "review.json"}).splitlines()
    assert sum("4 of 5" in line for line in lines) == 1


def test_a_phrase_of_twenty_seconds_fits_into_the_list_on_one_screen(review: Review) -> None:
    """The list in Blender has at most 16 lines without scrolling, each a correction."""
    assert len(corrections(review.findings, review.phrase)) <= 16


def test_the_command_tells_a_phrase_on_one_screen(review: Review) -> None:
    """Would catch a line for every finding: forty of a kind are one line with how often."""
    many = tuple(replace(finding, id=f"{finding.id}-{n}") for n in range(8) for finding in review.findings)
    parts = {name: getattr(review, name) for name in ("take", "quality", "profile", "phrase", "unsure")}
    for findings in (review.findings, many):
        told = cast("Review", SimpleNamespace(**parts, findings=findings))
        lines = _text(told, {"review": "review.json"}).splitlines()
        assert len(lines) <= LINES
        assert max(map(len, lines)) <= COLUMNS
        assert sum("Heel lifts early" in line for line in lines) == 1
