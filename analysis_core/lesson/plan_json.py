"""A plan as JSON holds it."""

from __future__ import annotations

from typing import Any

from .dancers import Dancer
from .planned import Lesson, PlannedExercise


def to_json(lesson: Lesson) -> dict[str, Any]:
    """The object of ``lesson --json``: the contract's fields, and what else the plan knows."""
    goals = [
        {
            "fault": goal.goal.fault,
            "why": goal.why,
            "dancers": list(goal.goal.dancers),
            "ladder": goal.goal.ladder,
            "title": goal.ladder.title,
            "aim": goal.ladder.goal,
            "feel": goal.feel,
            "start": goal.goal.start,
        }
        for goal in lesson.goals
    ]
    return {
        "title": lesson.title,
        "level": lesson.level,
        "minutes": lesson.minutes,
        "goals": goals,
        "blocks": [
            {"name": block.name, "minutes": block.minutes, "exercises": [_exercise_to_json(e) for e in block.exercises]}
            for block in lesson.blocks
        ],
        "jumps": lesson.jumps,
        "jump_limit": lesson.jump_limit,
        "cautions": list(lesson.cautions),
        "leave_out": list(lesson.leave_out),
        "things": list(lesson.things),
        "own_work": [{"dancer": own.dancer, "fault": own.fault, "cue": own.cue, "inside": own.inside} for own in lesson.own_work],
        "notes": list(lesson.notes),
        "class": [_dancer_to_json(dancer) for dancer in lesson.dancers],
    }


def _exercise_to_json(exercise: PlannedExercise) -> dict[str, Any]:
    return {
        "id": exercise.id,
        "name": exercise.name,
        "kind": exercise.kind,
        "stage": exercise.stage,
        "begins": exercise.begins,
        "minutes": exercise.minutes,
        "counts": exercise.counts,
        "seconds": exercise.seconds,
        "music": exercise.music,
        "sets": exercise.sets,
        "sides": list(exercise.sides),
        "how": exercise.how,
        "cue": exercise.cue,
        "feel": exercise.feel,
        "watch": exercise.watch,
        "caution": exercise.caution or None,
        "jumps": exercise.jumps,
        "needs": list(exercise.needs),
        "for": list(exercise.serves),
    }


def _dancer_to_json(dancer: Dancer) -> dict[str, Any]:
    corrections: dict[str, str] = {need.fault: need.grade for need in dancer.needs}
    corrections |= dict.fromkeys(sorted(dancer.untold), "cannot be told")
    return {"dancer": dancer.name, "corrections": corrections, "held": sorted(dancer.held)}
