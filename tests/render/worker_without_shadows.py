"""The worker that the commands start for Blender, without soft shadows: they take a processor ten times as long as all else of a
picture, and what is drawn stands there without them.

Started by a command in place of its own worker, never collected by pytest.
"""

from __future__ import annotations

import os
import sys
from typing import Any

from in_the_round.command_line import blender_worker

render_stills = blender_worker.JOBS["stills"]


def without_shadows(job: dict[str, Any], say: blender_worker.Say) -> dict[str, Any]:
    # Here, and not above: what Blender says when it begins belongs to standard error, and only the worker sends it there.
    from in_the_round.scene import stage

    draw_plainly = stage.draw_plainly

    def draw(scene: Any) -> None:
        draw_plainly(scene)
        scene.display.shading.show_shadows = False

    stage.draw_plainly = draw
    return render_stills(job, say)


if __name__ == "__main__":
    blender_worker.JOBS["stills"] = without_shadows
    code = blender_worker.main()
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(code)  # Blender's module can hang at the end
