"""Which libraries of the system Blender's module needs, and the Debian packages that bring them.

Standard library only: the scripts ask this before anything is installed.
"""

from __future__ import annotations

import ctypes
import sys

#: Without one of these the module cannot even be imported (read off its NEEDED entries and tried on a bare Debian).
NEEDED_TO_IMPORT = {
    "libX11.so.6": "libx11-6",
    "libXrender.so.1": "libxrender1",
    "libXfixes.so.3": "libxfixes3",
    "libXi.so.6": "libxi6",
    "libXext.so.6": "libxext6",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libSM.so.6": "libsm6",
    "libICE.so.6": "libice6",
    "libGL.so.1": "libgl1",
}
#: Without this Blender's quick engines end the process; Cycles renders without it, but slowly.
NEEDED_FOR_QUICK_RENDERING = {"libEGL.so.1": "libegl1"}


def _packages_missing(table: dict[str, str]) -> list[str]:
    if not sys.platform.startswith("linux"):
        return []
    missing = []
    for library, package in table.items():
        try:
            ctypes.CDLL(library)
        except OSError:
            missing.append(package)
    return missing


def missing_to_import() -> list[str]:
    """Debian packages without which Blender's module cannot be imported here; empty when all is there."""
    return _packages_missing(NEEDED_TO_IMPORT)


def missing_for_quick_rendering() -> list[str]:
    """Debian packages that would make renders faster here; empty when all is there."""
    return _packages_missing(NEEDED_FOR_QUICK_RENDERING)
