"""Which goals a class has: check values of the shared design of the lesson (section 3), and the teacher's decisions."""

from __future__ import annotations

from typing import Any

import pytest
from in_the_round.analysis_core.errors import OptionError
from in_the_round.analysis_core.findings.catalogue import catalogue
from in_the_round.analysis_core.findings.finding import Finding, View
from in_the_round.analysis_core.lesson.choose import goals_of, ranked, weights
from in_the_round.analysis_core.lesson.dancers import Dancer, Need, Role, needs_of
from in_the_round.analysis_core.lesson.library import product_library
from in_the_round.analysis_core.lesson.plan import plan_lesson
from in_the_round.analysis_core.lesson.planned import Wishes
from in_the_round.analysis_core.phrase.phase import Phase, Phrase
from in_the_round.analysis_core.phrase.properties import phase_from

LIBRARY = product_library()
_VIEW = View((0.0, -3.0, 1.0), (0.0, 0.0, 1.0), "side")


def finding(name: str, fault: str, phase: str, **changes: Any) -> Finding:
    """A clear fault; ``changes`` are fields of Finding."""
    values: dict[str, Any] = {
        "side": None,
        "severity": 0.8,
        "grade": "fault",
        "confidence": "high",
        "cue": catalogue()[fault].cue,
        "came_after": (),
        "may_have_led_to": (),
        **changes,
    }
    return Finding(
        id=name,
        fault=fault,
        phase=phase,
        start_s=1.0,
        onset_s=1.0,
        peak_s=1.1,
        end_s=1.2,
        value=30.0,
        unit="mm",
        band=(0.0, 10.0),
        plus_minus=3.0,
        band_source="proposed default, no published norm",
        parts=(),
        view=_VIEW,
        **values,
    )


def phases(*names: str) -> tuple[Phase, ...]:
    """A phase for each name such as turn-1."""
    span = {"start": 0, "end": 0, "start_s": 1.0, "end_s": 3.0}
    return tuple(phase_from(name.rpartition("-")[0], id=name, side=None, properties={}, **span) for name in names)


def need(fault: str, role: Role, times: int, chances: int, *, kept: bool = False) -> Need:
    return Need(fault, times, chances, role, kept, "fault", catalogue()[fault].cue, None, None)


def dancer(name: str, *needs: Need) -> Dancer:
    return Dancer(name, name, "intermediate", needs, phrase_s=20.0)


#: The six dancers of the design's worked example.
SIX = (
    dancer("A.B.", need("heel-lifts-early", "root", 4, 5), need("head-lifts", "first", 2, 4)),
    dancer("C.D.", need("heels-lift-in-plie", "root", 3, 6), need("arms-drop", "first", 2, 3)),
    dancer("E.F.", need("axis-tilts", "root", 2, 2), need("arms-drop", "later", 1, 2)),
    dancer("G.H.", need("arms-drop", "root", 3, 4)),
    dancer("I.J.", need("shallow-plie", "root", 5, 6)),
    dancer("K.L.", need("knee-inside-toes", "root", 6, 8)),
)


def test_weights_and_goals_of_the_worked_example() -> None:
    """A share that is not Laplace's, or another count of the second goal, gives other numbers (design, section 3)."""
    weighed = [weights(one, LIBRARY) for one in SIX]
    assert [one.get("heels") for one in weighed] == pytest.approx([0.714, 0.5, None, None, 0.75, None], abs=5e-4, nan_ok=True)
    assert weighed[1]["arms"] == pytest.approx(0.36)
    assert weighed[2] == pytest.approx({"axis": 0.75, "arms": 0.15})
    assert weighed[0]["spot"] == pytest.approx(0.3)
    assert weighed[5] == pytest.approx({"knee-over-toes": 0.7})
    best = ranked([name for name in LIBRARY.ladders if name != "phrase"], weighed)[:3]
    assert [frozenset(pair) for _, pair in best] == [{"heels", "arms"}, {"heels", "axis"}, {"heels", "knee-over-toes"}]
    assert [score for score, _ in best] == pytest.approx([2.8710, 2.7143, 2.6643], abs=5e-5)
    goals = goals_of(SIX, LIBRARY)
    assert [(goal.ladder, goal.dancers) for goal in goals] == [
        ("heels", ("A.B.", "C.D.", "I.J.")),
        ("arms", ("C.D.", "E.F.", "G.H.")),
    ]


def test_what_is_not_shared_is_a_line_of_its_own() -> None:
    """The worked example goes on: K.L. works on the knees inside the common exercise (design, section 3); of six nobody
    speaks in percent."""
    lesson = plan_lesson(SIX, Wishes(), LIBRARY)
    assert [(own.dancer, own.fault) for own in lesson.own_work] == [("E.F.", "axis-tilts"), ("K.L.", "knee-inside-toes")]
    assert all(own.inside for own in lesson.own_work)
    assert "shared by 3 of 6 dancers" in lesson.goals[0].why
    assert not any("%" in goal.why for goal in lesson.goals)


def test_one_lucky_chance_does_not_lead() -> None:
    """Laplace's share: 1 of 1 is 0.67, 4 of 5 is 0.71 (design, section 3)."""
    assert need("arms-drop", "root", 1, 1).weight == pytest.approx(0.667, abs=5e-4)
    assert need("arms-drop", "root", 4, 5).weight == pytest.approx(0.714, abs=5e-4)
    assert [need("arms-drop", role, 4, 5).weight / need("arms-drop", "root", 4, 5).weight for role in ("first", "later")] == [
        pytest.approx(0.6),
        pytest.approx(0.3),
    ]
    assert need("arms-drop", "effect", 4, 5).weight == 0


def test_a_goal_of_a_group_is_shared() -> None:
    """A class of six does not work on what one dancer alone needs, however much it weighs."""
    lonely = (*SIX[3:4], *(dancer(f"{i}", need("arms-drop", "later", 1, 2)) for i in range(3)))
    alone = dancer("X.Y.", need("axis-tilts", "root", 9, 9))
    assert [goal.ladder for goal in goals_of((*lonely, alone), LIBRARY)] == ["arms"]


def test_one_dancer_has_a_second_goal_only_when_it_weighs_half() -> None:
    first = need("heel-lifts-early", "root", 5, 5)
    assert len(goals_of([dancer("A", first, need("arms-drop", "later", 1, 5))], LIBRARY)) == 1
    assert len(goals_of([dancer("A", first, need("arms-drop", "root", 3, 5))], LIBRARY)) == 2


def test_the_goals_are_the_teachers_when_named() -> None:
    """A ladder, or a fault that it answers; no third goal, no unknown one."""
    assert [g.ladder for g in goals_of(SIX, LIBRARY, wanted=["balance-sways", "air"])] == ["balance", "air"]
    for wrong in (["heels", "arms", "air"], ["splits"]):
        with pytest.raises(OptionError):
            goals_of(SIX, LIBRARY, wanted=wrong)


def test_roots_lead_effects_do_not_count_and_decisions_do() -> None:
    """What only follows from something else is no goal; what is set aside is none; what was kept goes before the root."""
    found = (
        finding("f1", "heel-lifts-early", "turn-1", may_have_led_to=("f2",)),
        finding("f2", "axis-tilts", "turn-1", came_after=("f1",)),
        finding("f3", "arms-drop", "turn-1"),
    )
    phrase = Phrase((), phases("turn-1"))
    roles = {one.fault: one.role for one in needs_of(found, phrase)}
    assert roles == {"heel-lifts-early": "root", "arms-drop": "first", "axis-tilts": "effect"}
    aside = (finding("f1", "heel-lifts-early", "turn-1", may_have_led_to=("f2",), decision="set aside"), *found[1:])
    after = needs_of(aside, phrase)
    assert {one.fault: one.role for one in after} == {"axis-tilts": "first", "arms-drop": "first"}
    kept = (*found[:2], finding("f3", "arms-drop", "turn-1", decision="kept", cue="My own words."))
    assert needs_of(kept, phrase)[0].fault == "arms-drop"
    assert needs_of(kept, phrase)[0].cue == "My own words."


def test_what_is_less_than_medium_sure_is_no_ground_for_a_class() -> None:
    found = (finding("f1", "foot-wings", "turn-1", confidence="low"),)
    assert needs_of(found, Phrase((), phases("turn-1"))) == ()


def test_the_side_with_the_worse_findings_is_the_weaker() -> None:
    """Mirrored sides are two findings and one goal; the worse one is done first."""
    found = (
        finding("f1", "knee-inside-toes", "plie-1", side="left", severity=0.2),
        finding("f2", "knee-inside-toes", "plie-2", side="right", severity=0.9),
    )
    (only,) = needs_of(found, Phrase((), phases("plie-1", "plie-2")))
    assert only.weaker == "right"
