"""Where markers lie on a person who stands upright: the table ``standing_places.toml`` beside this module."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from types import MappingProxyType


@cache
def standing_places() -> MappingProxyType[str, tuple[float, float, float]]:
    """Landmark, without its side -> forward, outward and up, shares of stature, from the middle between the feet on the floor."""
    text = resources.files(__package__).joinpath("standing_places.toml").read_text(encoding="utf-8")
    return MappingProxyType({name: (x, y, z) for name, (x, y, z) in tomllib.loads(text).items()})
