"""The plan in the forms that people use: one HTML file to print and change, or Markdown. Both say the same."""

from __future__ import annotations

import datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from ..errors import OptionError
from ..findings.catalogue import catalogue
from ..wording import lesson as say
from ..write.files import whole_file
from .edited import Edits, Words, comment_of, data_of, mark, read_edits, with_edits
from .fit import density_of
from .plan_json import to_json
from .planned import Lesson, PlannedExercise
from .sheet import SIGNS, class_sheet, own_lines

if TYPE_CHECKING:
    from jinja2 import Environment

Form = Literal["teacher", "wall", "student"]
FORMS: tuple[Form, ...] = ("teacher", "wall", "student")
ENDINGS = {".html": "lesson.html", ".md": "lesson.md"}
_TEMPLATES = Path(__file__).parent / "templates"


def sides(exercise: PlannedExercise) -> str:
    """How often and on which side first."""
    if exercise.stage == 0:
        return ""
    return say.sides(exercise.sets, exercise.sides)


@cache
def _environment() -> Environment:
    # Imported here: planning needs no template engine.
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=lambda name: bool(name and name.endswith(".html")),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.filters |= {"half": say.half, "clock": say.clock, "sides": sides, "mark": mark}
    return made


def _slips(lesson: Lesson) -> list[tuple[str, list[tuple[str, str]]]]:
    """For each dancer two lines to take home: cue and sensation of the shared work, and the dancer's own."""
    from ..findings.feelings import feeling

    slips = []
    for dancer in lesson.dancers:
        lines = []
        for need in [n for n in dancer.needs if n.weight > 0][:2]:
            entry = catalogue()[need.fault]
            cue = entry.cue_young if lesson.young and not need.kept else need.cue
            lines.append((cue, feeling(need.fault, young=lesson.young)))
        slips.append((dancer.name, lines or [(text, "") for text in dancer.own[:2]]))
    return slips


def _nameless(plan: dict[str, Any]) -> dict[str, Any]:
    """The plan's data without anything that tells who the dancers are."""
    goals = [{key: value for key, value in goal.items() if key not in ("dancers", "why")} for goal in plan["goals"]]
    return {**{key: value for key, value in plan.items() if key not in ("class", "own_work")}, "goals": goals}


def _context(lesson: Lesson, words: Words, form: Form, date: datetime.date) -> dict[str, Any]:
    sheet = class_sheet(lesson) if form == "teacher" else None
    return {
        "lesson": lesson,
        "say": words.say,
        "left": words.left,
        "line": words.line,
        "form": form,
        "date": say.day(date),
        "sheet": sheet,
        "own_lines": own_lines(lesson),
        "signs": SIGNS,
        "slips": _slips(lesson) if form == "student" else [],
        "density": density_of(lesson, sheet).name,
        "words": say,
    }


def render(lesson: Lesson, ending: str, edits: Edits, *, form: Form = "teacher", date: datetime.date) -> tuple[str, int]:
    """The text of the file, and how many of the teacher's own texts are in it. ending: .html or .md."""
    words = Words(edits)
    plan = to_json(with_edits(lesson, edits))
    plan = plan if form == "teacher" else _nameless(plan)
    context = _context(lesson, words, form, date)
    template = _environment().get_template(ENDINGS[ending])
    if ending == ".html":
        text = template.render(context, data=lambda: data_of(plan, words))
    else:
        body = template.render(context).strip() + "\n"
        text = f"{body}\n{comment_of(data_of(plan, words, body.split(chr(10))))}\n"
    return text, len(words.kept) + sum(key.startswith("left:") for key in words.proposed)


def write_lesson(
    lesson: Lesson, path: Path, *, overwrite: bool, form: Form = "teacher", date: datetime.date | None = None
) -> tuple[Lesson, int]:
    """Write the plan as HTML or Markdown, by the file's ending; what a teacher had changed in an earlier one there is kept.

    Returns the plan with the teacher's words, and how many texts were kept. Raises OptionError for another ending, OutputError
    when the file is there already and ``overwrite`` is false, or when an earlier plan in it cannot be read.
    """
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        raise OptionError(f"{path} must end in .html or .md.")
    edits = read_edits(path) if overwrite and path.is_file() else Edits()
    text, kept = render(lesson, ending, edits, form=form, date=date or datetime.date.today())
    with whole_file(path, overwrite=overwrite) as temporary:
        temporary.write_text(text, encoding="utf-8")
    return with_edits(lesson, edits), kept
