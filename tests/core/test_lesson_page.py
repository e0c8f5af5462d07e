"""The forms of a plan: they say the same, name whom they may, and keep what a teacher wrote into them."""

from __future__ import annotations

import datetime
import html.parser
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from in_the_round.analysis_core.errors import OptionError, OutputError
from in_the_round.analysis_core.findings.catalogue import catalogue
from in_the_round.analysis_core.lesson.dancers import Dancer, Need
from in_the_round.analysis_core.lesson.edited import Edits, read_edits
from in_the_round.analysis_core.lesson.library import product_library
from in_the_round.analysis_core.lesson.page import FORMS, Form, render, write_lesson
from in_the_round.analysis_core.lesson.plan import plan_lesson
from in_the_round.analysis_core.lesson.planned import Lesson, Wishes
from in_the_round.analysis_core.lesson.sheet import class_sheet, own_lines

LIBRARY = product_library()
DAY = datetime.date(2026, 5, 4)
NAMES = ("heron slate", "birch rain", "wren <b>&", "finch moss")


def dancer(name: str, *faults: str, own: tuple[str, ...] = (), good: frozenset[str] = frozenset()) -> Dancer:
    needs = tuple(Need(f, 1, 1, "root", False, "fault", catalogue()[f].cue, None, catalogue()[f].caution) for f in faults)
    return Dancer(name, name, "intermediate", needs, own=own, good=good, jumps=3, phrase_s=20.0)


@pytest.fixture(scope="module")
def group() -> Lesson:
    dancers = (
        dancer(NAMES[0], "heel-lifts-early", "arms-drop", own=("Whistle </script> here.",)),
        dancer(NAMES[1], "heels-lift-in-plie", "late-spot"),
        dancer(NAMES[2], "arms-drop", "heel-lifts-early"),
        dancer(NAMES[3], "knee-inside-toes"),
    )
    return plan_lesson(dancers, Wishes(minutes=60, age=12), LIBRARY)


class Text(html.parser.HTMLParser):
    """What a reader sees of a page; whether its tags close."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert not any(name.startswith("on") for name, _ in attrs)
        if tag not in ("meta", "br", "link"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] not in ("script", "style"):
            self.words.append(data)


def seen(page: str) -> str:
    reader = Text()
    reader.feed(page)
    assert reader.open == []
    return " ".join(" ".join(reader.words).split())


@pytest.mark.parametrize("ending", [".html", ".md"])
def test_both_forms_say_the_whole_plan(group: Lesson, ending: str) -> None:
    text, kept = render(group, ending, Edits(), date=DAY)
    said = seen(text) if ending == ".html" else " ".join(text.split())
    assert kept == 0
    for block in group.blocks:
        for exercise in block.exercises:
            for part in (exercise.name, exercise.how, exercise.cue, exercise.watch):
                assert part in said
            assert exercise.stage == 0 or exercise.feel in said
    for goal in group.goals:
        assert goal.ladder.goal in said
        assert goal.why in said
    assert f"planned jumps {group.jumps} of {group.jump_limit}" in said
    assert "4 May 2026" in said
    assert "not a medical device" in said


def test_the_page_fetches_and_runs_nothing(group: Lesson) -> None:
    """No script that runs, no address, a policy that refuses; hostile words come out as words."""
    text, _ = render(group, ".html", Edits(), date=DAY)
    assert "default-src 'none'" in text
    assert re.findall(r"<script[^>]*>", text) == ['<script type="application/json" id="plan">']
    assert not re.search(r"https?:|src=|<b>&", text)
    assert "wren <b>&" in seen(text)
    assert "Whistle </script> here." in seen(text)
    data = json.loads(text.rpartition('id="plan">')[2].partition("</script>")[0])
    assert sum(block["minutes"] for block in data["plan"]["blocks"]) == 60


@pytest.mark.parametrize("ending", [".html", ".md"])
def test_the_wall_names_nobody(group: Lesson, ending: str) -> None:
    """Nobody's name, no line of one's own, no sheet: in what is seen and in the data."""
    text, _ = render(group, ending, Edits(), form="wall", date=DAY)
    for name in ("heron", "birch", "wren", "finch", "shared by", "Whistle"):
        assert name not in text
    assert group.blocks[0].exercises[0].cue in text


def test_a_student_takes_two_lines_home(group: Lesson) -> None:
    """Cue and sensation of the dancer's own corrections; no grade, no number, no other exercise."""
    text, _ = render(group, ".html", Edits(), form="student", date=DAY)
    said = seen(text)
    assert all(name in said for name in NAMES)
    assert catalogue()["knee-inside-toes"].cue in said
    assert "fault" not in said.lower()
    assert "watch" not in said.lower()


def test_the_sheet_ranks_nobody(group: Lesson) -> None:
    """Rows in the order of the class list whatever they hold; columns are what is shared; at most two for today; no grades."""
    sheet = class_sheet(group)
    assert sheet is not None
    assert [name for name, _ in sheet.rows] == list(NAMES)
    shared = [(column.fault, column.shared) for column in sheet.columns]
    assert shared == [("heel-lifts-early", 2), ("arms-drop", 2)]
    assert all(cells.count("today") <= 2 for _, cells in sheet.rows)
    # Nothing is there that would tell one who has much from one who has more.
    text, _ = render(group, ".html", Edits(), date=DAY)
    assert not re.search(r"\bred\b|severity|#f00|worst", seen(text) + text.partition("</style>")[0].lower())


def test_todays_work_has_its_columns_first() -> None:
    """Ten corrections shared by more dancers than the goal is: the goal that the teacher named has its column all the same."""
    others = tuple(fault for fault in catalogue() if fault not in LIBRARY.ladders["air"].main)[:10]
    dancers = [dancer(name, *others, *(("turnout-lost-in-air",) if name in "AB" else ())) for name in "ABCDE"]
    sheet = class_sheet(plan_lesson(dancers, Wishes(goals=("air",)), LIBRARY))
    assert sheet is not None
    assert sheet.columns[0].fault == "turnout-lost-in-air"
    assert [cells[0] for _, cells in sheet.rows] == ["today", "today", "", "", ""]


def test_what_several_do_alone_is_said_once_and_to_children_in_their_words() -> None:
    """Three names before one line; a child's picture, unless the teacher chose the words."""
    shared = [dancer(name, "arms-drop") for name in "ABC"]
    alone = [dancer(name, "late-spot") for name in "DE"]
    kept = replace(alone[0], name="F", needs=(replace(alone[0].needs[0], kept=True, cue="My own words."),))
    lesson = plan_lesson([*shared, *alone, kept], Wishes(goals=("arms",), age=8), LIBRARY)
    lines = own_lines(lesson)
    assert [line.dancers for line in lines] == [("D", "E"), ("F",)]
    assert [line.cue for line in lines] == [catalogue()["late-spot"].cue_young, "My own words."]
    text, _ = render(lesson, ".html", Edits(), date=DAY)
    assert "D, E" in seen(text)


def test_what_is_held_is_ticked_and_not_counted_as_shared() -> None:
    """From the record: held since last time stands beside what others work on."""
    held = replace(dancer("C"), held=frozenset(("arms-drop",)))
    sheet = class_sheet(plan_lesson([dancer("A", "arms-drop"), dancer("B", "arms-drop"), held], Wishes(), LIBRARY))
    assert sheet is not None
    assert dict(sheet.rows) == {"A": ("today",), "B": ("today",), "C": ("held",)}
    assert sheet.columns[0].shared == 2


def test_no_sheet_for_one_and_no_sums_for_two() -> None:
    """In a pair "shared by 1" would be a name."""
    assert class_sheet(plan_lesson([dancer("A", "arms-drop")], Wishes(), LIBRARY)) is None
    pair = class_sheet(plan_lesson([dancer("A", "arms-drop"), dancer("B", "late-spot")], Wishes(), LIBRARY))
    assert pair is not None
    assert {column.shared for column in pair.columns} == {None}


def test_what_goes_well_for_everyone_is_said() -> None:
    good = frozenset(("balance-sways", "late-spot"))
    sheet = class_sheet(plan_lesson([dancer(n, "arms-drop", good=good) for n in "ABC"], Wishes(), LIBRARY))
    assert sheet is not None
    assert sheet.good == (catalogue()["late-spot"].cue, catalogue()["balance-sways"].cue)


def rewritten(path: Path, key: str, words: str) -> None:
    """What a browser saves after a teacher has written over a text: other white space, a line break of its own."""
    text = path.read_text(encoding="utf-8")
    pattern = re.compile(rf'(<(\w+) contenteditable="true" data-key="{re.escape(key)}"[^>]*>)(.*?)(</\2>)', re.DOTALL)
    changed, count = pattern.subn(lambda m: f"{m[1]}\n  {words}&nbsp;<br>{m[4]}", text)
    assert count == 1, key
    path.write_text(changed, encoding="utf-8")


CUE = "ex:slow-plie-heel-rule:cue"


def test_edited_words_survive_a_plan_made_anew(group: Lesson, tmp_path: Path) -> None:
    """The cue, a note, a text with mark-up in it; again the second time; the proposed texts are no edits."""
    path = tmp_path / "plan.html"
    write_lesson(group, path, overwrite=False, date=DAY)
    assert read_edits(path).texts == {}
    rewritten(path, CUE, "Stamps on a letter <b>&lt;here&gt;</b>")
    rewritten(path, "notes", "<div>Ask for the key.</div><div>Second line</div>")
    rewritten(path, "title", "Tuesday, hall two")
    for _ in range(2):
        lesson, kept = write_lesson(group, path, overwrite=True, date=DAY)
        assert kept == 3
        said = seen(path.read_text(encoding="utf-8"))
        for words in ("Stamps on a letter <here>", "Ask for the key.", "Second line", "Tuesday, hall two"):
            assert words in said
        (cue,) = [e.cue for block in lesson.blocks for e in block.exercises if e.id == "slow-plie-heel-rule"]
        assert cue == "Stamps on a letter <here>"


def test_words_whose_exercise_is_gone_are_not_lost_and_come_back(group: Lesson, tmp_path: Path) -> None:
    path = tmp_path / "plan.html"
    write_lesson(group, path, overwrite=False, date=DAY)
    rewritten(path, CUE, "My picture")
    other = plan_lesson([dancer("A", "late-spot")], Wishes(minutes=60), LIBRARY)
    write_lesson(other, path, overwrite=True, date=DAY)
    assert "From your earlier plan" in path.read_text(encoding="utf-8")
    assert "My picture" in seen(path.read_text(encoding="utf-8"))
    back, _ = write_lesson(group, path, overwrite=True, date=DAY)
    assert [e.cue for b in back.blocks for e in b.exercises if e.id == "slow-plie-heel-rule"] == ["My picture"]
    assert "From your earlier plan" not in path.read_text(encoding="utf-8")


def test_a_changed_number_stays_only_while_the_plan_says_the_same(group: Lesson, tmp_path: Path) -> None:
    """Another length of class gives an exercise other minutes: the teacher's old number would make the sum wrong."""
    path = tmp_path / "plan.html"
    write_lesson(group, path, overwrite=False, date=DAY)
    rewritten(path, "ex:plies:minutes", "9")
    write_lesson(group, path, overwrite=True, date=DAY)
    assert read_edits(path).texts == {"ex:plies:minutes": "9"}
    longer = plan_lesson(group.dancers, Wishes(minutes=120, age=12), LIBRARY)
    assert [e.minutes for b in longer.blocks for e in b.exercises if e.id == "plies"] != [
        e.minutes for b in group.blocks for e in b.exercises if e.id == "plies"
    ]
    write_lesson(longer, path, overwrite=True, date=DAY)
    assert "ex:plies:minutes" not in read_edits(path).texts
    assert "From your earlier plan" in path.read_text(encoding="utf-8")


def test_markdown_keeps_changed_lines_and_the_teachers_own(group: Lesson, tmp_path: Path) -> None:
    """A cue written over, a heading changed, a line of one's own, a key rubbed out with its line."""
    path = tmp_path / "plan.md"
    write_lesson(group, path, overwrite=False, date=DAY)
    assert read_edits(path).texts == {}
    cue = next(e.cue for b in group.blocks for e in b.exercises if e.id == "slow-plie-heel-rule")
    text = (
        path.read_text(encoding="utf-8").replace(f"Cue: {cue}", "Cue: Stamps on a letter").replace("# Class plan", "# Hall two")
    )
    text = text.replace("## Barre", "Piano: ask for a slow waltz.\n\n## Barre")
    path.write_text(text, encoding="utf-8")
    for _ in range(2):
        lesson, kept = write_lesson(group, path, overwrite=True, date=DAY)
        assert kept == 3
        text = path.read_text(encoding="utf-8")
        assert "# Hall two" in text
        assert text.partition("<!-- in-the-round")[0].count("Piano: ask for a slow waltz.") == 1
        assert [e.cue for b in lesson.blocks for e in b.exercises if e.id == "slow-plie-heel-rule"] == ["Stamps on a letter"]


def test_a_plan_that_cannot_be_read_any_more_is_not_written_over(group: Lesson, tmp_path: Path) -> None:
    """Nothing of the teacher's is lost in silence; a file that is no plan is only written over when asked."""
    path = tmp_path / "plan.html"
    write_lesson(group, path, overwrite=False, date=DAY)
    broken = path.read_text(encoding="utf-8").replace('"texts":{', '"texts":')
    path.write_text(broken, encoding="utf-8")
    with pytest.raises(OutputError, match="this file stays"):
        write_lesson(group, path, overwrite=True, date=DAY)
    assert path.read_text(encoding="utf-8") == broken
    path.write_text("a shopping list", encoding="utf-8")
    with pytest.raises(OutputError):
        write_lesson(group, path, overwrite=False, date=DAY)
    write_lesson(group, path, overwrite=True, date=DAY)
    assert "shopping" not in path.read_text(encoding="utf-8")


def test_another_ending_is_refused(group: Lesson, tmp_path: Path) -> None:
    with pytest.raises(OptionError, match=r"\.html or \.md"):
        write_lesson(group, tmp_path / "plan.doc", overwrite=False)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("ending", [".html", ".md"])
def test_a_class_without_any_correction_can_be_printed(form: Form, ending: str) -> None:
    text, _ = render(plan_lesson([dancer("A"), dancer("B")], Wishes(), LIBRARY), ending, Edits(), form=form, date=DAY)
    assert len(text) > 500
