"""What a teacher sets once: defaults for every new take."""

import bpy
from bpy.props import BoolProperty, EnumProperty, StringProperty
from bpy.types import AddonPreferences

from .analysis_core.figure.looks import DEFAULT_LOOK
from .properties import FIGURES, LEVELS


class DanceReviewPreferences(AddonPreferences):
    """Defaults of the add-on."""

    bl_idname = str(__package__)

    level: EnumProperty(name="Level", items=LEVELS, default="intermediate", description="Whose bands a new take is judged by")  # type: ignore[valid-type]
    landmarks: StringProperty(  # type: ignore[valid-type]
        name="Names of Markers", subtype="FILE_PATH", description="The studio's own table of what markers are called (TOML)"
    )
    watch_folder: StringProperty(  # type: ignore[valid-type]
        name="Watched Folder", subtype="DIR_PATH", description="Folder into which the capture room saves its takes"
    )
    save_at_once: BoolProperty(  # type: ignore[valid-type]
        name="Save Decisions at Once",
        default=True,
        description="Write each decision to the review file beside the take as soon as it is made",
    )

    figure: EnumProperty(name="Figure", items=FIGURES, default=DEFAULT_LOOK, description="What the dancer wears in new scenes")  # type: ignore[valid-type]

    record_database: StringProperty(  # type: ignore[valid-type]
        name="Record",
        subtype="FILE_PATH",
        description="The database of the dancers' record; empty: a file in your data folder, as on the command line",
    )

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the preferences."""
        layout = self.layout
        layout.use_property_split = True
        for name in ("level", "figure", "landmarks", "watch_folder", "save_at_once", "record_database"):
            layout.prop(self, name)


CLASSES = (DanceReviewPreferences,)


def preferences(context: bpy.types.Context) -> DanceReviewPreferences | None:
    """The add-on's preferences; None while it is registered without being enabled as an add-on (tests of parts)."""
    addon = context.preferences.addons.get(str(__package__))
    return addon.preferences if addon else None


def register() -> None:
    """Register the preferences."""
    for item in CLASSES:
        bpy.utils.register_class(item)


def unregister() -> None:
    """Take them away again."""
    for item in reversed(CLASSES):
        bpy.utils.unregister_class(item)
