"""A first look at a take from Python: what a notebook of biomechanics would begin with. Run: first_look.py [TAKE [STATIC]]."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from in_the_round import analysis_core as core

DEMO = Path(__file__).resolve().parents[1] / "demo_data"


def main(take: Path = DEMO / "careless.c3d", static: Path | None = DEMO / "static.c3d") -> None:
    """Review one take; print its verdict, its phases, the greatest bend of each knee, and what was found."""
    review = core.review_take(take, core.Settings(static=static))
    print(f"{review.take.file}: {review.quality.verdict}")
    for phase in review.phrase.phases:
        print(f"  {phase.start_s:5.2f} to {phase.end_s:5.2f} s  {phase.id}")
    # Angles are radians, axis 0 is time, NaN is what could not be seen.
    for side in ("L", "R"):
        bend = np.degrees(review.movement.angle(f"knee_flexion.{side}"))
        print(f"knee_flexion.{side}: at most {np.nanmax(bend):.0f}° at {np.nanargmax(bend) / review.movement.rate_hz:.2f} s")
    for finding in review.findings:
        print(f"  {core.finding_in_words(finding)}")


if __name__ == "__main__":
    main(*(Path(argument) for argument in sys.argv[1:3]))
