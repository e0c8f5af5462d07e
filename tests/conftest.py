"""What more than one folder of tests needs and is expensive to make: made once in a run, also when processes share the tests."""

from __future__ import annotations

import gc
import importlib.util
import os
import pickle
import runpy
import shutil
import sys
import time
from collections import Counter
from collections.abc import Callable, Generator, Sequence
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from in_the_round.analysis_core.analyse import analyse
from in_the_round.analysis_core.read import read_take
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.settings import Settings
from in_the_round.simulated_dancer import Fault
from in_the_round.simulated_dancer.files import write_c3d
from in_the_round.simulated_dancer.steps import PhraseStep
from in_the_round.simulated_dancer.trials import Recorded, record, review_of

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "demo_data"
#: A process that died while it made something leaves the others waiting no longer than this.
_LONGEST_MAKING_S = 300.0


def pytest_configure() -> None:
    """While tests are collected, what is made stays: to look for garbage takes a sixth of the time, and finds none."""
    gc.disable()


def pytest_collection_finish() -> None:
    """From here on garbage is looked for again, seldom and only among what tests make."""
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)
    gc.enable()


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(collector: pytest.Collector) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """Every second process begins at the other end: what one has compiled, the other finds, instead of both compiling all."""
    report = yield
    if os.environ.get("PYTEST_XDIST_WORKER", "gw0")[-1] in "13579" and isinstance(collector, (pytest.Session, pytest.Dir)):
        report.result.reverse()
    return report


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files with slow tests begin first, then those with many: no core is to wait for the other at the end."""
    slow = {item.path for item in items if item.get_closest_marker("slow")}
    tests = Counter(item.path for item in items)
    items.sort(key=lambda item: (item.path not in slow, -tests[item.path], item.path))


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str, Callable[[Path], object]], Path]:
    """A function that has a folder of a name filled by the first who asks, in whichever process; nobody changes what is in it."""
    own = tmp_path_factory.getbasetemp()
    shared = (own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / "made once"
    shared.mkdir(exist_ok=True)

    def made(name: str, fill: Callable[[Path], object]) -> Path:
        folder, unfinished = shared / name, shared / f"{name} unfinished"
        end = time.monotonic() + _LONGEST_MAKING_S
        while not folder.exists():
            try:
                unfinished.mkdir()
            except FileExistsError:
                assert time.monotonic() < end, f"{name} was begun by another process and is not finished"
                time.sleep(0.1)
                continue
            try:
                if not folder.exists():
                    fill(unfinished)
                    unfinished.rename(folder)
            finally:
                shutil.rmtree(unfinished, ignore_errors=True)
        return folder

    return made


@pytest.fixture(scope="session")
def review_once(made_once: Callable[[str, Callable[[Path], object]], Path]) -> Callable[[str, Callable[[], Any]], Any]:
    """A function that makes reviews of a name once."""

    def reviewed(name: str, make: Callable[[], Any]) -> Any:
        folder = made_once(name, lambda folder: (folder / "made").write_bytes(pickle.dumps(make())))
        return pickle.loads((folder / "made").read_bytes())

    return reviewed


@pytest.fixture(scope="session")
def reviewed(review_once: Callable[[str, Callable[[], Any]], Review]) -> Callable[..., Review]:
    """A function ``reviewed(*faults, phrase=None, level="intermediate", **how)``: the review of what is danced so, made once.

    how: of ``Recorded``; at 60 Hz unless it says another rate. Nobody changes a review.
    """

    def review(*faults: Fault, phrase: Sequence[PhraseStep] | None = None, level: str = "intermediate", **how: Any) -> Review:
        recorded = Recorded(**{"rate_hz": 60.0, **how})
        asked = sha256(repr((recorded, faults, phrase, level)).encode()).hexdigest()
        return review_once(f"danced {asked[:16]}", lambda: review_of(record(recorded, faults, phrase), level))

    return review


@pytest.fixture(scope="session")
def careful_review(review_once: Callable[[str, Callable[[], Any]], Review]) -> Review:
    """The review of the careful demo take. Nobody changes it."""
    return review_once("careful", lambda: analyse(DEMO / "careful.c3d", Settings(static=DEMO / "static.c3d")))


@pytest.fixture(scope="session")
def careless_review(review_once: Callable[[str, Callable[[], Any]], Review]) -> Review:
    """The review of the careless demo take. Nobody changes it."""
    return review_once("careless", lambda: analyse(DEMO / "careless.c3d", Settings(static=DEMO / "static.c3d")))


@pytest.fixture(scope="session")
def demo_at_60_hz(made_once: Callable[[str, Callable[[Path], object]], Path]) -> Path:
    """A folder with every fourth sample of the demo takes: for what is about the way that a take goes, not about numbers."""

    def fill(folder: Path) -> None:
        for name in ("careful.c3d", "careless.c3d", "static.c3d"):
            take = read_take(DEMO / name)
            write_c3d(folder / name, replace(take, positions_m=take.positions_m[::4], rate_hz=take.rate_hz / 4), take.labels)

    return made_once("demo at 60 Hz", fill)


@pytest.fixture(scope="session")
def made_review(review_once: Callable[[str, Callable[[], Any]], Review]) -> Review:
    """The small review with hand-made findings of tests/blender. Nobody changes it."""
    script = ROOT / "tests" / "blender" / "made_review.py"
    return review_once("made", lambda: runpy.run_path(str(script), run_name="made_review")["made_review"]())


@pytest.fixture(scope="session")
def takes(reviewed: Callable[..., Review]) -> tuple[Review, Review]:
    """A take with three faults in it, and one without. Nobody changes them."""
    faults = (Fault("axis-tilts", "turn-1", 8.0), Fault("heel-lifts-early", "turn-1", 30.0), Fault("arms-drop", "turn-1", 120.0))
    return reviewed(*faults), reviewed()


@pytest.fixture(scope="session")
def extension_zip(made_once: Callable[[str, Callable[[Path], object]], Path]) -> Path:
    """The extension for this machine and this Python only."""
    if importlib.util.find_spec("bpy") is None:
        pytest.skip("the Blender module is not installed: it brings the builder")
    script = runpy.run_path(str(ROOT / "scripts" / "build_extension.py"), run_name="build")
    python, wheels = f"{sys.version_info.major}.{sys.version_info.minor}", ROOT / "build" / "wheels"
    folder = made_once("extension", lambda folder: script["build"](folder, script["this_platform"](), (python,), wheels))
    (built,) = folder.iterdir()
    return built
