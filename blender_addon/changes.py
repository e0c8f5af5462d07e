"""A remembered value that was changed, and who follows: those who hold values need not know those who show them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

from bpy.types import Context

Held = TypeVar("Held")


class Change(Generic[Held]):
    """A change of one kind of value. ``told`` is what Blender calls with the group that holds the value; nothing follows it
    while the add-on is not enabled."""

    def __init__(self) -> None:
        self._follower: Callable[[Context, Held], None] | None = None

        # Blender takes functions only, no methods.
        def told(held: Held, context: Context) -> None:
            if self._follower is not None:
                self._follower(context, held)

        self.told = told

    def followed_by(self, follower: Callable[[Context, Held], None] | None) -> None:
        """Name who follows from now on; None: nobody."""
        self._follower = follower
