"""The staged extension, installed from its zip, in a Blender of its own process."""

from __future__ import annotations

import importlib.util
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from in_the_round.analysis_core.read import read_take
from in_the_round.analysis_core.review import Review, write_review
from in_the_round.simulated_dancer.files import write_bvh, write_c3d
from in_the_round.simulated_dancer.phrases import short
from in_the_round.simulated_dancer.simulate import simulate

HERE = Path(__file__).parent


def load(path: Path) -> ModuleType:
    """A Python file as a module: the tests are no package, so neighbours cannot be imported."""
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def run_in_blender(script: Path, resources: Path, folder: Path, *arguments: str) -> Any:
    """Run a script in an empty Blender whose own files lie in ``resources``; return what it wrote into its first argument.

    A process of its own: Blender 4.5's module never ends when anything stays registered, and keeps its state for ever.
    """
    result = folder / "result.json"
    environment = {
        **os.environ,
        "BLENDER_USER_RESOURCES": str(resources),
        # Where the demo take is laid out: never into the home of who runs the tests.
        "XDG_DATA_HOME": str(folder / "data"),
    }
    environment.pop("PYTHONPATH", None)
    outcome = subprocess.run(
        [sys.executable, "-W", "error::SyntaxWarning", str(script), str(result), *arguments],
        cwd=folder, env=environment, capture_output=True, text=True, timeout=900, check=False,
    )  # fmt: skip
    assert result.is_file(), f"Blender ended with {outcome.returncode}:\n{outcome.stdout[-4000:]}\n{outcome.stderr[-4000:]}"
    return json.loads(result.read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def installed(made_once: Callable[[str, Callable[[Path], object]], Path], extension_zip: Path) -> Path:
    """What Blender keeps once the extension was installed from its zip, and what that said. Nobody changes it."""

    def fill(folder: Path) -> None:
        (folder / "resources").mkdir()
        run_in_blender(HERE / "install_in_blender.py", folder / "resources", folder, str(extension_zip))

    return made_once("installed extension", fill)


def in_blender(script: Path, installed: Path, folder: Path, *arguments: str) -> Any:
    """Run a script in a Blender of its own that has the extension; return what it wrote into its first argument."""
    resources = folder / "resources"
    # Libraries are a hundred megabytes; they are taken away and laid out anew, never written into.
    libraries = Path("extensions", ".local")
    shutil.copytree(installed / "resources", resources, ignore=lambda _, names: {libraries.name} & set(names))
    shutil.copytree(installed / "resources" / libraries, resources / libraries, copy_function=os.link)
    return run_in_blender(script, resources, folder, *arguments)


def cut_to_the_turn(demo: Path, folder: Path) -> None:
    """Of the demo's careless take the turn alone, from the second count of its preparation to the plié after it."""
    folder.mkdir()
    shutil.copy(demo / "static.c3d", folder)
    take = read_take(demo / "careless.c3d")
    first, last = (round(second * take.rate_hz) for second in (9.0, 15.0))
    write_c3d(folder / "careless.c3d", replace(take, positions_m=take.positions_m[first:last]), take.labels)


@pytest.fixture(scope="session")
def outcomes(
    made_review: Review,
    takes: tuple[Review, Review],
    demo_at_60_hz: Path,
    installed: Path,
    tmp_path_factory: pytest.TempPathFactory,
) -> dict[str, dict[str, str | None]]:
    """What all checks of all_in_blender.py said, run once: script -> name of check -> failure or None."""
    folder = tmp_path_factory.mktemp("blender")
    made = load(HERE / "made_review.py")
    write_review(made_review, folder / "morning class review")
    write_review(made.leaning_review(made_review), folder / "evening class review")
    made.write_nameless_static(folder / "nameless static.c3d")
    write_review(takes[1], folder / "careful review")
    cut_to_the_turn(demo_at_60_hz, folder / "turn of the demo")
    write_bvh(folder / "hops.bvh", simulate(short("jump", 0.25), rate_hz=60.0).movement)
    return in_blender(HERE / "all_in_blender.py", installed, folder, str(folder))
