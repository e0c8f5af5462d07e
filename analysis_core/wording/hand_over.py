"""Sentences about a hand-over to the animator: what is being written, what the note says, what could not be kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from . import numbers
from .names import body_parts

#: What is being done.
HOLDING_FEET, PUTTING_TOGETHER = "Holding the feet", "Putting the skeleton together"
WRITING_WITH_BLENDER = "Writing with Blender"
#: How the map of bone names is used.
HOW_TO_USE_NAMES = (
    "World rotations away from rest carry over bone by bone between rigs that rest in the same pose. To bring the take onto "
    "a rig of your own in Blender, write its bone names under 'yours' and choose this file there."
)
#: Of each format, in what it is written.
UNITS_AND_AXES = {
    "c3d": "as in the recording",
    "bvh": "centimetres, Y up, facing +Z",
    "glb": "metres, Y up, facing +Z",
    "fbx": "metres (node scale 1, unit factor 100), Y up, facing +Z",
    "usd": "metres, Y up, facing +Z",
    "usdz": "metres, Y up, facing +Z",
    "blend": "metres, Z up, facing −Y",
}
#: Formats by name: what they are called, and what each is good for.
FORMATS = {
    "c3d": ("C3D", "The cleaned recording, for a lab; markers only"),
    "bvh": ("BVH", "Centimetres, Y up"),
    "fbx": ("FBX", "Metres, Y up"),
    "glb": ("glTF", "One file with the body, a clip for each step"),
    "usd": ("USD", "Binary, Y up"),
    "usdz": ("USDZ", "The same, packed"),
    "blend": ("Blender", "Every step as an action asset with a preview"),
}
#: Names of markers in the Blender file where a stretch begins, and where it ends.
MARKERS = {"filled": ("filled from here", "measured again"), "unusable": ("unusable from here", "usable again")}
#: What the actions of the Blender file are.
WHOLE_TAKE, STEP_OF_TAKE = "The whole take", "A step of the take"
#: Headings and quiet lines of the note.
SOLES_ESTIMATED = "The recording is a skeleton without skin: its soles are estimated."
RESTS_ON, SECONDS_DRAWN = "What it rests on", "measured, filled and unusable seconds"
MEASURED, FILLED, UNUSABLE = "measured", "filled", "unusable"
HEIGHTS_MEAN = (
    "Full height: measured. Two thirds: one or more joints rest on filled samples. One third: the body is not known; the last "
    "pose is held."
)
FEET_HELD = "Feet held"
BESIDE_MEASURED = "Joints and their measured places"
BESIDE_MEANS = (
    "Bones keep one length, which measured joints do not: so far beside its measured place each joint lies, with the feet held "
    "where that was asked for."
)
BESIDE_HEADS = ("joint", "beside, median", "greatest")
MOVED_HEADS = ("segment begins at", "moved, median", "greatest")
LOOPS, LOOP_HEADS = "Steps that loop", ("from – to", "ends apart", "a cycle turns, travels", "seam (the step's own)", "clip")
NO_CLIP = "none: the seam would jerk"
FEWER_KEYS, FILES, BONES = "Fewer keys", "Files", "Bones"
BONE_HEADS = ("here", "humanoid name (VRM 1.0)")


def writing(format_name: str) -> str:
    """Which format is being written."""
    return f"Writing {format_name}"


def folder_of_its_own(name: str) -> str:
    """Where files go that were to go among the review's own."""
    return f"In the folder of the review they go into one of their own, “{name}”."


def never_measured(joints: Sequence[str]) -> str:
    """Joints that the seconds do not speak of."""
    return f"Nowhere in the recording, placed by the rest of the body throughout and not counted here: {body_parts(joints)}."


def loops(gap_m: float) -> str:
    """A step that can be repeated."""
    return f"Loops: its ends were {numbers.millimetres(gap_m)} apart"


def travel(root: str, bone: str) -> str:
    """Where the way across the floor goes: "pelvis", "bone" (its name: ``bone``) or "in-place"."""
    return {
        "pelvis": "on the pelvis",
        "bone": f"on the bone {bone}, which runs on the floor below the pelvis and turns with the dancer",
        "in-place": "left away: the dancer turns and jumps, but does not travel",
    }[root]


def stretched(name: str) -> str:
    """Why nothing can be brought onto an armature."""
    return f"{name} is stretched or mirrored as an object. Apply its scale (Object, Apply, Scale), then bring the take onto it."


def no_recording(name: str, given: Path | None) -> str:
    """Why there is no cleaned C3D. given: the file that somebody said it was."""
    where = f"{name} is not where it was reviewed" if given is None else f"{given} is not the recording of this review"
    return f"{where}; the cleaned C3D is made from it. Say where it lies with --recording."


def not_kept(name: str, why: str) -> str:
    """What of a recording did not come over into the cleaned one."""
    return (
        f"Force plates, analog samples and other parameters of {name} could not be kept: the library that writes C3D cannot take "
        f"them over ({why})."
    )


def summary(note: Mapping[str, Any]) -> list[str]:
    """The note on a few lines, for who asked for the hand-over."""
    rate = numbers.hertz(note["rate_hz"])
    lines = [f"{note['take']}: {note['frames']} frames at {rate}, {note['rest_pose']}, feet {note['feet']}"]
    lines += [f"  {what}: {total(note[f'{what}_s'])}" for what in (MEASURED, FILLED, UNUSABLE)]
    if note["cut"]:
        lines.append(f"  {kept(note)}")
    holding = note["holding"]
    if holding is not None:
        before, after = (holding[f"sliding_{when}_mm_s"]["mean"] for when in ("before", "after"))
        lines.append(
            f"  planted feet slid at {numbers.number(before, 'mm/s')} on average, now at {numbers.number(after, 'mm/s')}"
        )
        if places := len(holding["left_as_danced"]):
            lines.append(f"  {numbers.counted(places, 'place', 'places')} left as danced: the foot travels there")
    return [*lines, *(f"  {sentence}" for sentence in note["could_not_be_kept"])]


def title(take: str) -> str:
    """Over the note."""
    return f"Hand-over: {take}"


def about(note: Mapping[str, Any]) -> str:
    """Length, rate, pose and feet."""
    length = numbers.seconds(note["frames"] / note["rate_hz"], 2)
    return f"{length} at {numbers.hertz(note['rate_hz'])}, {note['rest_pose']}, feet {note['feet']}."


def kept(note: Mapping[str, Any]) -> str:
    """What was cut away."""
    start, end = note["kept_s"]
    return (
        f"Only {numbers.span(start, end, 2)} of the recording is handed over, the longest stretch in which the body is known. "
        "Files, steps and loops begin to count there; all other seconds count from the beginning of the recording."
    )


def travels(where: str) -> str:
    """Where the way across the floor went."""
    return f"Travel: {where}."


def total(stretches: Sequence[tuple[float, float]]) -> str:
    """Seconds of some stretches together."""
    return numbers.seconds(sum(end - start for start, end in stretches), 2)


def total_and_each(stretches: Sequence[tuple[float, float]]) -> str:
    """The same, and which they are."""
    each = ", ".join(numbers.span(start, end, 2) for start, end in stretches)
    return f"{total(stretches)}{f': {each}' if each else ''}"


def sliding(holding: Mapping[str, Any]) -> str:
    """How far planted points slid before and after."""
    before, after = holding["sliding_before_mm_s"], holding["sliding_after_mm_s"]
    mean, most, mean_now, most_now = (
        numbers.number(value, "mm/s") for value in (before["mean"], before["p95"], after["mean"], after["p95"])
    )
    return (
        f"Planted points slid at {mean} on average (95 %: {most}) and now at {mean_now} ({most_now}). Holding makes feet "
        "consistent, not truer: measure from the recording."
    )


def deepest(holding: Mapping[str, Any]) -> str:
    """How far feet lie in the floor."""
    deep = holding["deepest_below_floor_mm"]
    return (
        f"Heel and ball lie at most {numbers.number(deep['after'], 'mm')} below their floor (before: "
        f"{numbers.number(deep['before'], 'mm')})."
    )


def levels(found: Sequence[Mapping[str, Any]]) -> str:
    """Several heights at which feet are held, as on stairs."""
    each = [f"{numbers.number(level['height_mm'], 'mm')} ({level['stretches']} stretches)" for level in found]
    return f"There is no single floor: feet are held at {', '.join(each[:-1])} and {each[-1]}, each where it stood."


def _where(item: Mapping[str, Any]) -> str:
    return f"{numbers.span(item['start_s'], item['end_s'], 2)}, {item['foot']} {item['point']}"


def below_floor(item: Mapping[str, Any]) -> str:
    """A stretch in which a foot is left in the floor."""
    return (
        f"{_where(item)}: up to {numbers.number(item['deep_mm'], 'mm')} below the floor. So far off, the floor or the sole of "
        "the recording is wrong; left as it is."
    )


def as_danced(item: Mapping[str, Any]) -> str:
    """A stretch in which a foot is not held."""
    return (
        f"{_where(item)}: the foot travels or lies {numbers.number(item['would_have_moved_mm'], 'mm')} off here; left as danced."
    )


def gap(step: Mapping[str, Any]) -> str:
    """How far a loop's ends are apart, and whether it closes."""
    return f"{numbers.number(step['gap_mm'], 'mm')}, {step['closes']}"


def cycle(step: Mapping[str, Any]) -> str:
    """How far a cycle turns and travels."""
    forward, left = (numbers.number(step["travel_mm"][way], "mm") for way in ("forward", "left"))
    return f"{numbers.number(step['turn_deg'], 'deg')}, {forward} forward, {left} left"


def seam(step: Mapping[str, Any]) -> str:
    """Acceleration at a loop's seam, beside the step's own."""
    return f"{numbers.plain(step['seam_m_s2'])} ({numbers.plain(step['usual_m_s2'])}) m/s²"


def keys(told: Mapping[str, Any]) -> str:
    """How few keys there are, and how near they keep to the motion."""
    return (
        f"{numbers.percent(told['share'], 1)} of the keys, in glTF and Blender; bones within "
        f"{numbers.number(told['bound_deg'], 'deg')} of where they are aimed, the pelvis within "
        f"{numbers.number(told['bound_mm'], 'mm')}. Joints lie {numbers.number(told['joints_mm']['p99'], 'mm')} (99 %), at most "
        f"{numbers.number(told['joints_mm']['greatest'], 'mm')} from the motion. BVH, FBX and USD have a key on every frame."
    )
