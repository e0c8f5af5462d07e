"""Statistics over samples of which perhaps none is known."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager

#: What numpy says where no sample is known: NaN is the answer then, and the one that is wanted.
_OF_NOTHING = ("Mean of empty slice", "All-NaN slice encountered", "All-NaN axis encountered", "Degrees of freedom <= 0")


@contextmanager
def nothing_known_gives_nan() -> Iterator[None]:
    """Statistics in the block that leave missing samples out give NaN where all are missing, without numpy's warning.

    For single statements at which that may happen; every other warning of numpy is told.
    """
    with warnings.catch_warnings():
        for said in _OF_NOTHING:
            warnings.filterwarnings("ignore", said, RuntimeWarning)
        yield
