"""A scripted tour of the add-on in a windowed Blender, with pictures to look at. Run by hand:

    LOOK_ZIP=in_the_round-….zip LOOK_TAKE=take.c3d OUT=folder blender --factory-startup --python scripts/look_at_addon.py

It installs the zip, opens the take (or, with LOOK_REVIEW, a review folder), walks the list, judges, undoes, saves and
opens the file again, with a picture after each step and a line on what it found. With LOOK_TOUR="two windows" it opens
one review folder in two windows, decides and undoes in both while another program writes too, stops a review with Esc,
and watches a folder that goes away; it fails where a decision is lost or a job does not end. Pictures are taken with
ImageMagick's "import" where there is a virtual screen, because Blender's own screenshots come out black there.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import traceback
from collections.abc import Iterator
from pathlib import Path

import bpy

OUT = Path(os.environ.get("OUT", "."))
MODULE = "bl_ext.user_default.in_the_round"
#: Longest wait for a review, seconds.
PATIENCE_S = 60.0


def picture(name: str) -> None:
    """Take a picture of the whole screen."""
    path = str(OUT / f"{name}.png")
    if shutil.which("import") and os.environ.get("DISPLAY"):
        subprocess.run(["import", "-window", "root", path], check=False)
    else:
        with bpy.context.temp_override(window=bpy.context.window_manager.windows[0]):
            bpy.ops.screen.screenshot(filepath=path)


def window(number: int = 0) -> bpy.types.Window:
    """A window; found again each time, because a file load replaces it."""
    return bpy.context.window_manager.windows[number]


def view(number: int = 0) -> dict[str, object]:
    """The 3D view of a window as a context."""
    area = max((area for area in window(number).screen.areas if area.type == "VIEW_3D"), key=lambda area: area.width)
    region = next(region for region in area.regions if region.type == "WINDOW")
    return {"window": window(number), "area": area, "region": region}


def show_sidebar(number: int = 0) -> None:
    """Open the sidebar at the add-on's tab."""
    area = view(number)["area"]
    area.spaces.active.show_region_ui = True
    sidebar = next(region for region in area.regions if region.type == "UI")
    try:
        sidebar.active_panel_category = "Dance Review"
    except (AttributeError, TypeError) as error:
        print("tab not chosen:", error)


def run(operator: str, *arguments: str, number: int = 0, **values: object) -> None:
    """Call an operator in the 3D view of a window."""
    with bpy.context.temp_override(**view(number)):
        group, name = operator.split(".")
        # True: an undo step, as if the teacher had clicked.
        print(operator, values, getattr(getattr(bpy.ops, group), name)(*(arguments or ("EXEC_DEFAULT", True)), **values))


def state() -> bpy.types.PropertyGroup:
    """The review state of the scene that is shown."""
    return window().scene.dance_review


def install() -> Iterator[float]:
    """Install the zip, and show the tab."""
    if MODULE not in bpy.context.preferences.addons:
        bpy.ops.extensions.package_install_files(
            filepath=os.environ["LOOK_ZIP"], repo="user_default", enable_on_install=True, overwrite=True
        )
    for value in ("PRESS", "RELEASE"):  # the splash screen
        window().event_simulate(type="ESC", value=value, x=5, y=5)
    show_sidebar()
    yield 1.5
    show_sidebar()
    yield 1.0


def tour() -> Iterator[float]:
    """The steps; each yields how long to wait for the window to follow."""
    yield from install()
    picture("01_empty")
    yield from opening()
    yield from judging()
    yield from lines()
    yield from opening_again()


def opening() -> Iterator[float]:
    """A take, or its review, and its corrections one after the other."""
    if "LOOK_REVIEW" in os.environ:
        run("dance_review.open_review", directory=os.environ["LOOK_REVIEW"])
    else:
        run("dance_review.open_take", "INVOKE_DEFAULT", filepath=os.environ["LOOK_TAKE"])
        yield 0.5
        picture("02_reviewing")
        waited = 0.0
        while not state().take_name and waited < PATIENCE_S:
            waited += 0.5
            yield 0.5
    print("opened", state().take_name, state().verdict, len(state().findings), "corrections")
    yield 1.5
    picture("03_opened")
    run("dance_review.enter_workspace", "EXEC_DEFAULT")
    yield 2.5
    picture("03_workspace")
    for number in range(min(3, len(state().findings))):
        run("dance_review.step", direction="NEXT")
        yield 1.0
        picture(f"04_correction_{number + 1}")
    run("dance_review.look_around")
    yield 0.7
    picture("05_look_around")


def judging() -> Iterator[float]:
    """Kept, set aside, taken back, reworded, added."""
    run("dance_review.keep")
    yield 0.5
    run("dance_review.step", direction="NEXT")
    run("dance_review.set_aside", note="The shoe slipped on the new floor")
    yield 0.7
    picture("06_judged")
    kept = [item.decision for item in state().findings]
    run("ed.undo", "EXEC_DEFAULT")
    yield 1.0
    print("undo:", kept, "->", [item.decision for item in state().findings])
    picture("07_undone")
    run("ed.redo", "EXEC_DEFAULT")
    yield 0.5
    run("dance_review.reword", words="Let the heel stay heavy a moment longer")
    run("dance_review.add_correction", words="Breathe out as you go down", parts="thorax")
    yield 0.7
    picture("08_own_correction")


def lines() -> Iterator[float]:
    """What can be drawn beside the dancer, and playing."""
    state().isolate = True
    yield 0.7
    picture("09_isolated")
    state().isolate = False
    for kind in ("plumb line", "support", "turnout", "turn axis", "markers"):
        run("dance_review.show_aid", kind=kind)
    run("dance_review.draw_path", "EXEC_DEFAULT", joint="wrist.L")
    yield 0.7
    picture("09_lines_and_path")
    run("dance_review.clear_paths")
    run("dance_review.play", what="SLOWLY")
    yield 2.0
    picture("10_slow_motion")
    run("dance_review.stop")
    yield 0.5


def opening_again() -> Iterator[float]:
    """The saved file holds what was judged; and the curves."""
    file = str(OUT / "tour.blend")
    before = [(item.finding, item.decision, item.words, item.note) for item in state().findings]
    bpy.ops.wm.save_as_mainfile(filepath=file)
    bpy.ops.wm.open_mainfile(filepath=file)
    yield 1.5
    show_sidebar()
    yield 1.5
    after = [(item.finding, item.decision, item.words, item.note) for item in state().findings]
    print("saved and opened again:", "the same" if before == after else (before, after))
    picture("11_opened_again")
    run("dance_review.go_to", "EXEC_DEFAULT", finding=state().findings[1].finding)
    run("dance_review.show_measures", "EXEC_DEFAULT")
    yield 1.0
    graph = next((area for area in window().screen.areas if area.type == "GRAPH_EDITOR"), None)
    if graph is not None:
        region = next(region for region in graph.regions if region.type == "WINDOW")
        with bpy.context.temp_override(window=window(), area=graph, region=region):
            bpy.ops.graph.view_all()
    yield 1.0
    picture("12_curves")


def in_file(folder: Path) -> dict[str, str]:
    """What the review file says about each correction that was judged."""
    told = json.loads((folder / "review.json").read_text(encoding="utf-8"))["findings"]
    return {item["id"]: item["decision"] for item in told if item["decision"] != "open"}


def expect(folder: Path, step: str, **decisions: str) -> None:
    """Say what the file holds after a step; fail when it is anything else."""
    held = in_file(folder)
    print(f"{step}: the file holds {held}", flush=True)
    if held != decisions:
        raise AssertionError(f"{step}: {held} instead of {decisions}")


def decide(verb: str, finding: str, number: int) -> None:
    """Choose a correction in a window and judge it there."""
    run("dance_review.go_to", "EXEC_DEFAULT", number=number, finding=finding)
    run(f"dance_review.{verb}", number=number)


def as_another_program(folder: Path, finding: str) -> None:
    """Keep a correction as another program would, without the scene."""
    core = sys.modules[f"{MODULE}.analysis_core.review"]
    decisions = sys.modules[f"{MODULE}.analysis_core.review.decisions"]
    review, before = core.read_review(folder), core.read_decisions(folder)
    chosen = next(item for item in review.analysed if item.id == finding)
    judgement = decisions.Judgement(decisions.mark_of(chosen, review.phrase.phases), "kept")
    core.save_decisions(folder, before, decisions.judged(before, judgement))


def running() -> list[object]:
    """The jobs under way."""
    return sys.modules[f"{MODULE}.review_job"].running


def two_windows() -> Iterator[float]:
    """One review folder in two windows, and what can be interrupted, interrupted."""
    yield from install()
    folder, take = Path(os.environ["LOOK_REVIEW"]), Path(os.environ["LOOK_TAKE"])
    run("dance_review.open_review", directory=str(folder))
    yield 1.0
    with bpy.context.temp_override(**view()):
        bpy.ops.wm.window_new_main()
    yield 1.5
    run("dance_review.open_review", number=1, directory=str(folder))
    yield 1.5
    show_sidebar(1)
    first, second, third, fourth = [item.finding for item in window(1).scene.dance_review.findings][:4]
    print("scenes:", window(0).scene.name, "|", window(1).scene.name)
    decide("keep", first, 0)
    yield 0.5
    decide("set_aside", second, 1)
    yield 0.5
    expect(folder, "kept in one, set aside in the other", **{first: "kept", second: "set aside"})
    picture("21_two_windows")
    run("ed.undo", "EXEC_DEFAULT", number=1)
    yield 1.0
    expect(folder, "undone in the other", **{first: "kept"})
    as_another_program(folder, third)
    decide("keep", fourth, 0)
    yield 0.5
    expect(folder, "another program wrote meanwhile", **{first: "kept", third: "kept", fourth: "kept"})
    run("ed.undo", "EXEC_DEFAULT", number=0)
    yield 1.0
    expect(folder, "undone after another program wrote", **{first: "kept", third: "kept"})
    picture("22_undone")
    yield from interrupted(take)
    yield from watched_folder(take)
    expect(folder, "at the end", **{first: "kept", third: "kept"})
    print("two windows: nothing was lost", flush=True)


def interrupted(take: Path) -> Iterator[float]:
    """A review under way is ended with Esc; nothing is left beside the take."""
    run("dance_review.open_take", "INVOKE_DEFAULT", filepath=str(take))
    yield 0.8
    print("under way:", [job.name for job in running()])
    picture("23_under_way")
    for value in ("PRESS", "RELEASE"):
        window(0).event_simulate(type="ESC", value=value, x=800, y=400)
    yield 1.5
    print("after Esc, under way:", running(), "beside the take:", sorted(path.name for path in take.parent.iterdir()))
    if running():
        raise AssertionError("Esc did not end the job")
    picture("24_after_esc")


def watched_folder(take: Path) -> Iterator[float]:
    """A take that comes into a watched folder is reviewed; then the folder goes."""
    watched = OUT / "watched"
    watched.mkdir(exist_ok=True)
    window(0).scene.dance_review.watch_folder = str(watched)
    run("dance_review.watch_folder", "EXEC_DEFAULT")
    yield 1.0
    shutil.copy(take, watched / take.name)
    waited = 0.0
    while not (watched / f"{take.stem} review" / "review.json").is_file() and waited < PATIENCE_S:
        waited += 0.5
        yield 0.5
    yield 2.0
    print("watched:", sorted(path.name for path in watched.iterdir()), "seen:", sys.modules[f"{MODULE}.watching"].seen())
    picture("25_watched")
    shutil.rmtree(watched)
    yield 4.0
    print("folder gone, seen:", sys.modules[f"{MODULE}.watching"].seen())
    picture("26_folder_gone")


def follow(steps: Iterator[float]) -> float | None:
    """Go one step further; quit at the end, with the trace when something failed."""
    try:
        return next(steps)
    except StopIteration:
        pass
    except Exception:  # anything: the window has to close
        traceback.print_exc()
        picture("99_failed")
    bpy.ops.wm.quit_blender()
    return None


TOURS = {"one window": tour, "two windows": two_windows}
_STEPS = TOURS[os.environ.get("LOOK_TOUR", "one window")]()
bpy.app.timers.register(lambda: follow(_STEPS), first_interval=3.0, persistent=True)
