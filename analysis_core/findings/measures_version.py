"""What the numbers of a review were judged by, as one short text: only numbers of the same version are compared over time."""

from __future__ import annotations

import hashlib

from .catalogue import Limits, Profile

#: Raised by hand whenever a measure's code changes a number on the same take.
MEASURES = 6
#: So much of the hash is kept: enough that two versions never share it.
_DIGITS = 16


def _judged_by(limits: Limits) -> tuple[object, ...]:
    """What changes a number or its verdict; words and views do not."""
    return (
        limits.unit, limits.ok, limits.fault, limits.sd, limits.sd_skeleton, limits.from_standing, limits.stance, limits.meant,
        limits.possible,
    )  # fmt: skip


def measures_version(profile: Profile) -> str:
    """A hash (hexadecimal) of the bands and errors of a profile and of the version of the measures' code."""
    entries = sorted(
        (fault, name, _judged_by(limits)) for fault, entry in profile.entries.items() for name, limits in entry.measures.items()
    )
    own = sorted((name, tuple(map(float, pair))) for name, pair in profile.own.items())
    text = repr((MEASURES, entries, sorted(profile.off), own))
    return hashlib.sha256(text.encode()).hexdigest()[:_DIGITS]
