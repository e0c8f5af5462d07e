"""A skeleton take that Blender sampled, handed from one of our processes to another in a file of its own."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

import numpy as np

from ..damaged_arrays import DAMAGED_ARRAYS
from ..errors import TakeError
from ..take import Inference, Skeleton, Take


def write_sampled(take: Take, path: Path) -> None:
    """Write a skeleton take. Raises OSError when it cannot be written."""
    assert take.skeleton is not None
    about = {
        "file": str(take.file),
        "sha256": take.sha256,
        "rate_hz": take.rate_hz,
        "first_frame": take.first_frame,
        "inferred": [asdict(item) for item in take.inferred],
    }
    np.savez(
        path,
        about=np.array(json.dumps(about)),
        labels=np.array(take.labels),
        positions_m=take.positions_m,
        parents=take.skeleton.parents,
        rest_positions_m=take.skeleton.rest_positions_m,
        rotations=take.skeleton.rotations,
    )


def read_sampled(path: Path) -> Take:
    """Read back what ``write_sampled`` wrote. Raises TakeError when the file is not whole."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as stored:
            about = json.loads(str(stored["about"]))
            return Take(
                file=Path(about["file"]),
                sha256=about["sha256"],
                kind="skeleton",
                rate_hz=about["rate_hz"],
                first_frame=about["first_frame"],
                labels=tuple(map(str, stored["labels"])),
                positions_m=stored["positions_m"],
                skeleton=Skeleton(stored["parents"], stored["rest_positions_m"], stored["rotations"]),
                inferred=tuple(Inference(**item) for item in about["inferred"]),
            )
    except DAMAGED_ARRAYS as error:
        raise TakeError(f"What was sampled from the armature did not arrive whole ({error}). Try again.") from error
