"""Why a button cannot be pressed just now: what a pointer over a grey button says."""

from __future__ import annotations

from . import comparison

# What is shown.
NO_REVIEW = "Open a take first: this scene shows no review"
LINKED_SCENE = "This scene is linked from another file: open that file to change its review"
NO_SECOND_TAKE = "Open a second take first"
NO_DIFFERENCE = f"There is {comparison.NO_DIFFERENCE}"
NO_DANCER = "The dancer was taken out of this scene"
NO_PATH = "There is no path in this scene"
NO_WINDOW = "There is no window"

# What is chosen.
NOTHING_CHOSEN = "Choose a correction in the list first"
NONE_PASSES = "No correction passes the filters"
OWN_IS_REMOVED = "This correction is your own: remove it instead"
OWN_HAS_NO_VALUE = "A correction of your own has no measured value"
ONLY_OWN_IS_REMOVED = "Only corrections of your own can be removed: set this one aside instead"
NONE_BEFORE = "No correction began before this one"
NO_ARMATURE_WITH_ACTION = "Select an armature that carries an action first"
NO_ARMATURE_TO_DANCE = "Select the armature that is to dance, in Object Mode"

# What is there.
FILE_NOT_SAVED = "Save the Blender file first: the review is kept beside it"
NOTHING_WRONG = "Nothing has gone wrong"
NO_FOLDER_WATCHED = "No folder is watched"


def under_way(job: str) -> str:
    """Something that takes a while is being done."""
    return f"{job} is under way: wait for it, or stop it with Esc"
