"""The dancer in the room: files that Pixar's own library and its checks (those of Apple's viewer among them) read as meant."""

from __future__ import annotations

import json
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from in_the_round.analysis_core.body.movement import SEGMENTS
from in_the_round.analysis_core.errors import OutputError
from in_the_round.analysis_core.figure.levels import segments_named
from in_the_round.analysis_core.page import Story, story_of
from in_the_round.analysis_core.page.room import KEYS_HZ, LONGEST_S, SPEED, loop_of, write_rooms
from in_the_round.analysis_core.review import Review, write_review
from in_the_round.analysis_core.write.usd import _library
from in_the_round.simulated_dancer import Fault


@pytest.fixture(scope="module")
def review(reviewed: Callable[..., Review]) -> Review:
    return reviewed(Fault("axis-tilts", "turn-1", 8.0), Fault("heel-lifts-early", "turn-1", 32.0))


@pytest.fixture(scope="module")
def story(review: Review) -> Story:
    return story_of(review)


@pytest.fixture(scope="module")
def pxr() -> Any:
    try:
        return _library()
    except OutputError as error:
        pytest.skip(str(error))


@pytest.fixture(scope="module")
def files(story: Story, pxr: Any, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    return write_rooms(story, tmp_path_factory.mktemp("room") / "anna.html")


def test_one_file_for_each_card(story: Story, files: list[Path]) -> None:
    assert [path.name for path in files] == [f"anna-{card.number}.usdz" for card in story.cards]
    assert files


def test_checks_of_the_format_find_nothing(files: list[Path]) -> None:
    """The checker with the rules of Apple's viewer, then every validator that the library has."""
    from pxr import Usd, UsdUtils, UsdValidation

    for path in files:
        checker = UsdUtils.ComplianceChecker(arkit=True)
        checker.CheckCompliance(str(path))
        assert [*checker.GetErrors(), *checker.GetFailedChecks(), *checker.GetWarnings()] == []
        stage = Usd.Stage.Open(str(path))
        validators = UsdValidation.ValidationRegistry().GetOrLoadAllValidators()
        assert len(validators) > 10
        found = UsdValidation.ValidationContext(validators).Validate(stage)
        assert [error.GetMessage() for error in found] == []


def test_what_such_viewers_ask_for(story: Story, files: list[Path]) -> None:
    """Metres, Y up, one root joint, the same joints in rest and motion, four weights, at most 10 s, 100,000 polygons, a picture
    of 2048 (WWDC 2018, session 603); files stored and on multiples of 64 bytes (USD specification)."""
    from pxr import Usd, UsdGeom, UsdSkel

    for path, card in zip(files, story.cards, strict=True):
        stage = Usd.Stage.Open(str(path))
        assert UsdGeom.GetStageMetersPerUnit(stage) == 1.0
        assert UsdGeom.GetStageUpAxis(stage) == "Y"
        seconds = (stage.GetEndTimeCode() - stage.GetStartTimeCode()) / stage.GetTimeCodesPerSecond()
        assert stage.GetTimeCodesPerSecond() == KEYS_HZ
        begin, end = loop_of(card, story.review.take.duration_s)
        assert seconds == pytest.approx((end - begin) / SPEED, abs=0.1)
        assert 1.0 < seconds <= LONGEST_S
        kinds = {prim.GetTypeName(): prim for prim in stage.Traverse()}
        assert not {"Camera", "DomeLight", "DistantLight", "SphereLight"} & set(kinds)
        skeleton, motion, mesh = (kinds[name] for name in ("Skeleton", "SkelAnimation", "Mesh"))
        joints = list(UsdSkel.Skeleton(skeleton).GetJointsAttr().Get())
        assert joints == list(UsdSkel.Animation(motion).GetJointsAttr().Get())
        assert len(joints) == len(SEGMENTS)
        assert sum("/" not in joint for joint in joints) == 1
        assert UsdSkel.BindingAPI(mesh).GetJointWeightsPrimvar().GetElementSize() == 4
        assert len(UsdGeom.Mesh(mesh).GetFaceVertexCountsAttr().Get()) < 100_000
        with zipfile.ZipFile(path) as archive:
            data = path.read_bytes()
            for item in archive.infolist():
                assert item.compress_type == zipfile.ZIP_STORED
                name, extra = (int.from_bytes(data[item.header_offset + at :][:2], "little") for at in (26, 28))
                assert (item.header_offset + 30 + name + extra) % 64 == 0


def test_pose_size_and_side_are_the_takes(story: Story, files: list[Path]) -> None:
    """At the moment of the card: joints as high over the floor as they were measured, and the side that shows it to the front."""
    from pxr import Usd, UsdSkel

    movement = story.review.movement
    for path, card in zip(files, story.cards, strict=True):
        stage = Usd.Stage.Open(str(path))
        skeleton = next(UsdSkel.Skeleton(prim) for prim in stage.Traverse() if prim.GetTypeName() == "Skeleton")
        query = UsdSkel.Cache()
        query.Populate(UsdSkel.Root(stage.GetDefaultPrim()), Usd.PrimDefaultPredicate)
        begin, _ = loop_of(card, story.review.take.duration_s)
        code = (card.now.time_s - begin) / SPEED * KEYS_HZ
        poses = query.GetSkelQuery(skeleton).ComputeJointSkelTransforms(Usd.TimeCode(code))
        places = {name: np.array(pose)[3, :3] for name, pose in zip(SEGMENTS, poses, strict=True)}
        frame = round(card.now.time_s * movement.rate_hz)
        measured = {name: movement.joint(name)[frame] for name in ("knee.L", "knee.R", "ankle.L", "ankle.R")}
        for name, segment in (("knee", "shank"), ("ankle", "foot")):
            for side in (".L", ".R"):
                assert places[segment + side][1] == pytest.approx(measured[name + side][2], abs=0.03)
        # From the eye of the view, what is to its right is to the right (+X) of whoever stands before the dancer.
        away = np.subtract(card.now.view.position_m, card.now.view.aim_m)[:2]
        right = np.array([-away[1], away[0]]) / np.linalg.norm(away)
        apart = (measured["ankle.R"] - measured["ankle.L"])[:2] @ right
        assert (places["foot.R"] - places["foot.L"])[0] == pytest.approx(apart, abs=0.05)


def test_what_is_to_be_worked_on_has_rings(story: Story, files: list[Path]) -> None:
    """Read back from the file: corners of faces that belong to the card's parts lie in a column of the picture with rings, the
    others in columns of one colour."""
    import io

    from PIL import Image
    from pxr import Usd, UsdGeom, UsdSkel

    path, card = next((p, c) for p, c in zip(files, story.cards, strict=True) if c.thing.finding.grade == "fault")
    with zipfile.ZipFile(path) as archive:
        picture = np.asarray(Image.open(io.BytesIO(archive.read("colours.png"))).convert("RGB"), dtype=float)
    assert max(picture.shape) <= 2048
    stage = Usd.Stage.Open(str(path))
    mesh = next(prim for prim in stage.Traverse() if prim.GetTypeName() == "Mesh")
    across = np.array(UsdGeom.PrimvarsAPI(mesh).GetPrimvar("st").Get())[:, 0].reshape(-1, 4)[:, 0]
    lightness = picture.mean(axis=2)[:, (across * picture.shape[1]).astype(int)]
    ringed = np.ptp(lightness, axis=0) > 30
    binding = UsdSkel.BindingAPI(mesh)
    joints = np.array(binding.GetJointIndicesPrimvar().Get()).reshape(-1, 4)[:, 0]
    faces = np.array(UsdGeom.Mesh(mesh).GetFaceVertexIndicesAttr().Get()).reshape(-1, 4)
    named = np.isin(joints, segments_named(card.thing.finding.parts))[faces]
    assert ringed[named.all(axis=1)].mean() > 0.9
    assert ringed[~named.any(axis=1)].mean() < 0.02


def test_nothing_tells_who_or_where(files: list[Path]) -> None:
    for path in files:
        data = path.read_bytes()
        for word in (b"anna", b"/tmp", b".c3d", str(path.parent).encode()):
            assert word not in data


def test_command_writes_them_beside_the_page(review: Review, pxr: Any, tmp_path: Path) -> None:
    write_review(review, tmp_path / "take")
    command = [
        sys.executable,
        "-m",
        "in_the_round.command_line",
        "page",
        str(tmp_path / "take"),
        "--no-pictures",
        "--room",
        "--json",
    ]
    command += ["--out", str(tmp_path / "page.html")]
    (tmp_path / "page-1.usdz").write_bytes(b"mine")
    refused = subprocess.run(command, capture_output=True, text=True, timeout=200, check=False)
    assert (refused.returncode, (tmp_path / "page-1.usdz").read_bytes()) == (2, b"mine")
    assert not (tmp_path / "page.html").exists()
    done = subprocess.run([*command, "--force"], capture_output=True, text=True, timeout=200, check=False)
    assert done.returncode == 0, done.stderr
    assert "experimental" in done.stderr
    told = json.loads(done.stdout)
    assert [Path(name).is_file() for name in told["room"]] == [True] * told["corrections"]
