"""What a scene remembers of its review: plain values and ids, never references to Blender's data."""

from typing import Any

import bpy
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    EnumProperty,
    FloatProperty,
    FloatVectorProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)
from bpy.types import PropertyGroup

from .analysis_core.figure.looks import LOOKS
from .analysis_core.settings import LEVELS as CORE_LEVELS
from .analysis_core.settings import SETTINGS, Setting

DECISIONS = (
    ("open", "Open", "Not judged yet"),
    ("kept", "Kept", "The teacher agrees and will work on it"),
    ("set aside", "Set Aside", "The teacher does not take this one up"),
)
#: Looks of the figure, from the core's one table.
FIGURES = tuple((name, look.title, look.description) for name, look in LOOKS.items())
#: Levels, from the core's one table.
LEVELS = tuple((level.value, level.title, level.says) for level in CORE_LEVELS)


def _on_choice(state: "DanceReviewState", context: bpy.types.Context) -> None:
    from .walk import show_chosen

    show_chosen(context, state)


def _on_display(state: "DanceReviewState", context: bpy.types.Context) -> None:
    from .walk import apply_display

    apply_display(context, state)


def _on_difference(second: "DanceReviewSecond", context: bpy.types.Context) -> None:
    from .second_take import show_difference

    show_difference(second)


def _on_speed(state: "DanceReviewState", context: bpy.types.Context) -> None:
    from .walk import apply_speed

    apply_speed(state)


class DanceReviewLine(PropertyGroup):
    """One line of text, with the value it speaks of and the reason."""

    what: StringProperty()  # type: ignore[valid-type]
    value: StringProperty()  # type: ignore[valid-type]
    why: StringProperty()  # type: ignore[valid-type]


class DanceReviewFinding(PropertyGroup):
    """One correction: a finding of the analysis, or one that the teacher added."""

    finding: StringProperty(description="Id of the finding")  # type: ignore[valid-type]
    exact: StringProperty(description="What tells the finding again, in double precision: Blender's own numbers are single")  # type: ignore[valid-type]
    own: BoolProperty(description="Added by the teacher")  # type: ignore[valid-type]
    main: BoolProperty(description="One of the things to say first")  # type: ignore[valid-type]
    depth: IntProperty(description="0, or 1 for what another correction may have led to")  # type: ignore[valid-type]
    again: BoolProperty(description="A correction that the list has already, another time")  # type: ignore[valid-type]
    times: StringProperty(description="In how many of the same steps, both sides together")  # type: ignore[valid-type]
    title: StringProperty()  # type: ignore[valid-type]
    fault: StringProperty()  # type: ignore[valid-type]
    phase: StringProperty()  # type: ignore[valid-type]
    phase_kind: StringProperty()  # type: ignore[valid-type]
    side: StringProperty()  # type: ignore[valid-type]
    parts: StringProperty(description="Body parts, separated by spaces")  # type: ignore[valid-type]
    start_s: FloatProperty(unit="TIME_ABSOLUTE")  # type: ignore[valid-type]
    onset_s: FloatProperty(unit="TIME_ABSOLUTE")  # type: ignore[valid-type]
    peak_s: FloatProperty(unit="TIME_ABSOLUTE")  # type: ignore[valid-type]
    end_s: FloatProperty(unit="TIME_ABSOLUTE")  # type: ignore[valid-type]
    count: StringProperty(description="Bar and count of the music, or the time")  # type: ignore[valid-type]
    measured: StringProperty(description="Value and unit, with what the measurement can show")  # type: ignore[valid-type]
    within_take: StringProperty(description="The same where the step comes again in this take")  # type: ignore[valid-type]
    target: StringProperty(description="Target band, as proposed")  # type: ignore[valid-type]
    band_source: StringProperty()  # type: ignore[valid-type]
    unit: StringProperty()  # type: ignore[valid-type]
    how_often: StringProperty(description="In how many of the same steps")  # type: ignore[valid-type]
    severity: FloatProperty(min=0.0, max=1.0, subtype="FACTOR")  # type: ignore[valid-type]
    grade: StringProperty()  # type: ignore[valid-type]
    confidence: StringProperty()  # type: ignore[valid-type]
    cue: StringProperty(description="Cue as proposed")  # type: ignore[valid-type]
    caution: StringProperty()  # type: ignore[valid-type]
    came_after: StringProperty(description="Ids, separated by spaces, as analysed")  # type: ignore[valid-type]
    view_from: FloatVectorProperty(subtype="XYZ_LENGTH")  # type: ignore[valid-type]
    view_at: FloatVectorProperty(subtype="XYZ_LENGTH")  # type: ignore[valid-type]
    view_name: StringProperty()  # type: ignore[valid-type]
    decision: EnumProperty(name="Decision", items=DECISIONS, default="open")  # type: ignore[valid-type]
    note: StringProperty(name="Reason", description="Why this correction was set aside, or a note on it")  # type: ignore[valid-type]
    words: StringProperty(name="Own Words", description="The cue in the teacher's own words")  # type: ignore[valid-type]
    proposed_low: FloatProperty()  # type: ignore[valid-type]
    proposed_high: FloatProperty()  # type: ignore[valid-type]
    proposed_has_low: BoolProperty()  # type: ignore[valid-type]
    proposed_has_high: BoolProperty()  # type: ignore[valid-type]
    own_band: BoolProperty(description="The teacher set another band")  # type: ignore[valid-type]
    exact_band: StringProperty(description="The teacher's band in double precision")  # type: ignore[valid-type]
    band_low: FloatProperty()  # type: ignore[valid-type]
    band_high: FloatProperty()  # type: ignore[valid-type]
    has_low: BoolProperty()  # type: ignore[valid-type]
    has_high: BoolProperty()  # type: ignore[valid-type]


class DanceReviewLink(PropertyGroup):
    """A link that the teacher cut or added; ids of findings."""

    before: StringProperty()  # type: ignore[valid-type]
    after: StringProperty()  # type: ignore[valid-type]
    choice: EnumProperty(items=(("cut", "Cut", ""), ("added", "Added", "")))  # type: ignore[valid-type]


class DanceReviewPhase(PropertyGroup):
    """A step of the phrase; ``name`` is its id."""

    kind: StringProperty()  # type: ignore[valid-type]
    start_s: FloatProperty(unit="TIME_ABSOLUTE")  # type: ignore[valid-type]
    end_s: FloatProperty(unit="TIME_ABSOLUTE")  # type: ignore[valid-type]


class DanceReviewDifference(PropertyGroup):
    """A difference of the second take that can be shown; the name is what people read."""

    quantity: StringProperty()  # type: ignore[valid-type]
    a_s: FloatProperty(unit="TIME_ABSOLUTE", description="When, in the first take")  # type: ignore[valid-type]
    size: FloatProperty(min=0.0, max=1.0, subtype="FACTOR", description="How far beyond what the measurement can show")  # type: ignore[valid-type]


class DanceReviewSecond(PropertyGroup):
    """The second take of a scene, as it was compared."""

    folder: StringProperty(subtype="DIR_PATH")  # type: ignore[valid-type]
    take_name: StringProperty()  # type: ignore[valid-type]
    how: StringProperty(description="How the two are in step, and whether the markers stayed on")  # type: ignore[valid-type]
    differences: CollectionProperty(type=DanceReviewDifference)  # type: ignore[valid-type]
    said: CollectionProperty(type=DanceReviewLine)  # type: ignore[valid-type]
    chosen: IntProperty(  # type: ignore[valid-type]
        name="Difference", default=-1, min=-1, update=_on_difference, description="Go to the moment of this difference"
    )


def _on_moved(held: "DanceReviewClip", context: bpy.types.Context) -> None:
    from .beside import move

    move(held)


class DanceReviewClip(PropertyGroup):
    """A sound file or a film that plays beside the take."""

    file: StringProperty(subtype="FILE_PATH")  # type: ignore[valid-type]
    said: StringProperty(description="Why it does not play")  # type: ignore[valid-type]
    at_s: FloatProperty(  # type: ignore[valid-type]
        name="Take Begins At",
        unit="TIME_ABSOLUTE",
        step=1,
        precision=2,
        update=_on_moved,
        description="Second of the file at which the take begins; negative where the file begins later",
    )


class DanceReviewUnmatched(PropertyGroup):
    """A decision whose finding is not in the present analysis, kept as it was."""

    text: StringProperty(description="What was decided about what")  # type: ignore[valid-type]
    data: StringProperty(description="The decision itself, as stored")  # type: ignore[valid-type]
    is_link: BoolProperty()  # type: ignore[valid-type]


def _description(setting: Setting) -> str:
    """What the core says of a setting, as a tooltip; what only an option needs to know is left out."""
    words = setting.says.partition(";")[0].partition(" (default")[0]
    return words[0].upper() + words[1:]


def _properties(setting: Setting) -> dict[str, Any]:
    """The properties in Blender that stand for one setting, by their names."""
    told = {"name": setting.title, "description": _description(setting)}
    match setting.kind:
        case "file":
            return {setting.name: StringProperty(subtype="FILE_PATH", **told)}
        case "words":
            return {setting.name: StringProperty(**told)}
        case "choice":
            known = [(item.value, item.title, item.says) for item in setting.choices]
            if not setting.can_be_left:
                return {setting.name: EnumProperty(items=known, default=setting.default, **told)}
            found = ("auto", "From the Recording", "Find it out and say so")
            return {setting.name: EnumProperty(items=[found, *known], default="auto", **told)}
    limits = {"default": setting.suggested, "min": setting.least, "max": setting.most}
    if not setting.can_be_left:
        return {setting.name: FloatProperty(unit="TIME_ABSOLUTE", default=setting.suggested, **told)}
    made = {
        f"use_{setting.name}": BoolProperty(
            name=setting.title, description=f"Say it: {told['description'][0].lower()}{told['description'][1:]}"
        ),
        setting.name: FloatProperty(**told, **limits),
    }
    if setting.proposed:
        made[f"propose_{setting.name}"] = BoolProperty(
            name=setting.proposed, description="As the body's accents suggest; nobody has heard the music"
        )
    return made


class TakeSettings:
    """What can be said about a take before it is reviewed: properties of an operator and of a scene alike."""

    __annotations__ = {name: made for setting in SETTINGS for name, made in _properties(setting).items()}


class DanceReviewSettings(TakeSettings, PropertyGroup):
    """What was said about the take of a scene."""


class DanceReviewState(PropertyGroup):
    """Everything that a scene knows of its review."""

    take: StringProperty(name="Take", subtype="FILE_PATH", description="The recording this scene shows")  # type: ignore[valid-type]
    folder: StringProperty(name="Review Folder", subtype="DIR_PATH", description="Where the review is kept")  # type: ignore[valid-type]
    folder_relative: StringProperty(description="The review folder seen from the Blender file")  # type: ignore[valid-type]
    take_relative: StringProperty(description="The recording seen from the Blender file")  # type: ignore[valid-type]
    sha256: StringProperty()  # type: ignore[valid-type]
    take_name: StringProperty()  # type: ignore[valid-type]
    summary: StringProperty(description="Length, rate and kind of the take")  # type: ignore[valid-type]
    rate_hz: FloatProperty()  # type: ignore[valid-type]
    frame_start: IntProperty()  # type: ignore[valid-type]
    seen: IntProperty(description="How many of other windows' changes are in this state")  # type: ignore[valid-type]
    in_file: StringProperty(description="The decisions that the review file held when the Blender file was saved")  # type: ignore[valid-type]
    frames: IntProperty()  # type: ignore[valid-type]
    level_used: StringProperty()  # type: ignore[valid-type]
    verdict: StringProperty()  # type: ignore[valid-type]
    reasons: CollectionProperty(type=DanceReviewLine)  # type: ignore[valid-type]
    inferred: CollectionProperty(type=DanceReviewLine)  # type: ignore[valid-type]
    warnings: CollectionProperty(type=DanceReviewLine)  # type: ignore[valid-type]
    load: CollectionProperty(type=DanceReviewLine)  # type: ignore[valid-type]
    unsure: CollectionProperty(type=DanceReviewLine)  # type: ignore[valid-type]
    findings: CollectionProperty(type=DanceReviewFinding)  # type: ignore[valid-type]
    phases: CollectionProperty(type=DanceReviewPhase)  # type: ignore[valid-type]
    links: CollectionProperty(type=DanceReviewLink)  # type: ignore[valid-type]
    unmatched: CollectionProperty(type=DanceReviewUnmatched)  # type: ignore[valid-type]
    second: PointerProperty(type=DanceReviewSecond)  # type: ignore[valid-type]
    settings: PointerProperty(type=DanceReviewSettings)  # type: ignore[valid-type]
    music: PointerProperty(type=DanceReviewClip)  # type: ignore[valid-type]
    film: PointerProperty(type=DanceReviewClip)  # type: ignore[valid-type]
    chosen: IntProperty(  # type: ignore[valid-type]
        name="Chosen Correction",
        default=-1,
        min=-1,
        update=_on_choice,
        description="Go to the frame and camera of this correction",
    )
    every_time: BoolProperty(  # type: ignore[valid-type]
        name="Every Time", default=False, description="List a correction every time that it comes, not only the worst time"
    )
    filter_decision: EnumProperty(  # type: ignore[valid-type]
        name="Decision",
        items=(("all", "All", "Show all corrections"), *DECISIONS),
        default="all",
        description="Show corrections with this decision only",
    )
    filter_grade: EnumProperty(  # type: ignore[valid-type]
        name="Grade",
        items=(
            ("all", "All", "Show all corrections"),
            ("fault", "Fault", "Show faults only"),
            ("watch", "Watch", "Show only what needs watching"),
        ),
        default="all",
        description="Show corrections of this grade only",
    )
    filter_side: EnumProperty(  # type: ignore[valid-type]
        name="Side",
        items=(
            ("all", "Both", "Show both sides"),
            ("left", "Left", "Show corrections of the left side only"),
            ("right", "Right", "Show corrections of the right side only"),
        ),
        default="all",
        description="Show corrections of this side only",
    )
    filter_text: StringProperty(  # type: ignore[valid-type]
        name="Search",
        options={"TEXTEDIT_UPDATE"},
        description="Show corrections whose name, step or body part contains this text",
    )
    use_camera: BoolProperty(  # type: ignore[valid-type]
        name="Look Through Its Camera", default=True, description="Look at each correction from the side that shows it"
    )
    isolate: BoolProperty(  # type: ignore[valid-type]
        name="Isolate Body Part",
        default=False,
        update=_on_display,
        description="Show only the body parts of the chosen correction",
    )
    show_caption: BoolProperty(  # type: ignore[valid-type]
        name="Captions", default=True, update=_on_display, description="Show value, band and cue beside the dancer"
    )
    show_measure: BoolProperty(  # type: ignore[valid-type]
        name="Measure on the Body",
        default=True,
        update=_on_display,
        description="Draw what was measured, what it is counted from, and the band, on the dancer",
    )
    speed: FloatProperty(  # type: ignore[valid-type]
        name="Speed", subtype="PERCENTAGE", default=100.0, min=5.0, max=100.0, update=_on_speed, description="Speed of playback"
    )
    watch_folder: StringProperty(  # type: ignore[valid-type]
        name="Folder", subtype="DIR_PATH", description="Folder into which the capture room saves its takes"
    )


CLASSES = (
    DanceReviewLine,
    DanceReviewFinding,
    DanceReviewLink,
    DanceReviewPhase,
    DanceReviewDifference,
    DanceReviewSecond,
    DanceReviewUnmatched,
    DanceReviewClip,
    DanceReviewSettings,
    DanceReviewState,
)


def register() -> None:
    """Register the groups and give every scene its state."""
    for item in CLASSES:
        bpy.utils.register_class(item)
    bpy.types.Scene.dance_review = PointerProperty(type=DanceReviewState)


def unregister() -> None:
    """Take all of it away again."""
    del bpy.types.Scene.dance_review
    for item in reversed(CLASSES):
        bpy.utils.unregister_class(item)
