"""Every file of the hand-over, read by readers that share no code with its writer: joints, rotations, seconds, axes, rest."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import warnings
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pygltflib
import pytest
import ufbx
from in_the_round.analysis_core.hand_over.files import paths_of, write_own_files
from in_the_round.analysis_core.hand_over.give import HandOver, body_for, hand_over
from in_the_round.analysis_core.hand_over.glb import write_hand_over_glb
from in_the_round.analysis_core.hand_over.rig import Rig, rig_of
from in_the_round.analysis_core.hand_over.timing import at_rate, cut
from in_the_round.analysis_core.hand_over.wishes import Wishes
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.write.bvh import write_bvh
from in_the_round.analysis_core.write.fbx import write_fbx
from in_the_round.analysis_core.write.usd import _library, write_usd
from in_the_round.analysis_core.write.usdz import pack_usdz

READER = Path(__file__).resolve().parents[1] / "blender" / "read_hand_over.py"
#: Of the review that is handed over; the files are written at all of RATES, too.
RATE_HZ = 60.0
RATES = (240.0, 119.88, 59.94, 30.0, 23.976, 330.0)
ENDINGS = ("bvh", "glb", "fbx", "usdc", "usdz")
#: Y up, facing +Z, written out: x stays, Z goes up into Y, Y goes away into −Z.
UP = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])


@pytest.fixture(scope="module")
def given(reviewed: Callable[..., Review]) -> HandOver:
    return hand_over(reviewed(rate_hz=RATE_HZ), Wishes(root="bone"))


@pytest.fixture(scope="module")
def folder(given: HandOver, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("files")
    write_own_files(
        given, paths_of(folder, "take", ("bvh", "glb", "fbx", "usd", "usdz")), lambda words, share: None, overwrite=False
    )
    return folder


def at(given: HandOver, rate_hz: float, seconds: float = 3.0) -> Rig:
    """Seconds of the dance about the middle of its turn, at a rate."""
    begin, end = (round((4.0 + half * seconds / 2) * RATE_HZ) for half in (-1, 1))
    short = cut(given.skeleton, begin, end)
    return rig_of(short if rate_hz == short.rate_hz else at_rate(short, rate_hz), "pelvis")


@pytest.fixture(scope="module")
def read_by_blender(given: HandOver, folder: Path) -> tuple[Path, list[int]]:
    """A folder with what Blender reads of each file in some frames, and which those are; one Blender reads all files."""
    frames = [0, 175, 375, 650, 1000, given.rig.frames - 1]
    command = [sys.executable, str(READER), str(RATE_HZ), ",".join(map(str, frames)), str(folder)]
    files = [str(folder / f"take.{ending}") for ending in ENDINGS]
    subprocess.run([*command, *files], check=True, capture_output=True, timeout=300)
    return folder, frames


@pytest.mark.blender
@pytest.mark.parametrize("ending", ENDINGS)
def test_blender_reads_the_same_joints_and_rotations(
    given: HandOver, read_by_blender: tuple[Path, list[int]], ending: str
) -> None:
    """Targets: joints 0.05 mm, rotations 0.1°. Would catch wrong axes, units, rest poses or orders of angles."""
    folder, frames = read_by_blender
    read = np.load(folder / f"take.{ending}.npz")
    columns = [list(read["names"]).index(name) for name in given.rig.names]
    assert np.abs(read["heads"][:, columns] - given.rig.origins_m[frames]).max() < 5e-5
    difference = read["turned"][:, columns] - given.rig.turned[frames]
    assert np.degrees(np.abs(difference).max()) < 0.1
    assert np.ptp(read["keys"]) == given.rig.frames - 1
    if ending != "bvh":
        assert np.abs(read["rest"][columns] - given.rig.heads).max() < 1e-5
        assert read["meshes"] >= 1


@pytest.mark.parametrize("rate_hz", RATES)
def test_fbx_in_ufbx(given: HandOver, rate_hz: float, tmp_path: Path) -> None:
    """ufbx evaluates the file by itself: places in metres, Y up; seconds of the last key exact to 0.05 ms a minute."""
    rig = at(given, rate_hz)
    write_fbx(rig, body_for(given.body, rig), {"feet": "held"}, tmp_path / "take.fbx")
    scene = ufbx.load_file(str(tmp_path / "take.fbx"))
    last = (rig.frames - 1) / rate_hz
    assert scene.anim_stacks[0].time_end == pytest.approx(last, abs=1e-6)
    assert scene.settings.unit_meters == pytest.approx(1.0)
    for frame in (0, rig.frames // 2, rig.frames - 1):
        shown = scene.evaluate(scene.anim, frame / rate_hz)
        for index, name in enumerate(rig.names):
            matrix = shown.find_node(name).node_to_world
            place = np.array([matrix.c3.x, matrix.c3.y, matrix.c3.z])
            assert np.abs(place - UP @ rig.origins_m[frame, index]).max() < 1e-5, name


@pytest.mark.blender
@pytest.mark.parametrize("rate_hz", RATES)
def test_usd_in_its_own_library(given: HandOver, rate_hz: float, tmp_path: Path) -> None:
    """The library's own skinning query poses the joints; its compliance checker finds nothing, ARKit's rules included."""
    rig = at(given, rate_hz)
    write_usd(rig, body_for(given.body, rig), {"feet": "held"}, tmp_path / "take.usdc")
    pxr = _library()
    stage = pxr.Usd.Stage.Open(str(tmp_path / "take.usdc"))
    assert stage.GetTimeCodesPerSecond() == rate_hz
    assert stage.GetEndTimeCode() == rig.frames - 1
    # Without it an animator opens a file that does not say what was done to the feet.
    assert stage.GetPrimAtPath("/dancer").GetCustomDataByKey("feet") == "held"
    skeleton = pxr.UsdSkel.Skeleton.Get(stage, "/dancer/skeleton")
    cache = pxr.UsdSkel.Cache()
    cache.Populate(pxr.UsdSkel.Root.Get(stage, "/dancer"), pxr.Usd.TraverseInstanceProxies())
    query = cache.GetSkelQuery(skeleton)
    # Seconds of the package are those of the file in it.
    pack_usdz(tmp_path / "take.usdc", tmp_path / "take.usdz", name="take.usdc")
    packed = pxr.Usd.Stage.Open(str(tmp_path / "take.usdz"))
    assert packed.GetEndTimeCode() / packed.GetTimeCodesPerSecond() == pytest.approx((rig.frames - 1) / rate_hz, abs=1e-9)
    turns = pxr.UsdSkel.Animation.Get(packed, query.GetAnimQuery().GetPrim().GetPath()).GetRotationsAttr()
    each = np.array([[[q.GetReal(), *q.GetImaginary()] for q in turns.Get(float(frame))] for frame in range(0, 40)])
    assert ((each[1:] * each[:-1]).sum(axis=2) > 0.0).all()
    for frame in (0, rig.frames // 2, rig.frames - 1):
        places = np.array([matrix.ExtractTranslation() for matrix in query.ComputeJointSkelTransforms(float(frame))])
        assert np.abs(places - rig.origins_m[frame] @ UP.T).max() < 1e-5
    from pxr import UsdUtils

    checker = UsdUtils.ComplianceChecker(arkit=True)
    checker.CheckCompliance(str(tmp_path / "take.usdc"))
    found = [*checker.GetErrors(), *checker.GetFailedChecks(), *checker.GetWarnings()]
    # A binary file by itself is no package; the packed one is checked below.
    assert not [words for words in found if "usdz" not in words.lower()]


@pytest.mark.blender
def test_usdz_passes_the_checks(folder: Path) -> None:
    """Would catch a package whose data do not lie on multiples of 64 bytes, or a stage that is not Y up."""
    _library()
    from pxr import UsdUtils

    checker = UsdUtils.ComplianceChecker(arkit=True)
    checker.CheckCompliance(str(folder / "take.usdz"))
    assert [*checker.GetErrors(), *checker.GetFailedChecks(), *checker.GetWarnings()] == []


@pytest.mark.parametrize("rate_hz", RATES)
def test_bvh_in_bvhio(given: HandOver, rate_hz: float, tmp_path: Path) -> None:
    """Another reader's own forward kinematics, centimetres; seconds from Frame Time."""
    with warnings.catch_warnings():
        # It imports a library of its own by an old name.
        warnings.simplefilter("ignore", PendingDeprecationWarning)
        import bvhio
    # It takes a millisecond for each joint of each frame.
    rig = at(given, rate_hz, 1.0)
    write_bvh(rig, tmp_path / "take.bvh")
    file = bvhio.readAsBvh(str(tmp_path / "take.bvh"))
    assert file.FrameTime * file.FrameCount == pytest.approx(rig.frames / rate_hz, abs=1e-6)
    root = bvhio.convertBvhToHierarchy(file.Root)
    for frame in (0, rig.frames // 2, rig.frames - 1):
        root.loadPose(frame)
        for joint, _, _ in root.layout():
            index = rig.names.index(joint.Name)
            assert np.abs(np.array(joint.PositionWorld) / 100.0 - UP @ rig.origins_m[frame, index]).max() < 1e-5, joint.Name


def test_angles_of_the_bvh_do_not_jump(folder: Path, given: HandOver) -> None:
    """The file's own numbers, of the whole take: no angle steps further than its bone turned, away from the singularity.

    Target of hand_over.md 9: 1.5 times the turn and a degree. Would catch an angle that goes from 180° to −180°.
    """
    lines = (folder / "take.bvh").read_text(encoding="ascii").splitlines()
    start = next(row for row, line in enumerate(lines) if line.startswith("Frame Time")) + 1
    names = [line.split()[1] for line in lines[:start] if line.split()[:1] in (["ROOT"], ["JOINT"])]
    channels = [line.split()[2:] for line in lines[:start] if line.strip().startswith("CHANNELS")]
    numbers = np.loadtxt(lines[start:])
    local, column = given.rig.local(), 0
    for name, own in zip(names, channels, strict=True):
        places = [column + own.index(f"{axis}rotation") for axis in "ZXY"]
        angles, column = numbers[:, places], column + len(own)
        turned = local[:, given.rig.names.index(name)]
        cosine = (np.einsum("fij,fij->f", turned[1:], turned[:-1]) - 1.0) / 2.0
        turn = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
        # The middle angle of the three: near a quarter turn the outer two are one axis.
        away = np.abs(np.cos(np.radians(angles[:-1, 1]))) > 0.7
        assert (np.abs(np.diff(angles, axis=0)).max(axis=1)[away] <= 1.5 * turn[away] + 1.0).all(), name
        assert np.abs(np.diff(angles, axis=0)).max() < 180.0, name


def test_glb_in_pygltflib(folder: Path, given: HandOver) -> None:
    """Would catch a document that another library refuses, a clip per step that is missing, or a skin without its bones."""
    document = pygltflib.GLTF2().load(str(folder / "take.glb"))
    assert [clip.name for clip in document.animations] == [
        "take",
        *(piece.name for piece in given.pieces),
        *(name for name, _ in given.loop_clips),
    ]
    assert [document.nodes[joint].name for joint in document.skins[0].joints] == list(given.rig.names)
    times = document.accessors[document.animations[0].samplers[0].input]
    assert times.max[0] == pytest.approx((given.rig.frames - 1) / RATE_HZ, abs=1e-6)


@pytest.mark.parametrize("rate_hz", RATES)
def test_seconds_of_glb_in_pygltflib(given: HandOver, rate_hz: float, tmp_path: Path) -> None:
    """Every time of a key as another library decodes it, exact to 0.05 ms a minute. Would catch a rounded rate."""
    rig = at(given, rate_hz)
    write_hand_over_glb(rig, body_for(given.body, rig), (), {"feet": "held"}, tmp_path / "take.glb")
    document = pygltflib.GLTF2().load(str(tmp_path / "take.glb"))
    accessor = document.accessors[document.animations[0].samplers[0].input]
    view = document.bufferViews[accessor.bufferView]
    begin = view.byteOffset + (accessor.byteOffset or 0)
    times = np.frombuffer(document.binary_blob(), "<f4", accessor.count, begin)
    assert times.size == rig.frames
    assert np.abs(times - np.arange(rig.frames) / rate_hz).max() < 0.05e-3 * rig.frames / rate_hz / 60.0
    assert accessor.max[0] == pytest.approx((rig.frames - 1) / rate_hz, abs=1e-6)


def test_glb_in_the_validator(folder: Path, tmp_path: Path) -> None:
    """The validator of the format's own publishers: no error, warning or info."""
    if shutil.which("npm") is None:
        pytest.skip("node and npm are not there")
    install = [
        "npm",
        "install",
        "--silent",
        "--no-audit",
        "--no-fund",
        "--prefix",
        str(tmp_path),
        "gltf-validator@2.0.0-dev.3.10",
    ]
    if subprocess.run(install, capture_output=True, check=False).returncode:
        pytest.skip("the validator cannot be fetched here")
    script = (
        "const v = require(process.argv[1] + '/node_modules/gltf-validator'), fs = require('fs');"
        "v.validateBytes(new Uint8Array(fs.readFileSync(process.argv[2]))).then(r => console.log(JSON.stringify(r.issues)))"
    )
    ran = subprocess.run(["node", "-e", script, str(tmp_path), str(folder / "take.glb")], capture_output=True, check=True)
    issues = json.loads(ran.stdout)
    assert (issues["numErrors"], issues["numWarnings"], issues["numInfos"]) == (0, 0, 0), issues["messages"][:3]


def test_travel_goes_on_its_bone_or_away(given: HandOver) -> None:
    """The bone on the floor takes the slow way, the pelvis stays above it; in place nobody leaves the spot, and turns stay."""
    rig = given.rig
    assert np.abs(rig.origins_m[:, 0, 2]).max() == 0.0
    plain = rig_of(given.skeleton, "pelvis")
    assert np.abs(rig.origins_m[:, 1:] - plain.origins_m).max() < 1e-12
    assert np.linalg.norm(rig.origins_m[:, 1, :2] - rig.origins_m[:, 0, :2], axis=1).max() < 0.35
    assert np.linalg.norm(np.ptp(plain.origins_m[:, 0, :2], axis=0)) > 2 * 0.1
    still = rig_of(given.skeleton, "in-place")
    assert np.linalg.norm(still.origins_m[:, 0, :2], axis=1).max() < 0.35
    assert (still.turned == plain.turned).all()


def test_a_pose_and_seconds_cut(reviewed: Callable[..., Review]) -> None:
    """Arms 45° below the horizontal at rest in the A-pose (common practice); the motion is the same as from the T-pose."""
    one, other = (hand_over(reviewed(rate_hz=RATE_HZ), wishes) for wishes in (Wishes(rest="a-pose"), Wishes()))
    names = one.rig.names
    along = one.rig.axes[names.index("upper_arm.L")][:, 1]
    assert np.degrees(np.arcsin(-along[2])) == pytest.approx(45.0, abs=1e-6)
    assert np.abs(one.rig.origins_m - other.rig.origins_m).max() < 1e-9
    assert replace(one.wishes, rest="t-pose") == other.wishes
