"""What holding the feet does on demo takes and open recordings: sliding, depth, accelerations, how far joints were moved.

    .venv/bin/python scripts/bench_feet.py [NAME …]

A line for each take; recordings that are not there are passed over. Figures of DEVELOPERS.md come from here.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from in_the_round.analysis_core.analyse import analyse
from in_the_round.analysis_core.body.anatomy import SIDE_SUFFIXES
from in_the_round.analysis_core.errors import InTheRoundError
from in_the_round.analysis_core.hand_over.give import hand_over
from in_the_round.analysis_core.hand_over.smoothness import smoothness, straight_knees
from in_the_round.analysis_core.hand_over.wishes import Wishes
from in_the_round.analysis_core.settings import Settings

ROOT = Path(__file__).resolve().parents[1]
DATA = ROOT.parent / "shared" / "data"


def takes(names: list[str]) -> list[Path]:
    """Demo takes and the recordings of dance, those that are asked for by a part of their name."""
    folders = [DATA / name for name in ("c3d_fullbody", "dance_c3d", "dance_bvh")]
    found = [ROOT / "demo_data" / f"{name}.c3d" for name in ("careful", "careless")]
    found += [
        path for folder in folders if folder.exists() for path in sorted(folder.iterdir()) if path.suffix in (".c3d", ".bvh")
    ]
    return [path for path in found if not names or any(name in path.stem for name in names)]


def line(path: Path) -> str:
    """Measure one take."""
    static = ROOT / "demo_data" / "static.c3d"
    review = analyse(path, Settings(static=static if path.parent == static.parent else None))
    free = hand_over(review, Wishes(feet="measured"))
    begin = time.process_time()
    held = hand_over(review, Wishes())
    spent = time.process_time() - begin
    contacts, knees = review.phrase.contacts, straight_knees(free.skeleton)
    before, after = smoothness(free.skeleton, contacts, knees), smoothness(held.skeleton, contacts, knees)
    holding = held.holding
    assert holding is not None
    slid = [1000 * value for value in (*holding.sliding_before_m_s, *holding.sliding_after_m_s)]
    ankles = [max(holding.moved_m[f"foot{side}"][i] for side in SIDE_SUFFIXES) * 1000 for i in (0, 1)]
    ratios = [
        new / old if old else 1.0
        for olds, news in ((before.ankle_m_s2, after.ankle_m_s2), (before.knee_rad_s2, after.knee_rad_s2))
        for old, new in zip(olds, news, strict=True)
    ]
    less = slid[0] / max(slid[2], 1e-9)
    deep = [1000 * value for value in (holding.depth_before_m, holding.depth_after_m)]
    return (
        f"{path.stem[:28]:28} {len(holding.kept):4} {len(holding.left):4}  {slid[0]:6.1f} {slid[2]:6.2f} {less:6.1f}x"
        f"  {slid[1]:6.1f} {slid[3]:6.2f}  {ankles[0]:5.1f} {ankles[1]:6.1f}  {deep[0]:6.1f} {deep[1]:6.1f} {len(holding.sunk):3}"
        f"  {ratios[0]:5.2f} {ratios[1]:5.2f}  {ratios[2]:5.2f} {ratios[3]:5.2f}  {spent:5.1f}"
    )


def main() -> None:
    """Print the table."""
    head = (
        "take",
        "kept",
        "left",
        "slid",
        "now",
        "less",
        "95 %",
        "now",
        "ankle",
        "most",
        "deep",
        "now",
        "left",
        "acc95",
        "max",
        "kne95",
        "max",
        "s",
    )
    sys.stdout.write(" ".join(head) + "   (mm/s, mm, ratios to the captured)\n")
    for path in takes(sys.argv[1:]):
        try:
            sys.stdout.write(line(path) + "\n")
        except InTheRoundError as error:
            sys.stdout.write(f"{path.stem}: {error}\n")
        sys.stdout.flush()


main()
