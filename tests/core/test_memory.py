"""How the memory of an analysis grows: with the take, and not with its length times the number of its steps."""

from __future__ import annotations

from in_the_round.analysis_core.findings.catalogue import load_profile
from in_the_round.analysis_core.findings.evidence import Evidence
from in_the_round.analysis_core.findings.find import observe
from in_the_round.analysis_core.findings.observation import Observation
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.take import Floats


def _whole(curve: Floats) -> Floats:
    """The array that holds the numbers of a curve, which may be a part of it."""
    while isinstance(curve.base, type(curve)):
        curve = curve.base
    return curve


def test_no_number_holds_the_curve_of_the_whole_take_for_itself(careless_review: Review) -> None:
    """Would catch a measure whose number keeps a part of a curve that is made anew for every step: ten minutes then kept hundreds
    of curves of ten minutes, a third of a gigabyte. What many steps share, the evidence keeps once."""
    movement = careless_review.movement
    told = observe(Evidence(movement, careless_review.phrase), load_profile("intermediate"))
    curves = [(one.fault, _whole(one.curve)) for one in told if isinstance(one, Observation) and one.curve is not None]
    long = [(fault, whole) for fault, whole in curves if whole.shape[0] == movement.frames]
    shared = {id(whole) for _, whole in long}
    of_fault = {fault: {id(whole) for name, whole in long if name == fault} for fault, _ in long}
    assert len(shared) < len(long)
    # One for each side and measure.
    assert max(len(kept) for kept in of_fault.values()) <= 4
