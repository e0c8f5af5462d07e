"""USDZ: a stored zip of USD files, data of each on a multiple of 64 bytes (USD specification, "usdz file format")."""

from __future__ import annotations

import struct
import zipfile
from collections.abc import Mapping
from pathlib import Path

_ALIGNED = 64
#: Identifier of the extra field that pads (the specification leaves its choice free; this one is unused).
_PADDING_ID = 0x1986
_HEADER = 30


def pack_usdz(usd: Path, path: Path, *, name: str, others: Mapping[str, bytes] | None = None) -> None:
    """Pack one USD file into ``path``, called ``name`` inside, and behind it the other files that it names."""
    begin = 0
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as archive:
        for inside, data in {name: usd.read_bytes(), **(others or {})}.items():
            info = zipfile.ZipInfo(inside, date_time=(1980, 1, 1, 0, 0, 0))
            begin += _HEADER + len(inside.encode()) + 4
            padding = -begin % _ALIGNED
            info.extra = struct.pack("<HH", _PADDING_ID, padding) + b"\0" * padding
            archive.writestr(info, data)
            begin += padding + len(data)
