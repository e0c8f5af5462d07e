"""A review folder: what stands in it, how exact it is, and what is said of one that is damaged, foreign or half-replaced."""

from __future__ import annotations

import hashlib
import json
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.body.movement import FROM_STANDING, Movement
from in_the_round.analysis_core.errors import OutputError, ReviewError
from in_the_round.analysis_core.review import (
    MOVEMENT_FILE,
    REVIEW_FILE,
    Review,
    read_decisions,
    read_review,
    save_decisions,
    write_again,
    write_review,
)
from in_the_round.analysis_core.review.decisions import Decisions, Judgement, mark_of
from scipy.spatial.transform import Rotation


@pytest.fixture(scope="module")
def review(made_review: Review) -> Review:
    """The made review of tests/blender."""
    return made_review


@pytest.fixture(scope="module")
def written(review: Review, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """Both files of the review."""
    folder = tmp_path_factory.mktemp("written")
    write_review(review, folder)
    return {name: (folder / name).read_bytes() for name in (REVIEW_FILE, MOVEMENT_FILE)}


@pytest.fixture
def folder(written: dict[str, bytes], tmp_path: Path) -> Path:
    """A folder of its own with both files."""
    for name, content in written.items():
        (tmp_path / name).write_bytes(content)
    return tmp_path


def kept(review: Review) -> Decisions:
    return Decisions((Judgement(mark_of(review.findings[0], review.phrase.phases), "kept", note="é"),))


def test_positions_come_back_within_a_micrometre_and_segments_as_exactly(review: Review, folder: Path) -> None:
    """Catches an array that is stored too coarsely, left out, or mixed up with another."""
    before, after = review.movement, read_review(folder).movement
    for item in fields(Movement):
        one, other = getattr(before, item.name), getattr(after, item.name)
        if not isinstance(one, np.ndarray) or item.name == "segment_rotations":
            continue
        assert (one.shape, np.isnan(one).tolist()) == (other.shape, np.isnan(other).tolist())
        most = 0.001 if item.name in ("trust", "centre_of_mass_share") else 1e-6
        assert np.nanmax(np.abs(other - one), initial=0.0) < most, item.name
    known = np.isfinite(before.segment_rotations).all(axis=(2, 3))
    apart = Rotation.from_matrix(after.segment_rotations[known]) * Rotation.from_matrix(before.segment_rotations[known]).inv()
    # A segment is half a metre at most: 2 µrad are a micrometre at its end.
    assert apart.magnitude().max() < 2e-6
    assert np.isnan(after.segment_rotations[~known]).all()


def test_twenty_seconds_of_movement_take_seven_megabytes_at_most(careless_review: Review, tmp_path: Path) -> None:
    """At 240 Hz, as the demo take is. Catches double precision, matrices for rotations, and arrays that are not packed."""
    assert (careless_review.take.duration_s, careless_review.movement.rate_hz) == (20.0, 240.0)
    write_review(careless_review, tmp_path)
    assert 3e6 < (tmp_path / MOVEMENT_FILE).stat().st_size < 7e6


def test_a_movement_read_back_is_whole_but_for_its_recording(review: Review, tmp_path: Path) -> None:
    """Catches a part that a file does not hold and that comes back as its default, and angles of another convention: the file
    tells those of FROM_STANDING less standing, the movement holds all as measured."""
    rate, standing = review.movement.rate_hz, dict(review.movement.standing.angles_rad)
    standing |= {"pelvis_tilt": 0.2, "head_yaw": np.nan, "foot_deviation.L": -0.1, "plantarflexion.L": 0.3}
    before = replace(
        review.movement,
        standing=replace(review.movement.standing, angles_rad=standing),
        floor_m=0.031,
        doubted=True,
        warnings=("The floor is é.", "Second."),
    )
    write_review(replace(review, movement=before), tmp_path)
    after = read_review(tmp_path).movement
    assert type(after) is Movement
    assert (after.rate_hz, after.kind) == (rate, before.kind)
    assert (after.floor_m, after.doubted, after.warnings) == (0.031, True, before.warnings)
    with np.load(tmp_path / MOVEMENT_FILE) as stored:
        told = dict(zip(stored["angle_names"].tolist(), np.radians(stored["angles_deg"]).T, strict=True))
        assert set(stored["from_standing"]) == set(FROM_STANDING)
    np.testing.assert_allclose(told["pelvis_tilt"], before.angle("pelvis_tilt") - 0.2, atol=1e-6)
    across = np.cos(before.angle("plantarflexion.L")) / np.cos(0.3)
    np.testing.assert_allclose(told["foot_deviation.L"], before.angle("foot_deviation.L") + 0.1 * across, atol=1e-6)
    for name in ("head_yaw", "trunk_pitch"):
        np.testing.assert_allclose(told[name], before.angle(name), atol=1e-6)


def test_a_review_of_an_earlier_version_tells_what_it_told(review: Review, folder: Path) -> None:
    """Earlier files told angles less standing, with a standing of 0 beside them; catches a standing taken off twice."""
    data = json.loads((folder / REVIEW_FILE).read_text(encoding="utf-8"))
    data["standing"]["angles_rad"] |= dict.fromkeys(FROM_STANDING, 0.0)
    with np.load(folder / MOVEMENT_FILE) as stored:
        arrays = {name: stored[name] for name in stored.files if name not in ("from_standing", "floor_m", "doubted", "warnings")}
    np.savez(folder / MOVEMENT_FILE, **arrays)
    data["movement_sha256"] = hashlib.sha256((folder / MOVEMENT_FILE).read_bytes()).hexdigest()
    (folder / REVIEW_FILE).write_text(json.dumps(data), encoding="utf-8")
    after = read_review(folder).movement
    for name in (*FROM_STANDING, "trunk_pitch"):
        np.testing.assert_allclose(after.told(name), review.movement.told(name), atol=1e-6)


def test_what_the_contract_promises_is_there(review: Review, folder: Path) -> None:
    """interfaces.md: names and shapes of the arrays, the ways of filling, what ties the two files."""
    data = json.loads((folder / REVIEW_FILE).read_text(encoding="utf-8"))
    frames = review.movement.frames
    with np.load(folder / MOVEMENT_FILE) as stored:
        shapes = {name: stored[name].shape for name in stored.files}
        joints, angles = len(stored["joint_names"]), len(stored["angle_names"])
        assert stored["joint_centres_m"].dtype == np.float32
    assert shapes["time_s"] == (frames,)
    assert shapes["joint_centres_m"] == (frames, joints, 3)
    assert shapes["angles_deg"] == (frames, angles)
    assert shapes["centre_of_mass_m"] == (frames, 3)
    assert shapes["trust"] == (frames, joints)
    assert data["version"] == 2
    assert data["movement_sha256"] == hashlib.sha256((folder / MOVEMENT_FILE).read_bytes()).hexdigest()
    assert set(data["quality"]["markers"][0]["filled"]) == {"own path", "body part", "whole body"}
    assert {"measured", "placement", "measures_version", "chains", "unsure"} <= set(data)
    assert all("plus_minus_within_take" in item for item in data["findings"])


def test_positions_far_from_the_middle_of_the_room_are_as_exact(review: Review, tmp_path: Path) -> None:
    """Catches single precision where it no longer holds a micrometre."""
    far = replace(review.movement, joint_centres_m=review.movement.joint_centres_m + 40.0)
    write_review(replace(review, movement=far), tmp_path)
    again = read_review(tmp_path).movement.joint_centres_m
    assert np.nanmax(np.abs(again - far.joint_centres_m)) < 1e-6


@pytest.mark.parametrize("share", [0.0, 0.01, 0.3, 0.7, 0.99, 1.0])
@pytest.mark.parametrize("name", [REVIEW_FILE, MOVEMENT_FILE])
def test_a_file_that_was_cut_off_is_one_sentence(review: Review, folder: Path, name: str, share: float) -> None:
    path = folder / name
    content = path.read_bytes()
    path.write_bytes(content[: min(round(share * len(content)), len(content) - 1)])
    with pytest.raises(ReviewError, match="eview the take again") as told:
        read_review(folder)
    assert "\n" not in str(told.value)
    if name == MOVEMENT_FILE:
        # What was decided is in the other file, and deciding never needs the arrays.
        save_decisions(folder, Decisions(), kept(review))
        assert write_again(review, folder).decisions == kept(review) == read_review(folder).decisions


def test_movement_of_another_review_is_refused(review: Review, folder: Path) -> None:
    """Catches half of a folder that was replaced, and a foreign file of the right form."""
    other = folder / "other"
    shorter = replace(review.movement, time_s=review.movement.time_s + 1.0)
    write_review(replace(review, movement=shorter), other)
    (other / MOVEMENT_FILE).replace(folder / MOVEMENT_FILE)
    with pytest.raises(ReviewError, match="does not belong to"):
        read_review(folder)


@pytest.mark.parametrize("foreign", ["{}", "[]", "null", '"x"', '{"format": "other", "version": 2}', "[" * 10_000, "\0"])
def test_json_that_is_no_review_is_refused_in_a_sentence_and_left_alone(review: Review, folder: Path, foreign: str) -> None:
    path = folder / REVIEW_FILE
    path.write_text(foreign, encoding="utf-8")
    for deed in (
        lambda: read_review(folder),
        lambda: write_again(review, folder),
        lambda: save_decisions(folder, Decisions(), kept(review)),
    ):
        with pytest.raises(ReviewError, match="eview the take again"):
            deed()
    assert path.read_text(encoding="utf-8") == foreign


def test_each_part_that_is_missing_is_a_sentence(written: dict[str, bytes], folder: Path) -> None:
    """Every field of the contract in turn taken out, or put to something else."""
    whole = json.loads(written[REVIEW_FILE])
    for name in whole:
        for value in (None, 0, "x", [1], {"a": 1}):
            (folder / REVIEW_FILE).write_text(json.dumps({**whole, name: value}), encoding="utf-8")
            try:
                read_review(folder)
            except ReviewError as told:
                assert "\n" not in str(told)  # noqa: PT017 - most are refused, a few values are as good as any
        without = {key: value for key, value in whole.items() if key != name}
        (folder / REVIEW_FILE).write_text(json.dumps(without), encoding="utf-8")
        try:
            read_review(folder)
        except ReviewError as told:
            assert "\n" not in str(told)  # noqa: PT017


def test_reviews_of_other_versions_are_answered_with_what_to_do(review: Review, folder: Path) -> None:
    save_decisions(folder, Decisions(), kept(review))
    path = folder / REVIEW_FILE
    data = json.loads(path.read_text(encoding="utf-8"))
    path.write_text(json.dumps({**data, "version": 3}), encoding="utf-8")
    with pytest.raises(ReviewError, match="newer version"):
        read_review(folder)
    path.write_text(json.dumps({**data, "version": 1}), encoding="utf-8")
    with pytest.raises(ReviewError, match="earlier version"):
        read_review(folder)
    assert read_decisions(folder) == kept(review)
    assert write_again(review, folder).decisions == kept(review)
    assert read_review(folder).findings[0].decision == "kept"


def with_unknown(value: object) -> object:
    """The same with a field that no version knows, in every object."""
    if isinstance(value, dict):
        return {**{key: with_unknown(item) for key, item in value.items()}, "added later": {"by": "a newer version"}}
    return [with_unknown(item) for item in value] if isinstance(value, list) else value


def test_fields_of_a_newer_version_pass_everywhere_and_survive_a_save(review: Review, folder: Path) -> None:
    save_decisions(folder, Decisions(), kept(review))
    path = folder / REVIEW_FILE
    data = json.loads(path.read_text(encoding="utf-8"))
    # What is keyed by names that the take gives (angles, findings, properties) has no room for other names.
    open_ended = {"standing", "analysed", "phases"}
    newer = {key: item if key in open_ended else with_unknown(item) for key, item in data.items()}
    newer["standing"] = {**data["standing"], "added later": 1.0}
    newer["phases"] = [{**item, "added later": 1.0} for item in data["phases"]]
    newer["added later"] = [1]
    path.write_text(json.dumps(newer), encoding="utf-8")
    assert read_review(folder).decisions == kept(review)
    noted = Decisions((replace(kept(review).judgements[0], note="on the left side"),))
    save_decisions(folder, kept(review), noted)
    saved = json.loads(path.read_text(encoding="utf-8"))
    assert read_review(folder).findings[0].note == "on the left side"
    derived = {"corrections", "came_first", "chains"}
    for name in set(newer) - derived - {"findings", "decisions"}:
        assert saved[name] == newer[name], name
    assert all("added later" in item for item in saved["findings"])
    assert "added later" in saved["decisions"]
    assert "added later" in saved["decisions"]["judgements"][0]


def test_deciding_opens_no_arrays(review: Review, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Catches a Keep that reads hundreds of megabytes."""
    (folder / MOVEMENT_FILE).unlink()
    monkeypatch.setattr(np, "load", None)
    save_decisions(folder, Decisions(), kept(review))
    assert read_decisions(folder) == kept(review)


def test_a_second_window_keeps_what_the_first_decided(review: Review, folder: Path) -> None:
    """Both opened the folder before either decided; the last writer merges."""
    first, second = (Decisions((Judgement(mark_of(review.findings[place], review.phrase.phases), "kept"),)) for place in (0, 1))
    save_decisions(folder, Decisions(), first)
    both = save_decisions(folder, Decisions(), second)
    assert both.judgements == (*first.judgements, *second.judgements)
    assert [item.decision for item in read_review(folder).findings[:2]] == ["kept", "kept"]
    # The second takes its own back: the first window's stays.
    assert save_decisions(folder, second, Decisions()) == first


def test_decisions_on_an_earlier_analysis_go_to_the_one_that_is_there(review: Review, folder: Path) -> None:
    """One window reviews again, so that ids mean other findings; the other still decides on the old ones."""
    turned = tuple(replace(item, id=f"f{4 - number}") for number, item in enumerate(review.analysed))
    write_again(replace(review, analysed=turned), folder)
    save_decisions(folder, Decisions(), kept(review))
    judged = [item for item in read_review(folder).findings if item.decision == "kept"]
    assert [(item.fault, item.peak_s) for item in judged] == [(review.findings[0].fault, review.findings[0].peak_s)]


def test_what_is_there_already_is_not_overwritten(review: Review, folder: Path) -> None:
    with pytest.raises(OutputError, match="there already"):
        write_review(review, folder)
