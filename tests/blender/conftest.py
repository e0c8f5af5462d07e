"""The staged extension, installed from its zip, in a Blender of its own process."""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest
from in_the_round.analysis_core.review import Review, write_review
from in_the_round.simulated_dancer.files import write_bvh
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


def in_blender(script: Path, extension: Path, folder: Path, *arguments: str) -> dict[str, str | None]:
    """Run a script with the extension installed in an empty Blender; return what it wrote: name of check -> failure or None.

    A process of its own: Blender 4.5's module never ends when anything stays registered, and keeps its state for ever.
    """
    result = folder / "result.json"
    environment = {
        **os.environ,
        "BLENDER_USER_RESOURCES": str(folder / "resources"),
        # Where the demo take is laid out: never into the home of who runs the tests.
        "XDG_DATA_HOME": str(folder / "data"),
    }
    environment.pop("PYTHONPATH", None)
    outcome = subprocess.run(
        [sys.executable, "-W", "error::SyntaxWarning", str(script), str(extension), str(result), *arguments],
        cwd=folder, env=environment, capture_output=True, text=True, timeout=900, check=False,
    )  # fmt: skip
    assert result.is_file(), f"Blender ended with {outcome.returncode}:\n{outcome.stdout[-4000:]}\n{outcome.stderr[-4000:]}"
    return json.loads(result.read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def outcomes(
    made_review: Review,
    takes: tuple[Review, Review],
    demo_at_60_hz: Path,
    extension_zip: Path,
    tmp_path_factory: pytest.TempPathFactory,
) -> dict[str, str | None]:
    """All checks of checks_in_blender.py, run once."""
    folder = tmp_path_factory.mktemp("blender")
    made = load(HERE / "made_review.py")
    write_review(made_review, review := folder / "morning class review")
    made.write_nameless_static(folder / "nameless static.c3d")
    write_review(takes[1], folder / "careful review")
    return in_blender(HERE / "checks_in_blender.py", extension_zip, folder, str(review), str(demo_at_60_hz))


@pytest.fixture(scope="session")
def waited(made_review: Review, extension_zip: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str | None]:
    """All checks of waiting_in_blender.py, run once."""
    folder = tmp_path_factory.mktemp("waiting")
    made = load(HERE / "made_review.py")
    write_review(made_review, review := folder / "morning class review")
    made.write_nameless_static(folder / "nameless static.c3d")
    write_bvh(folder / "hops.bvh", simulate(short("jump", 0.25), rate_hz=60.0).movement)
    return in_blender(HERE / "waiting_in_blender.py", extension_zip, folder, str(review), str(folder / "hops.bvh"))


@pytest.fixture(scope="session")
def viewed(made_review: Review, extension_zip: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str | None]:
    """All checks of views_in_blender.py, run once."""
    folder = tmp_path_factory.mktemp("views")
    made = load(HERE / "made_review.py")
    write_review(made_review, review := folder / "morning class review")
    write_review(made.leaning_review(made_review), folder / "evening class review")
    return in_blender(HERE / "views_in_blender.py", extension_zip, folder, str(review), str(folder / "evening class review"))
