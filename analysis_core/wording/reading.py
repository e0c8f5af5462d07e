"""Sentences about what was concluded from a file that does not say it, and what in it could not be used."""

from __future__ import annotations

from . import numbers

HEAD_ABOVE_FEET = "head and shoulders lie above the feet along it"
PLATES_ACROSS = "the force plates lie flat across it"
BVH_UP_BY_CUSTOM = "nothing in the file tells; BVH files are Y up by custom"
C3D_UP_BY_CUSTOM = "nothing in the file tells; C3D files are Z up by custom"
SIZE_BY_CUSTOM = "nothing in the recording tells the size of a body; taken by custom"
ONE_LABEL_IN_PIECES = "they carry one label and never appear at the same time"
BONES_KEEP_LENGTH = "the bones keep their length that way"
HEIGHT_UNCHANGED = "the format says so; it does not change the height"
REST_POSE_FIRST = "it shows the skeleton in its rest pose and is left with a jump: no part of the movement"
LAST_ROW_CUT = "The last row of the motion is incomplete and was left out."
WRITTEN_IN_FILE = "written in the file"
AS_ASKED = "as asked for"
ONE_WITHOUT_A_NAME = "one person without a name"
CHANNELS_BELOW_ROOT = "position channels below the root"
INSTEAD_OF_OFFSET, ADDED_TO_OFFSET = "instead of the OFFSET", "added to the OFFSET"
PARAMETERS_DAMAGED = "A part of the file's parameters is damaged and was left out."
#: Of an armature in a Blender file.
BLENDERS_OWN, UNIT_OF_SCENE, RATE_OF_SCENE = "Blender's own", "the unit scale of the scene", "the frame rate of the scene"


def unreadable_from_line(number: int) -> str:
    """Where a text file stops making sense: it was cut off, or written over."""
    return f"it cannot be read from line {number} on"


def tallest_along(times: float) -> str:
    """Unnamed points that are tall along one axis."""
    return f"the points reach {numbers.plain(times, 2)} times as far along it as across, and keep to one level at its lower end"


def tall_in(stature: float, tall_m: float, unit: str) -> str:
    """A body that is as tall as a person in one unit."""
    return f"the body is {numbers.plain(stature)} units tall, that is {numbers.metres(tall_m)} if the unit is {unit}"


def tall_in_no_unit(stature: float, assumed_m: float) -> str:
    """A body that is as tall as a person in no unit."""
    assumed = numbers.metres(assumed_m)
    return f"the body is {numbers.plain(stature)} units tall, which fits no known unit; a stature of {assumed} is assumed"


def unit_named(unit: str, tall_m: float | None) -> str:
    """A unit that the file names; tall_m: of the body with it, None where it is not known."""
    return f"the file names it “{unit}”" + ("" if tall_m is None else f", and the body is {numbers.metres(tall_m)} tall with it")


def unit_said(unit: str) -> str:
    """What the file says of its unit, "" where it says none."""
    return f"the file names “{unit}”" if unit else "the file names none"


def unit_contradicted(unit: str, why: str) -> str:
    """A unit that cannot be the one that the file names."""
    return f"the file names “{unit}”, but {why}"


def lies_within(said: str, extent_m: float, unit: str) -> str:
    """Markers that fit a room in one unit."""
    return f"{said}; the markers lie within {numbers.metres(extent_m)} if the unit is {unit}"


def millimetres_by_custom(said: str) -> str:
    """Nothing tells the unit of a C3D file."""
    return f"{said}; C3D files are in mm by custom"


def scaled_by_fall(why: str) -> str:
    """A skeleton whose size was found from its fall."""
    return f"{why}; a BVH file has no unit"


def several_people(count: int, names: str, reviewed: str = "the first") -> str:
    """A file of which one person is reviewed."""
    return f"The file holds {count} people ({names}); {reviewed} is reviewed. Choose with --person."


def first_of(count: int) -> str:
    """Which of several people is reviewed when nobody was asked for."""
    return f"the first of {count} in the file"


def drawn_upwards(axis: str) -> str:
    """What a C3D file says of its axes."""
    return f"the file draws {axis} upwards on the screen"


def frame_time(written: str, *, rounded: bool = False) -> str:
    """A rate that stands in the file as the time of a frame, in seconds. rounded: it is that of a usual rate, rounded."""
    return f"frame time {numbers.as_written(written, 's')}{' is that rate, rounded' if rounded else ''}"


def lowest_joint(then: str, otherwise: str) -> str:
    """Why a root's offset is added or not; both in body heights."""
    return f"the lowest joint then comes down to {then}, otherwise to {otherwise}"


def size_not_known(why: str) -> str:
    """A skeleton without a size."""
    return f"The size of the dancer is not known ({why}). Give the unit with --unit if you know it."


def unit_not_certain(why: str) -> str:
    """A recording whose unit hangs on a guess."""
    return f"The unit of length is not certain ({why}). Give it with --unit if you know it."


def rows_of_another_width(bad: int, rows: int, width: int) -> str:
    """Rows of a motion that cannot be read."""
    return f"{bad} of {rows} rows of the motion do not hold {width} numbers; those frames count as missing."


def frames_found(frames: int) -> str:
    """A file that does not say how long it is."""
    return f"The file does not say how many frames it has; {frames} were found."


def frames_announced(announced: int, held: int) -> str:
    """A file that says another number of frames than it holds."""
    return f"The file announces {announced} frames and holds {held}; those that are there are used."


def end_missing(announced: int, held: int) -> str:
    """A recording whose end is not there."""
    return f"The file announces {announced} frames and holds {held}: its end is missing."


def plate_not_read(number: int, kind: int) -> str:
    """A force plate of a type that is not read."""
    return f"Force plate {number} is of type {kind}, which is not read; its forces are left out."


def plate_incomplete(number: int) -> str:
    """A force plate that the file does not describe."""
    return f"Force plate {number} is described incompletely; its forces are left out."


def both_say(one: str, other: str) -> str:
    """Two reasons for one conclusion."""
    return f"{one}, and {other}"


def although(why: str, other: str, but: str) -> str:
    """A reason that outweighs another, which speaks for something else."""
    return f"{why} (although for {other}: {but})"


def pieces_joined(label: str, count: int) -> str:
    """A marker that a file holds in pieces."""
    return f"{label}: {count} joined"
