"""Landmarks proposed for labels that no table knows, on simulated dancers whose landmarks are known."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.body.landmarks import load_landmarks, recognise
from in_the_round.analysis_core.body.propose import SURE, Proposal, propose_landmarks, write_table
from in_the_round.analysis_core.errors import LandmarkError, OutputError
from in_the_round.analysis_core.read import read_take
from in_the_round.analysis_core.take import Take
from in_the_round.simulated_dancer import Body, Simulation, demo_phrase, simulate
from in_the_round.simulated_dancer.markers import Noise
from in_the_round.simulated_dancer.steps import Stand

TABLE = load_landmarks()
DATA = Path(__file__).resolve().parents[3] / "shared" / "data"


@cache
def danced(stature_m: float = 1.6, facing_rad: float = 0.0) -> Simulation:
    noise = Noise(misplaced_m=0.004)
    return simulate((Stand(1),), body=Body(stature_m), rate_hz=60.0, seed=3, facing_rad=facing_rad, noise=noise)


def anonymous(take: Take, kept: tuple[str, ...] = ()) -> Take:
    """The take with numbers for labels, in an order that says nothing, but for those kept."""
    order = np.random.default_rng(1).permutation(len(take.labels))
    labels = tuple(take.labels[i] if take.labels[i] in kept else f"M{n + 1:03d}" for n, i in enumerate(order))
    return replace(take, labels=labels, positions_m=take.positions_m[:, order])


def truth_of(take: Take) -> dict[str, str]:
    """Landmark of each anonymous label."""
    order = np.random.default_rng(1).permutation(len(take.labels))
    return {f"M{n + 1:03d}": take.labels[i] for n, i in enumerate(order)}


def right_and_wrong(proposal: Proposal, truth: dict[str, str], least: float = 0.0) -> tuple[int, int]:
    new = [marker for marker in proposal.markers if not marker.known and marker.confidence >= least]
    right = sum(truth[marker.label] == marker.landmark for marker in new)
    return right, len(new) - right


@pytest.mark.parametrize(("stature_m", "facing_rad"), [(1.25, 0.0), (1.25, 2.6), (1.6, 1.0), (1.88, -2.0), (1.88, 0.0)])
def test_a_dancer_who_stands_still_is_told_from_numbers_alone(stature_m: float, facing_rad: float) -> None:
    it = danced(stature_m, facing_rad)
    proposal = propose_landmarks(anonymous(it.static_take), TABLE)
    right, wrong = right_and_wrong(proposal, truth_of(it.static_take))
    assert wrong == 0
    assert right >= 50
    assert proposal.facing_confidence > 0.8


def test_known_labels_hold_and_are_not_given_twice() -> None:
    it = danced()
    kept = ("calcaneus.L", "acromion.R", "sacrum")
    proposal = propose_landmarks(anonymous(it.static_take, kept), TABLE)
    assert {marker.label for marker in proposal.markers if marker.known} == set(kept)
    landmarks = [marker.landmark for marker in proposal.markers]
    assert len(landmarks) == len(set(landmarks))
    assert right_and_wrong(proposal, truth_of(it.static_take))[1] == 0


def test_a_side_in_the_label_is_respected() -> None:
    it = danced()
    first = {"L": "L", "R": "R"}
    labels = tuple(f"{first.get(name[-2:].strip('.'), 'C')}{i:02d}" for i, name in enumerate(it.static_take.labels))
    proposal = propose_landmarks(replace(it.static_take, labels=labels), TABLE)
    sided = [marker for marker in proposal.markers if marker.label[0] in "LR"]
    assert all(marker.landmark.endswith("." + marker.label[0]) for marker in sided)


def test_a_dancer_in_motion_is_not_told_surely() -> None:
    it = simulate(demo_phrase(), rate_hz=60.0, seed=3)
    proposal = propose_landmarks(anonymous(it.take), TABLE)
    assert right_and_wrong(proposal, truth_of(it.take), SURE)[1] <= 1


def test_the_table_is_written_once_and_names_the_markers_from_then_on(tmp_path: Path) -> None:
    it = danced()
    take = anonymous(it.static_take)
    path = tmp_path / "studio.toml"
    write_table(propose_landmarks(take, TABLE), take.file.name, path, overwrite=False)
    recognition = recognise(take.labels, load_landmarks(path))
    truth = truth_of(it.static_take)
    assert len(recognition.landmark_of) >= 50
    assert all(truth[take.labels[index]] == name for index, name in recognition.landmark_of.items())
    with pytest.raises(OutputError, match="is there already"):
        write_table(propose_landmarks(take, TABLE), take.file.name, path, overwrite=False)


@pytest.mark.parametrize("line", ['"M1" = "calcaneous.L"', '"M1" = "calcaneus"', '"M1" = "sacrum.L"'])
def test_a_landmark_that_does_not_exist_is_refused(tmp_path: Path, line: str) -> None:
    path = tmp_path / "studio.toml"
    path.write_text(f"[markers]\n{line}\n", encoding="utf-8")
    with pytest.raises(LandmarkError, match="is no landmark"):
        load_landmarks(path)


def test_too_few_markers_are_refused() -> None:
    take = danced().static_take
    with pytest.raises(LandmarkError, match="too few"):
        propose_landmarks(replace(take, labels=take.labels[:5], positions_m=take.positions_m[:, :5]), TABLE)


@pytest.mark.skipif(not DATA.is_dir(), reason="the open recordings (../shared/data) are not here")
def test_an_open_recording_of_a_dancer_with_arms_out() -> None:
    """ballet_tpose.c3d: 41 markers by another habit than the simulator's; truth are its own labels."""
    take = read_take(DATA / "c3d_fullbody" / "ballet_tpose.c3d")
    truth = {f"M{index + 1:03d}": name for index, name in recognise(take.labels, TABLE).landmark_of.items()}
    nameless = replace(take, labels=tuple(f"M{index + 1:03d}" for index in range(len(take.labels))))
    proposal = propose_landmarks(nameless, TABLE)
    right, wrong = right_and_wrong(proposal, truth)
    assert right >= 36
    # Only the second marker of the shank has no place of its own that a standing figure would tell.
    assert wrong <= 2
    assert right_and_wrong(proposal, truth, SURE)[1] == 0
