"""The child process that does the work in Blender's module; started by blender_process, never by hand.

Reads one job from standard input, a line of JSON, and what is sent behind it; answers on standard output, one JSON object a line.
"""

from __future__ import annotations

import gc
import json
import os
import pickle
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from ..analysis_core.errors import InTheRoundError
from ..analysis_core.wording import doing, machine

if TYPE_CHECKING:
    from ..analysis_core.review import Review

Say = Callable[..., None]


def _reviews(folders: Sequence[str]) -> list[Review]:
    """The reviews in some folders."""
    # Here: the animator's file comes whole, and does not wait for all that reads a review.
    from ..analysis_core.review import read_review

    return [read_review(Path(folder)) for folder in folders]


def hand_over(job: dict[str, Any], say: Say) -> dict[str, Any]:
    """Write Blender's file of a hand-over. Behind the job come the path and what the file is made of, then its previews."""
    from ..scene.hand_over import write

    # From the process that started this one, and from nobody else.
    parts = sys.stdin.buffer
    to, file = pickle.load(parts)
    write(file, lambda: pickle.load(parts), Path(to))
    return {}


def build_scene(job: dict[str, Any], say: Say) -> dict[str, Any]:
    """Build the Blender file of a review and save it to ``job["to"]``."""
    import bpy

    from ..scene import build_scene as build

    (review,) = _reviews([job["review"]])
    say(doing=doing.BUILDING_SCENE, share=0.2)
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    unused, window = bpy.context.scene, bpy.context.window
    assert unused is not None  # a file that was just begun has a scene, and a window even without a screen
    assert window is not None
    window.scene = build(review, job["figure"])
    bpy.data.scenes.remove(unused)
    say(doing=doing.SAVING, share=0.8)
    to = Path(job["to"])
    # The place holder goes first, or Blender would keep it as a backup beside the file.
    to.unlink()
    bpy.ops.wm.save_as_mainfile(filepath=str(to), compress=True, check_existing=False)
    return {"findings": len(review.findings), "frames": review.take.frames, "rate_hz": review.take.rate_hz}


def render_turntable(job: dict[str, Any], say: Say) -> dict[str, Any]:
    """Render the film of one or two reviews to ``job["to"]``."""
    from ..analysis_core.film.wish import wish_from_json
    from ..scene.film_output import render

    reviews = _reviews(job["reviews"])
    return render(
        reviews,
        Path(job["to"]),
        wish_from_json(job["wish"]),
        progress=lambda share: say(doing=doing.RENDERING, share=share),
    )


def render_stills(job: dict[str, Any], say: Say) -> dict[str, Any]:
    """Render a picture for each correction into the folder ``job["to"]``."""
    from ..scene.stills import render_stills as render

    reviews = _reviews(job["reviews"])
    return render(
        reviews, Path(job["to"]), size=tuple(job["size"]), progress=lambda share: say(doing=doing.RENDERING, share=share)
    )


def render_page_pictures(job: dict[str, Any], say: Say) -> dict[str, Any]:
    """Render the pictures of a student's page into the folder ``job["to"]``."""
    from ..analysis_core.page import story_of
    from ..scene.page_pictures import render_pictures

    story = story_of(*_reviews(job["reviews"]))
    return render_pictures(
        story, Path(job["to"]), look=job["figure"], progress=lambda share: say(doing=doing.RENDERING, share=share)
    )


JOBS: dict[str, Callable[[dict[str, Any], Say], dict[str, Any]]] = {
    "scene": build_scene,
    "turntable": render_turntable,
    "stills": render_stills,
    "page": render_page_pictures,
    "hand-over": hand_over,
}


def _own_channel() -> TextIO:
    """Keep standard output for our answers; what Blender prints goes to standard error instead."""
    channel = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)
    return channel


def main() -> int:
    """Do one job; return the exit code."""
    channel = _own_channel()

    def say(**words: Any) -> None:
        channel.write(json.dumps(words) + "\n")
        channel.flush()

    job = json.loads(sys.stdin.buffer.readline())
    # Nothing of what Blender brings is ever garbage: looking through it again and again takes a fifth of a second.
    gc.disable()
    try:
        import bpy  # noqa: F401
    except ModuleNotFoundError:
        say(error=machine.NO_BLENDER)
        return 2
    gc.freeze()
    gc.enable()
    try:
        say(result=JOBS[job["do"]](job, say))
    except InTheRoundError as error:
        say(error=str(error))
        return 2
    except (OSError, RuntimeError) as error:
        # What Blender's own operators say when they cannot write, and what Python says.
        said = " ".join(str(error).split()).rstrip(".")
        say(error=machine.blender_could_not(said))
        sys.excepthook(*sys.exc_info())
        return 2
    return 0


if __name__ == "__main__":
    code = 1
    try:
        code = main()
    except Exception:
        sys.excepthook(*sys.exc_info())
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        # Blender's module can hang for ever while Python takes itself apart.
        os._exit(code)
