"""Pictures and films that are cut short are refused at whatever byte they end; whole ones pass."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

import pytest
from in_the_round.analysis_core.errors import OutputError
from in_the_round.analysis_core.write.cut_short import require_whole


def png() -> bytes:
    """One black pixel, by the PNG specification."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0\0")) + chunk(b"IEND", b"")


def webp() -> bytes:
    return b"RIFF" + struct.pack("<I", 24) + b"WEBP" + b"VP8 " + struct.pack("<I", 12) + bytes(12)


def mp4() -> bytes:
    """Boxes as a film has them, the table of its pictures last; one of them with a length of 64 bits."""
    long = struct.pack(">I4sQ", 1, b"mdat", 16 + 40) + bytes(40)
    return struct.pack(">I4s", 16, b"ftyp") + b"isom0000" + long + struct.pack(">I4s", 28, b"moov") + bytes(20)


@pytest.mark.parametrize(("name", "data"), [("a.png", png()), ("a.webp", webp()), ("a.mp4", mp4()), ("a.other", b"x")])
def test_cut_at_any_byte(name: str, data: bytes, tmp_path: Path) -> None:
    path = tmp_path / name
    with pytest.raises(OutputError, match="came out cut short"):
        require_whole(path)
    path.write_bytes(data)
    require_whole(path)
    for end in range(len(data)):
        path.write_bytes(data[:end])
        with pytest.raises(OutputError, match="no room was left"):
            require_whole(path)
