"""Installs the extension in an empty Blender, once for all checks. Started by conftest.installed, never collected by pytest.

Usage: python install_in_blender.py RESULT.json ZIP. Says which of what takes long to load came with the add-on.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

import bpy

#: Blender brings numpy itself.
LONG_TO_LOAD = ("scipy", "sqlalchemy", "matplotlib", "jinja2", "tomlkit", "c3d", "ezc3d")
#: What is checked is the way that things go; how the dancer looks is seen elsewhere. A body of a tenth of the points; and no
#: soft shadows, which take a processor ten times as long as all else of a picture.
CHEAPER = {
    "figure": ("skin_of(rest, look, coarseness=coarseness)", "skin_of(rest, look, coarseness=3.0)"),
    "stage": ("shading.show_shadows = shadows", "shading.show_shadows = False"),
}


def make_cheap(addon: Path) -> None:
    """Have the dancer made of fewer points and drawn without shadows, in workers of the add-on too."""
    for module, (costly, cheap) in CHEAPER.items():
        written = addon / "scene" / f"{module}.py"
        source = written.read_text(encoding="utf-8")
        assert costly in source, module
        written.write_text(source.replace(costly, cheap), encoding="utf-8")


if __name__ == "__main__":
    result, extension = sys.argv[1:3]
    bpy.ops.extensions.package_install_files(filepath=extension, repo="user_default", enable_on_install=True, overwrite=True)
    said = {"loaded": [name for name in LONG_TO_LOAD if name in sys.modules]}
    make_cheap(Path(bpy.utils.user_resource("EXTENSIONS")) / "user_default" / "in_the_round")
    Path(result).write_text(json.dumps(said), encoding="utf-8")
    sys.stdout.flush()
    os._exit(0)  # Blender 4.5's module would wait for ever for what is registered
