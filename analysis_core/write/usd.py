"""USD: bones with their motion and a skinned body; metres, Y up, facing +Z. Through the library that comes with Blender."""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ..body.rotations import continuous, quaternions_of
from ..errors import OutputError
from ..figure.skin import normals_of
from ..hand_over.body import Body
from ..hand_over.rig import Y_UP, Rig
from ..take import Floats
from .files import whole_file

_INFLUENCES = 4
_SKIN = (0.6, 0.55, 0.5)
_ROOT = "/dancer"
_HOW_TO_GET_IT = (
    "USD files are written by the library that comes with Blender's module, and it is not in this Python. "
    "Run scripts/demo.py once, or leave usd and usdz out of --formats."
)


def _library() -> Any:
    """The USD library. Raises OutputError when there is none."""
    if importlib.util.find_spec("pxr") is None:
        blender = importlib.util.find_spec("bpy")
        origin = None if blender is None else blender.origin
        places = [] if origin is None else Path(origin).parent.glob("*/python/lib/*/site-packages")
        sys.path.extend(str(place) for place in places if (place / "pxr").is_dir())
    try:
        import pxr
        from pxr import Gf, Sdf, Usd, UsdGeom, UsdShade, UsdSkel, Vt  # noqa: F401
    except ImportError as error:
        raise OutputError(_HOW_TO_GET_IT) from error
    return pxr


@dataclass(frozen=True)
class Painting:
    """A picture beside the USD file, by its name, and where each corner of a quad (Q, 4, 2) lies on it, 0 to 1 across and up."""

    file: str
    corners: Floats


def _names(rig: Rig) -> list[str]:
    """Paths of the joints; USD allows no dot in a name."""
    names: list[str] = []
    for index, name in enumerate(rig.names):
        own, parent = name.replace(".", "_"), int(rig.parents[index])
        names.append(own if parent < 0 else f"{names[parent]}/{own}")
    return names


def _matrices(pxr: Any, rotations: Floats, places: Floats) -> Any:
    """Matrices (B, 4, 4) for row vectors, as USD multiplies."""
    rows = np.tile(np.eye(4), (len(rotations), 1, 1))
    rows[:, :3, :3] = np.swapaxes(rotations, 1, 2)
    rows[:, 3, :3] = places
    return pxr.Vt.Matrix4dArray([pxr.Gf.Matrix4d(*row.ravel().tolist()) for row in rows])


def _above(rig: Rig, axes: Floats) -> Floats:
    """Axes (B, 3, 3) of every bone's parent at rest; the world's for the first."""
    above = axes[rig.parents]
    above[rig.parents < 0] = np.eye(3)
    return above


def _offsets(rig: Rig, axes: Floats) -> Floats:
    """Heads (B, 3) from their parents' in the parents' axes, at rest."""
    offsets: Floats = np.einsum("bji,bj->bi", _above(rig, axes), rig.offsets @ Y_UP.T)
    return offsets


def _skeleton(pxr: Any, stage: Any, rig: Rig, axes: Floats) -> Any:
    skeleton = pxr.UsdSkel.Skeleton.Define(stage, f"{_ROOT}/skeleton")
    skeleton.CreateJointsAttr(_names(rig))
    skeleton.CreateBindTransformsAttr(_matrices(pxr, axes, rig.heads @ Y_UP.T))
    skeleton.CreateRestTransformsAttr(_matrices(pxr, np.swapaxes(_above(rig, axes), 1, 2) @ axes, _offsets(rig, axes)))
    return skeleton


def _animation(pxr: Any, stage: Any, rig: Rig, axes: Floats) -> Any:
    animation = pxr.UsdSkel.Animation.Define(stage, f"{_ROOT}/take")
    animation.CreateJointsAttr(_names(rig))
    # A joint's rotation holds its rest, unlike a bone's in an armature.
    turns = np.swapaxes(_above(rig, axes), 1, 2) @ axes @ rig.local_in_bones()
    quaternions = continuous(quaternions_of(turns)).astype(np.float32)
    quaternions /= np.linalg.norm(quaternions, axis=-1, keepdims=True)
    places = np.tile(_offsets(rig, axes), (rig.frames, 1, 1)).astype(np.float32)
    for index in rig.moved:
        places[:, index] = rig.places(index) @ Y_UP.T @ _above(rig, axes)[index]
    rotations, translations = animation.CreateRotationsAttr(), animation.CreateTranslationsAttr()
    # The library stores imaginary parts first.
    imaginary_first = np.ascontiguousarray(quaternions[..., [1, 2, 3, 0]])
    for frame in range(rig.frames):
        rotations.Set(pxr.Vt.QuatfArray.FromNumpy(imaginary_first[frame]), float(frame))
        translations.Set(pxr.Vt.Vec3fArray.FromNumpy(places[frame]), float(frame))
    animation.CreateScalesAttr(pxr.Vt.Vec3hArray([pxr.Gf.Vec3h(1.0)] * len(rig.names)))
    return animation


def _body(pxr: Any, stage: Any, body: Body, painting: Painting | None) -> Any:
    geometry, arrays = pxr.UsdGeom, pxr.Vt
    mesh = geometry.Mesh.Define(stage, f"{_ROOT}/body")
    points = np.ascontiguousarray((body.vertices_m @ Y_UP.T).astype(np.float32))
    mesh.CreatePointsAttr(arrays.Vec3fArray.FromNumpy(points))
    mesh.CreateFaceVertexCountsAttr(arrays.IntArray.FromNumpy(np.full(len(body.quads), 4, dtype=np.int32)))
    mesh.CreateFaceVertexIndicesAttr(arrays.IntArray.FromNumpy(np.ascontiguousarray(body.quads.astype(np.int32).ravel())))
    mesh.CreateSubdivisionSchemeAttr(geometry.Tokens.none)
    normals = np.ascontiguousarray((normals_of(body.vertices_m, body.quads) @ Y_UP.T).astype(np.float32))
    mesh.CreateNormalsAttr(arrays.Vec3fArray.FromNumpy(normals))
    mesh.SetNormalsInterpolation(geometry.Tokens.vertex)
    mesh.CreateExtentAttr(arrays.Vec3fArray.FromNumpy(np.stack([points.min(axis=0), points.max(axis=0)])))
    order = np.argsort(-body.weights, axis=1, kind="stable")[:, :_INFLUENCES]
    weights = np.take_along_axis(body.weights, order, axis=1)
    weights = np.ascontiguousarray((weights / weights.sum(axis=1, keepdims=True)).astype(np.float32))
    binding = pxr.UsdSkel.BindingAPI.Apply(mesh.GetPrim())
    binding.CreateJointIndicesPrimvar(False, _INFLUENCES).Set(arrays.IntArray.FromNumpy(order.astype(np.int32).ravel()))
    binding.CreateJointWeightsPrimvar(False, _INFLUENCES).Set(arrays.FloatArray.FromNumpy(weights.ravel()))
    binding.CreateGeomBindTransformAttr(pxr.Gf.Matrix4d(1.0))
    _material(pxr, stage, mesh, painting)
    return binding


def _texture(pxr: Any, stage: Any, mesh: Any, shader: Any, painting: Painting) -> None:
    """The painted picture in place of one colour, read at each corner of each face."""
    types, shade = pxr.Sdf.ValueTypeNames, pxr.UsdShade
    corners = np.ascontiguousarray(painting.corners.reshape(-1, 2).astype(np.float32))
    places = pxr.UsdGeom.PrimvarsAPI(mesh).CreatePrimvar("st", types.TexCoord2fArray, pxr.UsdGeom.Tokens.faceVarying)
    places.Set(pxr.Vt.Vec2fArray.FromNumpy(corners))
    where = shade.Shader.Define(stage, f"{_ROOT}/material/places")
    where.CreateIdAttr("UsdPrimvarReader_float2")
    where.CreateInput("varname", types.String).Set("st")
    picture = shade.Shader.Define(stage, f"{_ROOT}/material/picture")
    picture.CreateIdAttr("UsdUVTexture")
    picture.CreateInput("file", types.Asset).Set(painting.file)
    picture.CreateInput("sourceColorSpace", types.Token).Set("sRGB")
    for name in ("wrapS", "wrapT"):
        picture.CreateInput(name, types.Token).Set("repeat")
    picture.CreateInput("st", types.Float2).ConnectToSource(where.CreateOutput("result", types.Float2))
    shader.CreateInput("diffuseColor", types.Color3f).ConnectToSource(picture.CreateOutput("rgb", types.Float3))


def _material(pxr: Any, stage: Any, mesh: Any, painting: Painting | None) -> None:
    shade = pxr.UsdShade
    material = shade.Material.Define(stage, f"{_ROOT}/material")
    shader = shade.Shader.Define(stage, f"{_ROOT}/material/surface")
    shader.CreateIdAttr("UsdPreviewSurface")
    if painting is None:
        shader.CreateInput("diffuseColor", pxr.Sdf.ValueTypeNames.Color3f).Set(pxr.Gf.Vec3f(*_SKIN))
    else:
        _texture(pxr, stage, mesh, shader, painting)
    shader.CreateInput("roughness", pxr.Sdf.ValueTypeNames.Float).Set(0.8)
    material.CreateSurfaceOutput().ConnectToSource(shader.ConnectableAPI(), "surface")
    shade.MaterialBindingAPI.Apply(mesh.GetPrim()).Bind(material)


def write_usd(
    rig: Rig, body: Body, extras: dict[str, str], path: Path, *, painting: Painting | None = None, overwrite: bool = False
) -> None:
    """Write bones, motion and body as a binary USD file; a frame is a time code, the stage carries the rate.

    extras: words that go with the dancer as custom data. painting: how the body looks; one plain colour without. Raises
    OutputError when the library is not there, the file is there or cannot be written.
    """
    pxr = _library()
    axes = Y_UP @ rig.axes
    with whole_file(path, overwrite=overwrite) as temporary:
        temporary.unlink()
        stage = pxr.Usd.Stage.CreateNew(str(temporary))
        pxr.UsdGeom.SetStageUpAxis(stage, pxr.UsdGeom.Tokens.y)
        pxr.UsdGeom.SetStageMetersPerUnit(stage, 1.0)
        stage.SetTimeCodesPerSecond(rig.rate_hz)
        stage.SetFramesPerSecond(rig.rate_hz)
        stage.SetStartTimeCode(0.0)
        stage.SetEndTimeCode(rig.frames - 1.0)
        root = pxr.UsdSkel.Root.Define(stage, _ROOT)
        stage.SetDefaultPrim(root.GetPrim())
        for name, words in extras.items():
            root.GetPrim().SetCustomDataByKey(name, words)
        skeleton = _skeleton(pxr, stage, rig, axes)
        animation = _animation(pxr, stage, rig, axes)
        pxr.UsdSkel.BindingAPI.Apply(skeleton.GetPrim()).CreateAnimationSourceRel().SetTargets([animation.GetPath()])
        _body(pxr, stage, body, painting).CreateSkeletonRel().SetTargets([skeleton.GetPath()])
        stage.GetRootLayer().Save()
        del stage
