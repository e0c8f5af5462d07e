"""Makes .venv and installs the project into it; shared by the scripts, standard library only.

Written so that Python 3.7 can still parse it: an old Python gets a sentence, not a syntax error.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import platform
import shutil
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
STAMP = VENV / "installed.json"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
#: The Pythons the project runs on; the Blender module exists for the first and the last (see pyproject.toml).
PYTHONS = ((3, 11), (3, 12), (3, 13))
PYTHONS_WITH_BLENDER = ((3, 11), (3, 13))

sys.path.insert(0, str(ROOT))


class SetupError(Exception):
    """The environment cannot be made; the text says what to do."""


def step(text: str) -> None:
    """Say what is being done, at once."""
    print(f"==> {text}", flush=True)


def _names(pythons: tuple[tuple[int, int], ...]) -> str:
    return " or ".join(f"{major}.{minor}" for major, minor in pythons)


def _other_python() -> str:
    """A hint at a fitting Python on the search path, or how to name one."""
    for major, minor in PYTHONS_WITH_BLENDER:
        name = f"python{major}.{minor}"
        if shutil.which(name):
            return f"There is one here: {name} {' '.join(sys.argv)}"
    return f"Install Python {_names(PYTHONS_WITH_BLENDER)} and start this script with it."


def check_python() -> None:
    """Raise SetupError when this Python is too old or too new."""
    if sys.version_info[:2] not in PYTHONS:
        age = "too old" if sys.version_info[:2] < PYTHONS[0] else "too new"
        wanted = _names(PYTHONS_WITH_BLENDER)
        raise SetupError(f"Python {platform.python_version()} is {age}; the project needs {wanted}. {_other_python()}")


def blender_exists() -> bool:
    """Whether there is a Blender module for this Python."""
    return sys.version_info[:2] in PYTHONS_WITH_BLENDER


def check_blender() -> None:
    """Raise SetupError when no Blender module exists for this Python, or the system lacks libraries it needs."""
    if not blender_exists():
        raise SetupError(f"There is no Blender module for Python {platform.python_version()}. {_other_python()}")
    from analysis_core.wording.machine import needs_libraries
    from command_line.system_libraries import missing_to_import

    packages = missing_to_import()
    if packages:
        raise SetupError(needs_libraries(packages))


def _made_by_this_python() -> bool:
    """Whether .venv belongs to this version of Python and still runs."""
    try:
        lines = (VENV / "pyvenv.cfg").read_text(encoding="utf-8").splitlines()
    except OSError:
        return False
    settings = dict(line.split(" = ", 1) for line in lines if " = " in line)
    if settings.get("version", "").split(".")[:2] != [str(part) for part in sys.version_info[:2]]:
        return False
    try:
        return subprocess.run([str(PYTHON), "-m", "pip", "--version"], capture_output=True, check=False).returncode == 0
    except OSError:
        return False


def _make_venv() -> None:
    if _made_by_this_python():
        return
    # Debian splits these from its Python.
    if importlib.util.find_spec("venv") is None or importlib.util.find_spec("ensurepip") is None:
        package = f"python{sys.version_info[0]}.{sys.version_info[1]}-venv"
        raise SetupError(f"This Python cannot make virtual environments. On Debian: apt-get install {package}")
    if VENV.exists():
        if not (VENV / "pyvenv.cfg").is_file():
            raise SetupError(f"{VENV} is there but is no virtual environment. Move it away and start again.")
        step("Removing .venv, which another Python made")
        shutil.rmtree(VENV)
    step(f"Making .venv with Python {platform.python_version()}")
    outcome = subprocess.run([sys.executable, "-m", "venv", str(VENV)], capture_output=True, text=True, check=False)
    if outcome.returncode != 0:
        raise SetupError(f".venv could not be made:\n{(outcome.stdout + outcome.stderr).strip()}")


def _pins() -> str:
    """A fingerprint of everything that decides what is to be installed."""
    facts = (ROOT / "pyproject.toml").read_bytes() + platform.python_version().encode() + str(ROOT).encode()
    return hashlib.sha256(facts).hexdigest()


def _installed(pins: str) -> set[str]:
    """Which extras are installed with exactly these pins."""
    try:
        stamp = json.loads(STAMP.read_text(encoding="utf-8"))
        return set(stamp["extras"]) if stamp["pins"] == pins else set()
    except (OSError, ValueError, KeyError, TypeError):
        return set()


def _install(extras: set[str]) -> None:
    pins = _pins()
    have = _installed(pins)
    if extras <= have:
        step("Everything is installed already")
        return
    extras |= have
    size = " (Blender's module is some 350 MB the first time)" if "blender" in extras else ""
    step(f"Installing the project with {', '.join(sorted(extras))}{size}")
    STAMP.unlink(missing_ok=True)
    command = [str(PYTHON), "-m", "pip", "--disable-pip-version-check", "install", "-e", f"{ROOT}[{','.join(sorted(extras))}]"]
    # On a terminal pip shows how far it is; in a log its words would only be in the way, unless it fails.
    watched = sys.stdout.isatty()
    outcome = subprocess.run(
        command,
        check=False,
        text=True,
        stdout=None if watched else subprocess.PIPE,
        stderr=None if watched else subprocess.STDOUT,
    )
    if outcome.returncode != 0:
        last = "" if watched else "\n" + "\n".join(outcome.stdout.strip().splitlines()[-15:])
        raise SetupError(f"pip could not install what pyproject.toml asks for; its own words say why.{last}")
    STAMP.write_text(json.dumps({"pins": pins, "extras": sorted(extras)}), encoding="utf-8")


def _build_viewer() -> None:
    """Build the 3-D viewer of the student's page; without it everything else works, and this says so."""
    import build_viewer

    try:
        if build_viewer.build():
            step("Built the 3-D viewer of the student's page")
    except build_viewer.ViewerError as error:
        step(f"The 3-D viewer of the student's page could not be built: pages have everything but the 3-D dancer. {error}")


def prepare(extras: set[str]) -> Path:
    """Make .venv ready with the project and some of its extras; return its Python. Quick when nothing changed.

    Raises SetupError with a sentence that says what to do.
    """
    started = time.monotonic()
    _make_venv()
    _install(extras)
    _build_viewer()
    step(f"The environment is ready ({time.monotonic() - started:.0f} s)")
    return PYTHON
