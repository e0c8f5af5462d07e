"""What is drawn says the number: read from the drawn geometry by formulas of its own, for every measure of the catalogue."""

from __future__ import annotations

import math
import warnings
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.findings.catalogue import catalogue
from in_the_round.analysis_core.findings.evidence import Evidence
from in_the_round.analysis_core.findings.find import MEASURES
from in_the_round.analysis_core.findings.finding import Finding, View
from in_the_round.analysis_core.findings.observation import Observation
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.views import Area, Bracket, Drawing, Line, Marks, Sweep, Way, drawing_of
from in_the_round.analysis_core.views.course import course
from in_the_round.analysis_core.views.measures import DRAW
from in_the_round.analysis_core.views.strokes import Eye, brackets_reach

DEMO = Path(__file__).resolve().parents[2] / "demo_data"
#: What a mean of places over a twentieth of a second, against a mean of the number, may differ by.
TOLERANCE = {"deg": 0.6, "mm": 0.5, "ratio": 0.005, "s": 0.005, "body weights": 0.01, "touches": 0.0}
#: A number for measures that the demo take does not show.
MADE_UP = {"deg": 14.0, "mm": 31.0, "ratio": 0.66, "s": 0.21, "body weights": 2.3, "touches": 2.0}
CASES = [(fault, measure) for fault, entry in catalogue().items() for measure in entry.measures]


@pytest.fixture(scope="module")
def review(careless_review: Review) -> Review:
    return careless_review


@pytest.fixture(scope="module")
def evidence(review: Review) -> Evidence:
    return Evidence(review.movement, review.phrase)


def observed(fault: str, measure: str, evidence: Evidence) -> Observation | None:
    """The largest of what the take shows."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)
        told = [o for o in MEASURES[fault](evidence) if isinstance(o, Observation) and o.measure == measure]
    told = [o for o in told if np.isfinite(o.value)]
    return max(told, key=lambda o: abs(o.value), default=None)


def finding_of(fault: str, measure: str, evidence: Evidence) -> Finding:
    limits = catalogue()[fault].measures[measure]
    told = observed(fault, measure, evidence)
    phase = told.phase if told else evidence.turns[0].phase
    peak_s = (told.peak if told else evidence.turns[0].rise) / evidence.rate_hz
    value = told.value if told else MADE_UP[limits.unit] * (-1.0 if limits.ok[1] == math.inf and limits.unit == "deg" else 1.0)
    side = told.side if told else "left"
    band = tuple(limit if math.isfinite(limit) else None for limit in limits.ok)
    return Finding(
        "f1", fault, phase.id, side, peak_s, peak_s, peak_s, peak_s, value, limits.unit, (band[0], band[1]), 1.0, 0.5, "fault",
        "high", "", (), View((1.0, 0.0, 1.0), (0.0, 0.0, 1.0), "side"), "", measure=measure,
    )  # fmt: skip


def between(one: np.ndarray, other: np.ndarray) -> float:
    """Angle by the arc cosine: not the formula by which it was drawn."""
    return math.degrees(math.acos(np.clip(one @ other / np.linalg.norm(one) / np.linalg.norm(other), -1, 1)))


def turned_end(sweep: Sweep) -> np.ndarray:
    """The other direction of a sweep, by a rotation matrix of its own."""
    x, y, z = sweep.axis
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return (np.eye(3) + math.sin(sweep.angle_rad) * cross + (1 - math.cos(sweep.angle_rad)) * cross @ cross) @ sweep.first


def area_of(corners: np.ndarray) -> float:
    """By the shoelace formula, over the floor."""
    x, y = corners[:, 0], corners[:, 1]
    return 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))


def read(drawing: Drawing) -> float:
    """The number (without its sign) as a ruler and a protractor would read it from the drawing."""
    measured = [shape for shape in drawing.shapes if shape.role == "measured"]
    reference = [shape for shape in drawing.shapes if shape.role == "reference"]

    def lengths(shapes: list) -> list[float]:
        return [1000 * math.dist(shape.base, shape.tip) for shape in shapes if isinstance(shape, Bracket)]

    def angles(shapes: list) -> list[float]:
        return [between(shape.first, turned_end(shape)) for shape in shapes if isinstance(shape, Sweep)]

    if drawing.reading == "angle":
        lines = [shape for shape in drawing.shapes if isinstance(shape, Line) and shape.role != "aid"]
        same = [line for line in lines if math.dist(line.start, angle_shape(measured).centre) < 1e-9]
        own = angles(measured)[0]
        # The arc lies between the two drawn lines.
        assert own == pytest.approx(flat_angle(same, angle_shape(measured).axis), abs=1e-2)
        return own
    if drawing.reading == "length":
        return lengths(measured)[0] / drawing.parts
    if drawing.reading == "lengths":
        return lengths(measured)[0] / lengths(reference)[0]
    if drawing.reading == "angles":
        return angles(measured)[0] / angles(reference)[0]
    if drawing.reading == "time":
        way = next(shape for shape in measured if isinstance(shape, Way))
        return float(way.time_s[-1] - way.time_s[0])
    if drawing.reading == "count":
        return float(sum(len(shape.points) for shape in measured if isinstance(shape, Marks)))
    if drawing.reading == "areas":
        own, usual = (next(s for s in shapes if isinstance(s, Area)) for shapes in (measured, reference))
        return area_of(own.corners) / area_of(usual.corners)
    fall, stop = lengths(measured)
    return 1.0 + fall / stop


def angle_shape(measured: list) -> Sweep:
    return next(shape for shape in measured if isinstance(shape, Sweep))


def flat_angle(lines: list[Line], axis: np.ndarray) -> float:
    """Angle between the measured and the reference line, seen along an axis."""
    flat = [(line.end - line.start) - axis * (axis @ (line.end - line.start)) for line in lines]
    roles = [line.role for line in lines]
    return between(flat[roles.index("measured")], flat[roles.index("reference")])


def test_every_measure_of_every_fault_is_drawn() -> None:
    assert set(DRAW) == set(CASES)
    assert len({fault for fault, _ in DRAW}) == 46


@pytest.mark.parametrize(("fault", "measure"), CASES)
def test_the_drawing_says_the_number(fault: str, measure: str, review: Review, evidence: Evidence) -> None:
    """Would catch a direction from another joint, a wrong sign or side, a wrong unit, a reference at another moment."""
    finding = finding_of(fault, measure, evidence)
    drawing = drawing_of(finding, review, evidence)
    assert drawing is not None
    assert read(drawing) == pytest.approx(abs(finding.value), abs=TOLERANCE[finding.unit], rel=0.01)
    assert all(np.isfinite(place).all() for place in drawing.points)
    body = review.movement.joint_centres_m[evidence.frame(drawing.time_s)]
    # It is on the dancer, not somewhere in the room.
    assert all(np.linalg.norm(body - place, axis=1).min() < 1.4 for place in drawing.points)


@pytest.mark.parametrize(
    "fault",
    ["head-lifts", "knee-bends-supporting", "foot-slips-parallel", "trunk-leans", "turnout-lost-working", "axis-tilts"],
)
def test_the_band_is_where_nothing_would_be_said(fault: str, review: Review, evidence: Evidence) -> None:
    """The measured direction lies outside the band's sector by as much as the number does outside the band."""
    finding = next(f for f in review.findings if f.fault == fault)
    drawing = drawing_of(finding, review, evidence)
    assert drawing is not None
    low, high = finding.band
    assert high is not None
    band = next(shape for shape in drawing.shapes if isinstance(shape, Sweep) and shape.role == "band")
    measured = angle_shape([shape for shape in drawing.shapes if shape.role == "measured"])
    flat = [d - band.axis * (band.axis @ d) for d in (turned_end(band), turned_end(measured))]
    assert between(*flat) == pytest.approx(finding.value - high, abs=0.7)
    assert low is None or between(band.first, turned_end(band)) == pytest.approx(high - low, abs=0.01)


@pytest.mark.parametrize(
    ("fault", "start", "end"),
    [
        ("trunk-leans", "pelvis", "neck"),
        ("axis-tilts", "ball", "mass"),
        ("knee-bends-supporting", "knee.L", "ankle.L"),
        ("heel-lifts-early", "heel.L", "heel.L"),
    ],
)
def test_it_is_drawn_from_the_joints_of_the_number(fault: str, start: str, end: str, review: Review, evidence: Evidence) -> None:
    """The measured line goes through the joints themselves."""
    finding = next(f for f in review.findings if f.fault == fault)
    drawing = drawing_of(finding, review, evidence)
    assert drawing is not None
    frame = evidence.frame(drawing.time_s)

    def place(name: str) -> np.ndarray:
        if name == "ball":
            return evidence.ball("left")[frame]
        return review.movement.centre_of_mass_m[frame] if name == "mass" else review.movement.joint(name)[frame]

    lines = [s for s in drawing.shapes if isinstance(s, Line) and s.role == "measured"]
    off = [
        max(
            np.linalg.norm(np.cross(place(joint) - s.start, s.end - s.start)) / np.linalg.norm(s.end - s.start)
            for joint in (start, end)
        )
        for s in lines
    ]
    # The trunk is seen from the side: its line is the one that an eye there sees.
    assert min(off) < (0.04 if fault == "trunk-leans" else 0.005)


#: Measures whose number is a time, a count or one of a whole jump: no moment has it.
WITHOUT_COURSE = {
    ("heel-lifts-early", "lead"), ("late-spot", "lead"), ("heavy-landing", "load"), ("uneven-landing", "time"),
    ("low-jump", "share"), ("feet-not-pointed", "late"),
}  # fmt: skip


@pytest.mark.parametrize(("fault", "measure"), CASES)
def test_the_course_of_a_measure_is_what_was_read_in_its_window_and_goes_on_beyond(
    fault: str, measure: str, evidence: Evidence
) -> None:
    told = observed(fault, measure, evidence)
    if told is None:
        pytest.skip("the demo take does not show it")
    values = course(told, evidence)
    if values is None:
        assert (fault, measure) in WITHOUT_COURSE, told.value
        return
    tolerance = TOLERANCE[catalogue()[fault].measures[measure].unit]
    assert values.shape == (evidence.frames,)
    # The number itself is a steady one, of a twentieth of a second, or of the whole hold.
    part = values[told.start : told.end + 1]
    assert np.nanmin(part) - tolerance <= told.value <= np.nanmax(part) + tolerance
    if told.curve is not None and told.made_of is not None:
        assert np.nanmax(abs(part - told.curve)) <= 5 * tolerance


def test_a_bracket_reaches_as_far_as_its_bars_and_its_band() -> None:
    """By hand: bars of four thicknesses to either side, a rim of 0.55 round a line, the band from five to eight to the left.
    Would catch a number placed by the ends alone, over the bars."""
    eye = Eye(np.array([0.0, -3.0, 1.0]), np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0]))
    foot, up = np.array([0.2, 0.0, 0.0]), np.array([0.0, 0.0, 0.1])
    measured, band = Bracket(foot, foot + up, "measured"), Bracket(foot, foot + 0.5 * up, "band")
    alone = brackets_reach([measured, Line(foot, 9 * up, "aid")], 0.01, eye)
    assert np.allclose([alone[:, 0].min(), alone[:, 0].max()], [0.2 - 0.0505, 0.2 + 0.0505])
    assert np.allclose([alone[:, 2].min(), alone[:, 2].max()], [-0.0105, 0.1105])
    assert np.isclose(brackets_reach([measured, band], 0.01, eye)[:, 0].min(), 0.2 - 0.08)
    assert not brackets_reach([Line(foot, up, "measured")], 0.01, eye).size
