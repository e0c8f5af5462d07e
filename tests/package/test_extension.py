"""The extension zip: what is in it, what is refused, and that the package can be imported where there is no Blender."""

from __future__ import annotations

import hashlib
import importlib.util
import json
import re
import subprocess
import sys
import tomllib
import zipfile
from importlib import metadata
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parent.parent.parent
DEMO = ("demo_data/careless.c3d", "demo_data/static.c3d")


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
        for name in ("__init__.py", "analysis_core/__init__.py", "analysis_core/body/landmarks.toml", "LICENSE", *DEMO):
            if name != leave_out:
                package.writestr(name, "")
        for name in packed:
            package.writestr(f"wheels/{name}", "")
    return path


def test_wheels_that_are_there_as_they_are_locked_are_not_asked_for_again(
    script: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Would catch a wheel of another Python, version or content that is taken for the locked one, and one left out."""
    lock, folder, ran = tmp_path / "lock.txt", tmp_path / "wheels", []
    folder.mkdir()
    kept = {"plain_thing-1.0-py3-none-any.whl": b"plain", "built-2.0-cp311-cp311-linux.whl": b"built"}
    sums = [hashlib.sha256(content).hexdigest() for content in kept.values()]
    other = "0" * 64
    lock.write_text(
        f"# A comment that speaks of plain-thing.\nplain-thing==1.0 \\\n    --hash=sha256:{sums[0]}\n"
        f"built==2.0 \\\n    --hash=sha256:{other} \\\n    --hash=sha256:{sums[1]}\n",
        encoding="utf-8",
    )
    monkeypatch.setattr(script, "WHEEL_LOCK", lock)
    monkeypatch.setattr(script, "run", lambda command, failure: ran.append(command))

    def asks(python: str = "3.11") -> bool:
        ran.clear()
        script.fetch_wheels(folder, "linux-x64", (python,))
        return bool(ran)

    assert asks()
    for name, content in kept.items():
        assert asks(), name
        (folder / name).write_bytes(content)
    assert not asks()
    assert [path.name for path in script.fetch_wheels(folder, "linux-x64", ("3.11",))] == sorted(kept)
    assert asks("3.13")
    built = folder / "built-2.0-cp311-cp311-linux.whl"
    built.write_bytes(b"damaged")
    assert asks()
    built.write_bytes(b"built")
    assert not asks()
    built.rename(folder / "built-2.1-cp311-cp311-linux.whl")
    assert asks()


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


def test_every_locked_wheel_is_used_inside_blender(script: ModuleType) -> None:
    """Would catch a wheel that only tests or the command line need, in seventy megabytes that every machine downloads."""
    modules = [path for folder in ("analysis_core", "blender_addon") for path in (ROOT / folder).rglob("*.py")]
    texts = (path.read_text(encoding="utf-8") for path in modules)
    imported = {name for text in texts for name in re.findall(r"^ *(?:import|from) (\w+)", text, re.MULTILINE)}
    locked = {line.split("==")[0] for line in script.WHEEL_LOCK.read_text(encoding="utf-8").splitlines() if "==" in line}
    direct = {name for name in locked if name.replace("-", "_") in imported}
    needed = {
        re.split(r"[^\w-]", text)[0].lower() for name in direct for text in metadata.requires(name) or () if "extra" not in text
    }
    assert locked - direct - needed == set()


def test_the_zip_is_built_and_valid(script: ModuleType, extension_zip: Path) -> None:
    with zipfile.ZipFile(extension_zip) as package:
        names = package.namelist()
    locked = script.WHEEL_LOCK.read_text(encoding="utf-8").splitlines()
    assert sum(name.endswith(".whl") for name in names) == sum("==" in line for line in locked if not line.startswith("#"))
    assert any(name.endswith("review_worker.py") for name in names)
    # The builder leaves nothing beside the zip.
    assert list(extension_zip.parent.iterdir()) == [extension_zip]


def test_files_that_were_touched_in_another_order_give_the_same_zip(script: ModuleType, tmp_path: Path) -> None:
    """Would catch times, modes or an order of files in the zip, by which no school could check that it has what was built."""
    for name, order, second in (("one.zip", ("b.py", "a.py"), 0), ("two.zip", ("a.py", "b.py"), 30)):
        with zipfile.ZipFile(tmp_path / name, "w", zipfile.ZIP_DEFLATED) as package:
            for entry in order:
                package.writestr(zipfile.ZipInfo(entry, (2026, 1, 2, 3, 4, second)), f"# {entry}\n" * 40)
        script.made_alike(tmp_path / name)
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()
    with zipfile.ZipFile(tmp_path / "one.zip") as package:
        assert package.read("a.py") == b"# a.py\n" * 40


def test_the_viewer_of_the_page_travels(extension_zip: Path) -> None:
    """In the zip, and among the files of the wheel: without it pages made there have no 3-D dancer."""
    viewer = Path("analysis_core/page/built/viewer.js")
    if not (ROOT / viewer).is_file():
        pytest.skip("the viewer was not built: scripts/build_viewer.py")
    with zipfile.ZipFile(extension_zip) as package:
        assert package.read(viewer.as_posix()) == (ROOT / viewer).read_bytes()
    setup = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]
    assert "in_the_round.analysis_core.page" in setup["packages"]
    folder = ROOT / "analysis_core" / "page"
    assert ROOT / viewer in {path for pattern in setup["package-data"]["*"] for path in folder.glob(pattern)}


def test_a_school_installs_from_a_folder_and_sees_what_is_inside(script: ModuleType, extension_zip: Path, tmp_path: Path) -> None:
    """Blender's own tool installs from the folder; the bill of materials is valid by the standard's own schema (CycloneDX 1.6)
    and names every wheel with its hash and a licence.

    Would catch an index that names another file, and a wheel that is not listed.
    """
    from cyclonedx.schema import SchemaVersion
    from cyclonedx.validation.json import JsonStrictValidator

    school, machine = tmp_path / "school", tmp_path / "machine"
    school.mkdir()
    machine.mkdir()
    package = school / extension_zip.name
    package.hardlink_to(extension_zip)
    index = script.make_repository(school, [package])
    bill = package.with_suffix(".bom.json").read_text(encoding="utf-8")
    assert JsonStrictValidator(SchemaVersion.V1_6).validate_str(bill) is None
    told = json.loads(bill)["components"]
    with zipfile.ZipFile(package) as content:
        wheels = {Path(n).name: hashlib.sha256(content.read(n)).hexdigest() for n in content.namelist() if n.endswith(".whl")}
    assert {part["bom-ref"]: part["hashes"][0]["content"] for part in told if "hashes" in part} == wheels
    licences = [choice["license"] for part in told for choice in part["licenses"] if "license" in choice]
    assert [licence for licence in licences if licence.get("name") == "not stated"] == []
    command = [sys.executable, str(script.extension_tool()), "install", "in_the_round", "--remote-url", index.as_uri()]
    for words in (["sync", "--remote-name", "school", *command[4:]], [*command[2:], "--blender-version", "4.5.0"]):
        subprocess.run([*command[:2], *words, "--local-dir", str(machine)], check=True, capture_output=True, timeout=120)
    assert (machine / "in_the_round" / "demo_data" / "careless.c3d").is_file()


def test_the_package_can_be_imported_where_there_is_no_blender() -> None:
    code = "import sys; sys.modules['bpy'] = None; import in_the_round, in_the_round.analysis_core.review"
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
