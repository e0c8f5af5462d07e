"""What a teacher sets once: defaults for every new take."""

from typing import Annotated

import bpy
from bpy.props import BoolProperty, EnumProperty, StringProperty
from bpy.types import AddonPreferences

from .analysis_core.figure.looks import DEFAULT_LOOK
from .blender_types import register_classes, there, unregister_classes
from .properties import FIGURES, LEVELS


class DanceReviewPreferences(AddonPreferences):
    """Defaults of the add-on."""

    bl_idname = str(__package__)

    level: Annotated[
        str, EnumProperty(name="Level", items=LEVELS, default="intermediate", description="Whose bands a new take is judged by")
    ]
    landmarks: Annotated[
        str,
        StringProperty(
            name="Names of Markers", subtype="FILE_PATH", description="The studio's own table of what markers are called (TOML)"
        ),
    ]
    watch_folder: Annotated[
        str,
        StringProperty(
            name="Watched Folder", subtype="DIR_PATH", description="Folder into which the capture room saves its takes"
        ),
    ]
    save_at_once: Annotated[
        bool,
        BoolProperty(
            name="Save Decisions at Once",
            default=True,
            description="Write each decision to the review file beside the take as soon as it is made",
        ),
    ]

    figure: Annotated[
        str, EnumProperty(name="Figure", items=FIGURES, default=DEFAULT_LOOK, description="What the dancer wears in new scenes")
    ]

    record_database: Annotated[
        str,
        StringProperty(
            name="Record",
            subtype="FILE_PATH",
            description="The database of the dancers' record; empty: a file in your data folder, as on the command line",
        ),
    ]

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the preferences."""
        layout = self.layout
        layout.use_property_split = True
        for name in ("level", "figure", "landmarks", "watch_folder", "save_at_once", "record_database"):
            layout.prop(self, name)


CLASSES = (DanceReviewPreferences,)


def preferences(context: bpy.types.Context) -> DanceReviewPreferences | None:
    """The add-on's preferences; None while it is registered without being enabled as an add-on (tests of parts)."""
    addon = there(context.preferences).addons.get(str(__package__))
    return addon.preferences if addon else None


def register() -> None:
    """Register the preferences."""
    register_classes(CLASSES)


def unregister() -> None:
    """Take them away again."""
    unregister_classes(CLASSES)
