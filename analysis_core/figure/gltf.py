"""A binary glTF 2.0 file put together from arrays (Khronos Group, glTF 2.0 specification; KHR_mesh_quantization)."""

from __future__ import annotations

import json
import struct
from typing import Any

import numpy as np
from numpy.typing import NDArray

_MAGIC, _VERSION, _JSON, _BINARY = 0x46546C67, 2, 0x4E4F534A, 0x004E4942
_COMPONENT = {"int8": 5120, "uint8": 5121, "int16": 5122, "uint16": 5123, "uint32": 5125, "float32": 5126}
_TYPE = {1: "SCALAR", 2: "VEC2", 3: "VEC3", 4: "VEC4", 16: "MAT4"}
VERTICES, INDICES = 34962, 34963


class File:
    """Collects what a file holds; ``document`` is the glTF object, to be filled in by the caller."""

    def __init__(self) -> None:
        self.document: dict[str, Any] = {
            "asset": {"version": "2.0", "generator": "In the Round"},
            "accessors": [],
            "bufferViews": [],
        }
        self._parts: list[bytes] = []
        self._length = 0

    def add(self, values: NDArray[Any], *, target: int | None = None, normalized: bool = False, bounds: bool = False) -> int:
        """Put an array (N,) or (N, components) into the file; return the number of its accessor.

        target: VERTICES or INDICES where it is one; every row of vertices then begins on a multiple of four bytes, as the
        specification asks. bounds: whether least and greatest values are told. Raises KeyError for a type that glTF has not.
        """
        rows = values.reshape(len(values), -1)
        size = rows.dtype.itemsize * rows.shape[1]
        padded = -(-size // 4) * 4 if target == VERTICES else size
        data = np.zeros((len(rows), padded), dtype=np.uint8)
        data[:, :size] = np.ascontiguousarray(rows).view(np.uint8).reshape(len(rows), size)
        view: dict[str, Any] = {"buffer": 0, "byteOffset": self._length, "byteLength": data.size}
        if target is not None:
            view["target"] = target
        if target == VERTICES:
            view["byteStride"] = padded
        self._append(data.tobytes())
        self.document["bufferViews"].append(view)
        accessor: dict[str, Any] = {
            "bufferView": len(self.document["bufferViews"]) - 1,
            "componentType": _COMPONENT[rows.dtype.name],
            "count": len(rows),
            "type": _TYPE[rows.shape[1]],
        }
        if normalized:
            accessor["normalized"] = True
        if bounds:
            accessor |= {"min": rows.min(axis=0).tolist(), "max": rows.max(axis=0).tolist()}
        self.document["accessors"].append(accessor)
        return len(self.document["accessors"]) - 1

    def _append(self, data: bytes) -> None:
        data += b"\0" * (-len(data) % 4)
        self._parts.append(data)
        self._length += len(data)

    def to_bytes(self) -> bytes:
        """The whole file."""
        self.document["buffers"] = [{"byteLength": self._length}]
        text = json.dumps(self.document, separators=(",", ":"), ensure_ascii=False).encode("utf-8")
        text += b" " * (-len(text) % 4)
        total = 12 + 8 + len(text) + 8 + self._length
        head = struct.pack("<IIIII", _MAGIC, _VERSION, total, len(text), _JSON)
        return b"".join([head, text, struct.pack("<II", self._length, _BINARY), *self._parts])
