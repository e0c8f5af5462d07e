"""Check the types of everything that is shipped, strictly; what follows is passed on to mypy.

python3 scripts/check_types.py

The add-on's folder is the package, and the core and the command line are folders within it only once they are installed. mypy
knows packages by where they lie, so it is shown that layout made of links. What it says of a file names the link: an editor
that opens it opens the file itself.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
#: Where the package lies as it is installed, made of links.
LAYOUT = ROOT / "build" / "types"
PACKAGE = "in_the_round"
#: mypy without the collector of cycles, which finds next to nothing and takes a sixth of the time of a check without a cache.
_RUN = """
import gc
gc.disable()
gc.enable = lambda: None
from mypy.__main__ import console_entry
console_entry()
"""


def lay_out() -> None:
    """Make the links anew, after the table that the package is installed by."""
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    folders: dict[str, str] = settings["tool"]["setuptools"]["package-dir"]
    package = LAYOUT / PACKAGE
    if package.exists():
        shutil.rmtree(package)
    package.mkdir(parents=True)
    for item in (ROOT / folders.pop(PACKAGE)).iterdir():
        (package / item.name).symlink_to(item, target_is_directory=item.is_dir())
    for name, folder in folders.items():
        (package / name.removeprefix(f"{PACKAGE}.")).symlink_to(ROOT / folder, target_is_directory=True)


def main(arguments: list[str]) -> int:
    """Return the exit code of mypy."""
    lay_out()
    command = [sys.executable, "-c", _RUN, "-p", PACKAGE, *arguments]
    return subprocess.run(command, cwd=ROOT, env={**os.environ, "MYPYPATH": str(LAYOUT)}, check=False).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
