"""What a lesson is made of: ladders, exercises, class items, levels and states, as frozen values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

#: A cue is said in one breath. Proposed default.
LONGEST_CUE = 90
#: Exercises of this ladder stand at the end of every other ladder.
PHRASE = "phrase"
#: The last rung of a ladder before the phrase, and the first that may hold jumps.
TOP_RUNG, FIRST_RUNG_WITH_JUMPS = 5, 4


@dataclass(frozen=True)
class Music:
    """How long an exercise is: counts of a metre at a range of beats per minute, or seconds, or the phrase itself.

    tempo: share of the phrase's own tempo; times: how often the phrase is done in one set; pauses: within a set. counts None: as
    long as the minutes last.
    """

    metre: str | None = None
    bpm: tuple[float, float] | None = None
    counts: int | None = None
    seconds: float | None = None
    phrase: bool = False
    tempo: float = 1.0
    times: int = 1
    pauses: int = 0


@dataclass(frozen=True)
class Texts:
    """What an exercise says to the teacher (name, how, watch) and to the dancer (cue, feel); the ending tells for whom."""

    name: str
    how: str
    cue: str
    feel: str
    watch: str
    how_young: str = ""
    how_older: str = ""
    how_careful: str = ""
    cue_young: str = ""
    caution: str = ""


@dataclass(frozen=True)
class Exercise:
    """One rung of a ladder. also: further ladders it serves; place: its order within a block of the class; levels: none = all.

    jumps: in one set; own_jumps: as many as the phrase has. sides 2: done on each side. not_when: states that take it out.
    """

    id: str
    texts: Texts
    ladder: str
    rung: int
    kind: str
    music: Music
    also: tuple[str, ...] = ()
    place: float = 30.0
    sets: int = 1
    sides: int = 1
    jumps: int = 0
    own_jumps: bool = False
    needs: tuple[str, ...] = ()
    levels: tuple[str, ...] = ()
    not_when: tuple[str, ...] = ()


@dataclass(frozen=True)
class Item:
    """An ordinary part of a class. minutes: least and most in a class of 75; value: what is given up last (1) or first.

    from_minutes: in no shorter class; always_from: in every class of at least so many minutes. private: also when one dancer has
    a short time alone; only_private: only then; repeats_first: it is the first exercise of the first goal once more.
    """

    id: str
    texts: Texts
    block: str
    place: float
    kind: str
    minutes: tuple[float, float]
    value: float
    music: Music = Music()
    jumps: int = 0
    private: bool = False
    only_private: bool = False
    from_minutes: int = 0
    always_from: int | None = None
    requires: str = ""
    repeats_first: bool = False
    needs: tuple[str, ...] = ()
    levels: tuple[str, ...] = ()
    not_when: tuple[str, ...] = ()


@dataclass(frozen=True)
class Ladder:
    """A goal. main: faults that it is the first answer to; faults: all that it helps; inside: the class item in which a dancer
    who alone works on it carries its cue; leave_out: what not to do today; careful: class items done with care for it;
    takes_out: class items left out for it."""

    id: str
    order: float
    title: str
    goal: str
    why: str
    leave_out: str
    main: tuple[str, ...]
    faults: tuple[str, ...] = ()
    inside: str = ""
    careful: tuple[str, ...] = ()
    takes_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class Level:
    """How a class is laid out. blocks: minutes by block, in order; jumps: ceiling where no age is given."""

    name: str
    blocks: Mapping[str, float]
    jumps: int
    young: bool = False
    names: Mapping[str, str] | None = None


@dataclass(frozen=True)
class State:
    """What a teacher may know of a dancer today."""

    name: str
    says: str
    fewer_jumps: bool = False
    no_jumps: bool = False


@dataclass(frozen=True)
class Library:
    """Everything a lesson is made of."""

    ladders: Mapping[str, Ladder]
    exercises: Mapping[str, Exercise]
    items: Mapping[str, Item]
    levels: Mapping[str, Level]
    states: Mapping[str, State]
    ages: tuple[tuple[int, int], ...]
    block_names: Mapping[str, str]
    instead: Mapping[str, str]
    private: Level
    private_longest: int

    def rungs(self, ladder: str) -> dict[int, Exercise]:
        """The exercises of a ladder by rung."""
        found = (e for e in self.exercises.values() if ladder == e.ladder or ladder in e.also)
        return {exercise.rung: exercise for exercise in sorted(found, key=lambda e: e.rung)}

    @cached_property
    def ladder_of(self) -> dict[str, str]:
        """The ladder that is the first answer to each fault."""
        return {fault: ladder.id for ladder in self.ladders.values() for fault in ladder.main}

    @property
    def phrases(self) -> tuple[Exercise, ...]:
        """The ways of taking a goal into the phrase, the easiest first."""
        return tuple(sorted((e for e in self.exercises.values() if e.ladder == PHRASE), key=lambda e: e.place))
