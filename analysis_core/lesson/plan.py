"""From goals and minutes to the plan of a class."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ..body.anatomy import SIDES
from ..errors import OptionError
from ..findings.catalogue import catalogue
from ..findings.feelings import feeling
from ..wording import lesson as words
from ..wording import numbers
from ..wording.names import fault_title
from .candidates import Candidate, Setting, all_candidates, jump_limit, rungs_today
from .choose import MOST_GOALS, Goal, goals_of
from .dancers import Dancer
from .model import PHRASE, TOP_RUNG, Exercise, Item, Level, Library
from .planned import Lesson, OwnWork, PlannedBlock, PlannedExercise, PlannedGoal, Wishes
from .timetable import LONGEST, SHORTEST, STEP, shares, timetable

#: In so short a time alone one dancer works on one thing, minutes. Proposed default.
ONE_GOAL_UNTIL = 30
#: A rung holds when in so many sets so many of so many tries do. Source: catalogue 10.2.
MOVE_UP_SETS, MOVE_UP_HOLD, MOVE_UP_TRIES = 2, 8, 10
#: From the first age on the last rung is mixed with other steps; up to the second, words are for children. Proposed defaults.
MIXED_FROM_AGE = 14
_YOUNG_UNTIL = 10


def _sides(exercise: Exercise | Item, goals: Sequence[Goal], setting: Setting) -> tuple[str, ...]:
    """The order of sides: the weaker first where all dancers of the goals agree which it is."""
    if isinstance(exercise, Item) or exercise.sides == 1:
        return ("both",)
    needs = [need for dancer in setting.dancers for need in dancer.needs if need.weight > 0]
    ladders = {goal.ladder for goal in goals}
    weaker = {n.weaker for n in needs if setting.library.ladder_of.get(n.fault) in ladders and n.weaker in SIDES}
    if len(weaker) == 1 and (len(setting.dancers) == 1 or len(weaker) == len(setting.dancers)):
        first = weaker.pop()
        return SIDES if first == "left" else SIDES[::-1]
    return ("weaker", "stronger") if weaker else SIDES[::-1]


def _planned(candidate: Candidate, minutes: float, begins: float, setting: Setting) -> PlannedExercise:
    thing = candidate.thing
    marked = isinstance(thing, Exercise) and thing.own_jumps and setting.phrase_jumps > 0 and not setting.jumping
    careful = thing.id in setting.asked_by_goals("careful")
    texts, goals = setting.texts(thing.texts, careful=careful), candidate.goals
    name, cue, feel = texts.name, texts.cue, texts.feel
    if isinstance(thing, Item) and thing.repeats_first and setting.goals:
        first = next(iter(rungs_today(setting.goals[0], setting)), None)
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


def _dancer_words(goal: Goal, setting: Setting) -> tuple[str, str]:
    """What is said to the dancers in the phrase, and what they should feel: the teacher's own words where there are some."""
    entry = catalogue()[goal.fault]
    cue = entry.cue_young if setting.young else entry.cue
    if len(setting.dancers) == 1:
        cue = next((need.cue for need in setting.dancers[0].needs if need.fault == goal.fault), cue)
    return cue, feeling(goal.fault, young=setting.young)


def _served(ladder: str, setting: Setting) -> list[str]:
    """The faults of a ladder that these dancers show; its first one when none does."""
    shown = {need.fault for dancer in setting.dancers for need in dancer.needs}
    entry = setting.library.ladders[ladder]
    return [fault for fault in entry.faults or entry.main if fault in shown] or list(entry.main[:1])


def _there(need: str, setting: Setting) -> str:
    return setting.library.instead[need] if need in setting.wishes.without else need


def _why(goal: Goal, setting: Setting) -> str:
    """Why this is a goal: who shares it, how often, and what it came before."""
    needs = [n for d in setting.dancers for n in d.needs if n.fault == goal.fault and d.name in goal.dancers]
    title = fault_title(goal.fault)
    if not needs:
        return words.teachers_choice(title)
    roots = sum(need.role == "root" for need in needs)
    if len(setting.dancers) > 1:
        return words.shared(title, len(goal.dancers), len(setting.dancers), roots)
    need = needs[0]
    later = [fault_title(fault) for fault in need.led_to[:2]] if roots else []
    return words.of_one_dancer(title, need.times, need.chances, later, kept=need.kept)


def _planned_goal(goal: Goal, setting: Setting, planned: set[str]) -> PlannedGoal:
    library = setting.library
    rungs = []
    for rung, exercise in library.rungs(goal.ladder).items():
        state = "today" if exercise.id in planned else "holds" if rung < goal.start else "later"
        rungs.append((rung, words.rung(rung, exercise.texts.name), state))
    in_phrase = any(name.startswith(way.id) for name in planned for way in library.phrases)
    rungs.append((TOP_RUNG + 1, words.rung(TOP_RUNG + 1), "today" if in_phrase else "later"))
    return PlannedGoal(goal, library.ladders[goal.ladder], _why(goal, setting), _dancer_words(goal, setting)[1], tuple(rungs))


def _cautions(setting: Setting) -> tuple[str, ...]:
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


def _own_work(setting: Setting, taken: Mapping[str, str]) -> tuple[OwnWork, ...]:
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


def _notes(setting: Setting) -> tuple[str, ...]:
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


def _shares(blocks: Mapping[str, float], minutes: float, candidates: Sequence[Candidate]) -> dict[str, float]:
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
    setting = Setting(
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
    candidates = all_candidates(setting, shares(skeleton.blocks, wishes.minutes))
    filled = {name: size for name, size in skeleton.blocks.items() if any(c.part.block == name for c in candidates)}
    limit = jump_limit(level, wishes, library, _last_jumps(dancers))
    taken = timetable([c.part for c in candidates], _shares(filled, wishes.minutes, candidates), wishes.minutes, limit)
    return _lesson(setting, skeleton, [c for c in candidates if c.part.id in taken], taken, limit)


def _last_jumps(dancers: Sequence[Dancer]) -> int | None:
    """Jumps of the last class by the record: of the dancer who had fewest, where some had any."""
    return min((dancer.last_jumps for dancer in dancers if dancer.last_jumps), default=None)


def _lesson(setting: Setting, skeleton: Level, chosen: Sequence[Candidate], taken: Mapping[str, float], limit: int) -> Lesson:
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
