"""Make the pictures of the capture day: the marker chart and the calibration movement, on the program's own figure. No Blender.

.venv/bin/python scripts/make_guide_pictures.py [FOLDER]     (default: docs/pictures)
"""

from __future__ import annotations

import sys
import textwrap
from dataclasses import dataclass
from pathlib import Path

import matplotlib
import numpy as np
from in_the_round.analysis_core.body.movement import Movement
from in_the_round.analysis_core.figure.motion import chosen, motion_of, placed
from in_the_round.analysis_core.figure.picture import Eye, picture_of
from in_the_round.analysis_core.figure.posing import skin_at
from in_the_round.analysis_core.figure.proportions import rest_of
from in_the_round.analysis_core.figure.skin import skin_of
from in_the_round.analysis_core.take import Floats
from in_the_round.analysis_core.wording.markers import marker_in_words
from in_the_round.analysis_core.write.files import whole_file
from in_the_round.simulated_dancer import Body, simulate
from in_the_round.simulated_dancer.leg_gesture import LegGesture
from in_the_round.simulated_dancer.steps import Plie, Releve, Stand
from in_the_round.simulated_dancer.wear import SPARE
from PIL import Image, ImageDraw, ImageFont

ROOT = Path(__file__).resolve().parent.parent
#: One sheet upright: the dancer from the front above the dancer from the back. Pixels.
_FIGURE = (1100, 960)
_TITLE = 44
_HEIGHT_M = 1.84
_DARK, _LINE, _PAPER = "#1b1b1f", "#55555c", "#ffffff"
_MARK, _RADIUS = "#7a1f5c", 8
#: Legible when the sheet is 640 pixels wide.
_TEXT, _LETTERS, _EDGE = 25, 15, 14
#: How far behind the nearest skin a marker may lie and still be told from this side, and how near that skin is in the picture.
_BEHIND_M, _BESIDE_M = 0.06, 0.025


def _font(size: int) -> ImageFont.FreeTypeFont:
    """The plotting library's own typeface: it has every accent."""
    return ImageFont.truetype(str(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"), size)


@dataclass(frozen=True)
class Seen:
    """A marker in a picture of the figure. place: pixels; visible: whether it lies on the side that is looked at."""

    landmark: str
    place: tuple[float, float]
    visible: bool


def _posed(movement: Movement, frame: int) -> tuple[Floats, Floats, object]:
    """Skin points (V, 3), where the pelvis is (3,), and the skin of one moment."""
    rest = rest_of(movement)
    skin = skin_of(rest, "practice")
    motion = chosen(motion_of(movement, rest), np.array([frame]))
    return skin_at(skin, motion, rest)[0], placed(motion, rest)[1][0, 0], skin


def _figure(
    movement: Movement, frame: int, away_rad: float, size: tuple[int, int], height_m: float
) -> tuple[Image.Image, Eye, Floats]:
    """The picture of one moment, how it was looked at, and the points of the skin (V, 3)."""
    points, pelvis, skin = _posed(movement, frame)
    eye = Eye(away_rad, np.array([*pelvis[:2], 0.46 * height_m]), height_m)
    return Image.fromarray(picture_of(points, skin.quads, skin.colours, eye, size)), eye, points


def _markers(labels: tuple[str, ...], places_m: Floats, eye: Eye, points: Floats) -> list[Seen]:
    scale = _FIGURE[1] / eye.height_m
    axes = eye.axes()
    told, skin = (places_m - eye.aim_m) @ axes.T, (points - eye.aim_m) @ axes.T
    seen = []
    for label, place in zip(labels, told, strict=True):
        near = np.linalg.norm(skin[:, :2] - place[:2], axis=1) < _BESIDE_M
        nearest = skin[near, 2].max() if near.any() else -np.inf
        pixel = (_FIGURE[0] / 2 + scale * place[0], _FIGURE[1] / 2 - scale * place[1])
        seen.append(Seen(label, pixel, bool(place[2] > nearest - _BEHIND_M)))
    return seen


def _name(landmark: str) -> str:
    """What is stuck on, without its side, in short lines."""
    return "\n".join(textwrap.wrap(marker_in_words("", landmark.partition(".")[0]), _LETTERS))


def _spread(wanted: list[float], sizes: list[float], lowest: float) -> list[float]:
    """Middles of labels, as near to the wanted ones (ascending) as their sizes allow; none below ``lowest``."""
    middles: list[float] = []
    for index, height in enumerate(wanted):
        room = 0.5 * (sizes[index - 1] + sizes[index]) if index else 0.0
        middles.append(max(height, middles[-1] + room) if index else height)
    floor = lowest
    for index in range(len(middles) - 1, -1, -1):
        middles[index] = min(middles[index], floor - 0.5 * sizes[index])
        floor = middles[index] - 0.5 * sizes[index]
    return middles


def _columns(seen: list[Seen], named: set[str]) -> tuple[list[Seen], list[Seen]]:
    """Which mark carries the name, left and right of the figure: each name once, the two columns as long as each other."""
    columns: tuple[list[Seen], list[Seen]] = ([], [])
    middle = _FIGURE[0] / 2
    visible = sorted((mark for mark in seen if mark.visible), key=lambda mark: mark.place[1])
    for name in dict.fromkeys(_name(mark.landmark) for mark in visible):
        if name in named:
            continue
        named.add(name)
        marks = [mark for mark in visible if _name(mark.landmark) == name]
        wanted = 0 if len(columns[0]) <= len(columns[1]) else 1
        beside = [mark for mark in marks if abs(mark.place[0] - middle) < 2 or (mark.place[0] > middle) == bool(wanted)]
        columns[wanted if beside else 1 - wanted].append((beside or marks)[0])
    return columns


def _labelled(draw: ImageDraw.ImageDraw, seen: list[Seen], top: int, named: set[str]) -> None:
    """Marks and their names on one figure, whose picture begins at ``top``."""
    font = _font(_TEXT)
    for right, column in enumerate(_columns(seen, named)):
        names = [_name(mark.landmark) for mark in column]
        sizes = [1.25 * _TEXT * (1 + name.count("\n")) + 10 for name in names]
        heights = _spread([mark.place[1] for mark in column], sizes, _FIGURE[1] - 10)
        for mark, name, height in zip(column, names, heights, strict=True):
            wide = draw.multiline_textbbox((0, 0), name, font)[2]
            edge = _FIGURE[0] - _EDGE - wide if right else _EDGE + wide
            towards = edge - 8 if right else edge + 8
            draw.line([(mark.place[0], top + mark.place[1]), (towards, top + height)], fill=_LINE, width=2)
            side = "left" if right else "right"
            draw.multiline_text((edge, top + height), name, _DARK, font, anchor=f"{side[0]}m", align=side)
    for mark in (mark for mark in seen if mark.visible):
        x, y = mark.place[0], top + mark.place[1]
        spare = mark.landmark.partition(".")[0] in SPARE
        box = (x - _RADIUS, y - _RADIUS, x + _RADIUS, y + _RADIUS)
        draw.ellipse(box, fill=_PAPER if spare else _MARK, outline=_MARK if spare else _PAPER, width=4 if spare else 2)


def marker_chart() -> Image.Image:
    """The dancer from the front and from the back with a mark for each marker and its plain name."""
    danced = simulate([Stand()], body=Body(stature_m=1.66), seed=3)
    frame = danced.static_movement.frames // 2
    places = danced.static_take.positions_m[frame]
    chart = Image.new("RGB", (_FIGURE[0], 2 * (_FIGURE[1] + _TITLE)), _PAPER)
    draw = ImageDraw.Draw(chart)
    named: set[str] = set()
    for number, (away, words) in enumerate(((0.0, "from the front"), (np.pi, "from the back"))):
        top = number * (_FIGURE[1] + _TITLE) + _TITLE
        picture, eye, points = _figure(danced.static_movement, frame, away, _FIGURE, _HEIGHT_M)
        chart.paste(picture, (0, top))
        draw.text((_FIGURE[0] / 2, top - _TITLE / 2), words, _DARK, _font(_TEXT + 2), anchor="mm")
        _labelled(draw, _markers(danced.static_take.labels, places, eye, points), top, named)
    return chart


def calibration() -> Image.Image:
    """The five moments of the first take, beside each other."""
    lifts = [LegGesture(direction=direction, elevation_deg=45.0, arms="first") for direction in ("front", "side")]
    steps = [Stand(), *lifts, Plie(arms="low"), Releve(arms="low")]
    movement = simulate(steps, body=Body(stature_m=1.66), start_position="first").movement
    # At 120 beats a minute: half way through standing, at the top of each leg, at the bottom, on the balls of the feet.
    moments = (
        (0.5, 35.0, "stand still"),
        (2.0, 80.0, "leg to the front"),
        (4.0, 0.0, "leg to the side"),
        (6.0, 35.0, "plié"),
        (8.0, 35.0, "rise"),
    )
    width, height = 380, 540
    strip = Image.new("RGB", (len(moments) * width, height + 44), _PAPER)
    draw, font = ImageDraw.Draw(strip), _font(34)
    for number, (second, away, words) in enumerate(moments):
        picture, _, _ = _figure(movement, round(second * movement.rate_hz), np.radians(away), (width, height), 2.0)
        strip.paste(picture, (number * width, 0))
        draw.text((number * width + width / 2, height + 22), f"{number + 1}  {words}", _DARK, font, anchor="mm")
    return strip


def main() -> None:
    """Write both."""
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "docs" / "pictures"
    out.mkdir(parents=True, exist_ok=True)
    for name, make in (("marker_chart", marker_chart), ("calibration", calibration)):
        with whole_file(out / f"{name}.jpg", overwrite=True) as unfinished:
            make().save(unfinished, "JPEG", quality=88)
        print(f"{out / name}.jpg written.")


if __name__ == "__main__":
    main()
