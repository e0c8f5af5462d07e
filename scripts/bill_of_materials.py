"""What is inside an extension zip, and under which licences: a CycloneDX bill of materials (JSON) beside it.

    python3 scripts/bill_of_materials.py dist/in_the_round-0.1.0-linux-x64.zip …

Read from the zip itself: its wheels say name, version and licence; the page's 3-D viewer is bundled from what
package-lock.json locks. Needs the extra "release" of pyproject.toml.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sys
import tomllib
import uuid
import zipfile
from collections.abc import Iterator
from email.message import Message
from email.parser import Parser
from io import BytesIO
from pathlib import Path

from cyclonedx.contrib.license.factories import LicenseFactory
from cyclonedx.model import HashAlgorithm, HashType
from cyclonedx.model.bom import Bom
from cyclonedx.model.component import Component, ComponentType
from cyclonedx.output.json import JsonV1Dot6
from packageurl import PackageURL

ROOT = Path(__file__).resolve().parent.parent
VIEWER_LOCK = ROOT / "page_viewer" / "package-lock.json"
#: The same zip gives the same bill: its number is drawn from the zip's content in this space of names.
_NUMBERS = uuid.uuid5(uuid.NAMESPACE_URL, "urn:in-the-round:extension")


def _licence(wheel: zipfile.ZipFile, told: Message) -> str:
    """The licence that a wheel states: as an expression, as classifiers, in words, or as the head of its licence's text."""
    if expression := told.get("License-Expression"):
        return str(expression)
    stated = [line.rpartition(" :: ")[2] for line in told.get_all("Classifier", []) if line.startswith("License :: ")]
    if words := " and ".join(stated) or told.get("License"):
        return str(words).splitlines()[0]
    files = (name for name in wheel.namelist() if ".dist-info/" in name and not name.endswith("/"))
    texts = [name for name in files if Path(name).name.upper().startswith(("LICENSE", "LICENCE", "COPYING"))]
    lines = wheel.read(texts[0]).decode("utf-8", "replace").split("\n") if texts else ["not stated"]
    return next(line.strip() for line in lines if line.strip())


def _of_wheel(name: str, content: bytes) -> Component:
    with zipfile.ZipFile(BytesIO(content)) as wheel:
        place = next(entry for entry in wheel.namelist() if entry.endswith(".dist-info/METADATA"))
        told = Parser().parsestr(wheel.read(place).decode("utf-8"), headersonly=True)
        licence = _licence(wheel, told)
    return Component(
        name=told["Name"],
        version=told["Version"],
        type=ComponentType.LIBRARY,
        bom_ref=name,
        licenses=[LicenseFactory().make_from_string(licence)],
        hashes=[HashType(alg=HashAlgorithm.SHA_256, content=hashlib.sha256(content).hexdigest())],
        purl=PackageURL("pypi", name=told["Name"].lower().replace("_", "-"), version=told["Version"]),
    )


def _of_viewer() -> Iterator[Component]:
    """What is bundled into the page's viewer: everything locked that is not only needed to build it."""
    for place, told in json.loads(VIEWER_LOCK.read_text(encoding="utf-8"))["packages"].items():
        if place and not told.get("dev"):
            name = place.rpartition("node_modules/")[2]
            yield Component(
                name=name,
                version=told["version"],
                type=ComponentType.LIBRARY,
                bom_ref=f"viewer-{name}",
                licenses=[LicenseFactory().make_from_string(told["license"])],
                purl=PackageURL("npm", name=name, version=told["version"]),
            )


def bill_of(path: Path) -> Bom:
    """The bill of materials of a zip."""
    content = path.read_bytes()
    with zipfile.ZipFile(BytesIO(content)) as package:
        names = package.namelist()
        manifest = tomllib.loads(package.read(next(n for n in names if n.endswith("blender_manifest.toml"))).decode("utf-8"))
        parts = [_of_wheel(Path(name).name, package.read(name)) for name in sorted(names) if name.endswith(".whl")]
        if any(name.endswith("page/built/viewer.js") for name in names):
            parts += _of_viewer()
    bill = Bom(components=parts, serial_number=uuid.uuid5(_NUMBERS, hashlib.sha256(content).hexdigest()))
    bill.metadata.timestamp = None
    bill.metadata.component = Component(
        name=manifest["id"],
        version=manifest["version"],
        type=ComponentType.APPLICATION,
        bom_ref=path.name,
        licenses=[LicenseFactory().make_from_string(manifest["license"][0].removeprefix("SPDX:"))],
        hashes=[HashType(alg=HashAlgorithm.SHA_256, content=hashlib.sha256(content).hexdigest())],
    )
    for part in parts:
        bill.register_dependency(bill.metadata.component, [part])
    return bill


def write_bill(path: Path) -> Path:
    """Write the bill of a zip beside it; return its path."""
    target = path.with_suffix(".bom.json")
    target.write_text(JsonV1Dot6(bill_of(path)).output_as_string(indent=1) + "\n", encoding="utf-8", newline="\n")
    return target


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("zips", nargs="+", type=Path)
    for path in parser.parse_args().zips:
        if not path.is_file():
            print(f"{path} is not there. Build it first: scripts/build_extension.py", file=sys.stderr)
            return 2
        print(write_bill(path))
    return 0


if __name__ == "__main__":
    sys.exit(main())
