"""Stills: a picture for each correction, the measure seen in it, before and after beside each other."""

from __future__ import annotations

import importlib.util
import json
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.review import Review, read_review, write_review


def pixels_of(path: Path) -> np.ndarray:
    """Rows of a PNG with eight bits a channel (ISO/IEC 15948), as a reader of its own: (height, width, channels)."""
    data = path.read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    width, height, depth, kind = struct.unpack(">IIBB", data[16:26])
    assert depth == 8
    channels = {2: 3, 6: 4}[kind]
    at, packed = 8, b""
    while at < len(data):
        length, name = struct.unpack(">I4s", data[at : at + 8])
        packed += data[at + 8 : at + 8 + length] if name == b"IDAT" else b""
        at += 12 + length
    raw = np.frombuffer(zlib.decompress(packed), dtype=np.uint8).reshape(height, 1 + width * channels)
    rows = np.zeros((height + 1, width * channels + channels), dtype=np.int64)
    for y, row in enumerate(raw.astype(np.int64), start=1):
        way, now, above = row[0], rows[y], rows[y - 1]
        for x in range(channels, now.size):
            left, up, corner = now[x - channels], above[x], above[x - channels]
            near = left + up - corner
            apart = abs(near - left), abs(near - up), abs(near - corner)
            paeth = left if apart[0] <= min(apart[1:]) else up if apart[1] <= apart[2] else corner
            now[x] = (row[1 + x - channels] + (0, left, up, (left + up) // 2, paeth)[way]) % 256
    return rows[1:, channels:].reshape(height, width, channels)


@pytest.mark.slow
@pytest.mark.skipif(importlib.util.find_spec("bpy") is None, reason="the Blender module is not installed")
def test_each_correction_has_its_picture_with_the_measure_on_it(takes: tuple[Review, Review], tmp_path: Path) -> None:
    for name, review in zip(("careless", "careful"), takes, strict=True):
        write_review(review, tmp_path / name)
    words = ["stills", str(tmp_path / "careless"), str(tmp_path / "careful"), "--out", str(tmp_path / "stills")]
    done = subprocess.run(
        [sys.executable, "-m", "in_the_round.command_line", *words, "--size", "256x144", "--json"],
        capture_output=True, text=True, timeout=500, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    written = [Path(path) for path in json.loads(done.stdout)["stills"]]
    ids = {finding.id for finding in read_review(tmp_path / "careless").findings}
    assert {path.stem for path in written} == ids
    assert len(ids) == 3
    for path in written:
        pixels = pixels_of(path)
        assert pixels.shape[:2] == (144, 256)
        red, green, blue = (pixels[..., channel] for channel in range(3))
        measured = (blue > 1.5 * red) & (blue > 1.3 * green) & (blue > 60)
        halves = measured[:, :128].sum(), measured[:, 128:].sum()
        # A fine line: some pixels in either half, and no flood.
        assert 5 < halves[0] < 1500, path.name
        assert 2 < halves[1] < 1500, path.name
    again = subprocess.run(
        [sys.executable, "-m", "in_the_round.command_line", *words], capture_output=True, text=True, check=False
    )
    assert again.returncode == 2
    assert "--force" in again.stderr
