"""A simulated dancer with known truth, for the demo takes, the tests and the bench.

    from in_the_round.simulated_dancer import Body, demo_phrase, simulate
    s = simulate(demo_phrase(), body=Body(stature_m=1.62), rate_hz=240, tempo_bpm=120, facing_rad=0.7, seed=3)
    s.take, s.static_take            # 53 markers as Take: noise, skin movement; labels are landmark names such as calcaneus.L
    s.movement, s.phrase             # the exact Movement and Phrase
    s.landmark_of, s.segment_of      # marker index -> landmark, body part

Faults: ``simulate(demo_phrase(), faults=(Fault("heel-lifts-early", "turn-1", 30.0),))``; ``supported()`` lists them with the
unit of their size and the kinds of phase that can carry them; ``s.built_in`` is their truth.

Other pieces: ``dirt.spoil`` (gaps, swaps, spikes, fallen and moved markers with their truth), ``labels.label_of`` (words,
atlas abbreviations, short codes), ``files.write_c3d`` and ``files.write_bvh``, ``leg_phrase``, ``repeated_phrase``,
``simulate(mirror=True)`` for the mirror twin.

``noise=CLEAN`` gives markers without noise and skin movement. Joints: pelvis = middle of the hip centres, neck = middle of
C7 and the suprasternal notch, toe = tip of the big toe, hand = third metacarpal head. The pelvis frame goes through the
iliac spines (ISB), so it is tipped by the standing tilt; the other frames are upright when the dancer stands upright.
"""

from __future__ import annotations

from .body import Body
from .faults import BuiltInFault, Fault, supported
from .leg_gesture import LegGesture
from .markers import CLEAN, Noise
from .phrases import demo_phrase, leg_phrase, repeated_phrase
from .pirouette import Pirouette
from .sautes import Sautes
from .simulate import Simulation, simulate
from .steps import CloseTo, Plie, Releve, RetireBalance, Stand

__all__ = [
    "CLEAN",
    "Body",
    "BuiltInFault",
    "CloseTo",
    "Fault",
    "LegGesture",
    "Noise",
    "Pirouette",
    "Plie",
    "Releve",
    "RetireBalance",
    "Sautes",
    "Simulation",
    "Stand",
    "demo_phrase",
    "leg_phrase",
    "repeated_phrase",
    "simulate",
    "supported",
]
