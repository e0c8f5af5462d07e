"""The lesson: how long a plan takes, and whether every pair of goals, level and length gives a class that keeps its limits."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from itertools import combinations
from pathlib import Path

from bench_common import SETTINGS, TAKE, Row, seconds
from in_the_round.analysis_core.analyse import analyse
from in_the_round.analysis_core.errors import OptionError
from in_the_round.analysis_core.findings.catalogue import catalogue
from in_the_round.analysis_core.lesson.dancers import Dancer, Need, read_dancer
from in_the_round.analysis_core.lesson.library import product_library
from in_the_round.analysis_core.lesson.plan import plan_lesson
from in_the_round.analysis_core.lesson.planned import Lesson, Wishes
from in_the_round.analysis_core.review.document import to_json

_CLASS = 20
_LENGTHS = tuple(range(20, 121, 5))


def _reviews(folder: Path) -> list[Path]:
    """The demo take's review for a class: each dancer with other corrections of it set aside."""
    data = to_json(analyse(TAKE, SETTINGS), "")
    made = []
    for number in range(_CLASS):
        for place, finding in enumerate(data["findings"]):
            finding["decision"] = "set aside" if (place + number) % 3 == 0 else "open"
        made.append(folder / f"dancer {number}")
        made[-1].mkdir()
        (made[-1] / "review.json").write_text(json.dumps(data), encoding="utf-8")
    return made


def plan() -> list[Row]:
    """A plan for a class of twenty: as a process of its own, and what of it is choosing and solving."""
    with tempfile.TemporaryDirectory() as name:
        folders = _reviews(Path(name))
        command = [sys.executable, "-m", "in_the_round.command_line", "lesson", *map(str, folders)]
        command += ["--out", f"{name}/class.html", "--force"]
        cold = seconds(lambda: subprocess.run(command, check=True, capture_output=True))
        dancers = [read_dancer(folder, str(number)) for number, folder in enumerate(folders)]
        warm = seconds(lambda: plan_lesson(dancers, Wishes(), product_library()))
    return [
        Row(f"plan of {_CLASS} dancers, cold start to the page", cold, "s", 3.0),
        Row("of it choosing and solving", warm, "s", 0.2),
    ]


def _broken(lesson: Lesson) -> bool:
    """Whether a plan breaks one of its limits."""
    exercises = [exercise for block in lesson.blocks for exercise in block.exercises]
    exact = sum(exercise.minutes for exercise in exercises) == lesson.minutes
    early = any(exercise.jumps for block in lesson.blocks if block.id in ("warm-up", "barre") for exercise in block.exercises)
    return not exact or lesson.jumps > lesson.jump_limit or early


def classes() -> list[Row]:
    """All pairs of goals at all levels, the lengths in turn: how many cannot be made, break a limit, or take long."""
    library = product_library()
    ladders = [name for name in library.ladders if name != "phrase"]
    goals = [*combinations(ladders, 2), *((ladder,) for ladder in ladders)]
    impossible = broken = made = 0
    times = []
    for place, level in enumerate(library.levels):
        group = [Dancer(str(i), str(i), level, (), jumps=3, phrase_s=20.0) for i in range(3)]
        for number, pair in enumerate(goals):
            wishes = Wishes(minutes=_LENGTHS[(number + 4 * place) % len(_LENGTHS)], goals=pair)
            begin = time.perf_counter()
            try:
                broken += _broken(plan_lesson(group, wishes, library))
            except OptionError:
                impossible += 1
            times.append(time.perf_counter() - begin)
            made += 1
    times.sort()
    return [
        Row(f"classes that cannot be made, of {made}", impossible, "", 0.0),
        Row("classes that break a limit", broken, "", 0.0),
        Row("solving, median", 1000 * times[len(times) // 2], "ms"),
        Row("solving, longest", 1000 * times[-1], "ms"),
        Row("faults without an answer, of 46", _unanswered(), "", 0.0),
    ]


def _unanswered() -> int:
    """Faults whose dancer gets a plan without an exercise for them."""
    library, missing = product_library(), 0
    for fault, entry in catalogue().items():
        need = Need(fault, 1, 1, "root", False, "fault", entry.cue, None, entry.caution)
        lesson = plan_lesson([Dancer("A", "a", "intermediate", (need,), phrase_s=20.0)], Wishes(), library)
        missing += not any(fault in exercise.serves for block in lesson.blocks for exercise in block.exercises)
    return missing
