"""Pictures as arrays."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray


def pixels_of(image: bpy.types.Image) -> NDArray[np.float32]:
    """What a picture shows (height, width, 4), the lowest row first."""
    width, height = image.size
    values = np.empty(width * height * 4, dtype=np.float32)
    held: Any = image.pixels  # which Blender's types take for a number
    held.foreach_get(values)
    return values.reshape(height, width, 4)


def image_of(name: str, values: NDArray[np.float32]) -> bpy.types.Image:
    """A picture that shows values (height, width, 4), the lowest row first."""
    image = bpy.data.images.new(name, values.shape[1], values.shape[0])
    held: Any = image.pixels
    held.foreach_set(np.ascontiguousarray(values).ravel())
    return image
