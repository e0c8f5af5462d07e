"""The words in films and stills that are no correction's own: the legend, names of takes, what is not to be seen."""

from __future__ import annotations

#: What the colours mean, in their order from good to unknown.
IN_BAND, WATCH, CORRECT_FIRST, CANNOT_BE_TOLD = "in the band", "watch", "correct first", "cannot be told"
NOT_DANCED = "not danced in this take"
NOT_TOLD = f"{CANNOT_BE_TOLD} from this take"
#: What takes are called where no file is named; one alone is now.
BEFORE, NOW = "before", "now"
#: Beside a body that is drawn inside the band.
INSIDE = "illustration: inside the band"


def of_take(name: str, told: str) -> str:
    """What is said of one of two takes."""
    return f"{name}: {told}"
