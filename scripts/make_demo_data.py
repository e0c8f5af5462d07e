#!/usr/bin/env python3
"""Make the demo takes: an invented dancer in an invented studio dances a phrase twice, carelessly and with care.

    .venv/bin/python scripts/make_demo_data.py [FOLDER]     (default: demo_data)

The same bytes every time on the same libraries; what is built in is written to faults.json.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict, replace
from pathlib import Path

from in_the_round.simulated_dancer import Body, Fault, demo_phrase, simulate
from in_the_round.simulated_dancer.dirt import Dirt, spoil
from in_the_round.simulated_dancer.files import write_c3d
from in_the_round.simulated_dancer.labels import label_of

TEMPO_BPM = 120.0
RATE_HZ = 240.0
DANCER = Body(stature_m=1.66)
#: One sample's step in the files: far below the noise of the markers, and half the size of float samples.
STEP_MM = 0.1

CARELESS = (
    Fault("heels-lift-in-plie", "plie-1", 22.0),
    Fault("knee-inside-toes", "plie-1", 20.0),
    Fault("knee-bends-supporting", "balance-1", 20.0),
    Fault("head-lifts", "balance-1", 18.0),
    Fault("heel-lifts-early", "turn-1", 34.0),
    Fault("foot-slips-parallel", "turn-1", 16.0),
    Fault("turnout-lost-working", "turn-1", 26.0),
    Fault("trunk-leans", "turn-1", 14.0),
    Fault("axis-tilts", "turn-1", 7.5),
    Fault("turn-travels", "turn-1", 140.0),
    Fault("turn-hops", "turn-1", 26.0),
    Fault("feet-not-pointed", "jump-2", 0.55),
    Fault("stiff-landing", "landing-3", 0.56),
)
GAPS = {
    "careless": (
        Dirt("gap", "thigh_1.R", 2.1, 2.18),
        Dirt("gap", "anterior_superior_iliac_spine.L", 7.9, 8.25),
        Dirt("gap", "radial_styloid.L", 12.9, 13.2),
        Dirt("gap", "upper_arm_1.R", 16.0, 16.07),
    ),
    "careful": (
        Dirt("gap", "thigh_2.L", 4.2, 4.27),
        Dirt("gap", "anterior_superior_iliac_spine.R", 8.4, 8.65),
        Dirt("gap", "ulnar_styloid.R", 13.0, 13.15),
    ),
}


def make(folder: Path) -> None:
    """Write careless.c3d, careful.c3d, static.c3d and faults.json into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    told: dict[str, object] = {"tempo_bpm": TEMPO_BPM, "offset_s": 0.0, "rate_hz": RATE_HZ, "takes": {}}
    takes: dict[str, object] = {}
    for seed, (name, faults) in enumerate((("careless", CARELESS), ("careful", ())), start=1):
        common = {"body": DANCER, "rate_hz": RATE_HZ, "tempo_bpm": TEMPO_BPM, "facing_rad": 0.6, "place_m": (0.3, -0.2)}
        danced = simulate(demo_phrase(), faults=faults, duration_s=20.0, seed=7, camera_seed=seed, **common)
        take, gaps = spoil(danced.take, GAPS[name], seed=seed)
        labels = tuple(label_of(landmark, "words") for landmark in take.labels)
        write_c3d(folder / f"{name}.c3d", take, labels, integer_step_mm=STEP_MM, overwrite=True)
        if not faults:
            write_c3d(folder / "static.c3d", danced.static_take, labels, integer_step_mm=STEP_MM, overwrite=True)
        takes[f"{name}.c3d"] = {
            "faults": [_rounded(asdict(fault)) for fault in danced.built_in],
            "gaps": [_rounded(asdict(replace(gap, label=label_of(gap.label, "words")))) for gap in gaps],
            "phases": [
                _rounded({"id": phase.id, "kind": phase.kind, "side": phase.side, "start_s": phase.start_s, "end_s": phase.end_s})
                for phase in danced.phrase.phases
            ],
        }
    told["takes"] = takes
    (folder / "faults.json").write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")


def _rounded(values: dict[str, object]) -> dict[str, object]:
    return {name: round(value, 3) if isinstance(value, float) else value for name, value in values.items()}


def main() -> None:
    """Read the folder from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    default = Path(__file__).resolve().parent.parent / "demo_data"
    parser.add_argument("folder", nargs="?", type=Path, default=default)
    folder = parser.parse_args().folder
    make(folder)
    print(f"{folder} holds the demo takes")


if __name__ == "__main__":
    main()
