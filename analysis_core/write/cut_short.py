"""Pictures and films that another program wrote: whether they are all there. On a full disk Blender cuts them in silence."""

from __future__ import annotations

from pathlib import Path

from ..errors import OutputError

#: The last chunk of every PNG file: length 0, its name, its check sum. PNG specification (W3C), 11.2.5.
_END_OF_PNG = b"\x00\x00\x00\x00IEND\xaeB`\x82"


def _whole_png(data: bytes) -> bool:
    return data.endswith(_END_OF_PNG)


def _whole_webp(data: bytes) -> bool:
    # A RIFF file says how long it is. WebP container specification.
    return data[:4] == b"RIFF" and len(data) - 8 >= int.from_bytes(data[4:8], "little") > 0


def _whole_mp4(data: bytes) -> bool:
    """Boxes one after the other that end where the file ends, the table of all pictures among them (ISO 14496-12)."""
    place, kinds = 0, set()
    while place + 8 <= len(data):
        length, kind = int.from_bytes(data[place : place + 4], "big"), data[place + 4 : place + 8]
        if length == 1:
            length = int.from_bytes(data[place + 8 : place + 16], "big")
        if length < 8:
            return False
        kinds.add(kind)
        place += length
    return place == len(data) and b"moov" in kinds


_WHOLE = {".png": _whole_png, ".webp": _whole_webp, ".mp4": _whole_mp4}


def require_whole(path: Path) -> None:
    """Raise OutputError when a picture (PNG, WebP) or film (MP4) is not there or cut short; other files, when they are empty."""
    try:
        data = path.read_bytes()
    except OSError:
        data = b""
    if not _WHOLE.get(path.suffix.lower(), bool)(data):
        raise OutputError(
            f"{path.name} came out cut short: no room was left on the disk of {path.parent}. Free some, then do it again."
        )
