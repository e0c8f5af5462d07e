"""What is being done, for those who wait: one line while it lasts."""

from __future__ import annotations

STARTING, DONE = "Starting", "Done"
STARTING_BLENDER = "Starting Blender"
BUILDING_SCENE, SAVING, RENDERING = "Building the scene", "Saving", "Rendering"
RENDERING_PICTURES = "Rendering the pictures"
STEPPING_THROUGH = "Stepping through the frames"
LOOKING_AT_MARKERS, REVIEWING, WRITING = "Looking at the markers", "Reviewing", "Writing"
COMPARING = "Comparing"
SUMMING_UP = "Summing up"
PUTTING_WORDS_TOGETHER, WRITING_PAGE = "Putting the words together", "Writing the page"
WRITING_ROOMS = "Writing the files for the room"
DELETING = "Deleting, and looking for what is left"


def checking(take: str) -> str:
    """Whether a take can be used."""
    return f"Checking {take}"


def reviewing(take: str) -> str:
    """A take is being looked through."""
    return f"Reviewing {take}"


def exporting(dancer: str) -> str:
    """All that is held of a dancer is being put together."""
    return f"Exporting {dancer}"
