"""How small a plan is set so that two sides of paper hold it, on A4 and on US Letter alike: an estimate of its lines."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..wording import lesson as say
from .planned import Lesson, PlannedExercise, PlannedGoal
from .sheet import Sheet, own_lines

SIDES = 2
_MM_PER_POINT = 25.4 / 72
#: How wide a letter of a sans-serif face is on average, in parts of its size. Found by printing: with it the estimate of a whole
#: plan is 1 to 6 % above what Chromium lays out (Liberation Sans); other faces are set as wide as that one (``lesson.css``).
_LETTER = 0.5


@dataclass(frozen=True)
class Paper:
    """What a side holds within the margins of ``lesson.css``, millimetres."""

    width: float
    height: float


#: ISO 216 and ANSI Y14.1, less 11 mm at the sides, 10 mm above and 9 mm below.
PAPERS = {"A4": Paper(210 - 22, 297 - 19), "Letter": Paper(215.9 - 22, 279.4 - 19)}


@dataclass(frozen=True)
class Density:
    """A way of setting the plan, a class of ``lesson.css``. points: size; leading: height of a line in sizes; padding: mm."""

    name: str
    points: float
    leading: float
    padding: float

    @property
    def line(self) -> float:
        """Height of a line, mm."""
        return self.points * self.leading * _MM_PER_POINT


#: From the largest to the smallest, as in ``lesson.css``.
DENSITIES = (
    Density("roomy", 8.7, 1.25, 0.6),
    Density("dense", 7.9, 1.2, 0.5),
    Density("full", 7.3, 1.17, 0.3),
    Density("small", 7.05, 1.15, 0.3),
    Density("tight", 6.8, 1.13, 0.3),
)
#: In these the class sheet and the box for notes are lower, too.
_CLOSE = ("small", "tight")
#: Ordinary parts of a class are set so much smaller.
_USUAL = 0.95
#: Widths of the columns of the table in ``lesson.css``, mm: the exercise, its music, and what the other columns take.
_WHAT, _MUSIC, _OTHERS, _GAP = 66.0, 22.0, 10.5 + 7.0 + 66.0 + 22.0 + 8.0, 1.6


def _lines(text: str, width: float, points: float) -> int:
    """Lines that a text takes in a column, mm; 0 for none."""
    return math.ceil(len(text) * _LETTER * points * _MM_PER_POINT / width) if text else 0


def _row(e: PlannedExercise, width: float, density: Density) -> float:
    points, cue = density.points, width - _OTHERS - _GAP
    music = _lines(e.music, _MUSIC - _GAP, points)
    if e.stage:
        what = 1 + _lines(f"{e.how} {e.caution}", _WHAT - _GAP, points)
        music += _lines(say.sides(2, ("weaker", "stronger")), _MUSIC - _GAP, points)
        texts = ((e.cue, 1.06), (f"{say.FEELS} {e.feel}", 1.0), (f"{say.WATCH} {e.watch}", 1.0))
        said = sum(_lines(text, cue, size * points) for text, size in texts)
        return max(what, music, said) * density.line + 2 * density.padding + 0.15
    small = _USUAL * points
    what = _lines(f"{e.name}. {e.how} {e.caution}", _WHAT - _GAP, small)
    said = _lines(f"{e.cue} {say.WATCH} {e.watch}", cue, small)
    return max(what, music, said) * density.line * _USUAL + 2 * density.padding + 0.15


def _goal(goal: PlannedGoal, width: float, density: Density, dancers: int) -> float:
    texts = [goal.ladder.why, goal.why]
    if dancers > 1:
        texts.append(f"{say.SHARED_BY} {', '.join(goal.goal.dancers)}")
    aim = 11.5 if density.name == "roomy" else 1.2 * density.points
    lines = sum(_lines(text, width, density.points) for text in texts)
    return _lines(goal.ladder.goal, width, aim) * aim * 1.25 * _MM_PER_POINT + lines * density.line + 0.8 * len(texts) + 11.0


def _head(lesson: Lesson, width: float, density: Density) -> float:
    """Title, goals, what to leave out and take care of, and the table's own head."""
    goals, count = lesson.goals, max(len(lesson.goals), 1)
    column = (width - 3.0 * (count - 1)) / count - 5.0
    height = 9.0 + max((_goal(goal, column, density, len(lesson.dancers)) for goal in goals), default=12.0)
    if lesson.leave_out or lesson.cautions:
        left, right = 0.3 * width - 8.0, 0.35 * width - 10.0
        things = sum(_lines(text, left, density.points) for text in (*lesson.leave_out, ", ".join(lesson.things)))
        care = sum(_lines(text, right, 0.9 * density.points) for text in lesson.cautions)
        height += 2.5 + 2.8 + max(things * density.line + 10.0, (care / 2 + 1) * 0.9 * density.line + 5.0)
    return height + 3.0 + 2 * density.line + 1.0


def _sheet(sheet: Sheet, width: float, density: Density) -> float:
    small = 0.8 * density.points
    column = (width - 20.0) / max(len(sheet.columns), 1) - 2.0
    head = max((_lines(c.title, column, 1.1 * small) + _lines(c.cue, column, small) for c in sheet.columns), default=1)
    padding = 0.4 if density.name in _CLOSE else 1.0
    rows = len(sheet.rows) + (1 if sheet.columns and sheet.columns[0].shared is not None else 0)
    good = _lines(" ".join(sheet.good), width, density.points)
    return (
        9.0
        + head * small * 1.15 * _MM_PER_POINT
        + 2.0
        + rows * (density.line * 0.95 + padding + 0.15)
        + (1 + good) * density.line
    )


def _after(lesson: Lesson, width: float, density: Density) -> float:
    """Own work beside how to go on and the notes."""
    column = (width - 6.0) / 2 - 4.0
    notes = sum(_lines(text, column, density.points) for text in lesson.notes) * density.line
    box = 8.0 if density.name in _CLOSE else 14.0
    if not lesson.own_work:
        return 9.0 + max(notes, box)
    own = sum(
        _lines(f"{', '.join(line.dancers)} {say.inside(line.inside)}: {line.cue}", column, density.points)
        for line in own_lines(lesson)
    )
    return 9.0 + max(own * density.line, notes + 9.0 + box)


def heights(lesson: Lesson, sheet: Sheet | None, width: float, density: Density) -> Iterable[float]:
    """What may not be parted, from the head to the foot, mm each; ``width``: between the margins."""
    yield _head(lesson, width, density)
    for block in lesson.blocks:
        heading = 10 * 1.2 * _MM_PER_POINT + 1.15
        for place, exercise in enumerate(block.exercises):
            yield _row(exercise, width, density) + (heading if place == 0 else 0.0)
    if sheet is not None:
        yield _sheet(sheet, width, density)
    yield _after(lesson, width, density) + 4.0 + 3 * 0.82 * density.line


def sides_of(parts: Iterable[float], height: float) -> int:
    """How many sides of a height parts take that stay whole."""
    sides, used = 1, 0.0
    for part in parts:
        if used and used + part > height:
            sides, used = sides + 1, 0.0
        used += part
    return sides


def density_of(lesson: Lesson, sheet: Sheet | None, densities: Sequence[Density] = DENSITIES) -> Density:
    """The largest way of setting the plan in which two sides of every paper hold it; the smallest when none does."""
    for density in densities:
        if all(sides_of(heights(lesson, sheet, paper.width, density), paper.height) <= SIDES for paper in PAPERS.values()):
            return density
    return densities[-1]
