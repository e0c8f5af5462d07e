"""Ladders, exercises and class items as data: those of the product, and a studio's own on top of them."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, fields, replace
from functools import cache
from pathlib import Path
from typing import Any

from ..errors import OptionError
from ..findings.catalogue import catalogue
from ..wording.lesson import KINDS
from .fields import music_of, values_of
from .model import (
    FIRST_RUNG_WITH_JUMPS,
    LONGEST_CUE,
    PHRASE,
    TOP_RUNG,
    Exercise,
    Item,
    Ladder,
    Level,
    Library,
    Music,
    State,
    Texts,
)

_HERE = Path(__file__).parent


def _read(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise OptionError(f"{path}: the exercises cannot be read ({error}). Mend the line, or take the file out.") from error


_TEXTS = {field.name for field in fields(Texts)}


def _made(kind: type[Any], name: str, data: Mapping[str, Any], before: Any, where: str) -> Any:
    """A value of a kind from a table, on top of the one that it changes, if any."""
    own = {key: value for key, value in data.items() if key not in _TEXTS}
    values = values_of(kind, own, where)
    if "music" in own:
        values["music"] = Music(**music_of(own["music"], where))
    if kind in (Exercise, Item):
        texts = values_of(Texts, {key: value for key, value in data.items() if key in _TEXTS}, where)
        if before is None:
            _complete(Texts, texts, where)
        values["texts"] = Texts(**texts) if before is None else replace(before.texts, **texts)
    elif set(data) & _TEXTS:
        raise OptionError(f"{where}: a {kind.__name__.lower()} has no {', '.join(sorted(set(data) & _TEXTS))}.")
    if before is not None:
        return replace(before, **values)
    _complete(kind, values | {"id": name}, where)
    return kind(id=name, **values)


def _complete(kind: type[Any], values: Mapping[str, Any], where: str) -> None:
    needed = [f.name for f in fields(kind) if f.default is MISSING and f.default_factory is MISSING]
    missing = [name for name in needed if name not in values]
    if missing:
        raise OptionError(f"{where}: {', '.join(missing)} is missing. Look at the product's own files for an example.")


_TABLES: dict[str, tuple[str, type[Any]]] = {
    "ladder": ("ladders", Ladder),
    "exercise": ("exercises", Exercise),
    "item": ("items", Item),
}


def _put_in(library: Library, path: Path) -> Library:
    """The library with the tables of one file added, or put over those of the same name."""
    data = _read(path)
    strange = set(data) - set(_TABLES)
    if strange:
        raise OptionError(f"{path}: there is no table {', '.join(sorted(strange))}, only {', '.join(_TABLES)}.")
    for table, (attribute, kind) in _TABLES.items():
        known = dict(getattr(library, attribute))
        entries = data.get(table, {})
        if not isinstance(entries, dict):
            raise OptionError(f"{path}: write [{table}.NAME], with a name of its own for each {table}.")
        for name, entry in entries.items():
            where = f"{path}: [{table}.{name}]"
            if not isinstance(entry, dict):
                raise OptionError(f"{where} must be a table.")
            known[name] = _made(kind, name, entry, known.get(name), where)
            _check(table, known[name], library, where)
        changed: dict[str, Any] = {attribute: known}
        library = replace(library, **changed)
        if table == "ladder":
            library = replace(library, ladders=_one_answer_each(library.ladders, entries))
    return library


def _one_answer_each(ladders: Mapping[str, Ladder], newest: Iterable[str]) -> dict[str, Ladder]:
    """A fault that a later file gives to its ladder is taken from the ladder that had it."""
    given = {fault: name for name in newest for fault in ladders[name].main}
    return {
        name: replace(ladder, main=tuple(fault for fault in ladder.main if given.get(fault, name) == name))
        for name, ladder in ladders.items()
    }


def _check(table: str, value: Any, library: Library, where: str) -> None:
    """Raise OptionError with the first thing that a class could not be made with."""
    for problem in _problems(table, value, library):
        raise OptionError(f"{where}: {problem}")


def _unknown(names: Iterable[str], known: Iterable[str], what: str) -> Iterable[str]:
    strange = sorted(set(names) - set(known))
    if strange:
        yield f"there is no {what} {', '.join(strange)}, only {', '.join(sorted(known))}."


def _problems(table: str, value: Any, library: Library) -> Iterable[str]:
    if table == "ladder":
        yield from _unknown((*value.main, *value.faults), catalogue(), "fault")
        return
    cues = (value.texts.cue, value.texts.cue_young)
    if max(len(cue) for cue in cues) > LONGEST_CUE:
        yield f"the cue is longer than {LONGEST_CUE} letters. Say one thing."
    if value.kind not in KINDS:
        yield f"kind must be one letter of {', '.join(KINDS)}."
    yield from _unknown(value.levels, library.levels, "level")
    yield from _unknown(value.not_when, library.states, "state")
    if value.jumps < 0:
        yield "jumps must be 0 or more."
    yield from _item_problems(value, library) if table == "item" else _exercise_problems(value, library)


def _item_problems(item: Item, library: Library) -> Iterable[str]:
    yield from _unknown((item.block,), library.block_names, "block")
    if not 0 < item.minutes[0] <= item.minutes[1]:
        yield "minutes must be two numbers above 0, the smaller first."


def _exercise_problems(exercise: Exercise, library: Library) -> Iterable[str]:
    music = exercise.music
    if not (music.phrase or music.seconds or (music.bpm and music.counts)):
        yield "music must say seconds, or bpm and counts, or phrase = true."
    if exercise.sets < 1 or exercise.sides not in (1, 2):
        yield "sets must be 1 or more, sides 1 or 2."
    if exercise.ladder == PHRASE:
        return
    if not 1 <= exercise.rung <= TOP_RUNG:
        yield f"rung must be a number from 1 to {TOP_RUNG}."
    if (exercise.jumps or exercise.own_jumps) and exercise.rung < FIRST_RUNG_WITH_JUMPS:
        yield f"jumps belong to rung {FIRST_RUNG_WITH_JUMPS} or {TOP_RUNG}."
    if exercise.rung == 1 and "barre" in exercise.needs:
        yield "rung 1 is without load: no barre."


def _whole(library: Library, where: str) -> None:
    """Raise OptionError when the ladders do not hang together."""
    for exercise in library.exercises.values():
        for problem in _unknown((exercise.ladder, *exercise.also), library.ladders, "ladder"):
            raise OptionError(f"{where}: exercise {exercise.id}: {problem}")
    seen: dict[tuple[str, int], str] = {}
    for exercise in library.exercises.values():
        for ladder in (exercise.ladder, *exercise.also):
            other = seen.setdefault((ladder, exercise.rung), exercise.id)
            if other != exercise.id and ladder != PHRASE:
                raise OptionError(
                    f"{where}: {exercise.id} and {other} are both rung {exercise.rung} of {ladder}. "
                    f"To change an exercise, give yours the name {other}."
                )
    for ladder in library.ladders:
        missing = [rung for rung in range(1, TOP_RUNG + 1) if ladder != PHRASE and (ladder, rung) not in seen]
        if missing:
            raise OptionError(f"{where}: the ladder {ladder} has no rung {', '.join(map(str, missing))}.")


def _frame() -> Library:
    """What levels.toml says, and nothing to do yet."""
    data = _read(_HERE / "levels.toml")
    return Library(
        ladders={},
        exercises={},
        items={},
        levels={name: Level(name=name, **level) for name, level in data["level"].items()},
        states={name: State(name=name, **state) for name, state in data["state"].items()},
        ages=tuple((age["until"], age["jumps"]) for age in data["age"]),
        block_names=data["block"],
        instead=data["instead"],
        private=Level(name="private", blocks=data["private"]["blocks"], jumps=0, names=data["private"]["names"]),
        private_longest=data["private"]["longest"],
    )


@cache
def product_library() -> Library:
    """The exercises that come with the product: 20 ladders of 5 rungs, and 3 ways into the phrase."""
    library = _frame()
    for path in (*sorted((_HERE / "exercises").glob("*.toml")), _HERE / "class_items.toml"):
        library = _put_in(library, path)
    _whole(library, str(_HERE))
    return library


def load_library(folder: Path | None = None) -> Library:
    """The product's exercises, with a studio's own from the TOML files of a folder added or put over those of the same name.

    Raises OptionError saying what is wrong with which file.
    """
    library = product_library()
    if folder is None:
        return library
    if not folder.is_dir():
        raise OptionError(f"{folder} is no folder. Give the folder that holds your exercises as .toml files.")
    paths = sorted(folder.glob("*.toml"))
    if not paths:
        raise OptionError(f"{folder} holds no .toml file. Start from a copy of one of analysis_core/lesson/exercises.")
    for path in paths:
        library = _put_in(library, path)
    _whole(library, str(folder))
    return library
