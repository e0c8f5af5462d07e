"""From goals and minutes to the plan of a class: one frozen value that all its forms are made from."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from ..errors import OptionError
from ..findings.catalogue import catalogue
from ..findings.feelings import feeling
from ..wording import lesson as words
from ..wording import numbers
from .choose import MOST_GOALS, Goal, goals_of
from .dancers import Dancer
from .model import PHRASE, TOP_RUNG, Exercise, Item, Ladder, Level, Library, Music, Texts
from .timetable import LONGEST, SHORTEST, STEP, Part, shares, timetable

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
#: In so short a time alone one dancer works on one thing, minutes. Proposed default.
ONE_GOAL_UNTIL = 30
#: A rung holds when in so many sets so many of so many tries do. Source: catalogue 10.2.
MOVE_UP_SETS, MOVE_UP_HOLD, MOVE_UP_TRIES = 2, 8, 10
#: From the first age on the last rung is mixed with other steps; up to the second, words are for children. Proposed defaults.
MIXED_FROM_AGE = 14
_YOUNG_UNTIL = 10


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
class _Setting:
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


def _rungs_today(goal: Goal, setting: _Setting) -> list[Exercise]:
    """The exercises of a goal for today, the lowest first: from the one after the last mastered."""
    ladder = setting.library.rungs(goal.ladder)
    possible = [e for rung, e in ladder.items() if rung >= goal.start and setting.allows(e)]
    return possible[: RUNGS_ALONE if setting.private else RUNGS_AT_ONCE]


def _phrase_of(goal: Goal, place: int, setting: _Setting) -> Exercise | None:
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
class _Candidate:
    """A part of the timetable with what it stands for."""

    part: Part
    place: float
    thing: Exercise | Item
    goals: tuple[Goal, ...]


def _exercise_candidates(setting: _Setting) -> list[_Candidate]:
    found: dict[str, _Candidate] = {}

    def add(exercise: Exercise, goal: Goal, value: float, required: bool, below: str | None) -> None:
        if exercise.id in found:
            before = found[exercise.id]
            part = replace(before.part, required=before.part.required or required)
            found[exercise.id] = replace(before, part=part, goals=(*before.goals, goal))
            return
        least = _up(minutes_of(exercise, setting.phrase_s))
        block = _block_of(exercise, setting.private)
        part = Part(exercise.id, block, least, least + _TRY_AGAIN, value, setting.jumps(exercise), required, below)
        found[exercise.id] = _Candidate(part, exercise.place, exercise, (goal,))

    before: str | None = None
    for place, goal in enumerate(setting.goals):
        below = None
        for step, exercise in enumerate(_rungs_today(goal, setting)):
            value = _FIRST_RUNG - _PER_RUNG * step - _SECOND_GOAL * place
            add(exercise, goal, value, step == 0 and setting.jumps(exercise) == 0, below)
            below = exercise.id
        phrase = _phrase_of(goal, place, setting)
        if phrase is not None:
            # The second goal is danced after the first.
            add(phrase, goal, _INTO_PHRASE - _SECOND_GOAL * place, False, before)
            before = phrase.id
    return list(found.values())


def _items(setting: _Setting) -> list[Item]:
    """The ordinary items that this class may have."""
    wanted = [
        item
        for item in setting.library.items.values()
        if (item.private or item.only_private if setting.private else not item.only_private) and setting.allows(item)
    ]
    left_out = setting.asked_by_goals("takes_out")
    return [item for item in wanted if item.from_minutes <= setting.wishes.minutes and item.id not in left_out]


def _item_candidates(setting: _Setting, blocks: Mapping[str, float]) -> list[_Candidate]:
    """The items with their minutes, scaled to the class; those of a block can always fill it alone."""
    minutes, items, found = setting.wishes.minutes, _items(setting), []
    for item in items:
        fills = blocks.get(item.block, 0.0) / sum(other.minutes[1] for other in items if other.block == item.block)
        scale = max(minutes / _ITEMS_FOR, fills)
        least = max(_near(item.minutes[0] * min(scale, 1.0)), 1.0 if item.minutes[0] >= 1 else STEP)
        most = max(_up(item.minutes[1] * scale), least + STEP)
        always = item.always_from is not None and minutes >= item.always_from
        part = Part(item.id, item.block, least, most, item.value, item.jumps, always, item.requires or None)
        found.append(_Candidate(part, item.place, item, ()))
    return found


def _candidates(setting: _Setting, blocks: Mapping[str, float]) -> list[_Candidate]:
    """All that the class could hold, in the order of a class. blocks: the minutes that each should have."""
    place_of = {name: index for index, name in enumerate(blocks)}
    found = [c for c in (*_item_candidates(setting, blocks), *_exercise_candidates(setting)) if c.part.block in place_of]
    return sorted(found, key=lambda c: (place_of[c.part.block], c.place, c.part.id))


def _sides(exercise: Exercise | Item, goals: Sequence[Goal], setting: _Setting) -> tuple[str, ...]:
    """The order of sides: the weaker first where all dancers of the goals agree which it is."""
    if isinstance(exercise, Item) or exercise.sides == 1:
        return ("both",)
    needs = [need for dancer in setting.dancers for need in dancer.needs if need.weight > 0]
    ladders = {goal.ladder for goal in goals}
    weaker = {n.weaker for n in needs if setting.library.ladder_of.get(n.fault) in ladders and n.weaker in ("left", "right")}
    if len(weaker) == 1 and (len(setting.dancers) == 1 or len(weaker) == len(setting.dancers)):
        first = weaker.pop()
        return ("left", "right") if first == "left" else ("right", "left")
    return ("weaker", "stronger") if weaker else ("right", "left")


def _planned(candidate: _Candidate, minutes: float, begins: float, setting: _Setting) -> PlannedExercise:
    thing = candidate.thing
    marked = isinstance(thing, Exercise) and thing.own_jumps and setting.phrase_jumps > 0 and not setting.jumping
    careful = thing.id in setting.asked_by_goals("careful")
    texts, goals = setting.texts(thing.texts, careful=careful), candidate.goals
    name, cue, feel = texts.name, texts.cue, texts.feel
    if isinstance(thing, Item) and thing.repeats_first and setting.goals:
        first = next(iter(_rungs_today(setting.goals[0], setting)), None)
        if first is not None and first.rung == 1:
            again = setting.texts(first.texts)
            name, cue, feel = words.again(name, again.name), again.cue, again.feel
    if isinstance(thing, Exercise) and thing.ladder == PHRASE:
        own = _dancer_words(goals[0], setting)
        # A cue in brackets stands for the goal's own.
        cue, feel = (own[i] if text.startswith("(") else text for i, text in enumerate((cue, feel)))
    ladders = tuple(goal.ladder for goal in goals)
    return PlannedExercise(
        id=thing.id,
        name=name,
        kind=thing.kind,
        stage=thing.rung if isinstance(thing, Exercise) else 0,
        begins=begins,
        minutes=minutes,
        how=words.marked(texts.how) if marked else texts.how,
        cue=cue,
        feel=feel,
        watch=texts.watch,
        caution=texts.caution,
        music=words.music(thing.music, setting.phrase_s),
        counts=thing.music.counts,
        seconds=thing.music.seconds,
        sets=thing.sets if isinstance(thing, Exercise) else 1,
        sides=_sides(thing, goals, setting),
        jumps=candidate.part.jumps,
        needs=tuple(_there(need, setting) for need in thing.needs),
        serves=tuple(dict.fromkeys(fault for ladder in ladders for fault in _served(ladder, setting))),
        ladders=ladders,
    )


def _dancer_words(goal: Goal, setting: _Setting) -> tuple[str, str]:
    """What is said to the dancers in the phrase, and what they should feel: the teacher's own words where there are some."""
    entry = catalogue()[goal.fault]
    cue = entry.cue_young if setting.young else entry.cue
    if len(setting.dancers) == 1:
        cue = next((need.cue for need in setting.dancers[0].needs if need.fault == goal.fault), cue)
    return cue, feeling(goal.fault, young=setting.young)


def _served(ladder: str, setting: _Setting) -> list[str]:
    """The faults of a ladder that these dancers show; its first one when none does."""
    shown = {need.fault for dancer in setting.dancers for need in dancer.needs}
    entry = setting.library.ladders[ladder]
    return [fault for fault in entry.faults or entry.main if fault in shown] or list(entry.main[:1])


def _there(need: str, setting: _Setting) -> str:
    return setting.library.instead[need] if need in setting.wishes.without else need


def _why(goal: Goal, setting: _Setting) -> str:
    """Why this is a goal: who shares it, how often, and what it came before."""
    needs = [n for d in setting.dancers for n in d.needs if n.fault == goal.fault and d.name in goal.dancers]
    title = catalogue()[goal.fault].title
    if not needs:
        return words.teachers_choice(title)
    roots = sum(need.role == "root" for need in needs)
    if len(setting.dancers) > 1:
        return words.shared(title, len(goal.dancers), len(setting.dancers), roots)
    need = needs[0]
    later = [catalogue()[fault].title for fault in need.led_to[:2]] if roots else []
    return words.of_one_dancer(title, need.times, need.chances, later, kept=need.kept)


def _planned_goal(goal: Goal, setting: _Setting, planned: set[str]) -> PlannedGoal:
    library = setting.library
    rungs = []
    for rung, exercise in library.rungs(goal.ladder).items():
        state = "today" if exercise.id in planned else "holds" if rung < goal.start else "later"
        rungs.append((rung, words.rung(rung, exercise.texts.name), state))
    in_phrase = any(name.startswith(way.id) for name in planned for way in library.phrases)
    rungs.append((TOP_RUNG + 1, words.rung(TOP_RUNG + 1), "today" if in_phrase else "later"))
    return PlannedGoal(goal, library.ladders[goal.ladder], _why(goal, setting), _dancer_words(goal, setting)[1], tuple(rungs))


def _cautions(setting: _Setting) -> tuple[str, ...]:
    """What to be careful with: states first, then what belongs to the goals, then to what each dancer works on besides."""
    library = setting.library
    ladders = [goal.ladder for goal in setting.goals]
    alone = len(setting.dancers) == 1
    mine, others = [], []
    for dancer in setting.dancers:
        for place, need in enumerate(dancer.needs):
            if library.ladder_of.get(need.fault) in ladders:
                mine.append(need.caution)
            elif alone or place == 0:
                others.append(need.caution)
    states = [library.states[name].says for name in setting.wishes.states]
    # Of two that speak of the same sign the longer says it all.
    longest: dict[str, str] = {}
    for text in filter(None, [*states, *mine, *others]):
        sign = text.partition(":")[0]
        longest[sign] = max(longest.get(sign, ""), text, key=len)
    return tuple(longest.values())


def _own_work(setting: _Setting, taken: Mapping[str, str]) -> tuple[OwnWork, ...]:
    """One line for each dancer whose first correction is not among the goals; the teacher's own corrections always."""
    library, lines = setting.library, []
    ladders = {goal.ladder for goal in setting.goals}
    for dancer in setting.dancers:
        lines += [OwnWork(dancer.name, None, text, "") for text in dancer.own]
        first = next((need for need in dancer.needs if need.weight > 0), None)
        if first is None or library.ladder_of.get(first.fault) in ladders:
            continue
        inside = library.ladders[library.ladder_of[first.fault]].inside
        cue = catalogue()[first.fault].cue_young if setting.young and not first.kept else first.cue
        lines.append(OwnWork(dancer.name, first.fault, cue, taken.get(inside, "")))
    return tuple(lines)


def _notes(setting: _Setting) -> tuple[str, ...]:
    """How to go on: moving up, mixing, and when to look again."""
    notes = [words.move_up(MOVE_UP_SETS, MOVE_UP_HOLD, MOVE_UP_TRIES)]
    last = _last_jumps(setting.dancers)
    if last and setting.wishes.last_jumps is None:
        notes.append(words.jumps_of_last_class(last))
    notes.append(words.STUCK)
    if setting.wishes.age is not None and setting.wishes.age >= MIXED_FROM_AGE:
        notes.append(words.MIX)
    else:
        notes.append(words.IN_ONE_BLOCK)
    notes.append(words.LOOK_AGAIN)
    return tuple(notes)


def level_of(dancers: Sequence[Dancer], wishes: Wishes, library: Library) -> Level:
    """The level of the class. Raises OptionError when the reviews were judged by different bands, or no level fits."""
    judged = list(dict.fromkeys(dancer.level for dancer in dancers))
    if len(judged) > 1:
        raise OptionError(
            f"These takes were judged by different bands ({', '.join(judged)}), so their findings cannot stand side by side. "
            f"Review them again with one --level."
        )
    name = (wishes.level or judged[0]).strip().lower().replace("-", " ").replace("_", " ")
    if name in library.levels:
        return library.levels[name]
    if wishes.level is None:
        return library.levels["intermediate"]
    raise OptionError(f"There is no level {wishes.level!r}. Give one of {', '.join(sorted(library.levels))}.")


def check_wishes(wishes: Wishes, library: Library) -> None:
    """Raise OptionError for a wish that makes no sense."""
    if not SHORTEST <= wishes.minutes <= LONGEST or wishes.minutes % STEP:
        raise OptionError(f"A class lasts {SHORTEST} to {numbers.minutes(LONGEST)}, in whole or half minutes.")
    if wishes.age is not None and not 3 <= wishes.age <= 100:
        raise OptionError("The age must be in years, from 3 to 100.")
    unknown = sorted(set(wishes.states) - set(library.states))
    if unknown:
        raise OptionError(f"There is no state {', '.join(unknown)}. Give one of {', '.join(library.states)}.")
    for name, rung in wishes.mastered.items():
        if name not in library.ladders or not 0 <= rung <= TOP_RUNG:
            raise OptionError(f"{name}={rung}: give a ladder and a rung from 0 to {TOP_RUNG}, as in heels=2.")
    if wishes.cap is not None and wishes.cap < 0:
        raise OptionError("The ceiling of jumps must be 0 or more.")


def _shares(blocks: Mapping[str, float], minutes: float, candidates: Sequence[_Candidate]) -> dict[str, float]:
    """Minutes of each block; those of the phrase are taken from all, since an ordinary class has none."""
    phrase = next((c.part for c in candidates if isinstance(c.thing, Exercise) and c.thing.ladder == PHRASE), None)
    if phrase is None:
        return shares(blocks, minutes)
    found = shares(blocks, minutes - phrase.least)
    return {**found, phrase.block: found[phrase.block] + phrase.least}


def plan_lesson(dancers: Sequence[Dancer], wishes: Wishes, library: Library) -> Lesson:
    """The plan of one class for one dancer or a group.

    Raises OptionError when a wish makes no sense, or the takes were judged by different bands.
    """
    if not dancers:
        raise OptionError("A lesson needs at least one review.")
    check_wishes(wishes, library)
    level = level_of(dancers, wishes, library)
    private = len(dancers) == 1 and wishes.minutes <= library.private_longest
    most = 1 if wishes.minutes <= ONE_GOAL_UNTIL else MOST_GOALS
    goals = goals_of(dancers, library, wanted=wishes.goals, mastered=wishes.mastered, most=most)
    setting = _Setting(
        library=library,
        level=level,
        wishes=wishes,
        private=private,
        young=level.young or (wishes.age is not None and wishes.age <= _YOUNG_UNTIL),
        older=level.name == "older beginner",
        goals=goals,
        dancers=tuple(dancers),
        phrase_s=float(sorted(dancer.phrase_s for dancer in dancers)[len(dancers) // 2]),
        phrase_jumps=max(dancer.jumps for dancer in dancers),
    )
    skeleton = library.private if private else level
    candidates = _candidates(setting, shares(skeleton.blocks, wishes.minutes))
    filled = {name: size for name, size in skeleton.blocks.items() if any(c.part.block == name for c in candidates)}
    limit = jump_limit(level, wishes, library, _last_jumps(dancers))
    taken = timetable([c.part for c in candidates], _shares(filled, wishes.minutes, candidates), wishes.minutes, limit)
    return _lesson(setting, skeleton, [c for c in candidates if c.part.id in taken], taken, limit)


def _last_jumps(dancers: Sequence[Dancer]) -> int | None:
    """Jumps of the last class by the record: of the dancer who had fewest, where some had any."""
    return min((dancer.last_jumps for dancer in dancers if dancer.last_jumps), default=None)


def _lesson(setting: _Setting, skeleton: Level, chosen: Sequence[_Candidate], taken: Mapping[str, float], limit: int) -> Lesson:
    blocks, clock = [], 0.0
    names = {**setting.library.block_names, **(setting.level.names or {}), **(skeleton.names or {})}
    for block in skeleton.blocks:
        begin, exercises = clock, []
        for candidate in chosen:
            if candidate.part.block == block:
                minutes = taken[candidate.part.id]
                exercises.append(_planned(candidate, minutes, clock, setting))
                clock += minutes
        if exercises:
            blocks.append(PlannedBlock(block, names[block], clock - begin, tuple(exercises)))
    planned = [exercise for block in blocks for exercise in block.exercises]
    wishes, things = setting.wishes, dict.fromkeys(need for exercise in planned for need in exercise.needs)
    return Lesson(
        title=wishes.title or (words.PRIVATE_LESSON if setting.private else words.CLASS_PLAN),
        level=setting.level.name,
        minutes=wishes.minutes,
        young=setting.young,
        private=setting.private,
        dancers=setting.dancers,
        goals=tuple(_planned_goal(goal, setting, set(taken)) for goal in setting.goals),
        blocks=tuple(blocks),
        jumps=sum(exercise.jumps for exercise in planned),
        jump_limit=limit,
        cautions=_cautions(setting),
        leave_out=tuple(dict.fromkeys(setting.library.ladders[goal.ladder].leave_out for goal in setting.goals)),
        things=tuple(things),
        own_work=_own_work(setting, {exercise.id: exercise.name for exercise in planned}),
        notes=_notes(setting),
    )


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
