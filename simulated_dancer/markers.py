"""53 markers on the dancer's skin: their places, skin movement, misplacement and the noise of the cameras."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..analysis_core.body.anatomy import ARCH, ARM_SEGMENTS, LEG_SEGMENTS, SIDE_SUFFIXES
from ..analysis_core.body.movement import SEGMENTS
from .body import Body
from .figure import Figure
from .rotations import Floats, unit

MARKER_RADIUS_M = 0.007


@dataclass(frozen=True)
class MarkerPlace:
    """One marker: the landmark it marks, the segment it moves with, its place on the skin in that segment (from the
    segment's origin in the laboratory arrays; outward Z), the direction in which it stands off, and how much the skin slides."""

    landmark: str
    segment: str
    place_m: tuple[float, float, float]
    off: tuple[float, float, float]
    slide: float


def marker_places(body: Body) -> tuple[MarkerPlace, ...]:
    """The 53 places (values of segment girth: from memory, scaled by stature)."""
    left, right = _sided_places(body.with_leg(-1.0)), _sided_places(body.with_leg(1.0))
    places = []
    for both in zip(left, right, strict=True):
        for place, x, sign in zip(both, SIDE_SUFFIXES, (-1.0, 1.0), strict=True):
            p, o = place.place_m, place.off
            segment = place.segment + ("" if place.segment in ("pelvis", "head") else x)
            there, off = (p[0], p[1], sign * p[2]), (o[0], o[1], sign * o[2])
            places.append(MarkerPlace(place.landmark + x, segment, there, off, place.slide))
    return tuple([*places, *_central_places(body)])


def arch_places(body: Body) -> tuple[MarkerPlace, ...]:
    """Both inner arches, which few sets mark: halfway from the heel to the inner ball, 38 mm above the sole at usual stature
    (height of the navicular's tuberosity from memory); how far they sink is ``Figure.arch_sink_m``."""
    foot, k = body.foot, body.stature_m / 1.68
    middle = 0.5 * (foot.heel + foot.ball_medial) - foot.ankle
    places = []
    for suffix, sign in zip(SIDE_SUFFIXES, (-1.0, 1.0), strict=True):
        there = (float(middle[0]), 0.038 * k - foot.ball_height_m - float(foot.ankle[1]), sign * -0.032 * k)
        places.append(MarkerPlace(ARCH + suffix, "foot" + suffix, there, (0.0, 0.2, sign * -0.95), 1.0))
    return tuple(places)


def _sided_places(body: Body) -> list[MarkerPlace]:
    """The places of one side, as of the right."""
    k = body.stature_m / 1.68
    g = k * body.width_factor
    thigh, shank, arm, forearm = body.thigh_m, body.shank_m, body.upper_arm_m, body.forearm_m
    half, depth = body.pelvis_width_m / 2.0, body.pelvis_depth_m
    hip = body.hip_in_pelvis_m
    foot, ankle = body.foot, body.foot.ankle
    forward, up, outward = body.shoulder_deviation_m

    def pelvis(x: float, y: float, z: float) -> tuple[float, float, float]:
        return (x - hip[0], y - hip[1], z)  # the pelvis' origin is the mid-hip; spines are told from the mid-iliac point

    def on_foot(p: Floats, up: float = 0.0) -> tuple[float, float, float]:
        return (float(p[0] - ankle[0]), float(p[1] - ankle[1] + up), float(p[2]))

    return [
        MarkerPlace("anterior_superior_iliac_spine", "pelvis", pelvis(0.0, 0.0, half), (0.94, 0.0, 0.34), 0.8),
        MarkerPlace("posterior_superior_iliac_spine", "pelvis", pelvis(-depth, 0.0, 0.042 * k), (-1.0, 0.0, 0.0), 0.7),
        MarkerPlace("thigh_1", "thigh", (0.012 * g, -0.42 * thigh, 0.082 * g), (0.0, 0.0, 1.0), 1.0),
        MarkerPlace("thigh_2", "thigh", (0.074 * g, -0.63 * thigh, 0.008 * g), (1.0, 0.0, 0.0), 1.0),
        MarkerPlace("lateral_femoral_epicondyle", "thigh", (0.0, -thigh, 0.050 * g), (0.0, 0.0, 1.0), 0.7),
        MarkerPlace("medial_femoral_epicondyle", "thigh", (0.0, -thigh, -0.050 * g), (0.0, 0.0, -1.0), 0.7),
        MarkerPlace("shank_1", "shank", (0.040 * g, -0.42 * shank, 0.022 * g), (0.85, 0.0, 0.5), 1.0),
        MarkerPlace("lateral_malleolus", "shank", (0.0, -shank, 0.036 * g), (0.0, 0.0, 1.0), 0.45),
        MarkerPlace("medial_malleolus", "shank", (0.0, -shank, -0.036 * g), (0.0, 0.0, -1.0), 0.45),
        MarkerPlace("calcaneus", "foot", on_foot(foot.heel), (-1.0, 0.0, 0.0), 1.0),
        MarkerPlace("first_metatarsal_head", "foot", on_foot(foot.ball_medial), (0.0, 0.4, -0.9), 1.0),
        MarkerPlace("second_metatarsal_head", "foot", (-ankle[0] + 0.0, -ankle[1] + 0.016 * k, 0.0), (0.0, 1.0, 0.0), 1.0),
        MarkerPlace("fifth_metatarsal_head", "foot", on_foot(foot.ball_lateral), (0.0, 0.3, 0.95), 1.0),
        MarkerPlace("big_toe_tip", "toes", (foot.toe[0], foot.toe[1], foot.toe[2]), (0.3, 0.95, 0.0), 0.5),
        MarkerPlace("acromion", "clavicle", (forward, 0.034 * k + up, -0.006 * k + outward), (0.0, 1.0, 0.0), 0.8),
        MarkerPlace("upper_arm_1", "upper_arm", (-0.008 * g, -0.48 * arm, 0.042 * g), (0.0, 0.0, 1.0), 1.0),
        MarkerPlace("lateral_elbow_epicondyle", "upper_arm", (0.0, -arm, 0.032 * g), (0.0, 0.0, 1.0), 0.7),
        MarkerPlace("medial_elbow_epicondyle", "upper_arm", (0.0, -arm, -0.032 * g), (0.0, 0.0, -1.0), 0.7),
        MarkerPlace("forearm_1", "forearm", (-0.030 * g, -0.5 * forearm, 0.008 * g), (-1.0, 0.0, 0.0), 1.0),
        MarkerPlace("radial_styloid", "forearm", (0.0, -forearm, 0.026 * g), (0.0, 0.0, 1.0), 0.5),
        MarkerPlace("ulnar_styloid", "forearm", (0.0, -forearm, -0.026 * g), (0.0, 0.0, -1.0), 0.5),
        MarkerPlace("third_metacarpal_head", "hand", (-0.010 * k, -body.hand_m, 0.0), (-1.0, 0.0, 0.0), 0.5),
        MarkerPlace("front_of_head", "head", (0.078 * k, 0.045 * k, 0.058 * k), (0.8, 0.0, 0.6), 0.3),
        MarkerPlace("back_of_head", "head", (-0.082 * k, 0.055 * k, 0.054 * k), (-0.8, 0.0, 0.6), 0.3),
    ]


def _central_places(body: Body) -> list[MarkerPlace]:
    k = body.stature_m / 1.68
    g = k * body.width_factor
    hip, depth = body.hip_in_pelvis_m, body.pelvis_depth_m
    top = body.neck_m - 0.150 * body.stature_m
    return [
        MarkerPlace("sacrum", "pelvis", (-depth - 0.002 - hip[0], -0.030 * k - hip[1], 0.0), (-1.0, 0.0, 0.0), 0.8),
        MarkerPlace("seventh_cervical_vertebra", "thorax", (-0.052 * k, top, 0.0), (-1.0, 0.0, 0.0), 0.5),
        MarkerPlace("tenth_thoracic_vertebra", "thorax", (-0.070 * g, 0.30 * top, 0.0), (-1.0, 0.0, 0.0), 0.7),
        MarkerPlace("suprasternal_notch", "thorax", (0.062 * k, top - 0.040 * k, 0.0), (1.0, 0.0, 0.0), 0.3),
        MarkerPlace("xiphoid_process", "thorax", (0.088 * g, 0.34 * top, 0.0), (1.0, 0.0, 0.0), 0.5),
    ]


def _origin(figure: Figure, segment: str) -> Floats:
    """Where a marker's place is counted from."""
    name, _, suffix = segment.partition(".")
    if name == "clavicle":
        return figure.joint(f"shoulder.{suffix}")
    if name == "head":
        return figure.joint("head")
    return figure.origins[:, SEGMENTS.index(segment)]


@dataclass(frozen=True)
class Noise:
    """How real the markers are.

    white_m: camera noise (1 SD). dynamic_m: slower error of a marker at 2 m/s. skin: 1 = full skin movement (size by
    segment in SKIN_M), 0 = none. misplaced_m: 1 SD of each marker's place on the body, the same in static and phrase. stance_rad:
    1 SD by which the dancer stands beside neutral in the static take.
    """

    white_m: float = 0.0003
    dynamic_m: float = 0.0010
    skin: float = 1.0
    misplaced_m: float = 0.0
    stance_rad: float = 0.0


CLEAN = Noise(0.0, 0.0, 0.0, 0.0)

#: Greatest slide of the skin over the bone per segment, at 120° of bend or a hard landing; ranges in catalogue 3.5.
SKIN_M = {
    "pelvis": 0.008, "thorax": 0.006, "head": 0.002, "clavicle": 0.008, "upper_arm": 0.008, "forearm": 0.004, "hand": 0.002,
    "thigh": 0.013, "shank": 0.007, "foot": 0.0015, "toes": 0.0010,
}  # fmt: skip


def _neighbouring_bend(figure: Figure, angles: dict[str, Floats], segment: str) -> Floats:
    """The joint angle (F,) in units of 120° that drags the skin of a segment."""
    name, _, suffix = segment.partition(".")
    x = "." + suffix
    if name in LEG_SEGMENTS:
        bend = 0.5 * (angles["knee_flexion" + x] + angles["hip_flexion" + x])
    elif name in (*ARM_SEGMENTS, "clavicle"):
        up = figure.rotation("upper_arm" + x)[:, 2, 1]
        bend = 0.5 * (angles["elbow_flexion" + x] + np.arccos(np.clip(up, -1.0, 1.0)))
    elif name == "pelvis":
        bend = 0.5 * (angles["hip_flexion.L"] + angles["hip_flexion.R"])
    else:
        bend = angles["thorax_extension"]
    return np.asarray(bend / np.radians(120.0))


def exact_markers(figure: Figure, places: tuple[MarkerPlace, ...]) -> Floats:
    """Marker centres (F, N, 3) of a dancer without skin movement or noise."""
    result = np.empty((figure.time_s.size, len(places), 3))
    local = np.array([place.place_m for place in places]) + MARKER_RADIUS_M * unit(np.array([place.off for place in places]))
    for segment, those in _by_segment(places).items():
        result[:, those] = _origin(figure, segment)[:, None] + _turned(figure.rotation(segment), local[those])
    for i, place in enumerate(places):
        name, _, suffix = place.landmark.partition(".")
        if name == ARCH:
            sunk = figure.arch_sink_m[:, SIDE_SUFFIXES.index("." + suffix), None]
            result[:, i] -= sunk * figure.rotation(place.segment)[:, :, 1]
    return result


def _by_segment(places: tuple[MarkerPlace, ...]) -> dict[str, list[int]]:
    """Which places each segment has."""
    return {name: [i for i, place in enumerate(places) if place.segment == name] for name in sorted({p.segment for p in places})}


def _turned(rotation: Floats, vectors: Floats) -> Floats:
    """Vectors (M, 3) of a segment in the laboratory (F, M, 3) by its rotations (F, 3, 3), in one product for all frames."""
    return np.asarray((rotation.reshape(-1, 3) @ vectors.T).reshape(len(rotation), 3, -1).swapaxes(1, 2))


def _shaken(figure: Figure, segments: tuple[str, ...], calm: Floats, padding: int) -> dict[str, Floats]:
    """How hard each segment (F,) is pulled about, 0 to 1: its acceleration through a low pass."""
    from scipy.signal import sosfiltfilt

    origins = np.stack([_origin(figure, segment) for segment in segments], axis=1)
    velocity = np.gradient(origins, figure.time_s, axis=0)
    pulled = sosfiltfilt(calm, np.gradient(velocity, figure.time_s, axis=0), axis=0, padlen=padding)
    return dict(zip(segments, np.tanh(np.linalg.norm(pulled, axis=2) / 40.0).T, strict=True))


def recorded_markers(
    places: tuple[MarkerPlace, ...],
    figure: Figure,
    angles: dict[str, Floats],
    noise: Noise,
    rate_hz: float,
    body_seed: int,
    take_seed: int,
) -> Floats:
    """Marker centres (F, N, 3) as cameras see them. body_seed fixes how this dancer's skin moves and where the markers were
    stuck (shared by static take and phrase); take_seed the camera noise."""
    # Loaded where it is used: it takes more than a second, and most who import the dancer record nothing.
    from scipy.signal import butter, sosfiltfilt

    exact = exact_markers(figure, places)
    skin, camera = np.random.default_rng(body_seed), np.random.default_rng(take_seed)
    result = exact.copy()
    frames = figure.time_s.size
    calm = butter(2, min(8.0, 0.4 * rate_hz), fs=rate_hz, output="sos")
    slow = butter(1, min(6.0, 0.4 * rate_hz), fs=rate_hz, output="sos")
    of_segment = _by_segment(places)
    common = {name: unit(skin.normal(size=(2, 3))) for name in of_segment}
    padding = min(3 * 15, frames - 1)
    shaken = _shaken(figure, tuple(common), calm, padding) if noise.skin and frames > 50 else {}
    # For each marker in turn two directions of its own, where it was stuck, and at the end for the camera white noise and
    # wandering.
    own, stuck = np.split(skin.normal(size=(len(places), 9)), [6], axis=1)
    own, stuck = unit(own.reshape(-1, 2, 3)), stuck * noise.misplaced_m
    for segment, those in of_segment.items():
        rotation = figure.rotation(segment)
        shift = _turned(rotation, stuck[those])
        if shaken:
            bend = np.tanh(_neighbouring_bend(figure, angles, segment))[:, None, None]
            slide = np.array([places[i].slide for i in those]) * SKIN_M[segment.partition(".")[0]]
            moved = noise.skin * slide[:, None, None] * (0.7 * common[segment] + 0.7 * own[those])
            shift += bend * _turned(rotation, moved[:, 0])
            shift += 0.5 * shaken[segment][:, None, None] * _turned(rotation, moved[:, 1])
        result[:, those] += shift
    if not noise.white_m and not noise.dynamic_m:
        return result
    white, wandered = np.moveaxis(camera.normal(size=(len(places), 2, frames, 3)), (1, 2, 0), (0, 1, 2))
    result += noise.white_m * white
    if noise.dynamic_m and frames > 50:
        speed = np.linalg.norm(np.gradient(exact, figure.time_s, axis=0), axis=2, keepdims=True)
        wandered = sosfiltfilt(slow, wandered, axis=0, padlen=padding)
        wandered /= wandered.std(axis=(0, 2), keepdims=True) + 1e-12
        result += noise.dynamic_m / np.sqrt(3.0) * np.tanh(0.1 + speed / 2.0) * wandered
    return result
