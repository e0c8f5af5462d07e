"""What a class is planned from and what the plan is: frozen values that all its forms are made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .choose import Goal
from .dancers import Dancer
from .model import Ladder


@dataclass(frozen=True)
class Wishes:
    """What the teacher asks for. level None: that of the reviews; age: of the youngest; cap: at most so many jumps.

    states: what is known of the dancers today; without: things that are not there; goals: ladders or faults instead of the
    program's choice; mastered: rungs by ladder that hold already; last_jumps: planned jumps of the last class.
    """

    minutes: float = 75
    level: str | None = None
    age: float | None = None
    title: str = ""
    cap: int | None = None
    states: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    goals: tuple[str, ...] = ()
    mastered: Mapping[str, int] = field(default_factory=dict)
    last_jumps: int | None = None


@dataclass(frozen=True)
class PlannedExercise:
    """One exercise of the plan. stage: its rung, 0 for an ordinary part of a class; counts None: timed by seconds or by minutes.

    sides: the order in which they are done ("weaker" first where dancers differ), ("both",) for two sides at once;
    serves: the faults of the goals that it is for; minutes from ``begins`` on.
    """

    id: str
    name: str
    kind: str
    stage: int
    begins: float
    minutes: float
    how: str
    cue: str
    feel: str
    watch: str
    caution: str
    music: str
    counts: int | None
    seconds: float | None
    sets: int
    sides: tuple[str, ...]
    jumps: int
    needs: tuple[str, ...]
    serves: tuple[str, ...]
    ladders: tuple[str, ...]


@dataclass(frozen=True)
class PlannedBlock:
    """A part of the class with its exercises in order."""

    id: str
    name: str
    minutes: float
    exercises: tuple[PlannedExercise, ...]


@dataclass(frozen=True)
class PlannedGoal:
    """A goal with its ladder: what is aimed at, who shares it, and the rungs with where the class stands."""

    goal: Goal
    ladder: Ladder
    why: str
    feel: str
    rungs: tuple[tuple[int, str, str], ...]


@dataclass(frozen=True)
class OwnWork:
    """What one dancer does inside the common exercise: the correction, its cue, and where."""

    dancer: str
    fault: str | None
    cue: str
    inside: str


@dataclass(frozen=True)
class Lesson:
    """The plan of one class."""

    title: str
    level: str
    minutes: float
    young: bool
    private: bool
    dancers: tuple[Dancer, ...]
    goals: tuple[PlannedGoal, ...]
    blocks: tuple[PlannedBlock, ...]
    jumps: int
    jump_limit: int
    cautions: tuple[str, ...]
    leave_out: tuple[str, ...]
    things: tuple[str, ...]
    own_work: tuple[OwnWork, ...]
    notes: tuple[str, ...]
