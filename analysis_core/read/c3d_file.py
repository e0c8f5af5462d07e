"""The header, the parameters and the sizes of a C3D file, checked before any reader of samples is trusted with it.

Layout after the format's open description (C3D file format user guide, c3d.org): blocks of 512 bytes; a header; groups and
parameters as linked records; then frames of points and analog samples, in the byte order of one of three processors.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..errors import TakeError
from ..take import Floats
from ..wording import reading as say
from .infer import is_cut_short

BLOCK = 512
Processor = Literal["intel", "dec", "mips"]
_PROCESSORS: dict[int, Processor] = {84: "intel", 85: "dec", 86: "mips"}

#: Most dimensions a parameter may have by the format.
_MOST_DIMENSIONS = 7

_TEXT, _BYTE, _INTEGER, _FLOAT = -1, 1, 2, 4


@dataclass(frozen=True)
class Parameter:
    """One parameter as it is stored. kind: -1 text, 1 byte, 2 integer, 4 float; dimensions: fastest first."""

    kind: int
    dimensions: tuple[int, ...]
    raw: bytes
    processor: Processor

    @property
    def count(self) -> int:
        """How many values (of a text: characters) there are."""
        return int(np.prod(self.dimensions, dtype=np.int64))

    def numbers(self, *, unsigned: bool = False) -> Floats:
        """The values in the stored shape, first index fastest; empty for a text."""
        order = ">" if self.processor == "mips" else "<"
        values: NDArray[np.generic]
        if self.kind == _BYTE:
            values = np.frombuffer(self.raw, dtype=np.uint8)
        elif self.kind == _INTEGER:
            values = np.frombuffer(self.raw, dtype=order + ("u2" if unsigned else "i2"))
        elif self.kind == _FLOAT:
            values = floats(self.raw, self.processor)
        else:
            return np.empty(0)
        shape = self.dimensions or (1,)
        return values.astype(np.float64).reshape(shape, order="F")

    def texts(self) -> list[str]:
        """The strings without the blanks and zeros they are padded with; empty for numbers."""
        if self.kind != _TEXT or not self.count:
            return []
        length = self.dimensions[0] if self.dimensions else 1
        return [_text(self.raw[start : start + length]) for start in range(0, self.count, length)]


def floats(raw: bytes, processor: Processor) -> NDArray[np.float32]:
    """Stored 32-bit floats as this machine's own."""
    if processor == "dec":
        # The two words of a DEC float are swapped and its exponent is larger by two.
        swapped = np.frombuffer(raw, dtype="<u2").reshape(-1, 2)[:, ::-1].copy().view("<f4")[:, 0]
        with np.errstate(all="ignore"):
            return (swapped / 4).astype(np.float32)
    return np.frombuffer(raw, dtype=">f4" if processor == "mips" else "<f4").astype(np.float32)


def _text(raw: bytes) -> str:
    raw = raw.split(b"\0")[0].rstrip(b" ")
    try:
        return raw.decode("utf-8").strip()
    except UnicodeDecodeError:
        return raw.decode("cp1252", "replace").strip()


@dataclass(frozen=True)
class C3dFile:
    """A C3D file whose structure holds together.

    data: all bytes. parameters: by ``GROUP:NAME`` in capitals. broken_at: byte at which the parameters stop making sense,
    None when they are whole. data_start: first byte of the samples. frames: whole frames that are there. first_frame: the
    recording's own number of the first. scale: of the points, negative for floats. warnings: sentences about what was odd.
    """

    name: str
    data: bytes
    processor: Processor
    parameters: dict[str, Parameter]
    broken_at: int | None
    parameter_start: int
    data_start: int
    points: int
    channels: int
    analog_per_frame: int
    scale: float
    first_frame: int
    frames: int
    announced_frames: int
    rate_hz: float
    warnings: tuple[str, ...]

    @property
    def analog_rate_hz(self) -> float:
        """Rate of the analog samples."""
        return self.rate_hz * self.analog_per_frame

    def numbers(self, key: str, *, unsigned: bool = False) -> Floats:
        """Values of a numeric parameter; empty when it is not there or is a text."""
        parameter = self.parameters.get(key)
        return parameter.numbers(unsigned=unsigned) if parameter else np.empty(0)

    def count(self, key: str) -> int:
        """A parameter that counts something; 0 when it is not there or makes no sense."""
        value = _first(self.parameters, key)
        return int(value) if value is not None and 0 < value <= 32767 else 0

    def texts(self, key: str) -> list[str]:
        """Strings of a text parameter and of those that continue it (LABELS, LABELS2, …)."""
        found: list[str] = []
        number = 1
        while (parameter := self.parameters.get(key if number == 1 else f"{key}{number}")) is not None:
            found += parameter.texts()
            number += 1
        return found


def _refuse(name: str, what: str) -> TakeError:
    return TakeError(f"{name}: {what} Export or copy the take again.")


def _read_record(data: bytes, at: int, end: int, processor: Processor) -> tuple[int, str, int, int, int] | None:
    """Group number, name, first byte of the body, byte after it and next record of the record at ``at``; None: broken."""
    length, group = struct.unpack_from("bb", data, at)
    length = abs(length)
    if at + 4 + length > end or group == 0:
        return None
    name = data[at + 2 : at + 2 + length]
    if not name.isascii() or not name.decode("ascii").isprintable():
        return None
    (offset,) = struct.unpack_from(">H" if processor == "mips" else "<H", data, at + 2 + length)
    body = at + 4 + length
    following = at + 2 + length + offset if offset else 0
    if offset and (offset < 3 or following > end):
        return None
    return group, name.decode("ascii").strip().upper(), body, following or end, following


def _read_parameter(data: bytes, body: int, end: int, processor: Processor) -> Parameter | None:
    if body + 2 > end:
        return None
    kind, count = struct.unpack_from("bB", data, body)
    if kind not in (_TEXT, _BYTE, _INTEGER, _FLOAT) or count > _MOST_DIMENSIONS or body + 2 + count > end:
        return None
    dimensions = tuple(data[body + 2 : body + 2 + count])
    size = abs(kind) * int(np.prod(dimensions, dtype=np.int64))
    start = body + 2 + count
    if start + size > end:
        return None
    return Parameter(kind, dimensions, data[start : start + size], processor)


def _read_parameters(data: bytes, start: int, end: int, processor: Processor) -> tuple[dict[str, Parameter], int | None]:
    """All parameters by ``GROUP:NAME``, and where they stop making sense."""
    groups: dict[int, str] = {}
    found: list[tuple[int, str, Parameter]] = []
    at, broken = start, None
    while at + 2 <= end and data[at] != 0:
        record = _read_record(data, at, end, processor)
        if record is None:
            broken = at
            break
        group, name, body, body_end, following = record
        if group < 0:
            groups.setdefault(-group, name)
        else:
            parameter = _read_parameter(data, body, body_end, processor)
            if parameter is None:
                broken = at
                if not following:
                    break
            else:
                found.append((group, name, parameter))
        if not following:
            break
        at = following
    parameters: dict[str, Parameter] = {}
    for group, name, parameter in found:
        parameters.setdefault(f"{groups.get(group, '')}:{name}", parameter)
    return parameters, broken


def _first(parameters: dict[str, Parameter], key: str, *, unsigned: bool = False) -> float | None:
    """First value of a numeric parameter; None when there is none."""
    parameter = parameters.get(key)
    values = parameter.numbers(unsigned=unsigned) if parameter else np.empty(0)
    return float(values.flat[0]) if values.size and np.isfinite(values.flat[0]) else None


def _long_number(parameters: dict[str, Parameter], key: str) -> int | None:
    """A number in two 16-bit words, low word first."""
    parameter = parameters.get(key)
    values = parameter.numbers(unsigned=True).ravel() if parameter else np.empty(0)
    return int(values[0] + 65536 * values[1]) if values.size >= 2 else None


def _announced_frames(parameters: dict[str, Parameter], first: int, last: int, room: int) -> tuple[int, int]:
    """Frames that the file says it has and the number of the first one; ``room``: how many would fit into the file.

    The header and a 16-bit parameter cannot count beyond 65,535; files that are longer say so in other places.
    """
    start, end = (_long_number(parameters, f"TRIAL:ACTUAL_{which}_FIELD") for which in ("START", "END"))
    candidates: list[int] = []
    if start is not None and end is not None and start % 65536 == first % 65536:
        candidates.append(end - start + 1)
        first = start
    for key in ("POINT:LONG_FRAMES", "POINT:FRAMES"):
        value = _first(parameters, key, unsigned=True)
        if value is not None:
            candidates.append(int(value))
    in_header = last - first + 1 if first % 65536 == first else 0
    candidates.append(in_header)
    candidates = [count for count in candidates if count > 0]
    if not candidates:
        return 0, first
    longest = max(candidates)
    counted_full = 65535 in (last, *candidates)
    if counted_full and longest <= 65535 and room > longest:
        return room, first
    fitting = [count for count in candidates if count <= room]
    return (fitting[0] if fitting else candidates[0]), first


def _nothing_to_review(name: str, parameters: dict[str, Parameter], channels: int) -> TakeError:
    if (_first(parameters, "ROTATION:USED", unsigned=True) or 0) > 0:
        return TakeError(
            f"{name}: it holds orientations of body segments but no markers, and cannot be reviewed. "
            "Export the take again with its marker positions, or as a BVH skeleton."
        )
    if channels:
        return TakeError(
            f"{name}: it holds {channels} analog channels (such as forces) but no markers, so there is no movement to review. "
            "Export the take again with its marker positions."
        )
    return TakeError(f"{name}: it holds no markers. Export the take again with its marker positions.")


def _parameter_section(name: str, data: bytes) -> tuple[int, Processor]:
    """Where the parameters begin, and the kind of processor that wrote them. Raises TakeError when this is no C3D file."""
    if len(data) < 2 * BLOCK:
        raise _refuse(name, "it is too short for a C3D file.")
    if data[1] != 0x50 or data[0] < 2:
        raise _refuse(name, "it does not begin like a C3D file.")
    section = (data[0] - 1) * BLOCK
    if section + 4 > len(data):
        raise _refuse(name, "its parameter section lies behind its end, so the file was cut short or is damaged.")
    processor = _PROCESSORS.get(data[section + 3])
    if processor is None:
        raise _refuse(name, "its parameter section does not name a known processor, so the file is damaged.")
    return section, processor


def _warnings_of_length(name: str, announced: int, room: int) -> list[str]:
    """What is said when a file announces more frames than it has room for. Raises TakeError when it holds none, or was cut."""
    if not announced:
        raise TakeError(f"{name}: it holds no frames. Export the take again, with its whole length.")
    if announced <= room:
        return []
    if room < 1 or is_cut_short(announced, room):
        raise TakeError(
            f"{name}: it is cut short: it announces {announced} frames and holds {room}. Copy it again from its source."
        )
    return [say.end_missing(announced, room)]


@dataclass(frozen=True)
class _Header:
    """What the first block says: counts, the frames' own numbers, the block in which the samples begin, scale and rate."""

    points: int
    analog_total: int
    first: int
    last: int
    data_block: int
    analog_per_frame: int
    scale: float
    rate_hz: float


def _read_header(data: bytes, processor: Processor) -> _Header:
    order = ">" if processor == "mips" else "<"
    points, analog_total, first, last = struct.unpack_from(order + "4H", data, 2)
    scale = float(floats(data[12:16], processor)[0])
    data_block, per_frame = struct.unpack_from(order + "2H", data, 16)
    rate = float(floats(data[20:24], processor)[0])
    return _Header(points, analog_total, first, last, data_block, per_frame, scale, rate)


@dataclass(frozen=True)
class _Layout:
    """How the samples lie: where they begin, how many of what there are in a frame, and what they count in."""

    data_start: int
    points: int
    channels: int
    analog_per_frame: int
    scale: float
    rate_hz: float

    def room(self, size: int) -> int:
        """How many whole frames fit into a file of so many bytes."""
        frame_bytes = (4 if self.scale < 0 else 2) * (4 * self.points + self.channels * self.analog_per_frame)
        return (size - self.data_start) // frame_bytes


def _layout_of(name: str, size: int, section: int, header: _Header, parameters: dict[str, Parameter]) -> _Layout:
    """How the samples lie by the parameters, and by the header where they say nothing. Raises TakeError when that cannot be."""
    used = _first(parameters, "POINT:USED", unsigned=True)
    points = int(used) if used is not None else header.points
    channels_used = _first(parameters, "ANALOG:USED", unsigned=True)
    in_header = header.analog_total // max(header.analog_per_frame, 1)
    channels = int(channels_used) if channels_used is not None else in_header
    if not points:
        raise _nothing_to_review(name, parameters, channels)
    block = header.data_block or int(_first(parameters, "POINT:DATA_START", unsigned=True) or 0)
    data_start = (block - 1) * BLOCK
    if not section < data_start < size:
        raise _refuse(name, "its samples would lie outside the file, so it was cut short or is damaged.")
    stored_scale = _first(parameters, "POINT:SCALE")
    scale = stored_scale if stored_scale is not None else header.scale
    if not np.isfinite(scale) or scale == 0:
        raise _refuse(name, "the scale of its points makes no sense.")
    rate = _first(parameters, "POINT:RATE") or header.rate_hz
    return _Layout(data_start, points, channels, header.analog_per_frame if channels else 0, scale, rate)


def parse_c3d(name: str, data: bytes) -> C3dFile:
    """Parse the header and the parameters of a C3D file; ``name`` is for messages.

    Raises TakeError with a sentence when it is no C3D file, is damaged or cut short, or holds no markers or no frames.
    """
    section, processor = _parameter_section(name, data)
    header = _read_header(data, processor)
    # The number of blocks that the section gives for itself is often wrong; where the samples start is not.
    samples = (header.data_block - 1) * BLOCK
    end = samples if section < samples <= len(data) else min(len(data), section + data[section + 2] * BLOCK)
    parameters, broken = _read_parameters(data, section + 4, end, processor)
    if broken is not None and "POINT:SCALE" not in parameters and "POINT:RATE" not in parameters:
        raise _refuse(name, "its parameter section is damaged.")
    layout = _layout_of(name, len(data), section, header, parameters)
    room = layout.room(len(data))
    announced, first = _announced_frames(parameters, header.first, header.last, room)
    warnings = _warnings_of_length(name, announced, room)
    if broken is not None:
        warnings.append(say.PARAMETERS_DAMAGED)
    return C3dFile(
        name=name,
        data=data,
        processor=processor,
        parameters=parameters,
        broken_at=broken,
        parameter_start=section,
        data_start=layout.data_start,
        points=layout.points,
        channels=layout.channels,
        analog_per_frame=layout.analog_per_frame,
        scale=layout.scale,
        first_frame=max(first, 1),
        frames=min(announced, room),
        announced_frames=announced,
        rate_hz=layout.rate_hz,
        warnings=tuple(warnings),
    )
