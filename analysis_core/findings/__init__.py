"""The catalogue as data and one small function per measure; severity; what came first."""

from __future__ import annotations

from .catalogue import Profile, load_profile, profile_names
from .causes import order
from .corrections import Correction, LinkCount, corrections, link_counts
from .find import find

__all__ = [
    "Correction",
    "LinkCount",
    "Profile",
    "corrections",
    "find",
    "link_counts",
    "load_profile",
    "order",
    "profile_names",
]
