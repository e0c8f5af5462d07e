"""Reading takes: ``read_take`` tells the format by content and ending; one module per format."""

from __future__ import annotations

import hashlib
from pathlib import Path

from ..errors import OptionError, TakeError
from ..settings import Settings
from ..take import Take
from ..units import METRES_PER_UNIT, UP_AXES
from ..wording import numbers
from .bvh import read_bvh
from .c3d import read_c3d
from .infer import rate_is_believable

__all__ = ["read_take"]

#: Largest file that is read, in bytes. Proposed default: an hour of 60 markers at 240 Hz is 0.8 GB.
LARGEST_FILE = 4 * 1024**3


def _bytes_of(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise TakeError(f"{path} is a folder. Name one C3D or BVH file in it.")
        size = path.stat().st_size
        if size == 0:
            raise TakeError(f"{path.name} is empty (0 bytes). Export or copy the take again.")
        if size > LARGEST_FILE:
            most = numbers.number(LARGEST_FILE // 1024**3, "GB")
            raise TakeError(f"{path.name} is larger than {most}. Cut the take into phrases.")
        return path.read_bytes()
    except FileNotFoundError:
        raise TakeError(f"{path} does not exist. Check the name.") from None
    except OSError as error:
        raise TakeError(f"{path} cannot be read ({error.strerror or error}). Check that you may open it.") from error


def _check_settings(settings: Settings) -> None:
    if settings.up is not None and settings.up not in UP_AXES:
        raise OptionError(f"“{settings.up}” is no up axis. Use one of {', '.join(UP_AXES)}.")
    if settings.unit is not None and settings.unit not in METRES_PER_UNIT:
        raise OptionError(f"“{settings.unit}” is no unit. Use one of {', '.join(METRES_PER_UNIT)}.")
    if settings.rate_hz is not None and not rate_is_believable(settings.rate_hz):
        raise OptionError(f"A rate of {numbers.hertz(settings.rate_hz)} makes no sense. Give frames per second, such as 120.")


def _is_c3d(path: Path, data: bytes) -> bool:
    # Byte 2 of every C3D is the key 0x50 ("P"); the ending decides where it is damaged.
    return path.suffix.lower() == ".c3d" or (path.suffix.lower() != ".bvh" and data[1:2] == b"P" and data[:1] < b"\x20")


def read_take(path: Path, settings: Settings = Settings()) -> Take:  # noqa: B008 - frozen
    """Read one take, C3D or BVH, into metres, seconds and Z up; everything inferred is listed in ``take.inferred``.

    ``settings.up``, ``unit``, ``rate_hz`` and ``person`` override what would be inferred. Missing samples are NaN.
    Raises TakeError with a sentence for a file that cannot be read, OptionError for a setting that makes no sense.
    """
    path = Path(path)
    _check_settings(settings)
    data = _bytes_of(path)
    sha256 = hashlib.sha256(data).hexdigest()
    if _is_c3d(path, data):
        return read_c3d(path, data, sha256, settings)
    if b"HIERARCHY" in data[:4096].replace(b"\0", b"").upper():
        return read_bvh(path, data, sha256, settings)
    if path.suffix.lower() == ".bvh":
        raise TakeError(f"{path.name} does not begin like a BVH file (no HIERARCHY). Export the take again.")
    raise TakeError(f"{path.name} is neither a C3D nor a BVH file. Export the take as one of these.")
