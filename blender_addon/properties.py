"""What a scene remembers of its review: plain values and ids, never references to Blender's data."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Literal

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
from .analysis_core.review.decisions import Decision
from .analysis_core.settings import LEVELS as CORE_LEVELS
from .analysis_core.settings import SETTINGS, Setting
from .blender_types import Rows, declared, of_kind, register_classes, there, unregister_classes
from .changes import Change

DECISIONS = (
    ("open", "Open", "Not judged yet"),
    ("kept", "Kept", "The teacher agrees and will work on it"),
    ("set aside", "Set Aside", "The teacher does not take this one up"),
)
#: Looks of the figure, from the core's one table.
FIGURES = tuple((name, look.title, look.description) for name, look in LOOKS.items())
#: Levels, from the core's one table.
LEVELS = tuple((level.value, level.title, level.says) for level in CORE_LEVELS)


#: Who follows is named in ``following.py``: another correction was chosen, something else is to be seen, the speed of playback,
#: another difference of the second take, music or film begins at another second.
CHOSEN: Change["DanceReviewState"] = Change()
DISPLAY: Change["DanceReviewState"] = Change()
SPEED: Change["DanceReviewState"] = Change()
DIFFERENCE: Change["DanceReviewSecond"] = Change()
MOVED: Change["DanceReviewClip"] = Change()


class DanceReviewLine(PropertyGroup):
    """One line of text, with the value it speaks of and the reason."""

    what: Annotated[str, StringProperty()]
    value: Annotated[str, StringProperty()]
    why: Annotated[str, StringProperty()]


class DanceReviewFinding(PropertyGroup):
    """One correction: a finding of the analysis, or one that the teacher added."""

    finding: Annotated[str, StringProperty(description="Id of the finding")]
    exact: Annotated[
        str, StringProperty(description="What tells the finding again, in double precision: Blender's own numbers are single")
    ]
    own: Annotated[bool, BoolProperty(description="Added by the teacher")]
    main: Annotated[bool, BoolProperty(description="One of the things to say first")]
    depth: Annotated[int, IntProperty(description="0, or 1 for what another correction may have led to")]
    again: Annotated[bool, BoolProperty(description="A correction that the list has already, another time")]
    times: Annotated[str, StringProperty(description="In how many of the same steps, both sides together")]
    title: Annotated[str, StringProperty()]
    fault: Annotated[str, StringProperty()]
    phase: Annotated[str, StringProperty()]
    phase_kind: Annotated[str, StringProperty()]
    side: Annotated[str, StringProperty()]
    parts: Annotated[str, StringProperty(description="Body parts, separated by spaces")]
    start_s: Annotated[float, FloatProperty(unit="TIME_ABSOLUTE")]
    onset_s: Annotated[float, FloatProperty(unit="TIME_ABSOLUTE")]
    peak_s: Annotated[float, FloatProperty(unit="TIME_ABSOLUTE")]
    end_s: Annotated[float, FloatProperty(unit="TIME_ABSOLUTE")]
    count: Annotated[str, StringProperty(description="Bar and count of the music, or the time")]
    measured: Annotated[str, StringProperty(description="Value and unit, with what the measurement can show")]
    within_take: Annotated[str, StringProperty(description="The same where the step comes again in this take")]
    target: Annotated[str, StringProperty(description="Target band, as proposed")]
    band_source: Annotated[str, StringProperty()]
    unit: Annotated[str, StringProperty()]
    how_often: Annotated[str, StringProperty(description="In how many of the same steps")]
    severity: Annotated[float, FloatProperty(min=0.0, max=1.0, subtype="FACTOR")]
    grade: Annotated[str, StringProperty()]
    confidence: Annotated[str, StringProperty()]
    cue: Annotated[str, StringProperty(description="Cue as proposed")]
    caution: Annotated[str, StringProperty()]
    came_after: Annotated[str, StringProperty(description="Ids, separated by spaces, as analysed")]
    view_from: Annotated[Sequence[float], FloatVectorProperty(subtype="XYZ_LENGTH")]
    view_at: Annotated[Sequence[float], FloatVectorProperty(subtype="XYZ_LENGTH")]
    view_name: Annotated[str, StringProperty()]
    decision: Annotated[Decision, EnumProperty(name="Decision", items=DECISIONS, default="open")]
    note: Annotated[str, StringProperty(name="Reason", description="Why this correction was set aside, or a note on it")]
    words: Annotated[str, StringProperty(name="Own Words", description="The cue in the teacher's own words")]
    proposed_low: Annotated[float, FloatProperty()]
    proposed_high: Annotated[float, FloatProperty()]
    proposed_has_low: Annotated[bool, BoolProperty()]
    proposed_has_high: Annotated[bool, BoolProperty()]
    own_band: Annotated[bool, BoolProperty(description="The teacher set another band")]
    exact_band: Annotated[str, StringProperty(description="The teacher's band in double precision")]
    band_low: Annotated[float, FloatProperty()]
    band_high: Annotated[float, FloatProperty()]
    has_low: Annotated[bool, BoolProperty()]
    has_high: Annotated[bool, BoolProperty()]


class DanceReviewLink(PropertyGroup):
    """A link that the teacher cut or added; ids of findings."""

    before: Annotated[str, StringProperty()]
    after: Annotated[str, StringProperty()]
    choice: Annotated[Literal["cut", "added"], EnumProperty(items=(("cut", "Cut", ""), ("added", "Added", "")))]


class DanceReviewPhase(PropertyGroup):
    """A step of the phrase; ``name`` is its id."""

    kind: Annotated[str, StringProperty()]
    start_s: Annotated[float, FloatProperty(unit="TIME_ABSOLUTE")]
    end_s: Annotated[float, FloatProperty(unit="TIME_ABSOLUTE")]


class DanceReviewDifference(PropertyGroup):
    """A difference of the second take that can be shown; the name is what people read."""

    quantity: Annotated[str, StringProperty()]
    a_s: Annotated[float, FloatProperty(unit="TIME_ABSOLUTE", description="When, in the first take")]
    size: Annotated[
        float, FloatProperty(min=0.0, max=1.0, subtype="FACTOR", description="How far beyond what the measurement can show")
    ]


class DanceReviewSecond(PropertyGroup):
    """The second take of a scene, as it was compared."""

    folder: Annotated[str, StringProperty(subtype="DIR_PATH")]
    take_name: Annotated[str, StringProperty()]
    how: Annotated[str, StringProperty(description="How the two are in step, and whether the markers stayed on")]
    differences: Annotated[Rows[DanceReviewDifference], CollectionProperty(type=DanceReviewDifference)]
    said: Annotated[Rows[DanceReviewLine], CollectionProperty(type=DanceReviewLine)]
    chosen: Annotated[
        int,
        IntProperty(
            name="Difference", default=-1, min=-1, update=DIFFERENCE.told, description="Go to the moment of this difference"
        ),
    ]


class DanceReviewClip(PropertyGroup):
    """A sound file or a film that plays beside the take."""

    file: Annotated[str, StringProperty(subtype="FILE_PATH")]
    said: Annotated[str, StringProperty(description="Why it does not play")]
    at_s: Annotated[
        float,
        FloatProperty(
            name="Take Begins At",
            unit="TIME_ABSOLUTE",
            step=1,
            precision=2,
            update=MOVED.told,
            description="Second of the file at which the take begins; negative where the file begins later",
        ),
    ]


class DanceReviewUnmatched(PropertyGroup):
    """A decision whose finding is not in the present analysis, kept as it was."""

    text: Annotated[str, StringProperty(description="What was decided about what")]
    data: Annotated[str, StringProperty(description="The decision itself, as stored")]
    is_link: Annotated[bool, BoolProperty()]


def _description(setting: Setting) -> str:
    """What the core says of a setting, as a tooltip; what only an option needs to know is left out."""
    words = setting.says.partition(";")[0].partition(" (default")[0]
    return words[0].upper() + words[1:]


def _properties(setting: Setting) -> dict[str, object]:
    """The properties in Blender that stand for one setting, by their names."""
    told = {"name": setting.title, "description": _description(setting)}
    match setting.kind:
        case "file":
            return {setting.name: declared(StringProperty, subtype="FILE_PATH", **told)}
        case "words":
            return {setting.name: declared(StringProperty, **told)}
        case "choice":
            known = [(item.value, item.title, item.says) for item in setting.choices]
            if not setting.can_be_left:
                return {setting.name: declared(EnumProperty, items=known, default=setting.default, **told)}
            found = ("auto", "From the Recording", "Find it out and say so")
            return {setting.name: declared(EnumProperty, items=[found, *known], default="auto", **told)}
    limits = {"default": setting.suggested, "min": setting.least, "max": setting.most}
    if not setting.can_be_left:
        return {setting.name: declared(FloatProperty, unit="TIME_ABSOLUTE", default=setting.suggested, **told)}
    made = {
        f"use_{setting.name}": declared(
            BoolProperty, name=setting.title, description=f"Say it: {told['description'][0].lower()}{told['description'][1:]}"
        ),
        setting.name: declared(FloatProperty, **told, **limits),
    }
    if setting.proposed:
        made[f"propose_{setting.name}"] = declared(
            BoolProperty, name=setting.proposed, description="As the body's accents suggest; nobody has heard the music"
        )
    return made


class TakeSettings:
    """What can be said about a take before it is reviewed: properties of an operator and of a scene alike."""

    if TYPE_CHECKING:  # what is asked for by name; all of it is made of the core's table
        static: str
        level: str
        use_tempo: bool
        tempo: float
        offset: float
        landmarks: str
    __annotations__ = {name: made for setting in SETTINGS for name, made in _properties(setting).items()}


class DanceReviewSettings(TakeSettings, PropertyGroup):
    """What was said about the take of a scene."""


class DanceReviewState(PropertyGroup):
    """Everything that a scene knows of its review."""

    take: Annotated[str, StringProperty(name="Take", subtype="FILE_PATH", description="The recording this scene shows")]
    folder: Annotated[str, StringProperty(name="Review Folder", subtype="DIR_PATH", description="Where the review is kept")]
    folder_relative: Annotated[str, StringProperty(description="The review folder seen from the Blender file")]
    take_relative: Annotated[str, StringProperty(description="The recording seen from the Blender file")]
    sha256: Annotated[str, StringProperty()]
    take_name: Annotated[str, StringProperty()]
    summary: Annotated[str, StringProperty(description="Length, rate and kind of the take")]
    rate_hz: Annotated[float, FloatProperty()]
    frame_start: Annotated[int, IntProperty()]
    seen: Annotated[int, IntProperty(description="How many of other windows' changes are in this state")]
    in_file: Annotated[str, StringProperty(description="The decisions that the review file held when the Blender file was saved")]
    frames: Annotated[int, IntProperty()]
    level_used: Annotated[str, StringProperty()]
    verdict: Annotated[str, StringProperty()]
    reasons: Annotated[Rows[DanceReviewLine], CollectionProperty(type=DanceReviewLine)]
    inferred: Annotated[Rows[DanceReviewLine], CollectionProperty(type=DanceReviewLine)]
    warnings: Annotated[Rows[DanceReviewLine], CollectionProperty(type=DanceReviewLine)]
    load: Annotated[Rows[DanceReviewLine], CollectionProperty(type=DanceReviewLine)]
    unsure: Annotated[Rows[DanceReviewLine], CollectionProperty(type=DanceReviewLine)]
    findings: Annotated[Rows[DanceReviewFinding], CollectionProperty(type=DanceReviewFinding)]
    phases: Annotated[Rows[DanceReviewPhase], CollectionProperty(type=DanceReviewPhase)]
    links: Annotated[Rows[DanceReviewLink], CollectionProperty(type=DanceReviewLink)]
    unmatched: Annotated[Rows[DanceReviewUnmatched], CollectionProperty(type=DanceReviewUnmatched)]
    second: Annotated[DanceReviewSecond, PointerProperty(type=DanceReviewSecond)]
    settings: Annotated[DanceReviewSettings, PointerProperty(type=DanceReviewSettings)]
    music: Annotated[DanceReviewClip, PointerProperty(type=DanceReviewClip)]
    film: Annotated[DanceReviewClip, PointerProperty(type=DanceReviewClip)]
    chosen: Annotated[
        int,
        IntProperty(
            name="Chosen Correction",
            default=-1,
            min=-1,
            update=CHOSEN.told,
            description="Go to the frame and camera of this correction",
        ),
    ]
    every_time: Annotated[
        bool,
        BoolProperty(
            name="Every Time", default=False, description="List a correction every time that it comes, not only the worst time"
        ),
    ]
    filter_decision: Annotated[
        str,
        EnumProperty(
            name="Decision",
            items=(("all", "All", "Show all corrections"), *DECISIONS),
            default="all",
            description="Show corrections with this decision only",
        ),
    ]
    filter_grade: Annotated[
        str,
        EnumProperty(
            name="Grade",
            items=(
                ("all", "All", "Show all corrections"),
                ("fault", "Fault", "Show faults only"),
                ("watch", "Watch", "Show only what needs watching"),
            ),
            default="all",
            description="Show corrections of this grade only",
        ),
    ]
    filter_side: Annotated[
        str,
        EnumProperty(
            name="Side",
            items=(
                ("all", "Both", "Show both sides"),
                ("left", "Left", "Show corrections of the left side only"),
                ("right", "Right", "Show corrections of the right side only"),
            ),
            default="all",
            description="Show corrections of this side only",
        ),
    ]
    filter_text: Annotated[
        str,
        StringProperty(
            name="Search",
            options={"TEXTEDIT_UPDATE"},
            description="Show corrections whose name, step or body part contains this text",
        ),
    ]
    use_camera: Annotated[
        bool,
        BoolProperty(
            name="Look Through Its Camera", default=True, description="Look at each correction from the side that shows it"
        ),
    ]
    isolate: Annotated[
        bool,
        BoolProperty(
            name="Isolate Body Part",
            default=False,
            update=DISPLAY.told,
            description="Show only the body parts of the chosen correction",
        ),
    ]
    show_caption: Annotated[
        bool,
        BoolProperty(
            name="Captions", default=True, update=DISPLAY.told, description="Show value, band and cue beside the dancer"
        ),
    ]
    show_measure: Annotated[
        bool,
        BoolProperty(
            name="Measure on the Body",
            default=True,
            update=DISPLAY.told,
            description="Draw what was measured, what it is counted from, and the band, on the dancer",
        ),
    ]
    speed: Annotated[
        float,
        FloatProperty(
            name="Speed",
            subtype="PERCENTAGE",
            default=100.0,
            min=5.0,
            max=100.0,
            update=SPEED.told,
            description="Speed of playback",
        ),
    ]
    watch_folder: Annotated[
        str, StringProperty(name="Folder", subtype="DIR_PATH", description="Folder into which the capture room saves its takes")
    ]


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

#: The property of every scene that holds what it remembers.
_OF_SCENE = "dance_review"


def review_of(scene: bpy.types.Scene) -> DanceReviewState:
    """What a scene remembers of its review."""
    state: DanceReviewState = getattr(scene, _OF_SCENE)
    return state


def scene_of(held: PropertyGroup) -> bpy.types.Scene:
    """The scene that a state, or a part of one, belongs to."""
    return of_kind(held.id_data, bpy.types.Scene)


def state_of(context: bpy.types.Context) -> DanceReviewState:
    """The same of the scene that is looked at."""
    return review_of(there(context.scene))


def register() -> None:
    """Register the groups and give every scene its state."""
    register_classes(CLASSES)
    setattr(bpy.types.Scene, _OF_SCENE, declared(PointerProperty, type=DanceReviewState))


def unregister() -> None:
    """Take all of it away again."""
    delattr(bpy.types.Scene, _OF_SCENE)
    unregister_classes(CLASSES)
