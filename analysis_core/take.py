"""What was captured (Take) and what was made of it (CleanedTake)."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Kind = Literal["markers", "skeleton"]
Side = Literal["left", "right", "both"]


class Source(IntEnum):
    """Where a sample of a cleaned take comes from: measured, or filled along the marker's own path, from the other markers of
    its body part, or from the whole body."""

    NONE = 0
    MEASURED = 1
    OWN_PATH = 2
    BODY_PART = 3
    WHOLE_BODY = 4

    @property
    def in_words(self) -> str:
        """As it is written in files and shown: "own path", "body part", "whole body"."""
        return self.name.lower().replace("_", " ")


@dataclass(frozen=True)
class Inference:
    """Something the file does not say and that was concluded: what, the value, and why. Each has an override."""

    what: str
    value: str
    why: str


@dataclass(frozen=True)
class TakeEvent:
    """An event stored in the recording. ``time_s`` counts from the take's first frame."""

    label: str
    side: Side | None
    time_s: float


@dataclass(frozen=True)
class ForcePlate:
    """One force plate.

    corners_m (4, 3): corners in the Z-up laboratory. rate_hz: of the forces. force_n (K, 3): force of the floor on the
    dancer, laboratory frame. centre_of_pressure_m (K, 3): NaN while the plate carries less than 20 N.
    """

    kind: int
    corners_m: Floats
    rate_hz: float
    force_n: Floats
    centre_of_pressure_m: Floats


@dataclass(frozen=True)
class Skeleton:
    """The bones of a skeleton take; joints in the order of ``Take.labels``, parents before children.

    parents (N,): index of the parent joint, -1 for a root. rest_positions_m (N, 3): joints of the rest pose (all
    rotations zero), Z up. rotations (F, N, 3, 3): orientation of each joint in the laboratory, identity in the rest pose.
    """

    parents: NDArray[np.int64]
    rest_positions_m: Floats
    rotations: Floats


@dataclass(frozen=True)
class Take:
    """One captured phrase as it was recorded, in metres, seconds, Z up.

    positions_m (F, N, 3): markers, or joints of a skeleton; NaN where the recording has no sample; the recording's own
    height (the floor is found later). Read in Fortran order, which all that is made of it keeps: one path is looked at after
    another, and its coordinates then lie in one piece. labels (N,): as in the file, duplicates made distinct. first_frame: the
    recording's number of sample 0. computed_m: points that were stored beside the markers but are not markers, (F, 3) each.
    unlabelled: indices of markers without a usable label. levelled_by (3, 3): how the recording was turned because its floor lies
    aslant; None as recorded.
    """

    file: Path
    sha256: str
    kind: Kind
    rate_hz: float
    first_frame: int
    labels: tuple[str, ...]
    positions_m: Floats
    skeleton: Skeleton | None = None
    computed_m: dict[str, Floats] = field(default_factory=dict)
    unlabelled: tuple[int, ...] = ()
    events: tuple[TakeEvent, ...] = ()
    force_plates: tuple[ForcePlate, ...] = ()
    inferred: tuple[Inference, ...] = ()
    warnings: tuple[str, ...] = ()
    computed: dict[str, Floats] = field(default_factory=dict)
    levelled_by: Floats | None = None

    @property
    def frames(self) -> int:
        """Number of samples."""
        return int(self.positions_m.shape[0])

    @property
    def duration_s(self) -> float:
        """Length in seconds: frames divided by the rate."""
        return self.frames / self.rate_hz

    @property
    def time_s(self) -> Floats:
        """Time of every sample (F,), from 0."""
        return np.arange(self.frames, dtype=np.float64) / self.rate_hz


Mishap = Literal["gap", "swap", "spike", "fell-off", "moved", "late", "elsewhere"]


@dataclass(frozen=True)
class CleaningEvent:
    """Something that happened to a marker: gap, swap, spike, fell-off, moved, late or elsewhere (not on the body part of its
    label in the whole take: left out); times from the first frame.

    lag_s: by how much a late one comes behind the rest of the body, before it when negative.
    """

    kind: Mishap
    label: str
    other: str | None
    start_s: float
    end_s: float
    repaired: bool
    lag_s: float | None = None


@dataclass(frozen=True)
class CleanedTake:
    """A take after cleaning; the original stays inside.

    positions_m (F, N, 3): spikes and ghosts removed, swaps undone, gaps filled; NaN where nothing holds; not smoothed.
    smooth_m (F, N, 3): the same, low-passed per marker, never across a gap. source (F, N) uint8: values of Source.
    error_m (F, N): expected 1-SD error of each sample; NaN where there is none. cut_off_hz (N,): the low-pass used.
    """

    take: Take
    positions_m: Floats
    smooth_m: Floats
    source: NDArray[np.uint8]
    error_m: Floats
    cut_off_hz: Floats
    events: tuple[CleaningEvent, ...]
