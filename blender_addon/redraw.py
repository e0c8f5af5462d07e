"""The drawing of a correction follows the band that the teacher sets."""

from __future__ import annotations

from dataclasses import replace

from . import moments, saving
from . import state as states
from .analysis_core.errors import InTheRoundError
from .analysis_core.findings.evidence import Evidence
from .analysis_core.review import read_review
from .analysis_core.views import drawing_of
from .properties import DanceReviewFinding, DanceReviewState, scene_of
from .scene import measure_drawn
from .scene.build import drawings_in
from .scene.drawing_nodes import Trees
from .scene.figure import look_in


def follow_band(state: DanceReviewState, item: DanceReviewFinding) -> None:
    """Draw a correction's measure anew where its band is another than the drawn one. Without the review it goes: it would tell
    a band that does not hold."""
    scene = scene_of(state)
    found = next((one for one in drawings_in(scene) if measure_drawn.finding_of(one) == item.finding), None)
    band = None if item.own else states.band_of(item)
    if found is None or band is None or (found.objects and measure_drawn.band_drawn(found) == band):
        return
    measure_drawn.empty(found)
    camera = moments.camera_of(scene, item.finding)
    try:
        review = read_review(saving.folder_of(state))
    except InTheRoundError:
        return
    finding = next((one for one in review.findings if one.id == item.finding), None)
    if finding is None or camera is None:
        return
    finding = replace(finding, band=band)
    drawing = drawing_of(finding, review)
    if drawing is not None:
        evidence = Evidence(review.movement, review.phrase)
        inside = measure_drawn.insides_of(review, (finding,), evidence, look_in(scene)).get(finding.id)
        frames = state.frame_start, state.frame_start + state.frames - 1
        turn = measure_drawn.turn_of(found)
        measure_drawn.draw_measure(finding, drawing, camera, state.rate_hz, frames, turn, found, Trees(), inside)
