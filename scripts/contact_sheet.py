"""Contact sheets of the figure: one PNG for each recording, six moments from two sides, to be looked at.

Without arguments: the open recordings of whole dancers beside the repository (../shared/data), into build/contact_sheets.
Needs Pillow (pip install -e '.[test]'); no Blender.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from in_the_round.analysis_core.analyse import analyse
from in_the_round.analysis_core.errors import InTheRoundError
from in_the_round.analysis_core.figure.looks import DEFAULT_LOOK, LOOKS
from in_the_round.analysis_core.figure.motion import chosen, motion_of, placed
from in_the_round.analysis_core.figure.picture import Eye, picture_of
from in_the_round.analysis_core.figure.posing import skin_at
from in_the_round.analysis_core.figure.proportions import rest_of
from in_the_round.analysis_core.figure.skin import skin_of
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.settings import Settings
from in_the_round.analysis_core.write.files import whole_file
from PIL import Image, ImageDraw, ImageFont

ROOT = Path(__file__).resolve().parents[1]
DATA = ROOT.parent / "shared" / "data"
FOLDERS = ("dance_c3d", "dance_bvh", "c3d_fullbody")
STATIC = {"ballet_turn.c3d": "ballet_tpose.c3d"}
PERSON = {"two_people.c3d": "1"}
MOMENTS = 6
VIEWS = (("from the front", np.radians(15.0)), ("from the right", np.radians(-80.0)))
CELL, HEAD, LEAST_HEIGHT_M = (240, 300), 26, 2.2


def _reviewed(path: Path) -> Review:
    static = path.with_name(STATIC[path.name]) if path.name in STATIC else None
    settings = Settings(static=static if static is not None and static.is_file() else None)
    return analyse(path, replace(settings, person=PERSON.get(path.name)))


def _sides(review: Review, frame: int) -> float:
    """Where the dancer faces at a moment, radians."""
    forward = review.movement.segment("pelvis")[frame, :2, 0]
    return float(np.arctan2(forward[1], forward[0])) if np.isfinite(forward).all() else 0.0


def sheet_of(review: Review, look: str) -> Image.Image:
    """The contact sheet of one recording."""
    movement = review.movement
    rest = rest_of(movement)
    skin = skin_of(rest, look)
    frames = np.linspace(0, movement.frames - 1, MOMENTS + 2).astype(np.int64)[1:-1]
    motion = chosen(motion_of(movement, rest), frames)
    points = skin_at(skin, motion, rest)
    _, origins = placed(motion, rest)
    height = max(LEAST_HEIGHT_M, 1.15 * float(points[..., 2].max() - min(points[..., 2].min(), 0.0)))
    width, tall = CELL
    sheet = Image.new("RGB", (MOMENTS * width, HEAD + len(VIEWS) * (tall + HEAD)), "white")
    draw, font = ImageDraw.Draw(sheet), ImageFont.load_default(15)
    title = f"{review.take.file}   {review.take.duration_s:.1f} s at {review.take.rate_hz:g} Hz   "
    draw.text((8, 4), f"{title}figure of {100 * rest.stature_m:.0f} cm", "black", font)
    for row, (words, away) in enumerate(VIEWS):
        top = HEAD + row * (tall + HEAD)
        for column, frame in enumerate(frames):
            aim = np.array([*origins[column, 0, :2], 0.46 * height])
            eye = Eye(_sides(review, int(frame)) + away, aim, height)
            sheet.paste(Image.fromarray(picture_of(points[column], skin.quads, skin.colours, eye, CELL)), (column * width, top))
            draw.text((column * width + 8, top + tall + 3), f"{movement.time_s[frame]:.2f} s   {words}", "black", font)
    return sheet


def _recordings() -> list[Path]:
    return [path for folder in FOLDERS for path in sorted((DATA / folder).glob("*.*")) if path.suffix in (".c3d", ".bvh")]


def main() -> int:
    """Make the sheets; say which recordings cannot be shown and why."""
    parser = argparse.ArgumentParser(description=str(__doc__).partition("\n")[0])
    parser.add_argument("recordings", type=Path, nargs="*", help="C3D or BVH files (default: those in ../shared/data)")
    parser.add_argument("--out", type=Path, default=ROOT / "build" / "contact_sheets", help="folder for the pictures")
    parser.add_argument("--figure", choices=tuple(LOOKS), default=DEFAULT_LOOK, help="what the dancer wears")
    arguments = parser.parse_args()
    recordings = arguments.recordings or _recordings()
    if not recordings:
        sys.stderr.write(f"There are no recordings in {DATA}. Name some files.\n")
        return 2
    for path in recordings:
        try:
            sheet = sheet_of(_reviewed(path), arguments.figure)
            with whole_file(arguments.out / f"{path.stem}.png", overwrite=True) as temporary:
                sheet.save(temporary)
        except InTheRoundError as error:
            sys.stderr.write(f"{path.name} is not shown: {error}\n")
            continue
        sys.stdout.write(f"{arguments.out / path.stem}.png\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
