"""The least that any analysis of a recording would do: ezc3d reads it, scipy filters it once.

.venv/bin/python scripts/yardstick.py TAKE     as a process of its own, for the bench
"""

from __future__ import annotations

import sys
from pathlib import Path

import ezc3d
import numpy as np
from scipy import signal


def read_and_filter(take: Path) -> None:
    """The yardstick, in a process that is warm already."""
    points = ezc3d.c3d(str(take))["data"]["points"][:3].transpose(2, 1, 0)
    b, a = signal.butter(4, 6.0 / 120.0)
    signal.filtfilt(b, a, np.nan_to_num(points), axis=0)


if __name__ == "__main__":
    read_and_filter(Path(sys.argv[1]))
