"""In the Round: reviews a captured dance phrase and shows the corrections in Blender."""

from typing import Protocol


class _Part(Protocol):
    def register(self) -> None: ...
    def unregister(self) -> None: ...


def _parts() -> tuple["_Part", ...]:
    # Imported here, so that the package can be imported where there is no Blender.
    from . import beside, following, keymap, menus, operators, panels, preferences, properties, room, saving, watching

    return properties, following, preferences, operators, panels, menus, keymap, saving, beside, watching, room


def register() -> None:
    """Called by Blender when the add-on is enabled."""
    for part in _parts():
        part.register()


def unregister() -> None:
    """Called by Blender when the add-on is disabled: nothing is left behind."""
    for part in reversed(_parts()):
        part.unregister()
