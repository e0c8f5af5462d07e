"""What came first, what led to what, and how often."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from in_the_round.analysis_core.findings.corrections import corrections, link_counts
from in_the_round.analysis_core.review import Review
from in_the_round.simulated_dancer import Fault, repeated_phrase
from in_the_round.simulated_dancer.pirouette import Pirouette
from in_the_round.simulated_dancer.steps import CloseTo, Plie, Stand

CHAIN = (
    Fault("heel-lifts-early", "turn-1", 32.0),
    Fault("foot-slips-parallel", "turn-1", 16.0),
    Fault("axis-tilts", "turn-1", 8.0),
    Fault("turn-travels", "turn-1", 150.0),
)


#: A plié and a turn, and hardly more.
PHRASE = (Stand(2), Plie(4), CloseTo("fifth", "right", "right", 2), Pirouette("right"), CloseTo("first", "right", None, 2))
HEAD = Fault("head-lifts", "plie-1", 22.0)


@pytest.mark.parametrize("first", range(3))
def test_the_root_is_what_came_first(first: int, reviewed: Callable[..., Review]) -> None:
    review = reviewed(*CHAIN[first:], HEAD, phrase=PHRASE)
    by_id = {finding.id: finding for finding in review.findings}
    longest = [by_id[name].fault for name in review.chains[0]]
    assert longest == [fault.fault for fault in CHAIN[first:]]
    root = by_id[review.chains[0][0]]
    assert root.came_after == ()
    assert all(root.onset_s <= by_id[name].onset_s for name in review.chains[0])


def test_an_effect_that_comes_first_is_no_effect(reviewed: Callable[..., Review]) -> None:
    """The tilt begins after the trunk; a trunk that leans only in an earlier step is not its cause."""
    review = reviewed(Fault("trunk-leans", "plie-1", 16.0), Fault("axis-tilts", "turn-1", 8.0), phrase=PHRASE)
    assert "trunk-leans" in {f.fault for f in review.findings}
    tilt = next(f for f in review.findings if f.fault == "axis-tilts")
    assert tilt.came_after == ()


def test_findings_are_gathered_and_what_led_to_most_is_said_first(reviewed: Callable[..., Review]) -> None:
    review = reviewed(*CHAIN, HEAD, phrase=PHRASE)
    gathered = corrections(review.findings, review.phrase)
    assert gathered[0].fault == "heel-lifts-early"
    assert sum(item.first for item in gathered) == 3
    assert sorted(name for item in gathered for name in item.findings) == sorted(f.id for f in review.findings)
    aside = tuple(replace(f, decision="set aside") if f.fault == "head-lifts" else f for f in review.findings)
    assert "head-lifts" not in {item.fault for item in corrections(aside, review.phrase)}


def test_how_often_one_came_before_the_other(reviewed: Callable[..., Review]) -> None:
    """The same pirouette five times; heel and axis go wrong together in four of them."""
    faults = [
        Fault(fault, f"turn-{number}", size)
        for number in (1, 2, 4, 5)
        for fault, size in (("heel-lifts-early", 32.0), ("axis-tilts", 8.0))
    ]
    review = reviewed(*faults, phrase=repeated_phrase(5))
    assert len(review.phrase.of_kind("turn")) == 5
    axis = next(item for item in corrections(review.findings, review.phrase) if item.fault == "axis-tilts")
    assert (axis.times, axis.chances) == (4, 5)
    counts = [item for item in link_counts(review.findings, review.phrase) if item.effect == "axis-tilts"]
    assert ("heel-lifts-early", 4, 5) in [(item.cause, item.times, item.repetitions) for item in counts]
