"""Build the Blender extension: one zip per platform, with its wheels, validated and checked.

    python3 scripts/build_extension.py [OUT] [--platform linux-x64 … | all] [--python 3.11 3.13]
    python3 scripts/build_extension.py dist/school --platform all --repository

The zip holds the add-on, the analysis core as a sub-package, the licence, the demo take and unmodified wheels; never numpy. Equal
sources and an equal lock give equal bytes. With --repository the folder becomes one that Blender installs and updates from: an
index made by Blender's own tool, and beside each zip a list of what is inside with its licences.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib.util
import platform
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
import zipfile
from collections.abc import Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
import build_viewer

ROOT = Path(__file__).resolve().parent.parent
WHEEL_LOCK = Path(__file__).with_name("extension_wheels.txt")
#: Blender's name of a platform -> what wheels for it are tagged with, oldest system first so that most machines are served.
PLATFORM_TAGS = {
    "linux-x64": ("manylinux2014_x86_64", "manylinux_2_27_x86_64", "manylinux_2_28_x86_64"),
    "windows-x64": ("win_amd64",),
    "macos-arm64": ("macosx_11_0_arm64", "macosx_12_0_arm64"),
    "macos-x64": ("macosx_10_9_x86_64", "macosx_10_13_x86_64", "macosx_10_14_x86_64", "macosx_10_15_x86_64"),
}
#: The Pythons of Blender 4.5 LTS to 5.0, and of 5.1 on; for others the lock holds no wheels.
PYTHONS = ("3.11", "3.13")


#: The takes that come with the extension.
DEMO_TAKES = ("careless.c3d", "static.c3d")


class BuildError(Exception):
    """The zip could not be made, or is not what it must be."""


def this_platform() -> str:
    """Blender's name of the platform that this runs on."""
    system = {"Linux": "linux", "Windows": "windows", "Darwin": "macos"}.get(platform.system(), "linux")
    machine = "arm64" if platform.machine().lower() in ("arm64", "aarch64") else "x64"
    name = f"{system}-{machine}"
    if name not in PLATFORM_TAGS:
        raise BuildError(f"There are no wheels for {name}. Name another platform with --platform.")
    return name


def extension_tool() -> Path:
    """The program that builds and validates extensions; it comes with the Blender module."""
    places = [Path(spec.origin).parent] if (spec := importlib.util.find_spec("bpy")) and spec.origin else []
    places += [*sorted(ROOT.glob(".venv/lib/python*/site-packages/bpy")), ROOT / ".venv/Lib/site-packages/bpy"]
    for place in places:
        for found in sorted(place.glob("*/scripts/addons_core/bl_pkg/cli/blender_ext.py")):
            return found
    raise BuildError("The Blender module is not installed. Run scripts/test.py once, or: pip install -e '.[blender]'")


def run(command: list[str], failure: str) -> None:
    """Run a command; raise BuildError with its own words when it fails."""
    outcome = subprocess.run(command, capture_output=True, text=True, check=False)
    if outcome.returncode != 0:
        raise BuildError(f"{failure}\n{outcome.stdout}{outcome.stderr}")


def _locked() -> dict[str, tuple[str, set[str]]]:
    """The locked wheels: how the name of a wheel begins -> its version, and the SHA-256 of the files that may be it."""
    entries = re.findall(r"^([\w.-]+)==(\S+)((?:.*\\\n)*.*)", WHEEL_LOCK.read_text(encoding="utf-8"), re.MULTILINE)
    return {
        name.replace("-", "_").lower(): (version, set(re.findall(r"sha256:([0-9a-f]{64})", hashes)))
        for name, version, hashes in entries
    }


def _tags(python: str) -> tuple[str, str]:
    """What stands in the name of a wheel that a Python can use."""
    return "-py3-none-", f"-cp{python.replace('.', '')}-"


def _is_complete(folder: Path, python: str) -> bool:
    """Whether every locked wheel lies in a folder for a Python, byte for byte."""
    wheels = [path for path in folder.glob("*.whl") if any(tag in path.name for tag in _tags(python))]
    return all(
        any(
            path.name.lower().startswith(f"{name}-{version}-") and hashlib.sha256(path.read_bytes()).hexdigest() in hashes
            for path in wheels
        )
        for name, (version, hashes) in _locked().items()
    )


def fetch_wheels(folder: Path, platform_name: str, pythons: tuple[str, ...]) -> list[Path]:
    """Download the locked wheels of one platform into a folder (kept: what is there is not asked for again); return their
    paths."""
    folder.mkdir(parents=True, exist_ok=True)
    tags = [part for tag in PLATFORM_TAGS[platform_name] for part in ("--platform", tag)]
    for python in pythons:
        if _is_complete(folder, python):
            continue
        command = [sys.executable, "-m", "pip", "--disable-pip-version-check", "download", "--quiet", "--no-deps"]
        command += ["--only-binary=:all:", "--require-hashes", "--python-version", python, *tags]
        command += ["--dest", str(folder), "-r", str(WHEEL_LOCK)]
        run(command, f"The wheels for {platform_name}, Python {python}, could not be downloaded.")
    wanted = {tag for python in pythons for tag in _tags(python)}
    # The folder may still hold what an earlier lock asked for.
    locked = _locked()
    there = (path for path in sorted(folder.glob("*.whl")) if path.name.split("-")[0].lower() in locked)
    wheels = [path for path in there if any(tag in path.name for tag in wanted)]
    if any(path.name.startswith("numpy") for path in wheels):
        raise BuildError("numpy comes with Blender and must not be in the extension.")
    return wheels


def package_name() -> str:
    """The extension's id, which is also its folder's name."""
    return str(tomllib.loads((ROOT / "blender_addon/blender_manifest.toml").read_text(encoding="utf-8"))["id"])


def stage(folder: Path, wheels: Sequence[Path] = (), platform_name: str | None = None) -> Path:
    """Lay the extension out as it is installed, below a folder; return its path."""
    target = folder / package_name()
    leave_out = shutil.ignore_patterns("__pycache__", "*.pyc", ".*")
    shutil.copytree(ROOT / "blender_addon", target, ignore=leave_out)
    shutil.copytree(ROOT / "analysis_core", target / "analysis_core", ignore=leave_out)
    shutil.copy2(ROOT / "LICENSE", target / "LICENSE")
    # "Try the Demo Take" opens these.
    (target / "demo_data").mkdir()
    for name in DEMO_TAKES:
        shutil.copy2(ROOT / "demo_data" / name, target / "demo_data" / name)
    manifest = target / "blender_manifest.toml"
    lines = []
    if platform_name:
        lines.append(f'platforms = ["{platform_name}"]')
    if wheels:
        (target / "wheels").mkdir()
        for wheel in wheels:
            shutil.copy2(wheel, target / "wheels" / wheel.name)
        lines += ["wheels = [", *(f'  "./wheels/{wheel.name}",' for wheel in wheels), "]"]
    text = manifest.read_text(encoding="utf-8")
    # Top-level keys have to stand before the first table of a TOML file.
    manifest.write_text(text.replace("[permissions]", "\n".join([*lines, "", "[permissions]"])), encoding="utf-8")
    return target


def check_zip(path: Path) -> None:
    """Each listed wheel is in the zip, nothing unlisted is, and numpy is not. Raises BuildError."""
    with zipfile.ZipFile(path) as package:
        names = package.namelist()
        manifest_name = next(name for name in names if name.endswith("blender_manifest.toml"))
        manifest = tomllib.loads(package.read(manifest_name).decode("utf-8"))
        top = manifest_name.removesuffix("blender_manifest.toml")
    listed = {top + wheel.removeprefix("./") for wheel in manifest["wheels"]}
    packed = {name for name in names if name.endswith(".whl")}
    if listed != packed:
        raise BuildError(f"{path.name}: wheels listed and packed differ: {sorted(listed ^ packed)}")
    if any("numpy" in name for name in packed):
        raise BuildError(f"{path.name} contains numpy.")
    for needed in (
        "__init__.py",
        "analysis_core/__init__.py",
        "analysis_core/body/landmarks.toml",
        "LICENSE",
        *(f"demo_data/{name}" for name in DEMO_TAKES),
    ):
        if top + needed not in names:
            raise BuildError(f"{path.name} lacks {needed}.")


def made_alike(path: Path) -> None:
    """Pack a zip again in one order, with one time and one mode for all files: equal content gives equal bytes.

    Wheels are packed in themselves: packing them again takes seconds and saves nothing.
    """
    again = path.with_suffix(".again")
    with zipfile.ZipFile(path) as package, zipfile.ZipFile(again, "w") as alike:
        for entry in sorted(package.infolist(), key=lambda entry: entry.filename):
            told = zipfile.ZipInfo(entry.filename, (1980, 1, 1, 0, 0, 0))
            told.compress_type = zipfile.ZIP_STORED if entry.filename.endswith(".whl") else entry.compress_type
            told.external_attr, told.create_system = 0o644 << 16, 3
            alike.writestr(told, package.read(entry), compresslevel=9)
    again.replace(path)


def make_repository(folder: Path, zips: Sequence[Path]) -> Path:
    """Make a folder with zips one that Blender installs and updates from; return its index. Raises BuildError."""
    try:
        from bill_of_materials import write_bill
    except ImportError as error:
        raise BuildError(
            "The bill of materials needs one more package: .venv/bin/python -m pip install -e '.[release]'"
        ) from error
    for path in zips:
        write_bill(path)
    command = [sys.executable, str(extension_tool()), "server-generate", "--repo-dir", str(folder)]
    run(command, "The index of the repository could not be made.")
    return folder / "index.json"


def build(out: Path, platform_name: str, pythons: tuple[str, ...], wheel_folder: Path) -> Path:
    """Build, validate and check the zip of one platform; return its path."""
    tool = extension_tool()
    wheels = fetch_wheels(wheel_folder / platform_name, platform_name, pythons)
    out.mkdir(parents=True, exist_ok=True)
    version = tomllib.loads((ROOT / "blender_addon/blender_manifest.toml").read_text(encoding="utf-8"))["version"]
    target = out / f"{package_name()}-{version}-{platform_name}.zip"
    with tempfile.TemporaryDirectory() as temporary:
        source = stage(Path(temporary), wheels, platform_name)
        made = Path(temporary) / "made.zip"
        command = [sys.executable, str(tool), "build", "--source-dir", str(source), "--output-filepath", str(made)]
        run(command, "The extension could not be built.")
        made_alike(made)
        run([sys.executable, str(tool), "validate", str(made)], "The extension is not valid.")
        check_zip(made)
        shutil.move(made, target)
    return target


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("out", nargs="?", type=Path, default=ROOT / "dist", help="folder for the zips (default: dist)")
    parser.add_argument("--platform", nargs="+", default=[], choices=[*PLATFORM_TAGS, "all"], help="default: this machine's")
    parser.add_argument("--python", nargs="+", default=PYTHONS, help="versions of Blender's Python (default: 3.11 3.13)")
    parser.add_argument("--wheels", type=Path, default=ROOT / "build" / "wheels", help="where downloaded wheels are kept")
    parser.add_argument("--repository", action="store_true", help="make OUT a folder that Blender installs and updates from")
    options = parser.parse_args()
    try:
        try:
            build_viewer.build()
        except build_viewer.ViewerError as error:
            print(f"The 3-D viewer of the student's page is missing in the zip: {error}", file=sys.stderr)
        chosen = options.platform or [this_platform()]
        made = []
        for name in PLATFORM_TAGS if "all" in chosen else chosen:
            print(f"{name}: fetching wheels, building, validating …", flush=True)
            path = build(options.out, name, tuple(options.python), options.wheels)
            print(f"{path}  {path.stat().st_size / 1e6:.0f} MB", flush=True)
            made.append(path)
        if options.repository:
            print(f"{make_repository(options.out, made)} is what Blender asks for: docs/guides/for_schools.md says how.")
    except BuildError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
