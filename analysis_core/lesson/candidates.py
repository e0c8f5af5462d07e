"""What could be in a class: exercises for its goals and the items of its kind, each with its minutes and its worth."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from .choose import Goal
from .dancers import Dancer
from .model import PHRASE, Exercise, Item, Level, Library, Music, Texts
from .planned import Wishes
from .timetable import STEP, Part

#: Seconds around the sets of an exercise: to say it, between sets and sides, to change to the next.
SAY_S, BETWEEN_S, CHANGE_S = 30.0, 10.0, 20.0
#: So many rungs of one goal in one class: moving up needs more than one class.
RUNGS_AT_ONCE = 3
#: A dancer alone goes one further: from the groundwork over the barre to the centre (catalogue 10.1, private slot).
RUNGS_ALONE = 4
#: An exercise may take so much longer than its counts, minutes: for a word and another try.
_TRY_AGAIN = 1.0
#: What an exercise is worth to the timetable: the first rung, less for each above, less for a second goal; into the phrase.
_FIRST_RUNG, _PER_RUNG, _SECOND_GOAL, _INTO_PHRASE = 6.0, 0.5, 1.0, 5.0
#: The length of class for which the minutes of the class items stand.
_ITEMS_FOR = 75
_BLOCK_OF_KIND = {"H": "turns", "I": "turns", "K": "small-jumps", "L": "small-jumps"}


def jump_limit(level: Level, wishes: Wishes, library: Library, last: int | None = None) -> int:
    """The ceiling of planned jumps (catalogue 10.4): by age, else by level; a third less in a state that asks for it.

    A level's own lower ceiling for beginners, the teacher's cap and a fifth above the last class only ever lower it. last: jumps
    of the last class by the record, which the teacher's own number replaces.
    """
    limit = level.jumps
    if wishes.age is not None:
        by_age = next((jumps for until, jumps in library.ages if wishes.age < until + 1), None)
        beginner = level.name == "older beginner"
        limit = limit if by_age is None else min(by_age, limit) if beginner else by_age
    if any(library.states[name].fewer_jumps for name in wishes.states):
        limit = limit * 2 // 3
    last = last if wishes.last_jumps is None else wishes.last_jumps
    if last:
        limit = min(limit, math.floor(1.2 * last))
    return limit if wishes.cap is None else min(limit, wishes.cap)


def minutes_of(exercise: Exercise, phrase_s: float) -> float:
    """How long an exercise takes, minutes: saying it, its sets on its sides, the pauses between, and the change."""
    rounds = exercise.sets * exercise.sides
    return (SAY_S + rounds * _set_s(exercise.music, phrase_s) + BETWEEN_S * (rounds - 1) + CHANGE_S) / 60


def _set_s(music: Music, phrase_s: float) -> float:
    if music.phrase:
        return music.times * phrase_s / music.tempo + music.pauses * BETWEEN_S
    if music.bpm and music.counts:
        return music.counts * 60 / (sum(music.bpm) / 2)
    return music.seconds or 0.0


def _up(minutes: float) -> float:
    return math.ceil(minutes / STEP - 1e-9) * STEP


def _near(minutes: float) -> float:
    return math.floor(minutes / STEP + 0.5) * STEP


@dataclass(frozen=True)
class Setting:
    """What is the same for all parts of one class."""

    library: Library
    level: Level
    wishes: Wishes
    private: bool
    young: bool
    older: bool
    goals: tuple[Goal, ...]
    dancers: tuple[Dancer, ...]
    phrase_s: float
    phrase_jumps: int

    def allows(self, thing: Exercise | Item) -> bool:
        """No state, missing thing or level takes it out."""
        missing = [need for need in thing.needs if need in self.wishes.without and need not in self.library.instead]
        at_level = not thing.levels or self.level.name in thing.levels
        lands = thing.jumps > 0 and not self.jumping
        return at_level and not missing and not lands and not set(thing.not_when) & set(self.wishes.states)

    @property
    def jumping(self) -> bool:
        """No state forbids it."""
        return not any(self.library.states[name].no_jumps for name in self.wishes.states)

    def jumps(self, exercise: Exercise) -> int:
        own = self.phrase_jumps * exercise.music.times if self.jumping else 0
        return (own if exercise.own_jumps else exercise.jumps) * exercise.sets

    def asked_by_goals(self, name: str) -> set[str]:
        """Class items that the ladders of the goals name in a field."""
        return {item for goal in self.goals for item in getattr(self.library.ladders[goal.ladder], name)}

    def texts(self, texts: Texts, *, careful: bool = False) -> Texts:
        """The texts for these dancers in how, cue and feel; careful: as a goal of the class asks for."""
        how = texts.how_young if self.young else texts.how_older if self.older else ""
        if careful and not self.young:
            how = texts.how_careful or how
        cue = texts.cue_young if self.young else ""
        return replace(texts, how=how or texts.how, cue=cue or texts.cue)


def _block_of(exercise: Exercise, private: bool) -> str:
    if exercise.rung == 1:
        return "conditioning" if private else "warm-up"
    if exercise.rung in (2, 3):
        return "barre"
    if private:
        return "centre"
    if exercise.ladder == PHRASE:
        return "travelling"
    if exercise.jumps:
        return "small-jumps"
    return _BLOCK_OF_KIND.get(exercise.kind, "centre")


def rungs_today(goal: Goal, setting: Setting) -> list[Exercise]:
    """The exercises of a goal for today, the lowest first: from the one after the last mastered."""
    ladder = setting.library.rungs(goal.ladder)
    possible = [e for rung, e in ladder.items() if rung >= goal.start and setting.allows(e)]
    return possible[: RUNGS_ALONE if setting.private else RUNGS_AT_ONCE]


def _phrase_of(goal: Goal, place: int, setting: Setting) -> Exercise | None:
    """How the goal goes into the phrase: in parts at first, whole with the cue higher up, danced when it holds."""
    if setting.phrase_s <= 0:
        return None
    ways = [way for way in setting.library.phrases if setting.allows(way)]
    if not ways:
        return None
    # A second goal finds the phrase taken apart already.
    way = ways[min(max(goal.start - 1, 0) // 2 + place, len(ways) - 1)]
    return replace(way, id=f"{way.id}-{place + 1}", place=way.place + place / 10)


@dataclass(frozen=True)
class Candidate:
    """A part of the timetable with what it stands for."""

    part: Part
    place: float
    thing: Exercise | Item
    goals: tuple[Goal, ...]


def _exercise_candidates(setting: Setting) -> list[Candidate]:
    found: dict[str, Candidate] = {}

    def add(exercise: Exercise, goal: Goal, value: float, required: bool, below: str | None) -> None:
        if exercise.id in found:
            before = found[exercise.id]
            part = replace(before.part, required=before.part.required or required)
            found[exercise.id] = replace(before, part=part, goals=(*before.goals, goal))
            return
        least = _up(minutes_of(exercise, setting.phrase_s))
        block = _block_of(exercise, setting.private)
        part = Part(exercise.id, block, least, least + _TRY_AGAIN, value, setting.jumps(exercise), required, below)
        found[exercise.id] = Candidate(part, exercise.place, exercise, (goal,))

    before: str | None = None
    for place, goal in enumerate(setting.goals):
        below = None
        for step, exercise in enumerate(rungs_today(goal, setting)):
            value = _FIRST_RUNG - _PER_RUNG * step - _SECOND_GOAL * place
            add(exercise, goal, value, step == 0 and setting.jumps(exercise) == 0, below)
            below = exercise.id
        phrase = _phrase_of(goal, place, setting)
        if phrase is not None:
            # The second goal is danced after the first.
            add(phrase, goal, _INTO_PHRASE - _SECOND_GOAL * place, False, before)
            before = phrase.id
    return list(found.values())


def _items(setting: Setting) -> list[Item]:
    """The ordinary items that this class may have."""
    wanted = [
        item
        for item in setting.library.items.values()
        if (item.private or item.only_private if setting.private else not item.only_private) and setting.allows(item)
    ]
    left_out = setting.asked_by_goals("takes_out")
    return [item for item in wanted if item.from_minutes <= setting.wishes.minutes and item.id not in left_out]


def _item_candidates(setting: Setting, blocks: Mapping[str, float]) -> list[Candidate]:
    """The items with their minutes, scaled to the class; those of a block can always fill it alone."""
    minutes, items, found = setting.wishes.minutes, _items(setting), []
    for item in items:
        fills = blocks.get(item.block, 0.0) / sum(other.minutes[1] for other in items if other.block == item.block)
        scale = max(minutes / _ITEMS_FOR, fills)
        least = max(_near(item.minutes[0] * min(scale, 1.0)), 1.0 if item.minutes[0] >= 1 else STEP)
        most = max(_up(item.minutes[1] * scale), least + STEP)
        always = item.always_from is not None and minutes >= item.always_from
        part = Part(item.id, item.block, least, most, item.value, item.jumps, always, item.requires or None)
        found.append(Candidate(part, item.place, item, ()))
    return found


def all_candidates(setting: Setting, blocks: Mapping[str, float]) -> list[Candidate]:
    """All that the class could hold, in the order of a class. blocks: the minutes that each should have."""
    place_of = {name: index for index, name in enumerate(blocks)}
    found = [c for c in (*_item_candidates(setting, blocks), *_exercise_candidates(setting)) if c.part.block in place_of]
    return sorted(found, key=lambda c: (place_of[c.part.block], c.place, c.part.id))
