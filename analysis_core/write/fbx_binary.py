"""The binary form of FBX 7.4: nodes with typed properties, as Blender's own exporter (GPL) writes them."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

VERSION = 7400
_HEAD = b"Kaydara FBX Binary  \x00\x1a\x00"
#: Readers check these three against each other; they belong to the fixed time below.
FILE_ID = b"\x28\xb3\x2a\xeb\xb6\x24\xcc\xc2\xbf\xc8\xb0\x2a\xa9\x2b\xfc\xf1"
CREATION_TIME = "1970-01-01 10:00:00:000"
_FOOT_ID = b"\xfa\xbc\xab\x09\xd0\xc8\xd4\x66\xb1\x76\xfb\x83\x1c\xf7\x26\x7e"
_FOOT_MAGIC = b"\xf8\x5a\x8c\x6a\xde\xf5\xd9\x7e\xec\xe9\x0c\xe3\x75\x8f\x29\x0b"
#: A list of nodes ends with a record of zeros, and these end with one even when they hold no node.
_END = b"\0" * 13
_ALWAYS_ENDED = ("AnimationStack", "AnimationLayer")
_ARRAYS = {"f8": b"d", "f4": b"f", "i4": b"i", "i8": b"l"}


@dataclass
class Node:
    """A node: name, properties (int, float, str, bytes, bool or a flat array) and the nodes in it."""

    name: str
    properties: tuple[Any, ...] = ()
    nodes: list[Node] = field(default_factory=list)

    def add(self, name: str, *properties: Any) -> Node:
        """A further node in this one."""
        node = Node(name, properties)
        self.nodes.append(node)
        return node


@dataclass(frozen=True)
class Long:
    """A whole number of 64 bits (identifiers and times); plain int is one of 32."""

    value: int


def _array(values: NDArray[Any]) -> bytes:
    data = np.ascontiguousarray(values)
    packed = zlib.compress(data.tobytes(), 1)
    return _ARRAYS[data.dtype.str[1:]] + struct.pack("<III", data.size, 1, len(packed)) + packed


def _property(value: Any) -> bytes:
    if isinstance(value, np.ndarray):
        return _array(value)
    if isinstance(value, Long):
        return b"L" + struct.pack("<q", value.value)
    if isinstance(value, bool):
        return b"C" + struct.pack("<B", value)
    if isinstance(value, int):
        return b"I" + struct.pack("<i", value)
    if isinstance(value, float):
        return b"D" + struct.pack("<d", value)
    kind, data = (b"R", value) if isinstance(value, bytes) else (b"S", str(value).encode("utf-8"))
    return kind + struct.pack("<I", len(data)) + data


def _encoded(node: Node, begin: int) -> bytes:
    name, properties = node.name.encode(), b"".join(_property(value) for value in node.properties)
    head = 13 + len(name) + len(properties)
    inner = b"".join(_all_encoded(node.nodes, begin + head))
    if node.nodes or not node.properties or node.name in _ALWAYS_ENDED:
        inner += _END
    end = begin + head + len(inner)
    return struct.pack("<IIIB", end, len(node.properties), len(properties), len(name)) + name + properties + inner


def _all_encoded(nodes: Iterable[Node], begin: int) -> list[bytes]:
    found = []
    for node in nodes:
        found.append(_encoded(node, begin))
        begin += len(found[-1])
    return found


def to_bytes(nodes: list[Node]) -> bytes:
    """A whole file."""
    head = _HEAD + struct.pack("<I", VERSION)
    body = head + b"".join(_all_encoded(nodes, len(head))) + _END + _FOOT_ID + b"\0" * 4
    padding = b"\0" * (16 - len(body) % 16)
    return body + padding + struct.pack("<I", VERSION) + b"\0" * 120 + _FOOT_MAGIC
