"""The dancer on the page is the dancer in Blender: the same pose, silhouette and colours from the same place, of markers and of a
skeleton; severity seen in grey; and a page on a device without WebGL."""

from __future__ import annotations

import base64
import importlib.util
import io
import json
import subprocess
import sys
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from in_the_round.analysis_core.analyse import analyse
from in_the_round.analysis_core.body.movement import JOINTS, SEGMENTS
from in_the_round.analysis_core.page import Pictures, story_of, write_page
from in_the_round.analysis_core.page.story import Story
from in_the_round.analysis_core.review import Review, write_review
from in_the_round.simulated_dancer.files import write_bvh

pytestmark = pytest.mark.slow
#: Of the viewer: its lens, up and down, and how high above the floor it looks.
FOV_DEG, AIM_M = 28.0, 0.9
#: Between the moment of a card, where its measure is drawn, and the sample that is looked at.
AWAY_S = 0.1
CARD, RINGED = "axis-tilts", "heel-lifts-early"
#: Rings and the gaps between them, in W3C's ratio of luminances. Proposed, no published norm for a pattern.
SEEN_IN_GREY = 2.0
#: Two moments of a skeleton's take, as shares of it.
BONES_AT = (0.1, 0.4)
LIMBS = (("hip", "knee"), ("knee", "ankle"), ("shoulder", "elbow"), ("elbow", "wrist"))


@dataclass(frozen=True)
class Seen:
    """The canvas (H, W, 3) as it was on the screen, and how far round, how far up and how far away the camera was."""

    picture: np.ndarray
    eye: list[float]

    @property
    def size(self) -> tuple[int, int]:
        """Width and height, pixels."""
        return self.picture.shape[1], self.picture.shape[0]

    @cached_property
    def dancer(self) -> np.ndarray:
        """Where (H, W) the picture is neither green nor green in shadow."""
        red, green, blue = np.moveaxis(self.picture.astype(float), 2, 0)
        return green < 1.35 * np.maximum(red, blue)


def shown(browser: Any, at: float) -> Seen:
    """The stage at a share of the take: only the dancer and her shadow, on green."""
    browser.run(
        "const range = document.querySelector('input[type=range]'); range.value = arguments[0];"
        "range.dispatchEvent(new Event('input')); document.querySelector('.hint').hidden = true;"
        "document.querySelector('.floor').style.background = '#0f0'; document.querySelector('.floor').style.borderRadius = '0';",
        at,
    )
    seen = look(browser)
    assert not browser.find(".tag").is_displayed()
    return seen


def look(browser: Any) -> Seen:
    """The stage as it is."""
    from PIL import Image

    browser.driver.execute_async_script("requestAnimationFrame(() => requestAnimationFrame(arguments[0]))")
    x, y, width, height = browser.run(
        "scrollTo(0, 0); const b = document.querySelector('canvas').getBoundingClientRect(); return [b.x, b.y, b.width, b.height]"
    )
    clip = {"x": x, "y": y, "width": width, "height": height, "scale": 1}
    data = browser.tell("Page.captureScreenshot", format="png", clip=clip)["data"]
    return Seen(np.asarray(Image.open(io.BytesIO(base64.b64decode(data))).convert("RGB")), browser.eye)


def eye_of(seen: Seen, review: Review, sample: int) -> tuple[np.ndarray, np.ndarray]:
    """Where the viewer's camera is and what it looks at, in the laboratory: by spherical coordinates from what the page tells."""
    round_, up, away = seen.eye
    aim = review.movement.segment_origins_m[sample, SEGMENTS.index("pelvis")] * [1, 1, 0] + [0, 0, AIM_M]
    # On the page Y points up and the laboratory's Y away from the eye.
    stage = away * np.array([np.sin(up) * np.sin(round_), np.cos(up), np.sin(up) * np.cos(round_)])
    return aim + np.array([stage[0], -stage[2], stage[1]]), aim


def projected(places: np.ndarray, eye: np.ndarray, aim: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """Pixels (K, 2) of places (K, 3): a pinhole camera, written out."""
    ahead = (aim - eye) / np.linalg.norm(aim - eye)
    right = np.cross(ahead, [0, 0, 1])
    right = right / np.linalg.norm(right)
    seen = (places - eye) @ np.stack([right, np.cross(right, ahead), ahead]).T
    half = np.tan(np.radians(FOV_DEG) / 2)
    width, height = size
    return np.stack(
        [width / 2 + height / 2 * seen[:, 0] / (half * seen[:, 2]), height / 2 * (1 - seen[:, 1] / (half * seen[:, 2]))], axis=1
    )


ARMS = ("shoulder", "elbow", "wrist")
BODY = ("head", "hip", "knee", "ankle")


def share_inside(seen: Seen, review: Review, sample: int, joints: tuple[str, ...] = BODY + ARMS, wider: int = 0) -> float:
    """How many of the joints of a sample lie within the dancer of a picture, made wider by so many pixels."""
    names = [name for name in JOINTS if name.partition(".")[0] in joints]
    places = review.movement.joint_centres_m[sample, [JOINTS.index(name) for name in names]]
    across, down = np.round(projected(places, *eye_of(seen, review, sample), seen.size)).astype(int).T
    return float(within(seen.dancer, wider)[down, across].mean())


def within(dancer: np.ndarray, by: int) -> np.ndarray:
    """A dancer (H, W) wider on every side by so many pixels, 6 mm each: a wrist is hardly thicker than two."""
    return np.any([np.roll(dancer, (d, a), (0, 1)) for d in range(-by, by + 1) for a in range(-by, by + 1)], axis=0)


def overlap(one: np.ndarray, other: np.ndarray) -> float:
    """Area in common over area of both; the pictures may lie two pixels (12 mm of the dancer) apart: where the viewer's camera
    looks is told here by another formula."""
    shifted = (np.roll(one, (down, across), (0, 1)) for down in range(-2, 3) for across in range(-2, 3))
    return max(float((moved & other).sum() / (moved | other).sum()) for moved in shifted)


def middles(review: Review, sample: int, eye: np.ndarray, aim: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """Pixels (K, 2) in the middle of waist, thighs, shanks, arms and head."""
    place = dict(zip(JOINTS, review.movement.joint_centres_m[sample], strict=True))
    pairs = [("pelvis", "neck"), *((f"{a}.{x}", f"{b}.{x}") for a, b in LIMBS for x in "LR"), ("head", "head")]
    return np.round(projected(np.stack([(place[a] + place[b]) / 2 for a, b in pairs]), eye, aim, size)).astype(int)


def luminances(seen: Seen, review: Review, sample: int, one: str, other: str) -> np.ndarray:
    """Relative luminances (N,) of a line along the middle of a part, without a fifth of it at either end (WCAG 2.2)."""
    place = dict(zip(JOINTS, review.movement.joint_centres_m[sample], strict=True))
    line = place[one] + np.linspace(0.2, 0.8, 200)[:, None] * (place[other] - place[one])
    across, down = np.round(projected(line, *eye_of(seen, review, sample), seen.size)).astype(int).T
    value = seen.picture[down, across].astype(float) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4) @ np.array([0.2126, 0.7152, 0.0722])


def contrast(light: float, dark: float) -> float:
    """Ratio of two luminances as W3C defines it (WCAG 2.2): 1 to 21."""
    return (light + 0.05) / (dark + 0.05)


def tint(picture: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Red, green and blue (3,) round a pixel as shares of their sum: the two are lit differently, and painted alike."""
    across, down = at
    colour = np.median(picture[down - 3 : down + 4, across - 3 : across + 4, :3].reshape(-1, 3), axis=0)
    return colour / colour.sum()


def beside(card: str, browser: Any, page: Path, story: Story) -> tuple[int, float]:
    """The page beside the card of a fault: the sample that it shows AWAY_S after its moment, and the share of the take."""
    number = next(place for place, told in enumerate(story.cards) if told.thing.finding.fault == card)
    browser.media(prefers_reduced_motion="reduce")
    browser.open(page)
    browser.run(f"document.querySelectorAll('.numbers a')[{number}].click()")
    movement = story.review.movement
    sample = round((story.cards[number].now.time_s + AWAY_S) * movement.rate_hz)
    return sample, sample / (movement.frames - 1)


@dataclass(frozen=True)
class Tilted:
    """The page beside the tilted axis, at a sample of the take: this take, the one before, and this one again."""

    sample: int
    now: Seen
    before: Seen
    again: Seen


@pytest.fixture(scope="module")
def tilted(_chromium: Any, phone: Any, page: Path, story: Story) -> Tilted:
    """Looked at once for all tests."""
    with phone(_chromium) as browser:
        sample, share = beside(CARD, browser, page, story)
        seen = [shown(browser, share)]
        for take in ("before", "now"):
            browser.run(f"document.querySelector('[name=take][value={take}]').click()")
            seen.append(look(browser))
    return Tilted(sample, *seen)


def test_each_take_has_its_own_pose(takes: tuple[Review, Review], story: Story, tilted: Tilted) -> None:
    """Joints of the review, seen through a camera written out here, lie in the dancer of that take, and those of the other do
    not: a page that only changed its button would be found out, and one that showed another moment."""
    now, before = takes
    times = story.comparison.alignment.to_b(np.array([tilted.sample / now.movement.rate_hz]))
    then = round(float(times[0]) * before.movement.rate_hz)
    assert share_inside(tilted.now, now, tilted.sample) >= 0.95
    assert share_inside(tilted.before, before, then) >= 0.95
    assert share_inside(tilted.now, before, then) < 0.8
    assert (tilted.again.dancer == tilted.now.dancer).mean() > 0.999
    assert (tilted.again.dancer == tilted.before.dancer).mean() < 0.99


def test_the_dancer_of_a_skeleton_moves_as_she_danced(browser: Any, takes: tuple[Review, Review], tmp_path: Path) -> None:
    """A take of bones alone. Her joints, as they were before they became a file, lie within the dancer at either of two moments,
    and not at the other's: a dancer left in her rest pose, turned over or a moment late would be found out."""
    danced = takes[0]
    write_bvh(tmp_path / "bones.bvh", danced.movement)
    bones = analyse(tmp_path / "bones.bvh")
    assert bones.take.kind == "skeleton"
    write_page(story_of(bones), tmp_path / "bones.html", Pictures())
    # Bones have no soles: how high above the floor they are is judged anew, and the same in the whole take.
    higher = bones.movement.joint("pelvis")[:, 2] - danced.movement.joint("pelvis")[:, 2]
    assert np.ptp(higher) < 0.005
    up = np.array([0.0, 0.0, float(np.median(higher))])
    centres, origins = danced.movement.joint_centres_m + up, danced.movement.segment_origins_m + up
    danced = replace(danced, movement=replace(danced.movement, joint_centres_m=centres, segment_origins_m=origins))
    browser.media(prefers_reduced_motion="reduce")
    browser.open(tmp_path / "bones.html")
    assert browser.said == []
    moments = [round(share * (danced.movement.frames - 1)) for share in BONES_AT]
    shown_there = [shown(browser, share) for share in BONES_AT]

    def inside(joints: tuple[str, ...], by: int) -> np.ndarray:
        return np.array([[share_inside(seen, danced, sample, joints, by) for sample in moments] for seen in shown_there])

    assert np.diag(inside(BODY, 2)).min() >= 0.95
    # A figure's shoulders lie where a human's do, up to 3 cm below this skeleton's, and the arms hang on them.
    assert np.diag(inside(ARMS, 5)).min() >= 0.95
    assert inside(BODY + ARMS, 2)[~np.eye(len(moments), dtype=bool)].max() < 0.8


def test_marked_parts_are_told_from_calm_ones_in_grey(browser: Any, page: Path, story: Story) -> None:
    """Without any colour, as the browser itself shows the page to eyes that see none: rings run along the shank whose heel lifts,
    and none along the calm one, which is worn alike."""
    movement, lifted = story.review.movement, next(card for card in story.cards if card.thing.finding.fault == RINGED)
    beside(RINGED, browser, page, story)
    # While the heel is up, before the moment at which the measure is drawn.
    sample = round((lifted.thing.finding.start_s + lifted.now.time_s) / 2 * movement.rate_hz)
    browser.tell("Emulation.setEmulatedVisionDeficiency", type="achromatopsia")
    try:
        grey = shown(browser, sample / (movement.frames - 1))
    finally:
        browser.tell("Emulation.setEmulatedVisionDeficiency", type="none")
    assert np.ptp(grey.picture.astype(int), axis=2).max() == 0
    ringed, calm = (luminances(grey, story.review, sample, f"knee.{x}", f"ankle.{x}") for x in "LR")
    # Measured: 2.4 and 1.03.
    assert contrast(*np.quantile(ringed, (0.9, 0.1))) > SEEN_IN_GREY
    assert contrast(*np.quantile(calm, (0.9, 0.1))) < 1.2


@pytest.mark.skipif(importlib.util.find_spec("bpy") is None, reason="the Blender module is not installed")
def test_page_and_blender_show_the_same_dancer(takes: tuple[Review, Review], tilted: Tilted, tmp_path: Path) -> None:
    """Silhouettes and, at the middle of each part, colours."""
    from PIL import Image

    page, sample = tilted.now.picture, tilted.sample
    eye, aim = eye_of(tilted.now, takes[0], sample)
    write_review(takes[0], tmp_path / "review")
    told = {"sample": sample, "from": eye.tolist(), "at": aim.tolist(), "fov_deg": FOV_DEG, "size": tilted.now.size}
    picture = tmp_path / "blender.png"
    script = Path(__file__).with_name("figure_in_blender.py")
    done = subprocess.run(
        [sys.executable, str(script), str(tmp_path / "review"), json.dumps(told), str(picture)],
        capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert picture.is_file(), done.stdout[-2000:] + done.stderr[-2000:]
    blender = np.asarray(Image.open(picture).convert("RGBA"))
    assert overlap(tilted.now.dancer, blender[:, :, 3] > 127) > 0.93
    places = middles(takes[0], sample, eye, aim, tilted.now.size)
    assert max(np.abs(tint(page, at) - tint(blender, at)).max() for at in places) < 0.06
    # The marked waist is told from a calm thigh by far more than that.
    waist, thigh = (tint(page, at) for at in places[:2])
    assert np.abs(waist - thigh).max() > 0.15


def test_without_webgl_all_else_is_there_and_the_page_says_so(browser: Any, page: Path) -> None:
    """A device that has no 3-D: words, pictures that turn, and a sentence instead of the stage."""
    browser.open(page, dancer=False, first=browser.WITHOUT_3D)
    browser.until(lambda: "cannot be shown on this device" in browser.find(".without").text)
    assert not browser.find("#stage").is_displayed()
    assert browser.find(".round").is_displayed()
    assert not any(shown.is_displayed() for shown in browser.driver.find_elements("css selector", ".show"))
    assert "How it feels when it works" in browser.find("main").text
    browser.run("document.querySelectorAll('.numbers a')[1].click()")
    assert browser.run("return location.hash") == browser.run("return document.querySelectorAll('.numbers a')[1].hash")
    # The library says in the console why it cannot draw; nothing else is said there.
    assert {line["source"] for line in browser.said} <= {"console-api"}
