"""The whole walk in Blender, by the add-on's own buttons: capture, check, review, decide, compare, film, page, lesson, record,
hand-over.

    .venv/bin/python scripts/walk_in_blender.py OUT                            (the demo take)
    .venv/bin/python scripts/walk_in_blender.py OUT BEFORE.c3d NOW.c3d         (a recording as the capture room saves it)

Needs Blender's module. The bench measures it; a test walks it in the installed extension.
"""

from __future__ import annotations

import argparse
import importlib
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import bpy

DEMO = Path(__file__).resolve().parent.parent / "demo_data"
WORDS = "Breathe before you go."
_DANCER = "amber-heron"
#: A take that was saved is seen within two looks of half a second; a busy machine takes longer.
_SEEN_S = 60.0


class Step(NamedTuple):
    """One step of the walk, when it was done. seconds: of the clock. made: the file or folder that it left or changed."""

    name: str
    seconds: float
    made: Path


def _state() -> Any:
    return bpy.context.scene.dance_review


def _open_before(before: Path, static: Path | None) -> tuple[str, Path]:
    """The earlier take, a review's folder or a recording, in a scene of its own: that scene's name, the review's folder."""
    press: Any = bpy.ops.dance_review
    if before.is_dir():
        press.open_review(directory=str(before))
    else:
        press.open_take(filepath=str(before), static=str(static or ""), at_once=True)
    return bpy.context.scene.name, Path(_state().folder)


def _captured(recording: Path, room: Path, addon: str) -> Path:
    """The capture room saves a take into the folder that is watched, and it opens and is reviewed by itself."""
    press: Any = bpy.ops.dance_review
    watching = importlib.import_module(f"{addon}.watching")
    room.mkdir()
    press.watch_folder(directory=str(room))
    (room / recording.name).write_bytes(recording.read_bytes())
    until = time.monotonic() + _SEEN_S
    while _state().take_name != recording.name:
        if time.monotonic() > until:
            raise RuntimeError(f"{recording.name} did not open by itself: {watching.seen()}")
        time.sleep(0.1)
        watching._take_in()  # Blender's timers have no turn without a window
    press.stop_watching()
    return Path(_state().folder)


def _decide() -> None:
    """The teacher's part: what is to be said first is kept, in words of her own; the rest of what is shown is set aside. Where
    nothing was found she writes a correction herself."""
    press: Any = bpy.ops.dance_review
    found = [item.finding for item in _state().findings]
    if not found:
        press.add_correction(words=WORDS)
        return
    press.go_to(finding=found[0])
    press.keep()
    press.reword(words=WORDS)
    for finding in found[1:]:
        press.go_to(finding=finding)
        press.set_aside(note="Another day")


def walk(out: Path, addon: str, before: Path, now: Path | None = None, static: Path | None = None) -> Iterator[Step]:
    """Walk it; yields each step when it is done.

    out: an empty folder. addon: the name under which the add-on is enabled. before: an earlier take, as a recording or as the
    folder of its review; static: of a recording. now: the recording that is captured, None for the demo take. Raises
    RuntimeError with what a button said.
    """
    press: Any = bpy.ops.dance_review
    record, film, page, plan, handed = (out / name for name in ("record.db", "film.mp4", "page.html", "plan.html", "handed"))
    bpy.context.preferences.addons[addon].preferences.record_database = str(record)
    started = time.perf_counter()

    def done(name: str, made: Path) -> Step:
        nonlocal started
        before, started = started, time.perf_counter()
        return Step(name, started - before, made)

    earlier, earlier_folder = _open_before(before, static)
    yield done("open the one before", earlier_folder)
    if now is None:
        press.try_demo(at_once=True)
        folder = Path(_state().folder)
    else:
        folder = _captured(now, out / "room", addon)
    yield done("capture, check, review", folder)
    _decide()
    yield done("decide", folder / "review.json")
    press.add_second_take(directory=str(earlier_folder))
    yield done("compare", folder)
    press.render_turntable(filepath=str(film), other=earlier, size="SMALL", fps=2, seconds=1.0, draft=True)
    yield done("film", film)
    press.make_page(filepath=str(page), film=str(film), open_it=False)
    yield done("page", page)
    press.plan_lesson(filepath=str(plan), open_it=False)
    yield done("lesson", plan)
    press.enter_consent(dancer=_DANCER, until="2099-07-31", by="guardian", assent=True)
    press.add_to_record(dancer=_DANCER, phrase="walk", day="2026-09-14")
    yield done("consent and record", record)
    press.hand_over(directory=str(handed), formats={"bvh", "glb"})
    yield done("hand-over", handed)


def main() -> int:
    """Walk with the add-on as it lies in this folder, not installed."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("takes", nargs="*", type=Path, help="two recordings, one before and now; none for the demo takes")
    options = parser.parse_args()
    if len(options.takes) not in (0, 2):
        parser.error("Name two recordings, one before and now, or none for the demo takes.")
    before, now = options.takes or (DEMO / "careful.c3d", None)
    out = options.out.resolve()
    out.mkdir(parents=True, exist_ok=True)
    # Where the demo take is laid out: not where a user's own decisions on it are.
    os.environ["XDG_DATA_HOME"] = str(out / "data")
    import in_the_round

    in_the_round.register()
    bpy.context.preferences.addons.new().module = in_the_round.__name__
    # Its review is written beside a take.
    take = out / before.name
    take.write_bytes(before.read_bytes())
    try:
        for step in walk(out, in_the_round.__name__, take, now, None if now else DEMO / "static.c3d"):
            print(f"{step.name:24} {step.seconds:6.1f} s   {step.made}", flush=True)
    except RuntimeError as error:
        print(error, file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    code = main()
    sys.stdout.flush()
    os._exit(code)  # Blender's module can hang at its exit
