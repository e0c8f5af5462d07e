"""FBX: bones with their motion and a skinned body; metres, Y up, facing +Z, one clip."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from ..figure.skin import normals_of
from ..hand_over.body import Body
from ..hand_over.rig import Y_UP, Rig
from ..take import Floats
from .euler import euler_xyz
from .fbx_binary import CREATION_TIME, FILE_ID, Long, Node, to_bytes
from .files import whole_file

#: Steps of the format's clock in a second.
_TICKS_PER_S = 46186158000
#: Centimetres in the file's unit, which is the metre.
_UNIT_CM = 100.0
#: Numbers of the format for rates; any other is a "custom" one.
_CUSTOM = 14
_TIME_MODES = {120.0: 1, 100.0: 2, 60.0: 3, 50.0: 4, 48.0: 5, 30.0: 6, 25.0: 10, 24.0: 11}
#: Straight lines between keys (interpolation linear).
_LINEAR = 0x00000004
_SKIN = (0.6, 0.55, 0.5)
_NAME = "dancer"
_CLIP = "take"


class _File:
    """Objects and connections under way."""

    def __init__(self) -> None:
        self.objects = Node("Objects")
        self.connections = Node("Connections")
        self._next = 1_000_000

    def add(self, kind: str, name: str, form: str = "", label: str | None = None) -> tuple[int, Node]:
        """A new object with an identifier; label: the class as it stands in its name."""
        self._next += 1
        return self._next, self.objects.add(kind, Long(self._next), f"{name}\0\1{label or kind}", form)

    def connect(self, what: int, to: int, property_name: str | None = None) -> None:
        if property_name is None:
            self.connections.add("C", "OO", Long(what), Long(to))
        else:
            self.connections.add("C", "OP", Long(what), Long(to), property_name)


def _p(name: str, kind: str, label: str, flags: str, *values: Any) -> Node:
    return Node("P", (name, kind, label, flags, *values))


def _properties(*entries: Node) -> Node:
    return Node("Properties70", (), list(entries))


def _ticks(seconds: Floats) -> Floats:
    return np.round(seconds * _TICKS_PER_S)


def _flat(matrix: Floats) -> Floats:
    """A matrix (4, 4) as the format writes it: by columns."""
    return np.ascontiguousarray(matrix.T).ravel()


def _settings(rig: Rig) -> Node:
    node = Node("GlobalSettings")
    node.add("Version", 1000)
    whole = {"UpAxis": 1, "UpAxisSign": 1, "FrontAxis": 2, "FrontAxisSign": 1, "CoordAxis": 0, "CoordAxisSign": 1,
             "OriginalUpAxis": 1, "OriginalUpAxisSign": 1}  # fmt: skip
    end = Long(int(_ticks(np.array((rig.frames - 1) / rig.rate_hz))))
    node.nodes.append(
        _properties(
            *(_p(name, "int", "Integer", "", value) for name, value in whole.items()),
            _p("UnitScaleFactor", "double", "Number", "", _UNIT_CM),
            _p("OriginalUnitScaleFactor", "double", "Number", "", _UNIT_CM),
            _p("TimeMode", "enum", "", "", _TIME_MODES.get(rig.rate_hz, _CUSTOM)),
            _p("TimeSpanStart", "KTime", "Time", "", Long(0)),
            _p("TimeSpanStop", "KTime", "Time", "", end),
            _p("CustomFrameRate", "double", "Number", "", float(rig.rate_hz)),
        )
    )
    return node


def _head() -> list[Node]:
    header = Node("FBXHeaderExtension")
    header.add("FBXHeaderVersion", 1003)
    header.add("FBXVersion", 7400)
    header.add("EncryptionType", 0)
    header.add("Creator", "In the Round")
    return [header, Node("FileId", (FILE_ID,)), Node("CreationTime", (CREATION_TIME,)), Node("Creator", ("In the Round",))]


def _documents() -> list[Node]:
    documents = Node("Documents")
    documents.add("Count", 1)
    document = documents.add("Document", Long(999_999), "Scene", "Scene")
    document.nodes.append(_properties(_p("ActiveAnimStackName", "KString", "", "", _CLIP)))
    document.add("RootNode", Long(0))
    return [documents, Node("References")]


def _definitions(objects: Node) -> Node:
    node = Node("Definitions")
    node.add("Version", 100)
    kinds: dict[str, int] = {"GlobalSettings": 1}
    for item in objects.nodes:
        kinds[item.name] = kinds.get(item.name, 0) + 1
    node.add("Count", sum(kinds.values()))
    for kind, count in kinds.items():
        node.add("ObjectType", kind).add("Count", count)
    return node


def _bones(file: _File, rig: Rig, extras: dict[str, str]) -> tuple[int, list[int], Floats]:
    """Models of the dancer and of every bone; the second gives their identifiers, the third their places at rest (B, 4, 4).

    A bone's rest against its parent is its PreRotation, so that its own rotation is nothing at rest.
    """
    attribute, null = file.add("NodeAttribute", _NAME, "Null")
    null.add("TypeFlags", "Null")
    dancer, model = file.add("Model", _NAME, "Null")
    model.add("Version", 232)
    model.nodes.append(_properties(*(_p(name, "KString", "", "U", value) for name, value in extras.items())))
    file.connect(attribute, dancer)
    file.connect(dancer, 0)
    axes = Y_UP @ rig.axes
    rest = np.tile(np.eye(4), (len(rig.names), 1, 1))
    rest[:, :3, :3], rest[:, :3, 3] = axes, rig.heads @ Y_UP.T
    models: list[int] = []
    for index, name in enumerate(rig.names):
        parent = int(rig.parents[index])
        above = np.eye(3) if parent < 0 else axes[parent]
        offset = above.T @ Y_UP @ rig.offsets[index]
        turn = np.degrees(euler_xyz((above.T @ axes[index])[None])[0])
        attribute, limb = file.add("NodeAttribute", name, "LimbNode")
        limb.add("TypeFlags", "Skeleton")
        limb.nodes.append(_properties(_p("Size", "double", "Number", "", 1.0)))
        number, model = file.add("Model", name, "LimbNode")
        model.add("Version", 232)
        model.nodes.append(
            _properties(
                _p("PreRotation", "Vector3D", "Vector", "", *turn.tolist()),
                _p("RotationActive", "bool", "", "", 1),
                _p("InheritType", "enum", "", "", 1),
                _p("DefaultAttributeIndex", "int", "Integer", "", 0),
                _p("Lcl Translation", "Lcl Translation", "", "A", *offset.tolist()),
                _p("Lcl Rotation", "Lcl Rotation", "", "A", 0.0, 0.0, 0.0),
                _p("Lcl Scaling", "Lcl Scaling", "", "A", 1.0, 1.0, 1.0),
            )
        )
        file.connect(attribute, number)
        file.connect(number, dancer if parent < 0 else models[parent])
        models.append(number)
    return dancer, models, rest


def _layer(geometry: Node, element: str, mapping: str, reference: str, **values: Any) -> None:
    node = geometry.add(f"LayerElement{element}", 0)
    node.add("Version", 101)
    node.add("Name", "")
    node.add("MappingInformationType", mapping)
    node.add("ReferenceInformationType", reference)
    for name, value in values.items():
        node.add(name, value)


def _mesh(file: _File, body: Body, dancer: int) -> tuple[int, int]:
    """The body as a model and its geometry."""
    geometry, node = file.add("Geometry", f"{_NAME}.body", "Mesh")
    corners = body.quads.astype(np.int32).copy()
    corners[:, -1] = -corners[:, -1] - 1
    node.add("GeometryVersion", 124)
    node.add("Vertices", (body.vertices_m @ Y_UP.T).ravel())
    node.add("PolygonVertexIndex", corners.ravel())
    normals = normals_of(body.vertices_m, body.quads) @ Y_UP.T
    _layer(node, "Normal", "ByVertice", "Direct", Normals=normals.ravel())
    _layer(node, "Material", "AllSame", "IndexToDirect", Materials=np.zeros(1, dtype=np.int32))
    layer = node.add("Layer", 0)
    layer.add("Version", 100)
    for element in ("LayerElementNormal", "LayerElementMaterial"):
        entry = layer.add("LayerElement")
        entry.add("Type", element)
        entry.add("TypedIndex", 0)
    model, node = file.add("Model", f"{_NAME}.body", "Mesh")
    node.add("Version", 232)
    node.nodes.append(_properties(_p("DefaultAttributeIndex", "int", "Integer", "", 0), _p("InheritType", "enum", "", "", 1)))
    node.add("Shading", True)
    material, node = file.add("Material", _NAME)
    node.add("Version", 102)
    node.add("ShadingModel", "Phong")
    node.nodes.append(_properties(_p("DiffuseColor", "Color", "", "A", *_SKIN)))
    file.connect(geometry, model)
    file.connect(material, model)
    file.connect(model, dancer)
    return model, geometry


def _skin(file: _File, rig: Rig, body: Body, geometry: int, models: list[int], rest: Floats) -> None:
    skin, node = file.add("Deformer", _NAME, "Skin")
    node.add("Version", 101)
    node.add("Link_DeformAcuracy", 50.0)
    file.connect(skin, geometry)
    for index, name in enumerate(rig.names):
        own = np.flatnonzero(body.weights[:, index] > 0)
        if not own.size:
            continue
        cluster, node = file.add("Deformer", name, "Cluster", "SubDeformer")
        node.add("Version", 100)
        node.add("UserData", "", "")
        node.add("Indexes", own.astype(np.int32))
        node.add("Weights", body.weights[own, index])
        node.add("Transform", _flat(np.linalg.inv(rest[index])))
        node.add("TransformLink", _flat(rest[index]))
        file.connect(cluster, skin)
        file.connect(models[index], cluster)


def _bind_pose(file: _File, placed: list[tuple[int, Floats]]) -> None:
    _, node = file.add("Pose", _NAME, "BindPose")
    node.add("Type", "BindPose")
    node.add("Version", 100)
    node.add("NbPoseNodes", len(placed))
    for number, matrix in placed:
        entry = node.add("PoseNode")
        entry.add("Node", Long(number))
        entry.add("Matrix", _flat(matrix))


def _curves(rig: Rig) -> Iterator[tuple[int, str, str, Floats]]:
    """Bone, short name, property, values (F, 3) of every curve node."""
    axes = Y_UP @ rig.axes
    angles = np.degrees(euler_xyz(rig.local_in_bones()))
    for index in range(len(rig.names)):
        yield index, "R", "Lcl Rotation", angles[:, index]
        if index in rig.moved:
            parent = int(rig.parents[index])
            above = np.eye(3) if parent < 0 else axes[parent]
            yield index, "T", "Lcl Translation", rig.places(index) @ Y_UP.T @ above


def _animation(file: _File, rig: Rig, models: list[int]) -> None:
    times = _ticks(np.arange(rig.frames) / rig.rate_hz).astype(np.int64)
    stop = Long(int(times[-1]))
    stack, node = file.add("AnimationStack", _CLIP, label="AnimStack")
    # Both ends: some readers take the span from the file only when they find the two.
    span = {"LocalStart": Long(0), "LocalStop": stop, "ReferenceStart": Long(0), "ReferenceStop": stop}
    node.nodes.append(_properties(*(_p(name, "KTime", "Time", "", value) for name, value in span.items())))
    layer, _ = file.add("AnimationLayer", _CLIP, label="AnimLayer")
    file.connect(layer, stack)
    for index, short, name, values in _curves(rig):
        group, node = file.add("AnimationCurveNode", short, label="AnimCurveNode")
        node.nodes.append(_properties(*(_p(f"d|{axis}", "Number", "", "A", float(values[0, i])) for i, axis in enumerate("XYZ"))))
        file.connect(group, layer)
        file.connect(group, models[index], name)
        for axis in range(3):
            own = values[:, axis].astype(np.float32)
            still = bool((own == own[0]).all())
            curve, node = file.add("AnimationCurve", "", label="AnimCurve")
            node.add("Default", float(own[0]))
            node.add("KeyVer", 4008)
            node.add("KeyTime", times[:1] if still else times)
            node.add("KeyValueFloat", own[:1] if still else own)
            node.add("KeyAttrFlags", np.array([_LINEAR], dtype=np.int32))
            node.add("KeyAttrDataFloat", np.zeros(4, dtype=np.float32))
            node.add("KeyAttrRefCount", np.array([1 if still else rig.frames], dtype=np.int32))
            file.connect(curve, group, f"d|{'XYZ'[axis]}")


def write_fbx(rig: Rig, body: Body, extras: dict[str, str], path: Path, *, overwrite: bool = False) -> None:
    """Write bones, motion and body as FBX 7.4, binary.

    extras: words that go with the dancer as custom properties. Raises OutputError when the file is there or cannot be written.
    """
    file = _File()
    dancer, models, rest = _bones(file, rig, extras)
    mesh, geometry = _mesh(file, body, dancer)
    _skin(file, rig, body, geometry, models, rest)
    _bind_pose(file, [(mesh, np.eye(4)), (dancer, np.eye(4)), *zip(models, rest, strict=True)])
    _animation(file, rig, models)
    takes = Node("Takes")
    takes.add("Current", _CLIP)
    nodes = [*_head(), _settings(rig), *_documents(), _definitions(file.objects), file.objects, file.connections, takes]
    with whole_file(path, overwrite=overwrite) as temporary:
        temporary.write_bytes(to_bytes(nodes))
