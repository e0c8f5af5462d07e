"""Work under way in Blender, driven step by step: a headless Blender sends no events, so the events are made here.

Started by all_in_blender.py.
"""

from __future__ import annotations

import contextlib
import functools
import importlib
import json
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import bpy
import checks_in_blender as checks
import numpy as np
import pytest
from checks_in_blender import MODULE, drawn, part, state

hops = Path()


class Driven:
    """An operator's own methods on a plain object, with the events that a window would send."""

    def __init__(self, name: str, **values: Any) -> None:
        kind = getattr(bpy.types, name)
        for base in reversed(kind.__mro__):
            if base.__module__.startswith(MODULE):
                for key, value in vars(base).items():
                    if callable(value) and not key.startswith("__"):
                        setattr(self, key, value.__get__(self))
        for key, value in getattr(bpy.ops.dance_review, name.partition("_OT_")[2]).get_rna_type().properties.items():
            if key != "rna_type":
                setattr(self, key, getattr(value, "default", None))
        self._begin: Any = lambda _context: {"RUNNING_MODAL"}
        for key, value in values.items():
            setattr(self, key, value)
        self._job: Any = None
        self._timer = None
        self.said: list[tuple[str, str]] = []
        self.report = lambda kinds, words: self.said.append((*kinds, words))

    def begun(self) -> Driven:
        assert self.execute(bpy.context) == {"RUNNING_MODAL"}, self.said
        assert part("review_job").running == [self._job]
        return self

    def event(self, kind: str = "TIMER", value: str = "NOTHING") -> set[str]:
        return self.modal(bpy.context, type("Event", (), {"type": kind, "value": value})())

    def to_the_end(self) -> set[str]:
        until = time.monotonic() + 120
        while (outcome := self.event()) == {"PASS_THROUGH"}:
            assert time.monotonic() < until, f"{self._job.state}: {self._job.stage}"
            time.sleep(0.05)
        self.is_over()
        return outcome

    def is_over(self) -> None:
        """Whatever happened: nothing is under way, and the panels draw."""
        assert part("review_job").running == []
        assert self._job.finished
        assert drawn()


def fresh() -> None:
    checks.fresh()
    part("review_job").end_all()
    for name in ("open", "film", "page", "landmarks"):
        part(f"operators.{name}").can_wait = lambda _context: True


def take_beside() -> Path:
    """A recording in a folder of its own."""
    return Path(shutil.copy(hops, Path(tempfile.mkdtemp()) / "hops.bvh"))


def opening(take: Path) -> Driven:
    return Driven("DANCE_REVIEW_OT_open_take", filepath=str(take)).begun()


#: A process that leaves a review which is there already, and says what a process that reviews says: for checks of what Blender
#: does around it, a tenth of the time.
STAND_IN = """
import json, shutil, sys
job = json.load(sys.stdin)
print(json.dumps({"stage": "Reviewing", "share": 0.2}), flush=True)
shutil.copytree(sys.argv[1], job["folder"], dirs_exist_ok=True)
print(json.dumps({"stage": "Done", "share": 1.0}), flush=True)
"""


@functools.cache
def hops_reviewed() -> str:
    """The folder of a review of the hops, made once."""
    folder = Path(tempfile.mkdtemp()) / "hops review"
    settings = part("analysis_core.settings").settings_to_json(part("analysis_core.settings").Settings())
    part("review_worker").make({"take": str(hops), "folder": str(folder), "settings": settings, "table": ""}, lambda **_: None)
    return str(folder)


@contextlib.contextmanager
def reviewed_already() -> Iterator[None]:
    """Within, reviews of the hops that begin are made by the stand-in."""
    module = part("review_job")
    real, module._command = module._command, lambda _blender: [sys.executable, "-I", "-c", STAND_IN, hops_reviewed()]
    try:
        yield
    finally:
        module._command = real


def opening_what_was_reviewed(take: Path) -> Driven:
    with reviewed_already():
        return opening(take)


def check_a_review_goes_through_its_stages_and_is_shown() -> None:
    take = take_beside()
    job = opening(take)
    shares = []
    while job.event() == {"PASS_THROUGH"}:
        shares.append(job._job.share)
        assert "Esc stops it" in drawn()
        time.sleep(0.02)
    job.is_over()
    assert shares == sorted(shares)
    assert job.said[-1][0] == "INFO"
    assert state().take_name == "hops.bvh"
    assert {path.name for path in (take.parent / "hops review").iterdir()} == {"review.json", "movement.npz"}


def check_esc_ends_it_with_a_sentence_and_leaves_nothing() -> None:
    take, scene = take_beside(), bpy.context.scene
    job = opening(take)
    assert job.event("ESC", "RELEASE") == {"PASS_THROUGH"}
    assert job.event("MOUSEMOVE") == {"PASS_THROUGH"}
    assert job.event("ESC", "PRESS") == {"CANCELLED"}
    job.is_over()
    assert job._job.state == "cancelled"
    assert job.said == [("INFO", "The review of hops.bvh was stopped")]
    assert not (take.parent / "hops review").exists()
    assert bpy.context.scene == scene
    # A second one begins at once.
    assert opening_what_was_reviewed(take).to_the_end() == {"FINISHED"}


def check_a_take_that_vanished_or_is_none_fails_with_a_sentence() -> None:
    job = opening(Path(tempfile.mkdtemp()) / "gone.c3d")
    assert job.to_the_end() == {"CANCELLED"}
    assert job._job.state == "failed"
    assert job.said[-1][0] == "ERROR"
    assert "gone.c3d does not exist" in job.said[-1][1]


def check_a_worker_that_is_killed_fails_with_a_sentence() -> None:
    job = opening(take_beside())
    job._job._process.kill()
    assert job.to_the_end() == {"CANCELLED"}
    assert job.said[-1][0] == "ERROR"
    assert "ended without a result" in job.said[-1][1]


def check_a_defect_while_it_is_shown_or_told_still_ends_it() -> None:
    """Catches a job that stays "under way" for ever, so that every later one is refused."""
    job = opening_what_was_reviewed(take_beside())

    def broken(*_: Any) -> None:
        raise ZeroDivisionError("by nothing")

    job._show = broken
    with pytest.raises(ZeroDivisionError):
        job.to_the_end()
    job.is_over()
    job = opening_what_was_reviewed(take_beside())
    job.finish = broken
    with pytest.raises(ZeroDivisionError):
        job.to_the_end()
    job.is_over()
    job = Driven("DANCE_REVIEW_OT_open_take", filepath=str(take_beside()), _begin=broken)
    with pytest.raises(ZeroDivisionError):
        job.execute(bpy.context)
    job.is_over()


def check_blender_that_ends_the_operator_ends_the_job() -> None:
    job = opening(take_beside())
    job.cancel(bpy.context)
    job.is_over()
    assert job._job.state == "cancelled"


def check_the_scene_that_is_deleted_or_undone_meanwhile_harms_nothing() -> None:
    """Catches settings read from a scene when the review is done: dangling, and Blender goes down."""
    bpy.ops.ed.undo_push(message="before")
    state().settings.level = "advanced"
    bpy.ops.ed.undo_push(message="level")
    take = take_beside()
    state().take = str(take)
    with reviewed_already():
        job = Driven("DANCE_REVIEW_OT_review_again").begun()
    bpy.ops.ed.undo()
    bpy.ops.ed.redo()
    old = bpy.context.scene
    bpy.context.window.scene = next(scene for scene in bpy.data.scenes if scene != old)
    bpy.data.scenes.remove(old)
    assert job.to_the_end() == {"FINISHED"}
    assert state().take_name == "hops.bvh"
    assert state().settings.level == "advanced"


def check_the_scene_that_was_renamed_meanwhile_is_the_one_that_is_replaced() -> None:
    """Catches a scene found again by its name, which another has by now."""
    take = take_beside()
    state().take = str(take)
    old = bpy.context.scene
    with reviewed_already():
        job, name = Driven("DANCE_REVIEW_OT_review_again").begun(), old.name
    old.name = "Mine now"
    bystander = bpy.data.scenes.new(name)
    assert job.to_the_end() == {"FINISHED"}
    assert bpy.data.scenes.get(name) == bystander
    assert bpy.context.scene.name == "Mine now"
    assert state().take_name == "hops.bvh"


def check_a_proposal_whose_scene_is_gone_still_gives_its_table() -> None:
    take = Path(shutil.copy(Path(checks.review_folder).with_name("nameless static.c3d"), tempfile.mkdtemp()))
    state().settings.static = str(take)
    job = Driven("DANCE_REVIEW_OT_propose_landmarks").begun()
    old = bpy.context.scene
    bpy.context.window.scene = next(scene for scene in bpy.data.scenes if scene != old)
    bpy.data.scenes.remove(old)
    assert job.to_the_end() == {"FINISHED"}
    assert take.with_name("nameless static landmarks.toml").is_file()


def imported() -> Any:
    """An armature of the user's own in a saved file whose unit is 1.3 m: it falls with 12.7 m/s² instead of 9.8."""
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    bpy.context.scene.unit_settings.scale_length = 1.3
    bpy.ops.import_anim.bvh(filepath=str(hops), global_scale=0.01, update_scene_fps=True, update_scene_duration=True)
    bpy.ops.wm.save_as_mainfile(filepath=str(Path(tempfile.mkdtemp()) / "class.blend"))
    return bpy.context.active_object


def thigh_m(review: Any) -> float:
    joints = part("analysis_core.body.movement").JOINTS
    centres = review.movement.joint_centres_m
    return float(np.nanmedian(np.linalg.norm(centres[:, joints.index("hip.L")] - centres[:, joints.index("knee.L")], axis=1)))


def check_free_fall_never_rescales_an_armature_with_the_scenes_own_units() -> None:
    """The same motion as a file without a unit is rescaled by a tenth at least: the armature is not."""
    armature = imported()
    scene = bpy.context.scene
    take = importlib.import_module(f"{MODULE}.armature_take").take_of(armature, scene, bpy.context.evaluated_depsgraph_get())
    free = importlib.import_module(f"{MODULE}.analysis_core.analyse").analyse_take(take)
    assert "scale" in [item.what for item in free.take.inferred]
    scene.frame_set(7)
    job = Driven("DANCE_REVIEW_OT_review_armature").begun()
    assert job.to_the_end() == {"FINISHED"}, job.said
    assert scene.frame_current == 7
    review = part("analysis_core.review").read_review(Path(state().folder))
    assert "scale" not in [item.what for item in review.take.inferred]
    places = [take.labels.index(name) for name in ("LeftUpLeg", "LeftLeg")]
    bone = np.linalg.norm(take.positions_m[0, places[0]] - take.positions_m[0, places[1]])
    assert abs(thigh_m(review) / bone - 1) < 0.02
    assert thigh_m(free) / bone < 0.92
    # A fall that does not fit is told instead.
    assert any("on earth it is" in warning for warning in review.take.warnings)


def check_an_armature_is_stepped_through_with_progress_and_esc() -> None:
    armature = imported()
    scene = bpy.context.scene
    scene.frame_set(5)
    job = Driven("DANCE_REVIEW_OT_review_armature").begun()
    part("review_job")._TURN_S = 0.0
    try:
        shares = []
        for _ in range(5):
            assert job.event() == {"PASS_THROUGH"}
            shares.append(job._job.share)
            assert "Stepping through the frames" in drawn()
        assert shares == sorted(set(shares))
        assert 0.0 < shares[-1] < 0.2
        assert job.event("ESC", "PRESS") == {"CANCELLED"}
    finally:
        part("review_job")._TURN_S = 0.08
    job.is_over()
    assert scene.frame_current == 5
    assert job.said == [("INFO", f"The review of {armature.name} was stopped")]
    assert not list(Path(bpy.data.filepath).parent.glob("*review*"))


def check_an_armature_that_is_deleted_meanwhile_fails_with_a_sentence() -> None:
    for what in ("armature", "scene"):
        armature = imported()
        part("review_job")._TURN_S = 0.0
        job = Driven("DANCE_REVIEW_OT_review_armature").begun()
        job.event()
        if what == "armature":
            bpy.data.objects.remove(armature)
        else:
            old = bpy.context.scene
            bpy.context.window.scene = bpy.data.scenes.new("Other")
            bpy.data.scenes.remove(old)
        part("review_job")._TURN_S = 0.08
        assert job.to_the_end() == {"CANCELLED"}
        assert job.said[-1][0] == "ERROR"
        assert "is gone" in job.said[-1][1], job.said


def begun_with(job: Driven, operators: str, program: str) -> Driven:
    """An operator's work begun in a module that takes ``program`` for the running Blender."""
    binary = type("App", (), {"binary_path": program, "background": True})
    module = part(f"operators.{operators}")
    real = module.bpy
    module.bpy = type("Blender", (), {"app": binary, "path": bpy.path, "data": bpy.data, "context": bpy.context})
    try:
        return job.begun()
    finally:
        module.bpy = real


def film(path: Path, program: str) -> Driven:
    job = Driven("DANCE_REVIEW_OT_render_turntable", filepath=str(path), size="SMALL", fps=2, seconds=1.0, other="NONE")
    return begun_with(job, "film", program)


def page(path: Path, program: str) -> Driven:
    job = Driven("DANCE_REVIEW_OT_make_page", filepath=str(path), other="NONE", name_on_it=" Wren ", film="", open_it=True)
    return begun_with(job, "page", program)


def blender() -> str:
    """The module as a program that takes Blender's options: the last one is the script."""
    path = Path(tempfile.mkdtemp()) / "blender"
    path.write_text(f'#!/bin/sh\nfor last; do :; done\nexec "{sys.executable}" "$last"\n', encoding="utf-8")
    path.chmod(0o755)
    return str(path)


def check_a_film_is_whole_or_the_one_before_stays_and_nothing_is_left() -> None:
    """Esc, a killed worker and no such program: the earlier film stays byte by byte; then a film that comes whole."""
    part("operators.film").SIZES["SMALL"] = (160, 90)
    path = Path(tempfile.mkdtemp()) / "turntable.mp4"
    path.write_bytes(b"the earlier film")
    waste = set(Path(tempfile.gettempdir()).glob("dance_film_*"))
    program = blender()
    job = film(path, program)
    while job._job.stage != "Rendering":
        assert job.event() == {"PASS_THROUGH"}
        time.sleep(0.02)
    assert job.event("ESC", "PRESS") == {"CANCELLED"}
    job.is_over()
    assert path.read_bytes() == b"the earlier film"
    job = film(path, program)
    job._job._process.kill()
    assert job.to_the_end() == {"CANCELLED"}
    assert path.read_bytes() == b"the earlier film"
    job = Driven("DANCE_REVIEW_OT_render_turntable", filepath=str(path), other="NONE")
    with pytest.raises(part("analysis_core.errors").InTheRoundError, match="could not be started"):
        part("review_job").FilmJob("/no/such/blender", [], path, part("analysis_core.film.wish").Wish())
    job = film(path, program)
    assert job.to_the_end() == {"FINISHED"}, job.said
    assert path.read_bytes()[4:8] == b"ftyp"
    until = time.monotonic() + 30
    while set(Path(tempfile.gettempdir()).glob("dance_film_*")) != waste and time.monotonic() < until:
        time.sleep(0.05)
    assert set(Path(tempfile.gettempdir()).glob("dance_film_*")) == waste
    assert [item.name for item in path.parent.iterdir()] == ["turntable.mp4"]


def replace_in(module: str, text: str, other: str) -> None:
    """Change a module as it is installed here: for workers that begin from now on."""
    written = Path(part(module).__file__)
    source = written.read_text(encoding="utf-8")
    assert text in source
    # A file of its own: what is installed may be shared.
    written.unlink()
    written.write_text(source.replace(text, other), encoding="utf-8")


def check_a_page_is_whole_or_the_one_before_stays_and_nothing_is_left() -> None:
    """Progress, Esc, a sentence at the end; a page that is stopped leaves the earlier one and no pictures."""
    path = Path(tempfile.mkdtemp()) / "page.html"
    path.write_text("the earlier page", encoding="utf-8")
    # One card is enough, a small still and two small views of it in place of twelve, in the copy that is installed here.
    replace_in("analysis_core.page.write", "VIEWS, VIEW_SIZE = 12, (414, 460)", "VIEWS, VIEW_SIZE = 2, (103, 115)")
    replace_in("scene.page_pictures", "\nSIZE = (540, 600)", "\nSIZE = (135, 150)")
    for found in [item.finding for item in state().findings][1:]:
        checks.choose(found)
        assert bpy.ops.dance_review.set_aside() == {"FINISHED"}
    waste = set(Path(tempfile.gettempdir()).glob("dance_film_*"))
    program = blender()
    job = page(path, program)
    while job._job.stage != "Rendering the pictures":
        assert job.event() == {"PASS_THROUGH"}
        time.sleep(0.02)
    assert "Esc stops it" in drawn()
    assert job.event("ESC", "PRESS") == {"CANCELLED"}
    job.is_over()
    assert job.said == [("INFO", "The page page.html was stopped")]
    assert path.read_text(encoding="utf-8") == "the earlier page"
    job = page(path, program)
    shares = []
    while job.event() == {"PASS_THROUGH"}:
        shares.append(job._job.share)
        time.sleep(0.02)
    job.is_over()
    assert shares == sorted(shares)
    kind, words = job.said[-1]
    assert kind == "INFO", job.said
    assert "to work on" in words
    text = path.read_text(encoding="utf-8")
    assert "For Wren" in text
    # A still and a sheet for each card at least.
    assert text.count("data:image/webp") >= 2 * text.count("<article ") > 0
    until = time.monotonic() + 30
    while set(Path(tempfile.gettempdir()).glob("dance_film_*")) != waste and time.monotonic() < until:
        time.sleep(0.05)
    assert set(Path(tempfile.gettempdir()).glob("dance_film_*")) == waste
    assert [item.name for item in path.parent.iterdir()] == ["page.html"]


def handing_over(out: Path, program: str, **values: Any) -> Driven:
    module = part("operators.hand_over")
    module.can_wait = lambda _context: True
    wishes = {"formats": {"bvh", "blend"}, "feet": "held", "rest": "t-pose", "root": "pelvis"}
    wishes |= {"cut_unusable": False, "reduce_keys": False, "overwrite": False}
    job = Driven("DANCE_REVIEW_OT_hand_over", directory=str(out), **(wishes | values))
    job._wishes = getattr(bpy.types, "DANCE_REVIEW_OT_hand_over")._wishes.__get__(job)  # noqa: B009 - made by Blender
    binary = type("App", (), {"binary_path": program, "background": True})
    real = module.bpy
    module.bpy = type("Blender", (), {"app": binary, "path": bpy.path, "data": bpy.data, "context": bpy.context})
    try:
        return job.begun()
    finally:
        module.bpy = real


def check_a_hand_over_comes_whole_or_not_at_all_and_an_armature_dances() -> None:
    """Progress, Esc, a folder that is there already; then the same motion on Blender's own meta-rig by its button."""
    import addon_utils

    take = take_beside()
    assert opening_what_was_reviewed(take).to_the_end() == {"FINISHED"}
    out, program = take.parent / "for the animator", blender()
    job = handing_over(out, program)
    while "Writing" not in job._job.stage:
        assert job.event() == {"PASS_THROUGH"}, job.said
        assert "Esc stops it" in drawn()
        time.sleep(0.02)
    assert job.event("ESC", "PRESS") == {"CANCELLED"}
    job.is_over()
    assert not out.exists() or not list(out.iterdir())
    job = handing_over(out, program)
    assert job.to_the_end() == {"FINISHED"}, job.said
    names = {path.name for path in out.iterdir()}
    beside = {"note.html", "note.json", "bone_names.json", "blender_assets.cats.txt"}
    assert names == {"hops.bvh", "hops.blend", *beside}, names
    assert job.said[-1] == ("INFO", f"6 files are in {out}. note.html says what is measured, filled or unusable")
    assert handing_over(out, program, formats={"bvh"}).to_the_end() == {"CANCELLED"}
    assert not list(Path(tempfile.gettempdir()).glob("dance_hand_over_*/made"))
    addon_utils.enable("rigify", default_set=True)
    bpy.ops.object.armature_human_metarig_add()
    dancer = bpy.context.object
    assert bpy.ops.dance_review.bring_onto_armature() == {"FINISHED"}
    frames = json.loads((out / "note.json").read_text(encoding="utf-8"))["frames"]
    assert dancer.animation_data.action.frame_range[1] == frames - 1
    addon_utils.disable("rigify", default_set=True)
