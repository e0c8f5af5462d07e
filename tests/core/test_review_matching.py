"""The teacher's decisions: put in, taken back, written, and carried over to a new analysis without losing any."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from in_the_round.analysis_core.findings.causes import chains_of
from in_the_round.analysis_core.findings.finding import Finding, View
from in_the_round.analysis_core.phrase.properties import phase_from
from in_the_round.analysis_core.review.decisions import (
    Decisions,
    Judgement,
    LinkChoice,
    OwnCorrection,
    about,
    as_decided,
    changed,
    corrected,
    decisions_from_json,
    decisions_to_json,
    difference,
    fits,
    linked,
    mark_of,
    match,
    without_correction,
)
from in_the_round.analysis_core.review.decisions import (
    judged as judged_in,
)

VIEW = View((0.0, -3.0, 1.0), (0.0, 0.0, 1.0), "front")
PHASES = tuple(
    phase_from(
        name.rpartition("-")[0], id=name, side=side, start=100 * s, end=100 * s + 100, start_s=s, end_s=s + 1.0, properties={}
    )
    for name, side, s in (("turn-1", "left", 0), ("turn-2", "left", 2), ("jump-1", None, 4))
)


def finding(name: str, fault: str, phase: str, peak_s: float, **changes: object) -> Finding:
    made = Finding(
        name, fault, phase, "left", peak_s - 0.1, peak_s - 0.1, peak_s, peak_s + 0.1, 31.0, "mm", (0.0, 10.0), 6.0, 0.7,
        "fault", "high", "proposed default, no published norm", ("foot.L",), VIEW, "Keep the heel down",
    )  # fmt: skip
    return replace(made, **changes)


FINDINGS = (
    finding("f0", "heel-lifts-early", "turn-1", 0.5, may_have_led_to=("f1",)),
    finding("f1", "axis-tilts", "turn-1", 0.7, came_after=("f0",)),
    finding("f2", "heel-lifts-early", "turn-2", 2.5),
    finding("f3", "stiff-landing", "jump-1", 4.9),
)


def judged(name: str, decision: str = "kept", **more: object) -> Judgement:
    of = next(item for item in FINDINGS if item.id == name)
    return Judgement(mark_of(of, PHASES), decision, **more)


def link(before: str, after: str, choice: str) -> LinkChoice:
    by_id = {item.id: mark_of(item, PHASES) for item in FINDINGS}
    return LinkChoice(by_id[before], by_id[after], choice)


DECISIONS = Decisions(
    judgements=(
        judged("f0", "kept", words="Press the heel into the floor a moment longer"),
        judged("f2", "set aside", note="The shoe slipped"),
        judged("f3", "open", band=(0.0, 40.0)),
    ),
    own=(OwnCorrection("own-1", "Breathe before the jump", None, 3.9, 4.0, 4.1, ("thorax",), VIEW),),
    links=(link("f0", "f1", "cut"), link("f0", "f3", "added")),
)


def test_decisions_are_put_in() -> None:
    after = {item.id: item for item in as_decided(FINDINGS, DECISIONS)}
    assert after["f0"].cue == "Press the heel into the floor a moment longer"
    assert (after["f2"].decision, after["f2"].note) == ("set aside", "The shoe slipped")
    assert after["f3"].band == (0.0, 40.0)
    assert after["f0"].may_have_led_to == ("f3",)
    assert after["f1"].came_after == ()
    assert after["f3"].came_after == ("f0",)
    assert as_decided(FINDINGS, Decisions()) == FINDINGS


def test_links_of_the_teacher_make_the_chains_of() -> None:
    assert chains_of(FINDINGS) == (("f0", "f1"),)
    assert chains_of(as_decided(FINDINGS, DECISIONS)) == (("f0", "f3"),)


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
    after = {item.id: item for item in as_decided(moved, matched)}
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


def test_decisions_fit_only_the_findings_they_were_made_on() -> None:
    assert fits(DECISIONS, FINDINGS, PHASES)
    later = (replace(FINDINGS[0], peak_s=FINDINGS[0].peak_s + 1e-9), *FINDINGS[1:])
    assert not fits(DECISIONS, later, PHASES)
    assert fits(match(DECISIONS, later, PHASES), later, PHASES)


NAMES = tuple(item.id for item in FINDINGS)
#: Every single thing that a teacher can do, each from any state.
DEEDS = st.one_of(
    st.tuples(
        st.just("judge"),
        st.sampled_from(NAMES),
        st.sampled_from(["open", "kept", "set aside"]),
        st.sampled_from(["", "later"]),
        st.sampled_from([None, (0.0, 20.0)]),
    ),
    st.tuples(st.just("link"), st.sampled_from(NAMES), st.sampled_from(NAMES), st.sampled_from(["cut", "added"])),
    st.tuples(st.just("correct"), st.sampled_from(["own-1", "own-2"]), st.sampled_from(["Breathe", "Look up"])),
    st.tuples(st.just("remove"), st.sampled_from(["own-1", "own-2"])),
)


def done(decisions: Decisions, deed: tuple[object, ...]) -> Decisions:
    """The decisions after a teacher's deed."""
    kind, *what = deed
    if kind == "judge":
        name, decision, words, band = what
        return judged_in(decisions, judged(str(name), str(decision), words=words, band=band))
    if kind == "link":
        before, after, choice = map(str, what)
        analysed = before in next(item.came_after for item in FINDINGS if item.id == after)
        return linked(decisions, link(before, after, choice), analysed=analysed)
    if kind == "correct":
        return corrected(decisions, replace(DECISIONS.own[0], id=str(what[0]), words=str(what[1])))
    return without_correction(decisions, str(what[0]))


def as_sets(decisions: Decisions) -> tuple[dict[object, object], ...]:
    return tuple({about(item): item for item in items} for items in (decisions.judgements, decisions.own, decisions.links))


@given(st.lists(DEEDS, max_size=12), st.data())
def test_any_deeds_taken_back_in_any_order_leave_the_analysis(deeds: list[tuple[object, ...]], data: st.DataObject) -> None:
    """Catches an undo that inverts instead of asking what was analysed: order of links, links that the analysis also found."""
    decisions = Decisions()
    for deed in deeds:
        decisions = done(decisions, deed)
    everything = [*decisions.judgements, *decisions.own, *decisions.links]
    for item in data.draw(st.permutations(everything)):
        if isinstance(item, Judgement):
            decisions = judged_in(decisions, Judgement(item.mark, "open"))
        elif isinstance(item, OwnCorrection):
            decisions = without_correction(decisions, item.id)
        else:
            opposite = replace(item, choice={"cut": "added", "added": "cut"}[item.choice])
            decisions = linked(decisions, opposite, analysed=item.choice == "cut")
    assert decisions == Decisions()
    assert as_decided(FINDINGS, decisions) == FINDINGS
    assert chains_of(as_decided(FINDINGS, decisions)) == chains_of(FINDINGS)


@given(st.lists(st.tuples(st.booleans(), DEEDS), max_size=12))
def test_two_windows_that_save_in_turn_lose_nothing(deeds: list[tuple[bool, tuple[object, ...]]]) -> None:
    """Each window decides on what it last knew; the file gets what each changed. About the same, the last one holds.

    Catches a window that writes its whole state: the other's decisions would be gone.
    """
    file = Decisions()
    known = {True: Decisions(), False: Decisions()}
    expected: dict[object, object] = {}
    for window, deed in deeds:
        before = known[window]
        after = done(before, deed)
        steps = difference(before, after)
        for kind, changes in (("j", steps.judgements), ("o", steps.own), ("l", steps.links)):
            for key, item in changes.items():
                expected[kind, key] = item
        file = changed(file, steps)
        known[window] = after
    kept = {(kind, key): item for kind, items in zip("jol", as_sets(file), strict=True) for key, item in items.items()}
    assert kept == {key: item for key, item in expected.items() if item is not None}
