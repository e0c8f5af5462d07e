"""Checks that run inside Blender, on the installed extension. Started by all_in_blender.py, never collected by pytest.

Each function check_… is one check; it begins with an empty file and the made review open in it.
"""

from __future__ import annotations

import dataclasses
import functools
import importlib
import json
import math
import os
import re
import runpy
import shutil
import sqlite3
import sys
import tempfile
import traceback
import wave
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import bpy
import numpy as np
import pytest

#: With this begins what a check says that lacks something; test_addon.py knows it too.
SKIPPED = "skipped: "
MODULE = "bl_ext.user_default.in_the_round"
review_folder = turn_of_the_demo = Path()


def part(name: str) -> Any:
    """A module of the installed extension."""
    return importlib.import_module(f"{MODULE}.{name}")


def state() -> Any:
    return bpy.context.scene.dance_review


def item(finding: str) -> Any:
    return next(item for item in state().findings if item.finding == finding)


def choose(finding: str) -> None:
    assert bpy.ops.dance_review.go_to(finding=finding) == {"FINISHED"}


def stored() -> dict[str, Any]:
    return json.loads((Path(state().folder) / "review.json").read_text(encoding="utf-8"))


def stored_finding(finding: str) -> dict[str, Any]:
    return next(item for item in stored()["findings"] if item["id"] == finding)


def fails(operator: Any, sentence: str, /, **values: Any) -> None:
    """The operator refuses, with these words."""
    with pytest.raises(RuntimeError, match=re.escape(sentence)):
        operator(**values)


def fresh() -> None:
    """A file that was never saved, and a fresh copy of the made review open in it.

    Opened by the operator once: what Blender held then begins every later check, which takes a fifth of the time.
    """
    place, opened = Path(tempfile.gettempdir()) / "fresh", Path(tempfile.gettempdir()) / "opened.blend"
    shutil.rmtree(place, ignore_errors=True)
    copy = place / "morning class review"
    shutil.copytree(review_folder, copy)
    if opened.is_file():
        bpy.ops.wm.read_homefile(filepath=str(opened))
    else:
        bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
        assert bpy.ops.dance_review.open_review(directory=str(copy)) == {"FINISHED"}
        bpy.ops.wm.save_as_mainfile(filepath=str(opened), copy=True, relative_remap=False)
    assert (bpy.data.filepath, state().folder) == ("", str(copy))


def check_opening_shows_the_review_in_a_scene_of_its_own() -> None:
    assert len(bpy.data.scenes) == 2
    assert state().verdict == "usable"
    assert [line.value for line in state().reasons] == ["Left heel marker missing from 4.2 s: stick it back."]
    assert [line.what for line in state().inferred] == ["up axis"]
    assert state().unsure[0].what == "Feet are not stretched in the air"
    assert len(state().findings) == 5
    # Three things to say first: what led to another and came twice, then the worst of the others.
    assert [item.finding for item in state().findings if item.main] == ["f0", "f1", "f2"]
    assert (item("f0").measured, item("f0").target, item("f0").count) == ("31 ± 6 mm", "0 to 10 mm", "bar 1, count 3")
    assert (item("f2").target, item("f3").target) == ("at most 8°", "at least 5°")
    assert (item("f0").how_often, item("f1").how_often, item("f2").how_often) == ("2 of 3 times", "1 of 3 times", "1 of 3 times")
    assert (item("f0").within_take, item("f4").within_take) == ("", "± 2 mm")


def check_the_list_has_a_line_for_every_correction_with_what_it_may_have_led_to_beneath() -> None:
    """Would catch a line for every time that a fault comes, and a knee that stands apart from the heel that it came from."""
    shown = [item for item in state().findings if part("state").is_visible(state(), item)]
    assert [(item.finding, item.depth, item.times) for item in shown] == [
        ("f0", 0, "2 of 3"), ("f1", 1, "1 of 3"), ("f2", 0, "1 of 3"), ("f3", 0, "1 of 3"),
    ]  # fmt: skip
    state().every_time = True
    shown = [item for item in state().findings if part("state").is_visible(state(), item)]
    assert [(item.finding, item.again) for item in shown][:3] == [("f0", False), ("f4", True), ("f1", False)]
    state().every_time = False
    # A filter finds every time that fits it.
    state().filter_text = "plie-2"
    assert [item.finding for item in state().findings if part("state").is_visible(state(), item)] == ["f4"]


def check_a_film_calls_its_takes_before_and_now_unless_names_are_asked_for() -> None:
    """Would catch a film that is sent on with the file's name, and so perhaps the dancer's, burnt into the picture."""
    review = part("analysis_core.review").read_review(Path(state().folder))
    name = Path(review.take.file).stem
    build, wish = part("scene.turntable").build_film, part("analysis_core.film.wish").Wish
    for named, wanted in ((False, {"before", "now"}), (True, {name})):
        scene = build([review, review], wish(size=(320, 180), fps=4, seconds=1.0, names=named)).scene
        said = {item.data.body for item in scene.collection.all_objects if item.type == "FONT"}
        assert wanted <= said, said
        assert named or not any(name in words for words in said), said
        assert name not in scene.name


def check_a_film_leaves_the_file_as_it_was_and_goes_on_where_it_stopped() -> None:
    """Would catch scenes, actions or materials left in the user's file, a chosen scene that changes, pictures rendered twice
    after a stop, and pictures that say when and where they were made."""
    review = part("analysis_core.review").read_review(Path(state().folder))
    output, here = part("scene.film_output"), Path(tempfile.mkdtemp())
    wish = part("analysis_core.film.wish").Wish(
        size=(64, 64), fps=2, seconds=1.0, mode="play", draft=True, pictures=str(here / "pictures")
    )

    def everything() -> dict[str, list[str]]:
        return {name: sorted(item.name for item in items) for name, items in output._everything().items()}

    before, scene, frame = everything(), bpy.context.window.scene, bpy.context.scene.frame_current
    told = output.render([review], here / "film.mp4", wish)
    assert (told["pictures"], told["resumed"]) == (2, 0)
    one, two = (here / "pictures" / f"picture_000{number}.png" for number in (1, 2))
    assert b"Date" not in one.read_bytes()
    assert str(here).encode() not in one.read_bytes()
    made = one.stat().st_mtime_ns
    two.unlink()
    told = output.render([review], here / "film.mp4", wish)
    assert told["resumed"] == 1
    assert one.stat().st_mtime_ns == made
    assert two.is_file()
    assert everything() == before
    assert (bpy.context.window.scene, bpy.context.scene.frame_current) == (scene, frame)


def check_time_of_the_take_is_mapped_exactly_to_the_scene() -> None:
    scene = bpy.context.scene
    assert scene.render.fps / scene.render.fps_base == 60.0
    assert scene.frame_end - scene.frame_start + 1 == state().frames
    choose("f1")
    assert scene.frame_current == scene.frame_start + round(2.0 * 60.0)


def check_a_review_that_is_not_there_is_refused_in_words() -> None:
    scenes = len(bpy.data.scenes)
    fails(bpy.ops.dance_review.open_review, "holds no review.json", directory=tempfile.mkdtemp())
    assert len(bpy.data.scenes) == scenes


def check_a_take_that_is_not_there_or_is_garbage_is_refused_in_words() -> None:
    fails(bpy.ops.dance_review.open_take, "does not exist", filepath="/nowhere/take.c3d")
    path = Path(tempfile.mkdtemp()) / "garbage.c3d"
    path.write_bytes(bytes(range(256)) * 8)
    fails(bpy.ops.dance_review.open_take, "garbage.c3d", filepath=str(path))
    assert not list(path.parent.glob("*review*"))


def check_a_report_of_what_went_wrong_names_nobody_and_no_folder() -> None:
    """Would catch a sentence, a path or a user's name in what is sent to a developer, and a report that outlives its trouble."""
    folder = Path(tempfile.mkdtemp()) / "Ada Example"
    folder.mkdir()
    take = folder / "ada example take 1.c3d"
    take.write_bytes(bytes(range(256)) * 8)
    fails(bpy.ops.dance_review.open_take, "ada example", filepath=str(take))
    told = part("trouble").report()
    assert told is not None
    assert "TakeError at" in told
    assert re.search(r"analysis_core/read/\w+\.py:\d+ in \w+", told), told
    assert bpy.app.version_string in told
    names = ("example", "ada", str(Path.home()).lower(), tempfile.gettempdir().lower())
    assert not [name for name in names if name in told.lower()], told
    assert any("Copy the Report" in words for words in drawn()), drawn()
    assert bpy.ops.dance_review.copy_report() == {"FINISHED"}
    fresh()
    part("trouble").forget()
    assert not any("Copy the Report" in words for words in drawn())
    fails(bpy.ops.dance_review.copy_report, "Nothing has gone wrong")


def check_every_setting_is_a_property_is_drawn_and_reaches_the_core() -> None:
    """Would catch a setting that is declared in the core and cannot be said in Blender, or is said and gets lost."""
    core, owner = part("analysis_core.settings"), state().settings
    before = part("state").settings_of(owner)
    assert before == core.Settings(), before
    said = {"file": "/somewhere/there", "words": "2", "number": 90.0}
    for setting in core.SETTINGS:
        wanted: Any = setting.choices[1].value if setting.kind == "choice" else said[setting.kind]
        setattr(owner, setting.name, wanted)
        if setting.kind == "number" and setting.can_be_left:
            assert getattr(part("state").settings_of(owner), setting.field) is None
            setattr(owner, f"use_{setting.name}", True)
        got = getattr(part("state").settings_of(owner), setting.field)
        assert got == (Path(wanted) if setting.kind == "file" else wanted), setting.name
        assert hasattr(bpy.ops.dance_review.open_take.get_rna_type().properties.get(setting.name), "name"), setting.name
    owner.propose_tempo = True
    assert part("state").settings_of(owner).tempo_bpm == "auto"
    texts = drawn()
    assert [setting.title for setting in core.SETTINGS if not any(setting.title in text for text in texts)] == []


def check_a_lesson_is_planned_from_what_the_teacher_decided() -> None:
    """Set aside is no goal; made anew the page keeps the teacher's words; another ending is refused."""
    plan = Path(tempfile.mkdtemp()) / "plan.html"
    values = {"filepath": str(plan), "minutes": 45, "age": 12, "open_it": False}
    assert bpy.ops.dance_review.plan_lesson(**values) == {"FINISHED"}
    text = plan.read_text(encoding="utf-8")
    data = json.loads(text.rpartition('id="plan">')[2].partition("</script>")[0])["plan"]
    assert sum(block["minutes"] for block in data["blocks"]) == 45
    assert data["jumps"] <= data["jump_limit"] == 60
    first = data["goals"][0]["fault"]
    for found in [item.finding for item in state().findings if item.fault == first]:
        choose(found)
        assert bpy.ops.dance_review.set_aside() == {"FINISHED"}
    plan.write_text(text.replace(">Private lesson</h1>", ">Hall two</h1>"), encoding="utf-8")
    assert bpy.ops.dance_review.plan_lesson(**values) == {"FINISHED"}
    text = plan.read_text(encoding="utf-8")
    assert ">Hall two</h1>" in text
    data = json.loads(text.rpartition('id="plan">')[2].partition("</script>")[0])["plan"]
    assert first not in [goal["fault"] for goal in data["goals"]]
    fails(bpy.ops.dance_review.plan_lesson, "must end in .html or .md", filepath=str(plan.with_suffix(".doc")), open_it=False)


def check_the_record_of_a_dancer() -> None:
    """Not loaded before it is used; refused without a consent, then added, looked up, an earlier take opened as a ghost.

    Nothing of it stands in the Blender file, which would outlive a deletion.
    """
    assert "sqlalchemy" not in sys.modules
    folder = Path(tempfile.mkdtemp())
    bpy.context.preferences.addons[MODULE].preferences.record_database = str(folder / "record.db")
    fails(bpy.ops.dance_review.add_to_record, "no dancer 'amber-heron'", dancer="amber-heron")
    fails(bpy.ops.dance_review.enter_consent, "is no date", dancer="amber-heron", until="next year")
    assert bpy.ops.dance_review.enter_consent(dancer="amber-heron", until="2999-07-31", assent=True) == {"FINISHED"}
    assert bpy.ops.dance_review.add_to_record(dancer="amber-heron", phrase="adagio", day="2026-02-03") == {"FINISHED"}
    looked = part("record_view").found(state())
    assert (looked.dancer, [str(take.day) for take in looked.takes]) == ("amber-heron", ["2026-02-03"])
    assert bpy.ops.dance_review.look_up_record() == {"FINISHED"}
    assert bpy.ops.dance_review.open_earlier(directory=looked.takes[0].folder, ghost=True) == {"FINISHED"}
    fails(bpy.ops.dance_review.open_earlier, "not there any more", directory="/nowhere")
    saved = folder / "class.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(saved), compress=False, copy=True)
    assert b"amber-heron" not in saved.read_bytes()
    bpy.context.preferences.addons[MODULE].preferences.record_database = ""


def of_heels(value: float) -> dict[str, Any]:
    """One measured value of the first correction of the made review, as review.json holds it."""
    return {
        "fault": "heels-lift-in-plie", "measure": "height", "side": "right", "step": "plié", "n": 3, "value": value,
        "worst": value + 2.0, "sd": 2.0, "unit": "mm", "plus_minus": 4.2, "plus_minus_within_take": 3.3, "band": [0.0, 10.0],
        "outside": 3, "cannot_tell": None,
    }  # fmt: skip


def of_a_day(value: float, number: int) -> Path:
    """A copy of the made review as another take of the same dancer, in which the heel lifted by a value."""
    folder = Path(tempfile.mkdtemp()) / f"take {number}"
    shutil.copytree(review_folder, folder)
    data = json.loads((folder / "review.json").read_text(encoding="utf-8"))
    data["take"] |= {"sha256": f"{number:064x}", "file": f"day-{number}.c3d"}
    data |= {"measured": [of_heels(value)], "measures_version": "v1"}
    (folder / "review.json").write_text(json.dumps(data), encoding="utf-8")
    return folder


def add_to_record(folder: Path, number: int) -> None:
    """Put a review into the record that the preferences name, as the button did on an earlier day: without a scene for it."""
    takes, dancers = part("analysis_core.record.takes"), part("analysis_core.record.dancers")
    day = dancers.day_of(f"2026-0{number + 1}-03")
    with part("record_view").open_record(bpy.context) as store:
        secret = store.secret()
        with store.begin() as connection:
            review = part("analysis_core.record.folders").read_folder(folder)
            dancer = dancers.dancer_of(connection, "amber-heron")
            takes.add_take(connection, dancer, review, takes.When(day, "", "spring", "adagio"), secret=secret, today=date.today())


def check_earlier_takes_of_a_dancer_and_what_became_of_a_correction() -> None:
    """Three takes in the database that the preferences name; the panel lists the two others and says what changed of the chosen
    correction; each opens in a scene of its own or as a ghost; the lesson begins above the rung that the record says holds."""
    folder = Path(tempfile.mkdtemp())
    chosen = bpy.context.preferences.addons[MODULE].preferences
    chosen.record_database = str(folder / "school" / "record.db")
    assert bpy.ops.dance_review.enter_consent(dancer="amber-heron", until="2999-07-31", assent=True) == {"FINISHED"}
    for number, value in enumerate((31.0, 30.0)):
        add_to_record(of_a_day(value, number), number)
    assert bpy.ops.dance_review.open_review(directory=str(of_a_day(12.0, 2))) == {"FINISHED"}
    words = {"dancer": "amber-heron", "phrase": "adagio", "term": "spring", "day": "2026-03-03"}
    assert bpy.ops.dance_review.add_to_record(**words) == {"FINISHED"}
    assert (folder / "school" / "record.db").is_file()
    choose("f0")
    assert (item("f0").fault, item("f0").side) == ("heels-lift-in-plie", "right")
    said = " | ".join(drawn())
    for words in ("amber-heron: 3 takes", "2026-01-03  adagio", "2026-02-03  adagio", "may be better", "12", "Over time"):
        assert words in said, words
    assert "2026-03-03  adagio" not in said, "the take that is open is no earlier one"
    choose("f2")
    assert "holds no value of it yet" in " | ".join(drawn())
    earlier = part("record_view").found(state()).others[0].folder
    here, scenes = bpy.context.scene, len(bpy.data.scenes)
    assert bpy.ops.dance_review.open_earlier(directory=earlier) == {"FINISHED"}
    assert len(bpy.data.scenes) == scenes + 1
    assert Path(state().folder) == Path(earlier)
    bpy.context.window.scene = here
    for how in ("ghost", "beside"):
        assert bpy.ops.dance_review.open_earlier(directory=earlier, **{how: True}) == {"FINISHED"}
        assert state().second.take_name == "day-1.c3d"
        assert len(bpy.data.scenes) == scenes + 1
    assert bpy.ops.dance_review.remove_second_take() == {"FINISHED"}
    lesson_takes_rungs_from(folder)
    chosen.record_database = ""


def lesson_of(plan: Path) -> dict[str, Any]:
    """The plan that stands in a page, made anew from the take that is open."""
    assert bpy.ops.dance_review.plan_lesson(filepath=str(plan), minutes=60, open_it=False) == {"FINISHED"}
    text = plan.read_text(encoding="utf-8")
    return json.loads(text.rpartition('id="plan">')[2].partition("</script>")[0])["plan"]


def lesson_takes_rungs_from(folder: Path) -> None:
    """The class begins above a rung once it is noted in the record of the dancer who was looked up, under her pseudonym."""
    before = lesson_of(folder / "plan.html")
    assert [dancer["dancer"] for dancer in before["class"]] == ["amber-heron"]
    ladder, start = before["goals"][0]["ladder"], before["goals"][0]["start"]
    assert start == 1
    with part("record_view").open_record(bpy.context) as store, store.begin() as connection:
        importlib.import_module(f"{MODULE}.analysis_core.record.classes").note_mastered(
            connection, "amber-heron", ladder, 2, date.today()
        )
    assert lesson_of(folder / "plan.html")["goals"][0]["start"] == 3
    assert "Goals and rungs of amber-heron" in " | ".join(drawn())


def check_going_to_a_correction_brings_its_camera() -> None:
    choose("f2")
    assert bpy.context.scene.camera is part("moments").camera_of(bpy.context.scene, "f2")
    fails(bpy.ops.dance_review.go_to, "There is no correction f99", finding="f99")


def check_next_and_previous_follow_the_filters_and_go_round() -> None:
    state().filter_grade = "fault"
    order = []
    for _ in range(4):
        bpy.ops.dance_review.step(direction="NEXT")
        order.append(state().findings[state().chosen].finding)
    assert order == ["f0", "f4", "f1", "f0"]
    bpy.ops.dance_review.step(direction="PREVIOUS")
    assert state().findings[state().chosen].finding == "f1"
    state().filter_text = "nothing has this name"
    fails(bpy.ops.dance_review.step, "No correction passes the filters")


def check_keep_and_set_aside_are_in_the_file_beside_the_take_at_once() -> None:
    choose("f0")
    bpy.ops.dance_review.keep()
    choose("f1")
    bpy.ops.dance_review.set_aside(note="The floor was wet")
    assert (stored_finding("f0")["decision"], stored_finding("f1")["decision"]) == ("kept", "set aside")
    assert stored_finding("f1")["note"] == "The floor was wet"
    bpy.ops.dance_review.reopen()
    assert stored_finding("f1")["decision"] == "open"


def check_undo_and_redo_of_a_decision_and_the_file_follows() -> None:
    bpy.ops.ed.undo_push(message="opened")
    choose("f0")
    bpy.ops.dance_review.keep()
    bpy.ops.ed.undo_push(message="kept")
    bpy.ops.ed.undo()
    assert item("f0").decision == "open"
    assert stored_finding("f0")["decision"] == "open"
    bpy.ops.ed.redo()
    assert item("f0").decision == "kept"
    assert stored_finding("f0")["decision"] == "kept"


def check_decisions_wait_for_saving_when_the_preferences_say_so() -> None:
    chosen = bpy.context.preferences.addons[MODULE].preferences
    chosen.save_at_once = False
    try:
        choose("f0")
        bpy.ops.dance_review.keep()
        assert stored_finding("f0")["decision"] == "open"
        assert "Decisions are not in the review" in " ".join(drawn())
        bpy.ops.dance_review.save_decisions()
        assert stored_finding("f0")["decision"] == "kept"
        assert "Decisions are not in the review" not in " ".join(drawn())
    finally:
        chosen.save_at_once = True


def check_own_words_and_own_band_can_be_taken_back() -> None:
    choose("f0")
    bpy.ops.dance_review.reword(words="Heels heavy")
    bpy.ops.dance_review.change_band(use_low=False, use_high=True, high=20.0)
    assert (stored_finding("f0")["cue"], stored_finding("f0")["band"]) == ("Heels heavy", [None, 20.0])
    fails(bpy.ops.dance_review.change_band, "lower limit is above", use_low=True, low=5.0, use_high=True, high=1.0)
    bpy.ops.dance_review.reopen()
    assert stored_finding("f0")["cue"].startswith("Let the heel stay heavy")
    assert stored_finding("f0")["band"] == [0.0, 10.0]


def check_an_own_correction_at_the_current_frame() -> None:
    bpy.context.scene.frame_set(bpy.context.scene.frame_start + 150)
    fails(bpy.ops.dance_review.add_correction, "needs words", words="  ")
    bpy.ops.dance_review.add_correction(words="Breathe out as you go down", parts="thorax")
    own = state().findings[state().chosen]
    assert (own.own, own.peak_s, own.title) == (True, 2.5, "Breathe out as you go down")
    assert stored()["decisions"]["own"][0]["parts"] == ["thorax"]
    with_camera = [marker for marker in bpy.context.scene.timeline_markers if marker.camera]
    markers = [marker for marker in with_camera if marker.camera["finding"] == own.finding]
    assert [marker.frame for marker in markers] == [bpy.context.scene.frame_start + 150]
    fails(bpy.ops.dance_review.change_band, "no measured value")
    bpy.ops.dance_review.remove_correction()
    assert not any(item.own for item in state().findings)
    assert stored()["decisions"]["own"] == []
    choose("f0")
    fails(bpy.ops.dance_review.remove_correction, "set this one aside instead")


def check_links_are_cut_and_added() -> None:
    choose("f1")
    bpy.ops.dance_review.cut_link(before="f0", after="f1")
    assert stored_finding("f1")["came_after"] == []
    assert stored()["chains"] == []
    fails(bpy.ops.dance_review.cut_link, "no such link", before="f0", after="f1")
    bpy.ops.dance_review.add_link(before="f0")
    assert stored_finding("f1")["came_after"] == ["f0"]
    choose("f4")
    bpy.ops.dance_review.add_link(before="f2")
    assert stored()["chains"] == [["f0", "f1"], ["f2", "f4"]]
    choose("f0")
    fails(bpy.ops.dance_review.add_link, "No correction began before this one")


def check_decisions_survive_saving_and_opening_the_blender_file() -> None:
    choose("f0")
    bpy.ops.dance_review.set_aside(note="Later")
    bpy.ops.dance_review.add_correction(words="Look out over the hand", parts="head")
    before = [(item.finding, item.decision, item.note, item.words) for item in state().findings]
    path = str(Path(tempfile.mkdtemp()) / "class.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    bpy.ops.wm.open_mainfile(filepath=path)
    assert not part("saving").differs(state())
    assert [(item.finding, item.decision, item.note, item.words) for item in state().findings] == before
    bpy.ops.dance_review.save_decisions()


def check_a_folder_that_moved_with_its_blender_file_is_found() -> None:
    folder = Path(state().folder)
    path = folder.parent / "class.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    moved = Path(tempfile.mkdtemp()) / "other machine"
    folder.parent.rename(moved)
    bpy.ops.wm.open_mainfile(filepath=str(moved / "class.blend"))
    choose("f0")
    bpy.ops.dance_review.keep()
    data = json.loads((moved / folder.name / "review.json").read_text(encoding="utf-8"))
    assert [item["decision"] for item in data["findings"] if item["id"] == "f0"] == ["kept"]


def check_after_a_crash_nothing_is_overwritten_unasked() -> None:
    path = str(Path(tempfile.mkdtemp()) / "class.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    choose("f0")
    bpy.ops.dance_review.keep()
    # Blender went down before the file was saved again.
    bpy.ops.wm.open_mainfile(filepath=path)
    assert (item("f0").decision, item("f1").decision) == ("kept", "open")
    assert not part("saving").differs(state())
    choose("f1")
    bpy.ops.dance_review.keep()
    assert (stored_finding("f0")["decision"], stored_finding("f1")["decision"]) == ("kept", "kept")


def window(folder: str) -> Any:
    """Another scene that shows the same review, as in a second window."""
    bpy.ops.dance_review.open_review(directory=folder)
    return bpy.context.scene


def check_two_scenes_on_one_review_lose_nothing_also_when_one_is_undone() -> None:
    """Catches a scene that writes its whole state: Keep in one, undo anything in the other, and the file said "open" again."""
    folder, first = state().folder, bpy.context.scene
    second = window(folder)
    bpy.ops.ed.undo_push(message="both open")
    first.dance_review.chosen = 0
    names = [item.finding for item in first.dance_review.findings]
    bpy.context.window.scene = first
    bpy.ops.dance_review.keep()
    bpy.ops.ed.undo_push(message="kept in the first")
    bpy.context.window.scene = second = bpy.data.scenes[second.name]
    choose(names[1])
    bpy.ops.dance_review.set_aside(note="Later")
    assert item(names[0]).decision == "kept", "what the first decided is seen in the second"
    assert [stored_finding(name)["decision"] for name in names[:2]] == ["kept", "set aside"]
    bpy.ops.dance_review.add_correction(words="Breathe", parts="thorax")
    bpy.ops.ed.undo_push(message="set aside in the second")
    # A third window, not of this Blender: its decision is in the file only.
    core = part("analysis_core.review")
    decisions = part("analysis_core.review.decisions")
    review = core.read_review(Path(folder))
    other = next(finding for finding in review.findings if finding.id == names[2])
    judgement = decisions.Judgement(decisions.mark_of(other, review.phrase.phases), "kept", note="from elsewhere")
    core.save_decisions(Path(folder), decisions.Decisions(), decisions.Decisions((judgement,)))
    bpy.ops.ed.undo()
    assert stored()["decisions"]["own"] == []
    assert [stored_finding(name)["decision"] for name in names[:3]] == ["kept", "open", "kept"]
    bpy.ops.ed.redo()
    assert [stored_finding(name)["decision"] for name in names[:3]] == ["kept", "set aside", "kept"]
    assert [correction["words"] for correction in stored()["decisions"]["own"]] == ["Breathe"]
    assert [item(name).decision for name in names[:3]] == ["kept", "set aside", "kept"]


def check_numbers_that_single_precision_cannot_hold_raise_no_alarm() -> None:
    """Catches a scene that takes its own rounding for another window's decision and stops saving."""
    folder = Path(state().folder)
    choose("f0")
    bpy.ops.dance_review.change_band(use_low=True, low=0.1, use_high=True, high=12.3)
    assert stored_finding("f0")["band"] == [0.1, 12.3]
    path = str(Path(tempfile.mkdtemp()) / "class.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    saving = part("saving")
    assert not saving.differs(state())
    assert not saving.needs_saving(state())
    assert part("state").decisions_of(state()) == part("analysis_core.review").read_decisions(folder)


def check_what_was_changed_apart_in_one_place_is_the_teachers_to_choose() -> None:
    folder = state().folder
    path = str(Path(tempfile.mkdtemp()) / "class.blend")
    choose("f0")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.dance_review.keep()
    bpy.ops.wm.open_mainfile(filepath=path)
    # As if the drive had been away when it was decided here.
    saved = part("saving").save
    part("saving").save = lambda *_, **__: None
    try:
        choose("f0")
        bpy.ops.dance_review.set_aside(note="No")
    finally:
        part("saving").save = saved
    bpy.ops.wm.save_as_mainfile(filepath=path)
    core = part("analysis_core.review")
    decisions = core.read_decisions(Path(folder))
    noted = dataclasses.replace(decisions, judgements=(dataclasses.replace(decisions.judgements[0], note="yes"),))
    core.save_decisions(Path(folder), decisions, noted)
    bpy.ops.wm.open_mainfile(filepath=path)
    assert part("saving").differs(state())
    choose("f1")
    bpy.ops.dance_review.keep()
    assert (stored_finding("f0")["decision"], stored_finding("f1")["decision"]) == ("kept", "open")
    assert "Use Those in the Review File" in " | ".join(drawn())
    bpy.ops.dance_review.load_decisions()
    assert (item("f0").decision, item("f0").note, item("f1").decision) == ("kept", "yes", "open")
    assert not part("saving").differs(state())


def check_a_take_that_was_reviewed_again_elsewhere_gets_the_decision_and_the_panel_says_so() -> None:
    core, folder = part("analysis_core.review"), Path(state().folder)
    review = core.read_review(folder)
    turned = tuple(dataclasses.replace(finding, id=f"f{4 - place}") for place, finding in enumerate(review.analysed))
    core.write_again(dataclasses.replace(review, analysed=turned), folder)
    choose("f0")
    bpy.ops.dance_review.keep()
    assert (stored_finding("f0")["decision"], stored_finding("f4")["decision"]) == ("open", "kept")
    assert "was reviewed again" in " ".join(drawn())
    bpy.ops.dance_review.open_review(directory=str(folder))
    assert item("f4").decision == "kept"


def check_panels_ask_neither_the_disk_nor_for_all_decisions() -> None:
    """Catches a redraw that hangs on a network drive."""
    choose("f0")
    bpy.ops.dance_review.keep()
    saving, states = part("saving"), part("state")
    kept = saving.folder_of, states.decisions_of, Path.exists, Path.stat

    def never(*_: Any, **__: Any) -> None:
        raise AssertionError("a panel asked for it")

    try:
        saving.folder_of = states.decisions_of = Path.exists = Path.stat = never
        assert drawn()
    finally:
        saving.folder_of, states.decisions_of, Path.exists, Path.stat = kept


def check_decisions_survive_opening_the_review_again() -> None:
    choose("f0")
    bpy.ops.dance_review.set_aside(note="Later")
    bpy.ops.dance_review.reword(words="Heels heavy")
    folder = state().folder
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    bpy.ops.dance_review.open_review(directory=folder)
    assert (item("f0").decision, item("f0").note, item("f0").words) == ("set aside", "Later", "Heels heavy")
    choose("f0")
    bpy.ops.dance_review.reopen()
    assert stored_finding("f0")["cue"].startswith("Let the heel stay heavy")


def check_a_review_folder_that_went_away_keeps_the_decision_in_the_blender_file() -> None:
    shutil.rmtree(state().folder)
    choose("f0")
    bpy.ops.dance_review.keep()
    assert item("f0").decision == "kept"
    fails(bpy.ops.dance_review.save_decisions, "holds no review any more")


def check_things_of_the_user_with_our_names_are_left_alone() -> None:
    """Catches materials and the dancer found by a name or a kind that the user's own may have too."""
    folder = state().folder
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    names = ("Card", "Ink", "Floor")
    theirs = [bpy.data.materials.new(name) for name in names]
    rig = bpy.data.objects.new("Armature", bpy.data.armatures.new("Armature"))
    bpy.ops.dance_review.open_review(directory=folder)
    scene = bpy.context.scene
    scene.collection.objects.link(rig)
    assert [material.name for material in theirs] == list(names)
    assert [material.users for material in theirs] == [0, 0, 0]
    # At a person's height, not at the foot of the user's own empty rig.
    place = part("walk").place_of(bpy.context, state(), ("head",))
    assert place[2] > 1.0
    cards = [material for material in bpy.data.materials if material.get("dance_review_material") == "Card"]
    assert len(cards) == 1


def check_what_the_user_put_into_the_scene_stays_whatever_it_is_called() -> None:
    """A user's object, modifier, nodes, camera and marker with our names, in the scene of the review: judged, reviewed again."""
    cube = bpy.data.objects.new("Card", bpy.data.meshes.new("Ink"))
    nodes = bpy.data.node_groups.new("Severity", "GeometryNodeTree")
    own = cube.modifiers.new("Severity", "NODES")
    own.node_group = nodes
    camera = bpy.data.objects.new("theirs", bpy.data.cameras.new("f1"))
    for thing in (cube, camera):
        bpy.context.scene.collection.objects.link(thing)
    bpy.context.scene.timeline_markers.new("f1", frame=7)
    before = (tuple(cube.location), tuple(camera.location), cube.hide_render, camera.hide_viewport)
    choose("f1")
    bpy.ops.dance_review.keep()
    bpy.ops.dance_review.step(direction="NEXT")
    old = bpy.context.scene
    bpy.ops.dance_review.open_review(directory=state().folder)
    # As when the take is reviewed again: the new scene takes the place of the old one.
    part("opening").replace_scene(old, bpy.context.scene)
    assert cube.name in bpy.context.scene.objects
    assert camera.name in bpy.context.scene.objects
    assert (tuple(cube.location), tuple(camera.location), cube.hide_render, camera.hide_viewport) == before
    assert cube.modifiers["Severity"].node_group.name == nodes.name
    assert len(nodes.nodes) == 0
    assert ("f1", 7) in {(marker.name, marker.frame) for marker in bpy.context.scene.timeline_markers if marker.camera is None}


def check_slow_motion_leaves_frames_where_they_are() -> None:
    scene = bpy.context.scene
    empty = bpy.data.scenes.new("Without a review")
    empty.dance_review.speed = 50.0
    assert empty.render.fps_base == 1.0
    bpy.data.scenes.remove(empty)
    choose("f1")
    frame = scene.frame_current
    bpy.ops.dance_review.play(what="SLOWLY")
    assert abs(scene.render.fps / scene.render.fps_base - 15.0) < 1e-4
    assert scene.frame_preview_start < frame < scene.frame_preview_end
    bpy.ops.dance_review.stop()
    assert abs(scene.render.fps / scene.render.fps_base - 60.0) < 1e-4
    assert not scene.use_preview_range
    assert scene.frame_current == frame
    bpy.ops.dance_review.play(what="STEP")
    assert (scene.frame_preview_start, scene.frame_preview_end) == (scene.frame_start + 60, scene.frame_start + 270)


def check_the_curve_of_a_correction_is_its_own_measure_with_its_band_alone() -> None:
    measures, scene = part("measures"), bpy.context.scene
    choose("f0")
    assert bpy.ops.dance_review.show_measures() == {"FINISHED"}
    carrier = measures.find(scene, measures.ONE)
    assert bpy.context.view_layer.objects.active == carrier
    assert carrier.select_get()
    curves = {curve.data_path[2:-2]: curve for curve in measures.curves_of(carrier)}
    # Its number is made up and no measure tells it: what shows the fault, without a band.
    assert [title for title in curves if title not in (measures.LOW, measures.HIGH)] == ["Heel height, right (mm)"]
    heel = curves["Heel height, right (mm)"]
    movement = part("analysis_core.review").read_review(Path(state().folder)).movement
    for sample in (0, 150, 359):
        assert abs(heel.evaluate(scene.frame_start + sample) - 1000 * movement.heel_height_m("right")[sample]) < 1e-3
    scene.frame_set(scene.frame_start + 150)
    evaluated = carrier.evaluated_get(bpy.context.evaluated_depsgraph_get())["Heel height, right (mm)"]
    assert abs(evaluated - heel.evaluate(scene.frame_start + 150)) < 1e-3
    # Where curves are looked at they follow the choice.
    choose("f2")
    carrier = measures.find(scene, measures.ONE)
    curves = {curve.data_path[2:-2]: curve for curve in measures.curves_of(carrier)}
    assert list(curves) == ["Trunk leans forward or back (°)", measures.HIGH]
    assert [curves[measures.HIGH].evaluate(scene.frame_start + sample) for sample in (0, 150, 359)] == [8.0, 8.0, 8.0]
    leans = np.degrees(movement.angle("trunk_pitch") - movement.standing.angles_rad["trunk_pitch"])
    for sample in (0, 150, 359):
        assert abs(curves["Trunk leans forward or back (°)"].evaluate(scene.frame_start + sample) - leans[sample]) < 1e-3
    choose("f3")
    assert [measures.finding_of(item) for item in scene.objects if measures.MARK in item] == ["f3"]
    bpy.context.view_layer.objects.active = None
    choose("f0")
    assert [measures.finding_of(item) for item in scene.objects if measures.MARK in item] == ["f3"]


def check_all_measures_are_curves_while_no_correction_is_chosen() -> None:
    measures, scene = part("measures"), bpy.context.scene
    state().chosen = -1
    bpy.ops.dance_review.show_measures()
    titles = {curve.data_path[2:-2] for curve in measures.curves_of(measures.find(scene))}
    assert {"Heel height, right (mm)", "Knee flexion, left (°)"} <= titles
    assert not titles & {measures.LOW, measures.HIGH}


def a_click(path: Path, at_s: float) -> Path:
    """A sound of 3 s that is silent but for a click."""
    samples = np.zeros(24000, dtype=np.int16)
    samples[round(8000 * at_s) : round(8000 * at_s) + 40] = 20000
    with wave.open(str(path), "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(8000)
        sound.writeframes(samples.tobytes())
    return path


def heard_at(path: Path) -> float:
    """The second of the scene at which its loudest sound is heard, as Blender mixes it down.

    What is seen is left out meanwhile: Blender would pose the dancer for every frame of sound."""
    seen = [layer for layer in bpy.context.view_layer.layer_collection.children if not layer.exclude]
    for layer in seen:
        layer.exclude = True
    bpy.ops.sound.mixdown(filepath=str(path), container="WAV", codec="PCM", format="S16")
    for layer in seen:
        layer.exclude = False
    with wave.open(str(path), "rb") as sound:
        samples = np.frombuffer(sound.readframes(sound.getnframes()), dtype=np.int16)
        loud = abs(samples[:: sound.getnchannels()].astype(float))
        return float(np.argmax(loud)) / sound.getframerate() if loud.max() > 0 else math.nan


def check_music_plays_in_step_is_remembered_and_is_silent_in_slow_motion() -> None:
    beside, core = part("scene.beside"), part("analysis_core.views.beside")
    folder, scene = Path(state().folder), bpy.context.scene
    song, mix = a_click(folder.parent / "song.wav", 1.0), folder.parent / "mix.wav"
    assert bpy.ops.dance_review.attach(kind="music", filepath=str(song), at_s=0.25) == {"FINISHED"}
    assert abs(heard_at(mix) - 0.75) < 0.02
    assert scene.sync_mode == "AUDIO_SYNC"
    state().music.at_s = -0.5  # the file begins half a second into the take
    assert abs(heard_at(mix) - 1.5) < 0.02
    assert core.read_beside(folder).music == core.Clip(song.resolve(), -0.5)
    choose("f0")
    bpy.ops.dance_review.play(what="SLOWLY")
    assert [strip.mute for strip in beside.music_in(scene)] == [True]
    assert (math.isnan(heard_at(mix)), scene.sync_mode) == (True, "FRAME_DROP")
    bpy.ops.dance_review.stop()
    assert abs(heard_at(mix) - 1.5) < 0.02
    fails(bpy.ops.dance_review.attach, "holds no sound", kind="music", filepath=str(folder / "review.json"))
    fails(bpy.ops.dance_review.attach, "is not there", kind="music", filepath=str(folder / "none.wav"))
    assert len(beside.music_in(scene)) == 1
    # Opened again the take has its music; where the file went away, all else stands and the panel says so.
    bpy.ops.dance_review.open_review(directory=str(folder))
    assert (len(beside.music_in(bpy.context.scene)), state().music.at_s, state().music.said) == (1, -0.5, "")
    song.unlink()
    bpy.ops.dance_review.open_review(directory=str(folder))
    assert not beside.music_in(bpy.context.scene)
    assert "song.wav is not there" in state().music.said
    assert any("song.wav is not there" in " ".join(text.split()) for text in [" ".join(drawn())])
    bpy.ops.dance_review.detach(kind="music")
    assert core.read_beside(folder) == core.Beside()


def a_film(path: Path, frames: int, rate_hz: int) -> Path:
    """A film of so many small frames."""
    scene = bpy.data.scenes.new("Film")
    scene.camera = bpy.data.objects.new("Film", bpy.data.cameras.new("Film"))
    part("compat").choose_engine(scene)
    scene.render.resolution_x, scene.render.resolution_y, scene.render.fps, scene.frame_end = 32, 64, rate_hz, frames
    scene.render.filepath = str(path)
    part("compat").write_film(scene)
    bpy.ops.render.render(animation=True, scene=scene.name)
    bpy.data.scenes.remove(scene)
    return path


def check_a_film_of_a_phone_runs_in_step_beside_the_dancer() -> None:
    beside, folder, scene = part("scene.beside"), Path(state().folder), bpy.context.scene
    film = a_film(folder.parent / "phone.mp4", 60, 30)
    assert bpy.ops.dance_review.attach(kind="film", filepath=str(film), at_s=-1.0) == {"FINISHED"}

    def shown() -> int:
        seen = beside.film_in(scene).evaluated_get(bpy.context.evaluated_depsgraph_get())
        return int(seen.image_user.frame_current)

    # The take has 60 frames a second, the film 30 for two seconds, from second 1 of the take on.
    for time_s, frame in ((0.0, 1), (0.9, 1), (1.5, 16), (2.5, 46), (3.5, 60), (5.9, 60)):
        scene.frame_set(scene.frame_start + round(60 * time_s))
        assert abs(shown() - frame) <= 1, (time_s, shown())
    choose("f1")
    # Moved into the picture of the camera it still shows its moment: 2 s into the take, 1 s into the film.
    assert abs(shown() - 31) <= 1, shown()
    picture = beside.film_in(scene)
    assert picture.parent == part("moments").camera_of(scene, "f1")
    # By the frame that Blender itself says the camera has: in its lower left, below the caption.
    frame = [corner * (picture.location.z / corner.z) for corner in picture.parent.data.view_frame(scene=scene)]
    left, right = min(corner.x for corner in frame), max(corner.x for corner in frame)
    low, high = min(corner.y for corner in frame), max(corner.y for corner in frame)
    upper = picture.location.x + picture.empty_display_size / 2, picture.location.y + picture.empty_display_size
    for x, y in (picture.location[:2], upper):
        assert 0.0 < (x - left) / (right - left) < 0.36, (x, left, right)
        assert 0.0 < (y - low) / (high - low) < 0.5, (y, low, high)
    fails(bpy.ops.dance_review.attach, "is no film", kind="film", filepath=str(folder / "review.json"))
    bpy.ops.dance_review.detach(kind="film")
    assert beside.film_in(scene) is None


def grey_at(path: Path, x: float, y: float) -> float:
    """How bright a picture is at a point, 0 to 255; x and y from its lower left, 0 to 1."""
    image = bpy.data.images.load(str(path))
    width, height = image.size
    pixels = np.array(image.pixels[:]).reshape(height, width, 4)
    bpy.data.images.remove(image)
    return float(pixels[int(y * height), int(x * width), :3].mean()) * 255.0


def a_film_of_greys(folder: Path, greys: list[int], rate_hz: int) -> Path:
    """A film each of whose frames has one grey of its own."""
    scene, compat = bpy.data.scenes.new("Greys"), part("compat")
    editor = scene.sequence_editor_create()
    for number, grey in enumerate(greys):
        image = bpy.data.images.new("Grey", 32, 64)
        image.pixels.foreach_set(np.tile(np.float32([grey / 255] * 3 + [1.0]), 32 * 64))
        image.filepath_raw, image.file_format = str(folder / f"grey_{number:02d}.png"), "PNG"
        image.save()
        bpy.data.images.remove(image)
    strip = compat.strips_of(editor).new_image("Greys", str(folder / "grey_00.png"), 1, 1)
    for number in range(1, len(greys)):
        strip.elements.append(f"grey_{number:02d}.png")
    strip.frame_final_duration = scene.frame_end = len(greys)
    scene.render.resolution_x, scene.render.resolution_y, scene.render.fps = 32, 64, rate_hz
    scene.view_settings.view_transform = "Standard"
    scene.render.filepath = str(folder / "greys.mp4")
    compat.write_film(scene)
    bpy.ops.render.render(animation=True, scene=scene.name)
    bpy.data.scenes.remove(scene)
    return folder / "greys.mp4"


def check_the_film_shows_the_phone_at_the_dancers_moment() -> None:
    """Would catch a phone that runs on while the dancer is held or slow, or that starts with the film instead of the take; by
    the grey that is read back from the pictures, after the rates of three clocks: take 60, phone 10, film 2 a second."""
    folder, output = Path(tempfile.mkdtemp()), part("scene.film_output")
    greys = [20 + 7 * number for number in range(30)]
    phone = a_film_of_greys(folder, greys, 10)
    review = part("analysis_core.review").read_review(Path(state().folder))
    wish = part("analysis_core.film.wish").Wish(
        size=(128, 72), fps=2, seconds=4.0, draft=True, pictures=str(folder / "kept"), reference=str(phone), reference_offset=-1.0
    )
    told = output.render([review], folder / "film.mp4", wish)
    assert (told["reference"], told["without"]) == (True, [])
    plan = part("scene.turntable").plan_of([review], wish)[0]
    place = part("scene.film_layout").layout_of(128 / 72, 1, 4, 0.5).film
    assert any(stop.held for stop in plan.stops)
    middle = (place.left + place.right) / 2, (place.bottom + place.top) / 2
    assert len(np.unique(np.floor(plan.time_s * 10))) > 3, "it moves as well"
    for number, time_s in enumerate(plan.time_s.tolist(), start=1):
        frame = min(max(math.floor((time_s - 1.0) * 10 + 1e-6), 0), 29)
        grey = grey_at(folder / "kept" / f"picture_{number:04d}.png", *middle)
        assert abs(grey - greys[frame]) < 3.5, (number, time_s, frame, grey)
    # Nobody named it for this film: what cannot be shown is said. Named for it, it is refused.
    broken = folder / "broken.mp4"
    broken.write_text("no film")
    wish = replace(wish, seconds=0.2, mode="play", pictures="", reference=str(broken))
    with pytest.raises(part("analysis_core.errors").InTheRoundError, match="no film that Blender can show"):
        output.render([review], folder / "film.mp4", wish)
    told = output.render([review], folder / "film.mp4", replace(wish, remembered=("reference",)))
    assert told["reference"] is False
    assert "broken.mp4 is no film" in told["without"][0]


def check_names_on_the_timeline_do_not_run_into_each_other() -> None:
    timeline, read = part("scene.timeline"), part("analysis_core.review").read_review
    one = read(Path(state().folder)).findings[0]
    found = [
        replace(one, id=f"f{number}", fault=fault) for number, fault in enumerate(["heel-lifts-early", *["trunk-leans"] * 3])
    ]
    # A take of 20 s at 240 Hz; the window of a laptop shows 1500 pixels of it, 3.2 frames each.
    names = timeline.marker_names(found, [100, 1900, 1910, 4700], 4800)
    assert names == ["f0 Heel lifts early in the preparation", "f1", "f2 Trunk leans forward or back", "f3"]
    assert timeline.marker_names(found, [100, 400, 2000, 4000], 4800)[0] == "f0 Heel…"


def check_an_armature_becomes_a_take_with_scale_parent_and_unit_respected() -> None:
    """Two bones of 1 unit, the upper one bending by a quarter turn; worked out by hand."""
    armature_take = importlib.import_module(f"{MODULE}.armature_take")
    scene = bpy.context.scene
    scene.render.fps, scene.render.fps_base = 120, 1.0
    scene.unit_settings.scale_length = 0.5
    armature = bpy.data.objects.new("Dancer", bpy.data.armatures.new("Dancer"))
    scene.collection.objects.link(armature)
    bpy.context.view_layer.objects.active = armature
    bpy.ops.object.mode_set(mode="EDIT")
    lower, upper = (armature.data.edit_bones.new(name) for name in ("lower", "upper"))
    lower.head, lower.tail, upper.head, upper.tail = (0, 0, 0), (0, 0, 1), (0, 0, 1), (0, 0, 2)
    upper.parent = lower
    bpy.ops.object.mode_set(mode="OBJECT")
    stage = bpy.data.objects.new("Stage", None)
    scene.collection.objects.link(stage)
    stage.location = (3.0, 0.0, 0.0)
    armature.parent = stage
    armature.scale = (2.0, 2.0, 2.0)
    bone = armature.pose.bones["upper"]
    bone.rotation_mode = "XYZ"
    for frame, angle in ((1, 0.0), (11, math.pi / 2)):
        bone.rotation_euler = (angle, 0.0, 0.0)
        bone.keyframe_insert("rotation_euler", frame=frame)
    scene.frame_set(5)
    take = armature_take.take_of(armature, scene, bpy.context.evaluated_depsgraph_get())
    assert scene.frame_current == 5
    assert (take.labels, take.rate_hz, take.frames, take.kind) == (("lower", "upper", "upper_End"), 120.0, 11, "skeleton")
    assert list(take.skeleton.parents) == [-1, 0, 1]
    # Metres are half a unit, the object is twice as large: lengths stay 1, and 3 units to the side are 1.5 m.
    assert np.allclose(take.positions_m[0], [[1.5, 0, 0], [1.5, 0, 1], [1.5, 0, 2]], atol=1e-6)
    bent = take.positions_m[10, 2] - take.positions_m[10, 1]
    assert np.allclose(np.abs(bent), [0, 1, 0], atol=1e-6)
    rest = take.skeleton.rest_positions_m
    along = take.skeleton.rotations[:, 1] @ (rest[2] - rest[1])
    assert np.allclose(along, take.positions_m[:, 2] - take.positions_m[:, 1], atol=1e-6)
    assert np.allclose(np.linalg.det(take.skeleton.rotations), 1.0)
    fails(bpy.ops.dance_review.review_armature, "Save the Blender file first")


def figure() -> Any:
    return next(item for item in bpy.context.scene.objects if item.type == "MESH" and "dance_review_figure" in item)


def dimmed_parts() -> set[int]:
    """Body parts that fade, as the body's own points say."""
    mesh = figure().data
    values, part = np.empty(len(mesh.vertices), dtype=np.float32), np.empty(len(mesh.vertices), dtype=np.int32)
    mesh.attributes["dimmed"].data.foreach_get("value", values)
    mesh.attributes["part"].data.foreach_get("value", part)
    assert set(np.unique(values)) <= {0.0, 1.0}
    return set(part[values > 0].tolist())


def check_a_body_part_can_be_looked_at_alone() -> None:
    segments = part("analysis_core.body.movement").SEGMENTS
    choose("f1")
    state().isolate = True
    kept = set(range(len(segments))) - dimmed_parts()
    assert {segments[index] for index in kept} == {"thigh.R", "shank.R"}
    # The next correction brings its own part.
    choose("f2")
    assert "thigh.R" in {segments[index] for index in dimmed_parts()}
    assert "thorax" not in {segments[index] for index in dimmed_parts()}
    colour = figure().evaluated_get(bpy.context.evaluated_depsgraph_get()).data.attributes["severity_colour"]
    assert len(colour.data) == len(figure().data.vertices)
    state().isolate = False
    assert dimmed_parts() == set()


def check_the_dancer_changes_clothes_and_stays_the_same_dancer() -> None:
    """Would catch a change that loses weights, severity or the way back."""
    looks = part("analysis_core.figure.looks")
    body, before = figure(), figure().data
    points = len(before.vertices)
    assert body["dance_review_figure"] == looks.DEFAULT_LOOK
    other = next(name for name in looks.LOOKS if name != looks.DEFAULT_LOOK)
    assert bpy.ops.dance_review.change_figure(figure=other) == {"FINISHED"}
    assert figure() == body
    assert body["dance_review_figure"] == other
    assert len(body.data.vertices) != points
    assert len(body.vertex_groups) == len(part("analysis_core.body.movement").SEGMENTS)
    assert all(vertex.groups for vertex in body.data.vertices)
    evaluated = body.evaluated_get(bpy.context.evaluated_depsgraph_get()).data
    assert len(evaluated.attributes["severity_colour"].data) == len(body.data.vertices)
    assert bpy.ops.dance_review.change_figure(figure=looks.DEFAULT_LOOK) == {"FINISHED"}
    assert len(body.data.vertices) == points


def check_captions_can_be_put_away() -> None:
    captions = next(item for item in bpy.context.scene.collection.children_recursive if item.name.startswith("Captions"))
    assert not captions.hide_render
    state().show_caption = False
    assert captions.hide_render
    assert captions.hide_viewport
    state().show_caption = True
    assert not captions.hide_viewport


def check_aids_are_drawn_toggled_and_go_with_the_review() -> None:
    movement = part("analysis_core.review").read_review(Path(state().folder)).movement
    scene = bpy.context.scene
    before = len(scene.objects)
    for kind in ("plumb line", "support", "turnout", "turn axis"):
        assert bpy.ops.dance_review.show_aid(kind=kind) == {"FINISHED"}
    line = next(item for item in scene.objects if item.name.startswith("Plumb line"))
    scene.frame_set(scene.frame_start + 30)
    # Standing in first position: the line stands between the feet, on the floor.
    feet = movement.foot_points_m[30]
    middle = feet.reshape(-1, 3).mean(axis=0)
    assert np.allclose(np.array(line.matrix_world.translation)[:2], middle[:2], atol=0.03)
    assert abs(line.matrix_world.translation.z) < 1e-6
    foot = next(item for item in scene.objects if item.name.startswith("Foot left"))
    along = feet[0, 3] - feet[0, 0]
    pointed = foot.matrix_world.to_3x3().col[0]
    assert np.allclose(np.array(pointed)[:2], along[:2] / np.linalg.norm(along[:2]), atol=1e-3)
    area = next(item for item in scene.objects if item.name.startswith("Support area"))
    hull = area.evaluated_get(bpy.context.evaluated_depsgraph_get()).data
    corners = np.array([corner.co for corner in hull.vertices])
    for point in feet.reshape(-1, 3):
        assert (corners[:, :2].min(axis=0) - 0.03 <= point[:2]).all()
        assert (point[:2] <= corners[:, :2].max(axis=0) + 0.03).all()
    bpy.ops.dance_review.show_aid(kind="plumb line")
    drawn = next(item for item in scene.collection.children_recursive if item.get("dance_review_aids") == "plumb line")
    assert drawn.hide_render
    part("scene.build").remove_review(scene)
    assert len(scene.objects) < before
    assert not [item for item in bpy.data.objects if item.name.startswith(("Plumb", "Support area", "Sole", "Foot left"))]


def check_the_axis_of_a_turn_runs_from_the_support_through_the_centre_of_mass() -> None:
    aids, review = part("scene.aids"), part("analysis_core.review").read_review(Path(state().folder))
    phase = part("analysis_core.phrase.phase")
    # The made review has no turn: its plié is taken for one, so that the line is drawn.
    span = {"start": 60, "end": 330, "start_s": 1.0, "end_s": 5.5}
    turn = part("analysis_core.phrase.properties").phase_from("turn", id="turn-1", side="left", properties={}, **span)
    phrase = phase.Phrase(review.phrase.contacts, (turn,))
    scene = bpy.context.scene
    aids.turn_axis(scene, dataclasses.replace(review, phrase=phrase), scene.frame_start)
    line = next(item for item in scene.objects if item.name.startswith("Turn axis"))
    scene.frame_set(scene.frame_start + 200)
    away = review.movement.centre_of_mass_m[200] - np.array(line.matrix_world.translation)
    along = np.array(line.matrix_world.to_3x3().col[2])
    assert np.allclose(along / np.linalg.norm(along), away / np.linalg.norm(away), atol=1e-4)
    scene.frame_set(scene.frame_start + 350)
    assert line.matrix_world.to_scale().length < 1e-6


def check_markers_show_where_they_were_measured_and_where_not() -> None:
    bpy.ops.dance_review.show_aid(kind="markers")
    scene = bpy.context.scene
    markers = part("analysis_core.review").read_review(Path(state().folder)).markers

    def shown() -> dict[int, list[Any]]:
        """Places of the instances by how many corners their shape has: cubes 8, balls more."""
        found: dict[int, list[Any]] = {}
        for instance in bpy.context.evaluated_depsgraph_get().object_instances:
            if instance.is_instance and instance.parent.original.name.startswith("Markers"):
                found.setdefault(len(instance.object.data.vertices), []).append(instance.matrix_world.translation.copy())
        return found

    scene.frame_set(scene.frame_start + 99)
    (balls,) = shown().values()
    assert len(balls) == len(markers.labels)
    assert np.allclose(sorted(tuple(place) for place in balls), sorted(map(tuple, markers.positions_m[99].tolist())), atol=1e-5)
    scene.frame_set(scene.frame_start + 100)
    there = shown()
    assert len(there.pop(8)) == 2
    assert [len(balls) for balls in there.values()] == [len(markers.labels) - 3]


def check_a_path_is_drawn_and_cleared() -> None:
    scene = bpy.context.scene
    fails(bpy.ops.dance_review.clear_paths, "There is no path")
    assert bpy.ops.dance_review.draw_path(joint="heel.R") == {"FINISHED"}
    movement = part("analysis_core.review").read_review(Path(state().folder)).movement
    path = next(item for item in scene.objects if item.name.startswith("Path of heel.R"))
    first = np.array(path.data.splines[0].points[0].co)[:3]
    assert np.allclose(first, movement.joint_centres_m[0, part("analysis_core.body.movement").JOINTS.index("heel.R")], atol=1e-5)
    choose("f0")
    assert part("operators.aids")._joint_of(item("f0")) == "heel.R"
    assert bpy.ops.dance_review.clear_paths() == {"FINISHED"}
    assert not [item for item in scene.objects if item.name.startswith(("Path of", "Beads of"))]
    fails(bpy.ops.dance_review.clear_paths, "There is no path")


def check_landmarks_are_proposed_into_a_table_that_is_used_from_then_on() -> None:
    core = importlib.import_module(f"{MODULE}.analysis_core.body.landmarks")
    fails(bpy.ops.dance_review.propose_landmarks, "is not there")
    state().settings.static = str(Path(review_folder).with_name("nameless static.c3d"))
    assert bpy.ops.dance_review.propose_landmarks() == {"FINISHED"}
    table = Path(state().settings.landmarks)
    assert table.name == "nameless static landmarks.toml"
    assert sum(len(landmark.exact) for landmark in core.load_landmarks(table).values()) >= 50
    assert any(text.name.startswith("nameless static landmarks") for text in bpy.data.texts)


def check_two_takes_side_by_side_keep_apart() -> None:
    first = bpy.context.scene.name
    choose("f0")
    bpy.ops.dance_review.keep()
    bpy.ops.dance_review.open_review(directory=str(review_folder))
    assert bpy.context.scene.name != first
    assert item("f0").decision == "open"
    bpy.context.window.scene = bpy.data.scenes[first]
    assert item("f0").decision == "kept"
    bpy.data.scenes.remove(bpy.data.scenes[first])
    bpy.ops.ed.undo_push(message="one scene removed")


def check_operators_say_why_they_cannot() -> None:
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    fails(bpy.ops.dance_review.keep, "Open a take first")
    fails(bpy.ops.dance_review.stop_watching, "No folder is watched")
    fails(bpy.ops.dance_review.watch_folder, "No such file or directory", directory="/nowhere/at/all")
    assert part("watching").watched() is None


def check_the_watch_goes_on_whatever_happens_to_a_take_and_the_panel_says_what_it_saw() -> None:
    """Catches a timer that raises once and is never called again, while the panel still says "watched"."""
    watching, folder = part("watching"), Path(tempfile.mkdtemp())
    assert bpy.ops.dance_review.watch_folder(directory=str(folder)) == {"FINISHED"}
    watcher = watching._watchers[0]
    opened = []
    kept = watching._open
    try:
        watching._open = opened.append
        watcher.ready.put(folder / "first.c3d")
        watcher.ready.put(folder / "second.c3d")
        assert watching._take_in() == watching.LOOK_S
        assert opened == [folder / "second.c3d"]
        assert "Last: second.c3d." in drawn()
        watching._open = lambda path: bpy.ops.dance_review.open_take(filepath=str(path))
        # It vanished again before it was opened.
        watcher.ready.put(folder / "gone.c3d")
        assert watching._take_in() == watching.LOOK_S
        assert "could not be opened" in watching.seen()
        assert "gone.c3d" in watching.seen()
        # Something is under way: it waits.
        job = part("review_job").Job("Another job")
        part("review_job").running.append(job)
        watching._open = opened.append
        watcher.ready.put(folder / "third.c3d")
        watching._take_in()
        assert len(opened) == 1
        part("review_job").running.clear()
        watching._take_in()
        assert opened[-1] == folder / "third.c3d"
        watcher._trouble = "No such device"
        assert "cannot be reached (No such device)" in watching.seen()
        assert drawn()
    finally:
        watching._open = kept
        part("review_job").running.clear()
        assert bpy.ops.dance_review.stop_watching() == {"FINISHED"}
    assert not bpy.app.timers.is_registered(watching._take_in)


class Layout:
    """Stands in for a panel's layout: checks that operators and properties exist, and collects the texts."""

    def __init__(self, texts: list[str]) -> None:
        object.__setattr__(self, "texts", texts)

    def __setattr__(self, name: str, value: Any) -> None:
        object.__setattr__(self, name, value)

    def _child(self, *_: Any, **__: Any) -> Layout:
        return Layout(self.texts)

    row = column = box = split = column_flow = grid_flow = _child

    def label(self, *, text: str = "", icon: str = "NONE", icon_value: int = 0) -> None:
        assert icon in ICONS, icon
        # Blender numbers a picture of the user's own only where there is a window.
        assert icon_value == 0
        self.texts.append(text)

    def separator(self, **_: Any) -> None:
        pass

    def progress(self, *, factor: float, text: str = "", type: str = "BAR") -> None:
        assert 0.0 <= factor <= 1.0
        self.texts.append(text)

    def prop(self, data: Any, name: str, **_: Any) -> None:
        assert name in data.bl_rna.properties, name
        self.texts.append(data.bl_rna.properties[name].name)

    def operator(self, name: str, *, text: str | None = None, icon: str = "NONE", **_: Any) -> Any:
        assert icon in ICONS, icon
        group, _dot, verb = name.partition(".")
        kind = getattr(getattr(bpy.ops, group), verb).get_rna_type()
        self.texts.append(kind.name if text is None else text)
        return type("Properties", (), {})()

    def operator_menu_enum(self, name: str, property: str, *, text: str | None = None, icon: str = "NONE") -> Any:
        group, _dot, verb = name.partition(".")
        assert property in getattr(getattr(bpy.ops, group), verb).get_rna_type().properties, property
        return self.operator(name, text=text, icon=icon)

    def template_list(self, kind: str, name: str, data: Any, items: str, active_data: Any, active: str, **_: Any) -> None:
        drawer = getattr(bpy.types, kind)
        for index, item in enumerate(getattr(data, items)):
            drawer.draw_item(None, bpy.context, self, data, item, 0, active_data, active, index)
        drawer.draw_filter(None, bpy.context, self)


ICONS = set(bpy.types.UILayout.bl_rna.functions["label"].parameters["icon"].enum_items.keys())


@functools.cache
def panels() -> list[str]:
    """The names of all panels, which Blender finds among thousands of types."""
    return [name for name in sorted(dir(bpy.types)) if name.startswith("DANCE_REVIEW_PT_")]


def drawn() -> list[str]:
    """All texts of all panels that show, drawn into a stand-in layout."""
    texts: list[str] = []
    for name in panels():
        panel = getattr(bpy.types, name)
        if not hasattr(panel, "poll") or panel.poll(bpy.context):
            texts.append(panel.bl_label)
            panel.draw(type("Panel", (), {"layout": Layout(texts)})(), bpy.context)
    return texts


def check_copied_scenes_keep_to_themselves() -> None:
    """Multi-user data: a linked copy of the scene shares the dancer, and judges by itself."""
    first = bpy.context.scene
    bpy.ops.scene.new(type="LINK_COPY")
    second = bpy.context.scene
    assert second != first
    assert len(second.dance_review.findings) == 5
    choose("f1")
    second.dance_review.isolate = True
    assert dimmed_parts()
    second.dance_review.isolate = False
    bpy.ops.dance_review.keep()
    assert [item.decision for item in first.dance_review.findings].count("kept") == 0
    assert drawn()
    bpy.ops.scene.delete()
    assert drawn()
    bpy.ops.scene.new(type="FULL_COPY")
    assert drawn()
    bpy.ops.dance_review.show_aid(kind="plumb line")
    bpy.ops.scene.delete()
    # Another scene without a review: panels say so, operators do not run.
    bpy.context.window.scene = bpy.data.scenes.new("Empty")
    assert "Open Take" in drawn()
    assert not bpy.ops.dance_review.keep.poll()


def check_a_linked_review_can_be_looked_at_and_not_changed() -> None:
    """A scene from a library: panels draw, going to a correction works, and nothing crashes or is written."""
    choose("f1")
    name = bpy.context.scene.name
    file = Path(tempfile.mkdtemp()) / "library.blend"
    folder = Path(state().folder)
    bpy.ops.wm.save_as_mainfile(filepath=str(file))
    before = (folder / "review.json").read_bytes()
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    with bpy.data.libraries.load(str(file), link=True) as (_, here):
        here.scenes = [name]
    linked = bpy.data.scenes[name]
    assert linked.library is not None
    bpy.context.window.scene = linked
    assert "Knee inside the toes, right" in " | ".join(drawn())
    for operator in (bpy.ops.dance_review.keep, bpy.ops.dance_review.set_aside, bpy.ops.dance_review.show_aid):
        fails(operator, "linked")
    assert (folder / "review.json").read_bytes() == before


def check_rendering_and_animation_leave_the_review_alone() -> None:
    scene = bpy.context.scene
    choose("f1")
    scene.render.resolution_x, scene.render.resolution_y = 64, 36
    scene.cycles.samples = 1
    scene.render.engine = "CYCLES"
    scene.render.filepath = str(Path(tempfile.mkdtemp()) / "small.png")
    bpy.ops.render.render(write_still=True)
    assert Path(scene.render.filepath).stat().st_size > 100
    assert states_of() == ["open"] * 5


def states_of() -> list[str]:
    return [item.decision for item in state().findings]


def check_panels_draw_in_every_state() -> None:
    choose("f1")
    bpy.ops.dance_review.set_aside(note="Not today")
    texts = " | ".join(drawn())
    known = (
        "Usable, with limits",
        "stick it back.",
        "Knee inside the toes, right",
        "31 ± 6°",
        "Not today",
        "when the knee hurts",
    )
    for words in (*known, "Came first"):
        # A sentence is broken where the sidebar ends.
        assert words in texts.replace(" | ", " "), f"{words} is missing: {texts}"
    bpy.ops.dance_review.add_correction(words="Breathe", parts="thorax")
    assert "Remove Correction" in " | ".join(drawn())
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    assert "Open Take" in drawn()
    assert "Corrections" not in drawn()


def check_texts_follow_the_interface_guidelines() -> None:
    for name in dir(bpy.ops.dance_review):
        kind = getattr(bpy.ops.dance_review, name).get_rna_type()
        assert kind.description, f"{name} has no tooltip"
        assert not kind.description.endswith("."), f"{name}: tooltips have no full stop"
        assert kind.description[0].isupper(), name
        for key, value in kind.properties.items():
            if not value.is_hidden and key != "rna_type":
                assert value.description, f"{name}.{key} has no tooltip"
                assert not value.description.endswith("."), f"{name}.{key}"


def check_enabling_and_disabling_twice_leaves_nothing() -> None:
    import addon_utils

    def traces() -> list[str]:
        found = [name for name in dir(bpy.types) if "dance_review" in name.lower()]
        found += [name for name in ("dance_review",) if hasattr(bpy.types.Scene, name)]
        for name in dir(bpy.app.handlers):
            handlers = getattr(bpy.app.handlers, name)
            if isinstance(handlers, list):
                found += [name for handler in handlers if MODULE in getattr(handler, "__module__", "")]
        entries = getattr(bpy.types.TOPBAR_MT_file_import.draw, "_draw_funcs", [])
        return found + [entry.__name__ for entry in entries if MODULE in entry.__module__]

    assert traces()
    bpy.ops.preferences.addon_disable(module=MODULE)
    assert traces() == []
    bpy.ops.preferences.addon_enable(module=MODULE)
    # Again as Blender does it itself where an extension takes the place of another: the wheels stay unpacked.
    addon_utils.disable(MODULE, refresh_handled=True)
    assert traces() == []
    addon_utils.enable(MODULE, refresh_handled=True)
    fresh()
    assert len(state().findings) == 5


def walked(before: Path, now: Path | None = None) -> dict[str, Path]:
    """Walk by buttons alone (scripts/walk_in_blender.py), and look at what each step left: step -> what it made.

    Pictures are small, and a sheet of the page has one view instead of twelve: what they show is looked at elsewhere.
    """
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    script = runpy.run_path(str(Path(__file__).resolve().parents[2] / "scripts" / "walk_in_blender.py"), run_name="walk")
    pictures, preferences = part("scene.page_pictures"), bpy.context.preferences.addons[MODULE].preferences
    drawn_so = pictures.VIEWS, pictures.VIEW_SIZE, pictures.SIZE
    pictures.VIEWS, pictures.VIEW_SIZE, pictures.SIZE = 1, (103, 115), (135, 150)
    part("operators.film").SIZES["SMALL"] = (160, 90)
    try:
        steps = {step.name: step.made for step in script["walk"](Path(tempfile.mkdtemp()), MODULE, before, now)}
    finally:
        pictures.VIEWS, pictures.VIEW_SIZE, pictures.SIZE = drawn_so
        preferences.record_database = ""
    assert [name for name, made in steps.items() if not made.exists()] == []
    assert state().second.take_name
    assert state().verdict in ("good", "usable", "retake")
    assert [item.words for item in state().findings if item.decision == "kept"] == [script["WORDS"]]
    assert steps["film"].read_bytes()[4:8] == b"ftyp"
    page = steps["page"].read_text(encoding="utf-8")
    assert page.count("<article ") == 1
    assert script["WORDS"] in page
    assert Path(state().take_name).stem not in page
    assert "data:video/mp4" in page
    with closing(sqlite3.connect(steps["consent and record"])) as record:
        kept = record.execute("select count(*) from decision where decision = 'kept'").fetchone()[0]
    assert kept == 1
    assert {path.suffix for path in steps["hand-over"].iterdir()} >= {".bvh", ".glb", ".html"}
    return steps


def check_the_whole_walk_on_the_demo_by_buttons_alone() -> None:
    """From the demo take to hand-over. Would catch a button that cannot take in what an earlier one left, a decision that reaches
    neither page nor record, a demo that did not come with the zip, and a review written into the extension, which an update
    throws away. Every fourth sample of the turn of the demo is as good for that; a dancer of all 4800 frames only
    scripts/demo.py builds."""
    brought = Path(part("demo_take").__file__).with_name("demo_data")
    for name in ("careless.c3d", "static.c3d"):
        assert (brought / name).is_file()
        shutil.copy(turn_of_the_demo / name, brought / name)
    steps = walked(review_folder.with_name("careful review"))
    assert state().take_name == "careless.c3d"
    assert len(state().findings) >= 8
    assert "bar" in state().findings[0].count
    assert len(state().second.differences) > 0
    written = steps["capture, check, review"]
    assert written.is_relative_to(os.environ["XDG_DATA_HOME"]), written


def check_the_whole_walk_on_a_real_recording_by_buttons_alone() -> None:
    """The same from the moment on at which the capture room saves a dance into the folder that is watched."""
    real = Path(__file__).resolve().parents[3] / "shared" / "data" / "dance_c3d"
    if not (real / "ballroom_f.c3d").is_file():
        pytest.skip("ballroom_f.c3d is not there: the open recordings lie beside the repository")
    before = Path(shutil.copy(real / "ballroom_g.c3d", tempfile.mkdtemp()))
    walked(before, real / "ballroom_f.c3d")


def run_all(checks: dict[str, Any], prepare: Callable[[], None]) -> dict[str, str | None]:
    """Run every check among what a script holds, each after ``prepare``; failure as text, None when it passed, SKIPPED and why
    when it lacks something."""
    found: dict[str, str | None] = {}
    for name, check in [(name, check) for name, check in checks.items() if name.startswith("check_")]:
        try:
            prepare()
            check()
            found[name] = None
        except pytest.skip.Exception as lacking:
            found[name] = f"{SKIPPED}{lacking}"
        except BaseException:
            found[name] = traceback.format_exc()
    return found
