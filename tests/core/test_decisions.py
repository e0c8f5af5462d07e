"""The teacher's decisions: put in, taken back, written, and carried over to a new analysis without losing any."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from in_the_round.analysis_core.decisions import (
    Decisions,
    Judgement,
    LinkChoice,
    OwnCorrection,
    apply,
    as_analysed,
    chains,
    decisions_from_json,
    decisions_to_json,
    mark_of,
    match,
)
from in_the_round.analysis_core.findings.finding import Finding, View
from in_the_round.analysis_core.phrase.phase import Phase

VIEW = View((0.0, -3.0, 1.0), (0.0, 0.0, 1.0), "front")
PHASES = (
    Phase("turn-1", "turn", "left", 0, 100, 0.0, 1.0),
    Phase("turn-2", "turn", "left", 200, 300, 2.0, 3.0),
    Phase("jump-1", "jump", None, 400, 500, 4.0, 5.0),
)


def finding(name: str, fault: str, phase: str, peak_s: float, **changes: object) -> Finding:
    made = Finding(
        name, fault, phase, "left", peak_s - 0.1, peak_s - 0.1, peak_s, peak_s + 0.1, 31.0, "mm", (0.0, 10.0), 6.0, 0.7,
        "fault", "high", "proposed default, no published norm", ("foot.L",), VIEW, "Keep the heel down",
    )  # fmt: skip
    return replace(made, **changes)  # type: ignore[arg-type]


FINDINGS = (
    finding("f0", "heel-lifts-early", "turn-1", 0.5, may_have_led_to=("f1",)),
    finding("f1", "axis-tilts", "turn-1", 0.7, came_after=("f0",)),
    finding("f2", "heel-lifts-early", "turn-2", 2.5),
    finding("f3", "stiff-landing", "jump-1", 4.9),
)


def judged(name: str, decision: str = "kept", **more: object) -> Judgement:
    of = next(item for item in FINDINGS if item.id == name)
    return Judgement(mark_of(of, PHASES), decision, proposed_cue=of.cue, proposed_band=of.band, **more)  # type: ignore[arg-type]


def link(before: str, after: str, choice: str) -> LinkChoice:
    by_id = {item.id: mark_of(item, PHASES) for item in FINDINGS}
    return LinkChoice(by_id[before], by_id[after], choice)  # type: ignore[arg-type]


DECISIONS = Decisions(
    judgements=(
        judged("f0", "kept", words="Press the heel into the floor a moment longer"),
        judged("f2", "set aside", note="The shoe slipped"),
        judged("f3", "open", band=(0.0, 40.0)),
    ),
    own=(OwnCorrection("own-1", "Breathe before the jump", None, 3.9, 4.0, 4.1, ("thorax",), VIEW),),
    links=(link("f0", "f1", "cut"), link("f0", "f3", "added")),
)


def test_decisions_are_put_in_and_can_all_be_taken_back() -> None:
    after = {item.id: item for item in apply(FINDINGS, DECISIONS)}
    assert after["f0"].cue == "Press the heel into the floor a moment longer"
    assert (after["f2"].decision, after["f2"].note) == ("set aside", "The shoe slipped")
    assert after["f3"].band == (0.0, 40.0)
    assert after["f0"].may_have_led_to == ("f3",)
    assert after["f1"].came_after == ()
    assert after["f3"].came_after == ("f0",)
    assert as_analysed(tuple(after.values()), DECISIONS) == FINDINGS


def test_links_of_the_teacher_make_the_chains() -> None:
    assert chains(FINDINGS) == (("f0", "f1"),)
    assert chains(apply(FINDINGS, DECISIONS)) == (("f0", "f3"),)


def test_written_and_read_back_unchanged() -> None:
    assert decisions_from_json(json.loads(json.dumps(decisions_to_json(DECISIONS)))) == DECISIONS


def test_a_new_analysis_with_other_ids_and_slightly_other_times_gets_the_decisions() -> None:
    moved = tuple(
        replace(item, id=f"g{number}", peak_s=item.peak_s + 0.04, start_s=item.start_s + 0.04, end_s=item.end_s + 0.04)
        for number, item in enumerate(reversed(FINDINGS))
    )
    matched = match(DECISIONS, moved, PHASES)
    assert [judgement.mark.finding for judgement in matched.judgements] == ["g3", "g1", "g0"]
    assert matched.unmatched == ()
    assert matched.unmatched_links == ()
    after = {item.id: item for item in apply(moved, matched)}
    assert after["g1"].note == "The shoe slipped"
    assert after["g0"].came_after == ("g3",)


def test_what_no_longer_matches_is_listed_and_comes_back_when_it_matches_again() -> None:
    without = match(DECISIONS, FINDINGS[:1], PHASES)
    assert [item.mark.fault for item in without.unmatched] == ["heel-lifts-early", "stiff-landing"]
    assert len(without.unmatched_links) == 2
    assert without.own == DECISIONS.own
    back = match(without, FINDINGS, PHASES)
    assert back == DECISIONS


@pytest.mark.parametrize("change", [{"side": "right"}, {"fault": "turn-hops"}, {"phase": "jump-1"}])
def test_another_fault_side_or_kind_of_phase_is_not_the_same_finding(change: dict[str, str]) -> None:
    matched = match(Decisions(judgements=(judged("f0"),)), [replace(FINDINGS[0], **change)], PHASES)
    assert len(matched.unmatched) == 1


@given(st.lists(st.floats(0.0, 60.0), min_size=0, max_size=8), st.lists(st.floats(0.0, 60.0), min_size=0, max_size=8))
def test_no_decision_is_ever_lost_or_given_twice(before: list[float], after: list[float]) -> None:
    old = [finding(f"f{n}", "heel-lifts-early", "turn-1", t) for n, t in enumerate(before)]
    new = [finding(f"g{n}", "heel-lifts-early", "turn-1", t) for n, t in enumerate(after)]
    decisions = Decisions(tuple(Judgement(mark_of(item, PHASES), "set aside", note=item.id) for item in old))
    matched = match(decisions, new, PHASES)
    assert [judgement.note for judgement in matched.judgements] == [item.id for item in old]
    given_to = [judgement.mark.finding for judgement in matched.judgements if judgement.mark.finding]
    assert len(given_to) == len(set(given_to))
    if not after:
        assert len(matched.unmatched) == len(before)
