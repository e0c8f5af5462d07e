"""The plan of a class printed by a real browser: two sides, on A4 and on US Letter, at every length, level and size of class."""

from __future__ import annotations

import base64
import datetime
import re
from pathlib import Path
from typing import Any

import pytest
from in_the_round.analysis_core.findings.catalogue import catalogue
from in_the_round.analysis_core.lesson.dancers import Dancer, Need
from in_the_round.analysis_core.lesson.edited import Edits
from in_the_round.analysis_core.lesson.fit import density_of
from in_the_round.analysis_core.lesson.library import product_library
from in_the_round.analysis_core.lesson.page import Form, render
from in_the_round.analysis_core.lesson.plan import plan_lesson
from in_the_round.analysis_core.lesson.planned import Lesson, Wishes
from in_the_round.analysis_core.lesson.sheet import class_sheet

WebDriverException = pytest.importorskip("selenium.common.exceptions", reason="selenium is not installed").WebDriverException
pytestmark = pytest.mark.slow
LIBRARY = product_library()
FAULTS = list(catalogue())
LEVELS = list(LIBRARY.levels)
#: Inches: ISO 216 and ANSI Y14.1.
PAPERS = {"A4": (8.268, 11.693), "Letter": (8.5, 11.0)}


@pytest.fixture
def printer(_chromium: Any) -> Any:
    """The browser without the screen of a phone."""
    _chromium.tell("Emulation.clearDeviceMetricsOverride")
    return _chromium


def laid_out(printer: Any, page: Path) -> None:
    """Open a page once for all papers, and wait until all of it is there.

    Opened anew for each paper, one plan printed a side too few, once, on a busy machine; 25 more prints of it did not.
    """
    printer.open(page, dancer=False)
    printer.until(
        lambda: printer.run(
            "return location.href === arguments[0] && document.readyState === 'complete' && document.fonts.status === 'loaded'"
            " && document.getElementById('plan') !== null",
            page.as_uri(),
        )
    )


def sides(printer: Any, paper: str) -> int:
    """How many sides the browser prints of the page it has, by the page tree of its PDF (ISO 32000: /Count of the root)."""
    width, height = PAPERS[paper]
    margins = {"marginTop": 0.394, "marginBottom": 0.354, "marginLeft": 0.433, "marginRight": 0.433}
    asked = {"paperWidth": width, "paperHeight": height, "generateTaggedPDF": False, **margins}
    try:
        printed = printer.tell("Page.printToPDF", **asked)
    except WebDriverException as error:
        # Seen once in hundreds of pages on a busy machine: the browser could not print just then.
        if "Printing failed" not in str(error):
            raise
        printed = printer.tell("Page.printToPDF", **asked)
    counts = [int(count) for count in re.findall(rb"/Count (\d+)", base64.b64decode(printed["data"]))]
    assert counts
    return max(counts)


def dancer(number: int, level: str, start: int) -> Dancer:
    """Five corrections, three of which a third of the class shares; one in four has others."""
    first = start + (number % 3) * 11 if number % 4 else start + 3 * number
    needs = []
    for place in range(5):
        fault = FAULTS[(first + 7 * place) % len(FAULTS)]
        entry = catalogue()[fault]
        role = ("root", "first", "later", "effect", "effect")[place]
        weaker = ("left", "right", None)[place % 3]
        needs.append(Need(fault, 4, 5, role, False, "fault", entry.cue, weaker, entry.caution))
    return Dancer(f"D.{number}", f"{number}", level, tuple(needs), jumps=4, phrase_s=20.0)


def plan(minutes: float, size: int, level: str, start: int) -> Lesson:
    return plan_lesson([dancer(i, level, start) for i in range(size)], Wishes(minutes=minutes, age=12), LIBRARY)


def written(lesson: Lesson, folder: Path, form: Form = "teacher") -> Path:
    text, _ = render(lesson, ".html", Edits(), form=form, date=datetime.date(2027, 3, 1))
    path = folder / f"{form}.html"
    path.write_text(text, encoding="utf-8")
    return path


#: Every length with every size of class, the levels in turn.
_CASES = [
    (minutes, size, LEVELS[(place + turn) % len(LEVELS)], 5 * place + turn)
    for place, minutes in enumerate((30, 45, 60, 90, 120))
    for turn, size in enumerate((1, 12, 20))
]


@pytest.mark.parametrize(("minutes", "size", "level", "start"), _CASES)
def test_two_sides_of_paper(printer: Any, tmp_path: Path, minutes: float, size: int, level: str, start: int) -> None:
    """A third side with a line on it would be left in the printer. Catches a text that grew, and another size of paper."""
    laid_out(printer, written(plan(minutes, size, level, start), tmp_path))
    assert {paper: sides(printer, paper) for paper in PAPERS} == dict.fromkeys(PAPERS, 2)


def test_two_sides_of_paper_in_a_wide_face(printer: Any, tmp_path: Path) -> None:
    """DejaVu Sans is a seventh wider than Arial, and all that a bare machine has: plans printed there took a third side."""
    page = written(plan(120, 12, "young beginner", 21), tmp_path)
    text, changed = re.subn(r'"Source Sans 3".*?sans-serif;', '"DejaVu Sans";', page.read_text(encoding="utf-8"))
    assert changed == 1
    page.write_text(text, encoding="utf-8")
    laid_out(printer, page)
    assert {paper: sides(printer, paper) for paper in PAPERS} == dict.fromkeys(PAPERS, 2)


def test_a_short_plan_is_set_larger_than_a_long_one(printer: Any, tmp_path: Path) -> None:
    """Nobody reads the smallest print without need; and set larger than chosen a long plan takes a third side."""
    alone, class_of_twenty = plan(30, 1, "intermediate", 0), plan(120, 20, "advanced", 0)
    assert density_of(alone, None).name == "roomy"
    density = density_of(class_of_twenty, class_sheet(class_of_twenty)).name
    assert density == "tight"
    page = written(class_of_twenty, tmp_path)
    page.write_text(page.read_text(encoding="utf-8").replace('<body class="tight"', '<body class="roomy"'), encoding="utf-8")
    laid_out(printer, page)
    assert sides(printer, "A4") > 2
