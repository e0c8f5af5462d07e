"""Build the guides into one static site that also opens from disk: build_docs.py [OUT]   (default: build/guides)."""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from pathlib import Path

import pages_from_code
from sphinx.cmd.build import build_main

ROOT = Path(__file__).resolve().parent.parent
#: Pages beside those that are kept in docs/.
_FROM_CODE = {
    "commands.md": pages_from_code.commands,
    "reference.md": pages_from_code.reference,
    "markers.md": pages_from_code.markers,
}
#: Pages of the repository's top that the site shows too.
_FROM_THE_TOP = ("CHANGELOG.md",)


def build(out: Path) -> int:
    """Build the site into a folder, which is replaced; return the builder's exit code (0: no warning at all)."""
    with tempfile.TemporaryDirectory() as temporary:
        source = Path(temporary) / "docs"
        shutil.copytree(ROOT / "docs", source)
        # conf.py reads the version from the project's own file.
        shutil.copy2(ROOT / "pyproject.toml", temporary)
        pages = source / "from_code"
        pages.mkdir()
        for name, written in _FROM_CODE.items():
            (pages / name).write_text(written(), encoding="utf-8")
        for name in _FROM_THE_TOP:
            shutil.copy2(ROOT / name, pages / name.lower())
        made = Path(temporary) / "site"
        strict = ["-q", "-W", "--keep-going"]
        code = build_main([*strict, "-b", "html", "-d", str(Path(temporary) / "trees"), str(source), str(made)])
        if code == 0:
            # Only the builder reads it.
            (made / ".buildinfo").unlink(missing_ok=True)
            if out.exists():
                shutil.rmtree(out)
            shutil.copytree(made, out)
    return int(code)


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", nargs="?", type=Path, default=ROOT / "build" / "guides", help="folder of the site")
    out = parser.parse_args().out
    if out.exists() and any(out.iterdir()) and not (out / "genindex.html").exists():
        print(f"{out} holds other things than guides. Choose another folder.", file=sys.stderr)
        return 2
    code = build(out)
    if code == 0:
        print(f"{out / 'index.html'} is ready.")
    return code


if __name__ == "__main__":
    sys.exit(main())
