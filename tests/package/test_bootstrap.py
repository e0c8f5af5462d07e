"""Setting up: when to install, when not, and what a Python that does not fit is told."""

from __future__ import annotations

import importlib.util
import json
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def bootstrap(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> ModuleType:
    """The module of the scripts, with its environment in a folder of the test."""
    monkeypatch.setattr(sys, "path", [*sys.path])
    spec = importlib.util.spec_from_file_location("bootstrap_under_test", ROOT / "scripts" / "bootstrap.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setattr(module, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(module, "STAMP", tmp_path / ".venv" / "installed.json")
    return module


@pytest.mark.parametrize(("version", "words"), [((3, 10), "too old"), ((3, 14), "too new")])
def test_a_python_that_does_not_fit(
    bootstrap: ModuleType, monkeypatch: pytest.MonkeyPatch, version: tuple[int, int], words: str
) -> None:
    """It is told so, and which one to take."""
    monkeypatch.setattr(bootstrap.sys, "version_info", (*version, 0))
    with pytest.raises(bootstrap.SetupError, match=rf"{words}.*3\.11 or 3\.13"):
        bootstrap.check_python()


def test_a_python_without_a_blender_module(bootstrap: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    """3.12 is good for the core, and told so only when Blender is needed."""
    monkeypatch.setattr(bootstrap.sys, "version_info", (3, 12, 0))
    bootstrap.check_python()
    with pytest.raises(bootstrap.SetupError, match="no Blender module"):
        bootstrap.check_blender()


def test_nothing_is_installed_twice(bootstrap: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    """A stamp with the same pins and at least the same extras saves the work; other pins or a broken stamp do not."""
    bootstrap.VENV.mkdir()
    assert bootstrap._installed(bootstrap._pins()) == set()
    bootstrap.STAMP.write_text(json.dumps({"pins": bootstrap._pins(), "extras": ["blender", "test"]}), encoding="utf-8")
    assert bootstrap._installed(bootstrap._pins()) == {"blender", "test"}
    assert bootstrap._installed("other pins") == set()
    bootstrap.STAMP.write_text("{", encoding="utf-8")
    assert bootstrap._installed(bootstrap._pins()) == set()


def test_an_environment_of_another_python_is_not_taken(bootstrap: ModuleType) -> None:
    """Its version is read from pyvenv.cfg."""
    bootstrap.VENV.mkdir()
    (bootstrap.VENV / "pyvenv.cfg").write_text("home = /nowhere\nversion = 3.9.1\n", encoding="utf-8")
    assert not bootstrap._made_by_this_python()


def test_a_folder_that_is_no_environment_is_left_alone(bootstrap: ModuleType) -> None:
    """What is not ours is not deleted."""
    bootstrap.VENV.mkdir()
    mine = bootstrap.VENV / "mine.txt"
    mine.write_text("mine", encoding="utf-8")
    with pytest.raises(bootstrap.SetupError, match="Move it away"):
        bootstrap._make_venv()
    assert mine.read_text(encoding="utf-8") == "mine"


def test_without_node_set_up_goes_on_and_says_what_is_missing(
    bootstrap: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No npm, and a registry that cannot be reached: no half-built viewer, a sentence, and no error."""
    monkeypatch.syspath_prepend(str(ROOT / "scripts"))
    import build_viewer

    def unreachable(command: list[str], environment: dict[str, str]) -> None:
        raise build_viewer.ViewerError("no registry")

    monkeypatch.setattr(build_viewer.shutil, "which", lambda name: None)
    monkeypatch.setattr(build_viewer, "ROOT", tmp_path)
    monkeypatch.setattr(build_viewer, "VIEWER", tmp_path / "built" / "viewer.js")
    monkeypatch.setattr(build_viewer, "_run", unreachable)
    bootstrap._build_viewer()
    said = capsys.readouterr()
    assert "everything but the 3-D dancer" in said.out + said.err
    assert "no registry" in said.out + said.err
    assert not (tmp_path / "built").exists()


def test_lock_of_the_viewer_names_no_host_and_every_part_by_its_content() -> None:
    """So that it installs from whatever registry the machine is set to, and nothing but what was looked at."""
    lock = json.loads((ROOT / "page_viewer" / "package-lock.json").read_text(encoding="utf-8"))
    parts = {name: part for name, part in lock["packages"].items() if name}
    assert {"node_modules/three", "node_modules/esbuild", "node_modules/axe-core"} <= set(parts)
    assert not [name for name, part in parts.items() if "resolved" in part or not part["integrity"].startswith("sha512-")]
    assert "://" not in "".join(json.dumps({**part, "funding": ""}) for part in parts.values())
