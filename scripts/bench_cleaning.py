"""How true the cleaning is: gaps knocked out, labels exchanged, markers lost and stuck back, against what was there before."""

from __future__ import annotations

from collections import defaultdict
from functools import cache
from pathlib import Path

import numpy as np
from bench_common import Row
from in_the_round.analysis_core.body.landmarks import load_landmarks
from in_the_round.analysis_core.capture import clean
from in_the_round.analysis_core.read import read_take
from in_the_round.analysis_core.take import Source
from in_the_round.simulated_dancer import Body, Simulation, demo_phrase, simulate
from in_the_round.simulated_dancer.cleaning_trials import cleaned_of, gap_trial, mishap_trial, random_swaps
from in_the_round.simulated_dancer.dirt import Dirt
from in_the_round.simulated_dancer.markers import Noise

#: Body height and rate of the dancers that are spoiled.
_DANCERS = ((1.35, 60.0), (1.50, 120.0), (1.62, 240.0), (1.75, 100.0), (1.85, 330.0))
_LENGTHS_S = (0.1, 0.25, 0.5, 1.0, 1.8)
#: Targets of the project, mm: by method and length.
_MOST_MM = {
    ("own path", 0.1): 3.0,
    ("body part", 0.1): 3.0,
    ("body part", 0.25): 8.0,
    ("body part", 0.5): 8.0,
    ("whole body", 1.0): 20.0,
}
_REAL = Path(__file__).resolve().parents[2] / "shared" / "data" / "c3d_fullbody"


@cache
def _danced() -> tuple[Simulation, ...]:
    return tuple(
        simulate(demo_phrase(), body=Body(stature), rate_hz=rate, seed=i, noise=Noise(misplaced_m=0.004), facing_rad=0.7 * i)
        for i, (stature, rate) in enumerate(_DANCERS)
    )


def fills() -> list[Row]:
    """Error of filled gaps by method and length (root mean square over gaps), and how true the stated error is."""
    rows = []
    for length_s in _LENGTHS_S:
        by_method = defaultdict(list)
        for seed, danced in enumerate(_danced()):
            for fill in gap_trial(danced, length_s, seed):
                by_method[fill.source].append((fill.error_m, fill.stated_m))
        total = sum(map(len, by_method.values()))
        for source, pairs in sorted(by_method.items()):
            name = source.in_words
            if source == Source.NONE:
                rows.append(Row(f"{length_s:g} s: left open, of {total}", len(pairs), ""))
                continue
            error, stated = np.array(pairs).T
            rms = float(np.sqrt((error**2).mean()))
            rows.append(Row(f"{length_s:g} s, {name} ({len(pairs)})", 1000 * rms, "mm", _MOST_MM.get((name, length_s))))
            rows.append(Row(f"{length_s:g} s, {name}: true by stated error", rms / float(np.sqrt((stated**2).mean())), ""))
    return rows


def fills_of_a_real_take() -> list[Row]:
    """The open recording with gaps against the same without."""
    if not (_REAL / "serve_gaps.c3d").exists():
        return [Row("skipped: no ../shared/data", 0, "")]
    whole = read_take(_REAL / "serve.c3d")
    holed = clean(read_take(_REAL / "serve_gaps.c3d"), load_landmarks(None)).cleaned
    rows = []
    for event in holed.events:
        marker = whole.labels.index(event.label)
        part = slice(round(event.start_s * whole.rate_hz), round(event.end_s * whole.rate_hz) + 1)
        truth, filled = whole.positions_m[part, marker], holed.positions_m[part, marker]
        if event.kind != "gap" or not np.isfinite(truth).all():
            continue
        error = 1000 * float(np.sqrt(((filled - truth) ** 2).sum(axis=1).mean()))
        stated = 1000 * float(np.sqrt((holed.error_m[part, marker] ** 2).mean()))
        source = Source(int(holed.source[part, marker][0])).in_words
        length = event.end_s - event.start_s + 1 / whole.rate_hz
        rows.append(Row(f"{length:.2f} s at {event.start_s:.2f} s, {source}, stated ± {stated:.1f} mm", error, "mm"))
    return rows


def mishaps() -> list[Row]:
    """Exchanged labels, markers that fell off or were stuck back elsewhere, spikes; and what is invented on clean takes."""
    swaps, others, invented_beside = [], defaultdict(list), 0
    for seed, danced in enumerate(_danced()):
        for again in range(4):
            outcome = mishap_trial(danced, random_swaps(danced, 10 * seed + again), 0.1)
            swaps += outcome.mishaps
            invented_beside += len(outcome.invented)
        random = np.random.default_rng(seed)
        for marker in random.permutation(len(danced.take.labels))[:16]:
            label, start_s = danced.take.labels[int(marker)], float(random.uniform(2.0, 16.0))
            kinds = (
                Dirt("moved", label, start_s, start_s + float(random.uniform(0.1, 1.0)), size_m=0.04),
                Dirt("fell-off", label, start_s, start_s),
                Dirt("spike", label, start_s, start_s, size_m=0.1),
            )
            for dirt in kinds:
                outcome = mishap_trial(danced, (dirt,), 0.1, seed)
                others[dirt.kind] += outcome.mishaps
                invented_beside += len(outcome.invented)
    clean_events = sum(len(cleaned_of(danced).events) for danced in _danced())
    rows = [
        Row(f"exchanged labels, missed of {len(swaps)}, share", np.mean([not s.found for s in swaps]), "", 0.05),
        Row("of those put right: furthest from the truth", 1000 * max(s.left_m for s in swaps if s.put_right), "mm"),
    ]
    names = {"moved": "stuck back 40 mm away", "fell-off": "fallen off", "spike": "spike of 100 mm"}
    for kind, found in others.items():
        rows.append(Row(f"{names[kind]}, missed within 0.1 s of {len(found)}, share", np.mean([not f.found for f in found]), ""))
    put_back = [f.left_m for f in others["moved"] if f.put_right and np.isfinite(f.left_m)]
    rows.append(Row("stuck back elsewhere, put back to within (median of takes)", 1000 * float(np.median(put_back)), "mm"))
    rows.append(Row("invented beside true mishaps", invented_beside, ""))
    rows.append(Row(f"invented in {len(_danced())} clean takes", clean_events, "", 0))
    return rows
