"""The extension zip: what is in it, what is refused, and that the package can be imported where there is no Blender."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parent.parent.parent


@pytest.fixture(scope="module")
def script() -> ModuleType:
    """scripts/build_extension.py as a module."""
    spec = importlib.util.spec_from_file_location("build_extension", ROOT / "scripts" / "build_extension.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def zip_of(folder: Path, listed: list[str], packed: list[str], leave_out: str = "") -> Path:
    """A small zip with a manifest that lists wheels, and wheels that are packed."""
    path = folder / "made.zip"
    with zipfile.ZipFile(path, "w") as package:
        package.writestr("blender_manifest.toml", f"wheels = {[f'./wheels/{name}' for name in listed]}")
        for name in ("__init__.py", "analysis_core/__init__.py", "analysis_core/body/landmarks.toml", "LICENSE"):
            if name != leave_out:
                package.writestr(name, "")
        for name in packed:
            package.writestr(f"wheels/{name}", "")
    return path


def test_a_zip_whose_wheels_are_those_listed_passes(script: ModuleType, tmp_path: Path) -> None:
    script.check_zip(zip_of(tmp_path, ["a.whl"], ["a.whl"]))


@pytest.mark.parametrize(
    ("listed", "packed", "leave_out", "words"),
    [
        (["a.whl", "b.whl"], ["a.whl"], "", "differ"),
        (["a.whl"], ["a.whl", "b.whl"], "", "differ"),
        (["numpy-2.0.whl"], ["numpy-2.0.whl"], "", "numpy"),
        (["a.whl"], ["a.whl"], "analysis_core/__init__.py", "lacks"),
    ],
)
def test_a_zip_that_is_not_what_it_must_be_is_refused(
    script: ModuleType, tmp_path: Path, listed: list[str], packed: list[str], leave_out: str, words: str
) -> None:
    with pytest.raises(script.BuildError, match=words):
        script.check_zip(zip_of(tmp_path, listed, packed, leave_out))


def test_manifest_keeps_the_rules_for_extensions(script: ModuleType, tmp_path: Path) -> None:
    """Limits from Blender's own manifest check: 64 letters and no full stop in tagline and reasons."""
    staged = script.stage(tmp_path)
    manifest = tomllib.loads((staged / "blender_manifest.toml").read_text(encoding="utf-8"))
    assert list(manifest["permissions"]) == ["files"]
    for text in (manifest["tagline"], *manifest["permissions"].values()):
        assert len(text) <= 64
        assert text[-1].isalnum()
    assert manifest["license"] == ["SPDX:GPL-3.0-or-later"]
    assert manifest["blender_version_min"] == "4.5.0"


def test_what_is_not_for_blender_stays_out(script: ModuleType, tmp_path: Path) -> None:
    staged = script.stage(tmp_path)
    assert (staged / "analysis_core" / "body" / "landmarks.toml").is_file()
    assert not list(staged.rglob("__pycache__"))
    assert not (staged / "simulated_dancer").exists()
    assert not (staged / "command_line").exists()


def test_every_locked_wheel_is_pinned_by_hash_and_numpy_is_not_among_them(script: ModuleType) -> None:
    """Would catch a wheel without a hash, one that pyproject does not name, and numpy, which Blender brings itself."""
    text = script.WHEEL_LOCK.read_text(encoding="utf-8").replace("\\\n", " ")
    locked = [line.split() for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    assert locked
    for name, *rest in locked:
        assert any(word.startswith("--hash=sha256:") and len(word) == len("--hash=sha256:") + 64 for word in rest), name
        assert not name.startswith("numpy")
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert {name for name, *_ in locked} <= set(project["dependencies"])


@pytest.mark.skipif(importlib.util.find_spec("bpy") is None, reason="the Blender module brings the builder")
def test_the_zip_is_built_and_valid(script: ModuleType, tmp_path: Path) -> None:
    python = f"{sys.version_info.major}.{sys.version_info.minor}"
    path = script.build(tmp_path, script.this_platform(), (python,), ROOT / "build" / "wheels")
    with zipfile.ZipFile(path) as package:
        names = package.namelist()
    locked = script.WHEEL_LOCK.read_text(encoding="utf-8").splitlines()
    assert sum(name.endswith(".whl") for name in names) == sum("==" in line for line in locked if not line.startswith("#"))
    assert any(name.endswith("review_worker.py") for name in names)
    # The builder leaves nothing beside the zip.
    assert list(tmp_path.iterdir()) == [path]


def test_the_package_can_be_imported_where_there_is_no_blender() -> None:
    code = "import sys; sys.modules['bpy'] = None; import in_the_round, in_the_round.analysis_core.review"
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
