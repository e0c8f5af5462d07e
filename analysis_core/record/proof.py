"""Looking for what must be gone, byte by byte, in whatever is left."""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..wording import keeping as words

_WINDOW = 8
#: Shorter texts (a first name, a note "ok") would be found by chance in any file, so they cannot prove anything.
SHORTEST = 4
#: A number is looked for when it has at least so many digits: 8.0 stands in every file.
_DIGITS = 6


@dataclass(frozen=True)
class Proof:
    """searched: bytes. hits: where something was still found; never what it was."""

    searched: int
    patterns: int
    hits: tuple[str, ...]


@dataclass
class Search:
    """Byte patterns to look for, as texts and as numbers."""

    patterns: set[bytes] = field(default_factory=set)

    def add_text(self, text: str) -> None:
        """A text in the two encodings that files of ours use, and as it stands in a JSON file that keeps to ASCII."""
        if len(text) >= SHORTEST:
            self.patterns |= {text.encode(), text.encode("utf-16-le"), text.encode("ascii", "backslashreplace")}

    def add_number(self, value: float) -> None:
        """A number as the embedded database stores it: eight bytes, the most significant first."""
        if value == value and len(repr(value).strip("-0.").replace(".", "")) >= _DIGITS:
            self.patterns.add(struct.pack(">d", value))


def found_in(data: bytes, patterns: Iterable[bytes]) -> set[bytes]:
    """Which patterns stand in some bytes, at any offset.

    The first eight bytes at every offset are compared with a sorted array at once; what fits is looked at in full.
    """
    long = sorted(pattern for pattern in patterns if len(pattern) >= _WINDOW)
    found = {pattern for pattern in patterns if len(pattern) < _WINDOW and pattern in data}
    if not long or len(data) < _WINDOW:
        return found
    heads: NDArray[np.uint64] = np.unique(
        np.array([int.from_bytes(pattern[:_WINDOW], "big") for pattern in long], dtype=np.uint64)
    )
    by_head: dict[bytes, list[bytes]] = {}
    for pattern in long:
        by_head.setdefault(pattern[:_WINDOW], []).append(pattern)
    for shift in range(_WINDOW):
        count = (len(data) - shift) // _WINDOW
        if count <= 0:
            break
        words = np.frombuffer(data, dtype=">u8", count=count, offset=shift).astype(np.uint64)
        places = np.minimum(np.searchsorted(heads, words), len(heads) - 1)
        for hit in np.flatnonzero(heads[places] == words):
            start = int(hit) * _WINDOW + shift
            found |= {pattern for pattern in by_head[data[start : start + _WINDOW]] if data.startswith(pattern, start)}
    return found


def _parts(path: Path) -> Iterable[bytes]:
    """The bytes of a file; of an archive (zip, npz) also what is packed in it."""
    data = path.read_bytes()
    yield data
    if zipfile.is_zipfile(io.BytesIO(data)):
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            for name in packed.namelist():
                yield packed.read(name)


def prove_gone(search: Search, files: Sequence[Path], more: Sequence[tuple[str, bytes]] = ()) -> Proof:
    """Search files, and bytes that were opened for it (name, content). A file that cannot be read counts as a hit."""
    searched, hits = 0, []
    for path in files:
        try:
            parts = list(_parts(path))
        except FileNotFoundError:
            # A log that the database took away when its last connection closed.
            continue
        except (OSError, zipfile.BadZipFile):
            hits.append(words.unreadable(path))
            continue
        searched += sum(len(part) for part in parts)
        if any(found_in(part, search.patterns) for part in parts):
            hits.append(str(path))
    for name, data in more:
        searched += len(data)
        if found_in(data, search.patterns):
            hits.append(name)
    return Proof(searched, len(search.patterns), tuple(hits))
