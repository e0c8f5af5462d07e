"""Minutes, jumps and the plan itself: check values of the shared design of the lesson (sections 4 and 5)."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import pytest
from in_the_round.analysis_core.errors import OptionError
from in_the_round.analysis_core.findings.catalogue import catalogue
from in_the_round.analysis_core.lesson.candidates import jump_limit, minutes_of
from in_the_round.analysis_core.lesson.dancers import Dancer, Need
from in_the_round.analysis_core.lesson.library import product_library
from in_the_round.analysis_core.lesson.plan import MOVE_UP_HOLD, MOVE_UP_SETS, MOVE_UP_TRIES, plan_lesson
from in_the_round.analysis_core.lesson.plan_json import to_json
from in_the_round.analysis_core.lesson.planned import Lesson, Wishes
from in_the_round.analysis_core.lesson.timetable import shares

LIBRARY = product_library()
LADDERS = [name for name in LIBRARY.ladders if name != "phrase"]


def dancer(name: str, *faults: str, weaker: str | None = None, jumps: int = 0, level: str = "intermediate") -> Dancer:
    needs = tuple(Need(f, 1, 1, "root", False, "fault", catalogue()[f].cue, weaker, catalogue()[f].caution) for f in faults)
    return Dancer(name, name, level, needs, jumps=jumps, phrase_s=20.0)


def planned(lesson: Lesson) -> list[str]:
    return [exercise.id for block in lesson.blocks for exercise in block.exercises]


@pytest.mark.parametrize(
    ("level", "minutes", "expected"),
    [
        ("intermediate", 75, [10, 28, 12, 8, 8, 4, 5]),
        ("intermediate", 60, [8, 22.5, 9.5, 6.5, 6.5, 3, 4]),
        ("intermediate", 45, [8, 15.5, 6.5, 4.5, 4.5, 2, 4]),
        ("intermediate", 30, [5, 10, 4.5, 3, 3, 1.5, 3]),
        ("young beginner", 60, [8, 22, 10, 5, 6, 4, 5]),
        ("young beginner", 45, [8, 15.5, 7, 3.5, 4, 3, 4]),
        ("older beginner", 45, [8, 16, 8.5, 3.5, 2.5, 2.5, 4]),
        ("advanced", 90, [10, 35, 15, 10, 8, 7, 5]),
        ("free style", 75, [10, 20, 16, 8, 8, 8, 5]),
    ],
)
def test_shares_of_the_blocks(level: str, minutes: float, expected: list[float]) -> None:
    """Warm-up, barre, centre, turns, small jumps, travelling, cool-down (design, section 4; catalogue 10.1)."""
    assert list(shares(LIBRARY.levels[level].blocks, minutes).values()) == expected


@pytest.mark.parametrize("level", list(LIBRARY.levels))
def test_shares_of_every_length(level: str) -> None:
    """20 to 120 minutes in half minutes: the sum exact, none below nothing, warm-up and cool-down on their floors."""
    for half_minutes in range(40, 241):
        minutes = half_minutes / 2
        found = shares(LIBRARY.levels[level].blocks, minutes)
        assert sum(found.values()) == minutes
        assert all(size >= 0 and size % 0.5 == 0 for size in found.values())
        assert found["warm-up"] >= (8 if minutes >= 45 else 5)
        assert found["cool-down"] >= (4 if minutes >= 45 else 3)


@pytest.mark.parametrize(
    ("exercise", "minutes"), [("slow-plie-heel-rule", 1.66), ("quarter-half-close-stay", 2.70), ("calf-lengthening", 3.33)]
)
def test_minutes_of_an_exercise(exercise: str, minutes: float) -> None:
    """Saying it, sets, sides, pauses and the change (design, section 4)."""
    assert minutes_of(LIBRARY.exercises[exercise], 20.0) == pytest.approx(minutes, abs=0.005)


@pytest.mark.parametrize(
    ("level", "age", "limit"),
    [
        ("young beginner", None, 40),
        ("intermediate", None, 60),
        ("advanced", None, 90),
        ("older beginner", None, 40),
        ("free style", None, 40),
        ("intermediate", 9, 40),
        ("intermediate", 13, 60),
        ("intermediate", 15, 90),
        ("older beginner", 15, 40),
        ("advanced", 30, 90),
        ("advanced", 7, 20),
    ],
)
def test_ceiling_of_jumps(level: str, age: float | None, limit: int) -> None:
    """By age, else by level (catalogue 10.4: 8 to 10 years 40, 11 to 13 60, 14 to 16 90, adult beginner 40)."""
    assert jump_limit(LIBRARY.levels[level], Wishes(age=age), LIBRARY) == limit


def test_the_ceiling_only_falls() -> None:
    """A third less in a growth spurt; a fifth above the last class at most; the teacher's own ceiling never lifts it."""
    level = LIBRARY.levels["intermediate"]
    assert jump_limit(level, Wishes(age=12, states=("growth spurt",)), LIBRARY) == 40
    assert jump_limit(level, Wishes(last_jumps=20), LIBRARY) == 24
    assert jump_limit(level, Wishes(cap=500), LIBRARY) == 60
    assert jump_limit(level, Wishes(cap=0), LIBRARY) == 0


def test_the_plan_of_the_worked_example() -> None:
    """Young beginners, 60 minutes, heels held up to rung 2, arms new: six exercises and 40 jumps (design, section 4)."""
    group = [dancer(f"{i}", "heel-lifts-early", "arms-drop", level="young beginner") for i in range(3)]
    lesson = plan_lesson(group, Wishes(minutes=60, mastered={"heels": 2}), LIBRARY)
    chosen = {name for name in planned(lesson) if name in LIBRARY.exercises}
    assert chosen == {
        *("fondu-heel-print", "preparation-hold-return", "plie-releve-heel-last"),
        *("port-de-bras-lying", "port-de-bras-back-to-wall", "free-arm-barre-off"),
    }
    assert (lesson.jumps, lesson.jump_limit) == (40, 40)
    assert plan_lesson(group, Wishes(minutes=60, mastered={"heels": 2}), LIBRARY) == lesson


def check(lesson: Lesson) -> None:
    """What every plan keeps, whatever was asked for."""
    exercises = [exercise for block in lesson.blocks for exercise in block.exercises]
    assert sum(block.minutes for block in lesson.blocks) == lesson.minutes
    assert sum(exercise.minutes for exercise in exercises) == lesson.minutes
    assert all(exercise.minutes > 0 for exercise in exercises)
    assert sum(exercise.jumps for exercise in exercises) == lesson.jumps <= lesson.jump_limit
    assert len(lesson.goals) <= 2
    assert all(exercise.cue and "(" not in exercise.cue[:1] for exercise in exercises)
    jumping = [bool(exercise.jumps) for exercise in exercises]
    assert not any(all(jumping[i : i + 3]) for i in range(len(jumping) - 2)), "three jump exercises in a row"
    assert all(e.begins + e.minutes <= lesson.minutes - 5 for e in exercises if e.jumps), "a jump in the last five minutes"
    assert not any(e.jumps for block in lesson.blocks if block.id in ("warm-up", "barre") for e in block.exercises)
    for goal in lesson.goals:
        stages = [e.stage for e in exercises if goal.goal.ladder in e.ladders and e.stage <= 5]
        assert stages == sorted(stages), "a rung comes before the one below it"
        assert goal.goal.start > 5 or goal.goal.start in stages, "the first rung of a goal is missing"


#: Enough to meet every ladder, level and length without solving six thousand classes: the bench does that.
_SAMPLE = [
    (LADDERS[i], LADDERS[(i * 7 + 3) % 20], list(LIBRARY.levels)[i % 5], [20, 30, 45, 60, 75, 90, 105, 120][i % 8])
    for i in range(20)
]


@pytest.mark.parametrize(("one", "other", "level", "minutes"), _SAMPLE)
def test_every_ladder_gives_a_class(one: str, other: str, level: str, minutes: float) -> None:
    """Two goals, any level and length, class of three: minutes exact, jumps under the ceiling, rungs in order."""
    group = [dancer(f"{i}", jumps=3, level=level) for i in range(3)]
    lesson = plan_lesson(group, Wishes(minutes=minutes, goals=(one, other)), LIBRARY)
    check(lesson)
    assert [goal.goal.ladder for goal in lesson.goals] == list(dict.fromkeys((one, other)))


@pytest.mark.parametrize("minutes", [20, 30, 45])
def test_a_short_time_alone_is_no_class_in_small(minutes: float) -> None:
    """One dancer for half an hour: groundwork, barre, phrase and a task for home; no adage, no big jumps."""
    lesson = plan_lesson([dancer("A", "axis-tilts", "arms-drop", jumps=2, level="advanced")], Wishes(minutes=minutes), LIBRARY)
    check(lesson)
    assert lesson.private
    assert "home-task" in planned(lesson)
    assert not {"adage", "big-jumps", "frappes"} & set(planned(lesson))


@pytest.mark.parametrize("fault", list(catalogue()))
def test_every_fault_is_answered(fault: str) -> None:
    """All 46: a goal, its first exercise in the plan, and the phrase at the end."""
    lesson = plan_lesson([dancer("A", fault)], Wishes(minutes=60), LIBRARY)
    check(lesson)
    assert lesson.goals[0].goal.fault == fault
    assert any(fault in exercise.serves and exercise.stage == 1 for block in lesson.blocks for exercise in block.exercises)
    assert any(exercise.stage == 6 for block in lesson.blocks for exercise in block.exercises)


def test_nothing_to_correct_is_an_ordinary_class() -> None:
    lesson = plan_lesson([dancer("A")], Wishes(minutes=75), LIBRARY)
    check(lesson)
    assert lesson.goals == ()


def test_a_state_takes_exercises_out_of_the_whole_class() -> None:
    """Nobody jumps when jumps are out, nobody turns when dizzy, and both are said."""
    group = [dancer(f"{i}", "heavy-landing", "axis-tilts", jumps=3) for i in range(4)]
    lesson = plan_lesson(group, Wishes(states=("no jumps", "dizziness")), LIBRARY)
    check(lesson)
    assert lesson.jumps == 0
    assert not {"quarter-pivots-two-feet", "turn-preparations", "saute-land-and-stay"} & set(planned(lesson))
    assert lesson.cautions[:2] == tuple(LIBRARY.states[name].says for name in ("no jumps", "dizziness"))


def test_without_a_thing_something_else_takes_its_place_or_the_exercise_goes() -> None:
    """No barre: the wall; no low step: no step-down."""
    lesson = plan_lesson([dancer("A", "knee-inside-toes")], Wishes(without=("barre", "low step")), LIBRARY)
    check(lesson)
    assert "step-down-on-a-line" not in planned(lesson)
    assert "barre" not in lesson.things
    assert any("wall" in thing for thing in lesson.things)


def test_the_weaker_side_goes_first() -> None:
    one = plan_lesson([dancer("A", "heel-lifts-early", weaker="left")], Wishes(minutes=60), LIBRARY)
    sides = {exercise.id: exercise.sides for block in one.blocks for exercise in block.exercises}
    assert sides["calf-lengthening"] == ("left", "right")
    assert sides["plies"] == ("both",)
    group = [dancer("A", "heel-lifts-early", weaker="left"), dancer("B", "heel-lifts-early", weaker="right")]
    sides = {e.id: e.sides for block in plan_lesson(group, Wishes(), LIBRARY).blocks for e in block.exercises}
    assert sides["calf-lengthening"] == ("weaker", "stronger")


def test_bands_of_different_levels_are_not_mixed() -> None:
    with pytest.raises(OptionError, match="different bands"):
        plan_lesson([dancer("A", "arms-drop"), dancer("B", "arms-drop", level="advanced")], Wishes(), LIBRARY)


@pytest.mark.parametrize(
    "wrong",
    [
        {"minutes": 10},
        {"minutes": 121},
        {"minutes": 60.3},
        {"age": 200},
        {"states": ("sleepy",)},
        {"mastered": {"heels": 9}},
        {"cap": -1},
        {"level": "heroic"},
    ],
)
def test_wishes_that_make_no_sense_are_refused_with_a_sentence(wrong: dict[str, object]) -> None:
    with pytest.raises(OptionError, match=r"\.$"):
        plan_lesson([dancer("A", "arms-drop")], replace(Wishes(), **wrong), LIBRARY)


def test_json_has_what_the_contract_names() -> None:
    """interfaces.md, the lesson."""
    plan = to_json(plan_lesson([dancer("A", "arms-drop"), dancer("B", "arms-drop")], Wishes(age=12), LIBRARY))
    assert {"title", "level", "minutes", "goals", "blocks", "jumps", "jump_limit", "cautions", "class"} <= set(plan)
    assert {"fault", "why", "dancers"} <= set(plan["goals"][0])
    wanted = {"name", "kind", "stage", "minutes", "counts", "sides", "cue", "feel", "jumps", "for"}
    for block in plan["blocks"]:
        assert {"name", "minutes", "exercises"} <= set(block)
        assert all(wanted <= set(exercise) for exercise in block["exercises"])
    assert plan["class"] == [{"dancer": name, "corrections": {"arms-drop": "fault"}, "held": []} for name in ("A", "B")]


@pytest.mark.parametrize(("rate", "passes"), [(0.5, 0.003), (0.6, 0.028), (0.7, 0.147), (0.8, 0.459), (0.9, 0.865)])
def test_the_rule_for_moving_up_is_strict(rate: float, passes: float) -> None:
    """How often a dancer with this true rate passes, by the binomial distribution (design, section 5)."""
    alone = sum(math.comb(MOVE_UP_TRIES, k) * rate**k * (1 - rate) ** (MOVE_UP_TRIES - k) for k in range(MOVE_UP_HOLD, 11))
    assert alone**MOVE_UP_SETS == pytest.approx(passes, abs=5e-4)
    assert "2 sets in which 8 of 10" in plan_lesson([dancer("A", "arms-drop")], Wishes(), LIBRARY).notes[0]


def test_pairs_of_goals_that_share_an_exercise_do_it_once() -> None:
    """One exercise serves three ladders: it stands once in the plan, for both goals."""
    for one, other in combinations(("landing", "push", "two-feet-alike"), 2):
        lesson = plan_lesson([dancer("A")], Wishes(goals=(one, other)), LIBRARY)
        check(lesson)
        shared = [e for block in lesson.blocks for e in block.exercises if e.id == "lying-push-and-receive"]
        assert [exercise.ladders for exercise in shared] == [(one, other)]
