"""Runs the checks of three scripts one after the other, in one Blender: each start of it, and the first opening of a review,
would cost seconds. Started by conftest.outcomes, never collected by pytest.

Usage: python all_in_blender.py RESULT.json FOLDER. The folder holds what conftest.outcomes laid into it.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from pathlib import Path

import bpy
import checks_in_blender as checks
import views_in_blender as views
import waiting_in_blender as waiting


def main(result: Path, folder: Path) -> None:
    """Enable the extension, run every check, write what came out (script -> check -> failure or None), and end."""
    checks.review_folder = folder / "morning class review"
    checks.turn_of_the_demo = folder / "turn of the demo"
    views.second_folder = folder / "evening class review"
    waiting.hops = folder / "hops.bvh"
    tempfile.tempdir = str(result.parent)
    assert bpy.ops.preferences.addon_enable(module=checks.MODULE) == {"FINISHED"}
    # The last one changes modules of the extension where they lie.
    scripts = (checks, checks.fresh), (views, checks.fresh), (waiting, waiting.fresh)
    found = {script.__name__: checks.run_all(vars(script), prepare) for script, prepare in scripts}
    result.write_text(json.dumps(found), encoding="utf-8")
    sys.stdout.flush()
    os._exit(0)  # Blender 4.5's module would wait for ever for what is registered


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
