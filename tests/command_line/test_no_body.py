"""Recordings that can be read and show no body: `check` and `review` say what was found and what is needed, and write nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.clean.body_seen import without_the_impossible
from in_the_round.analysis_core.take import Take
from in_the_round.command_line.__main__ import main
from in_the_round.simulated_dancer.files import write_c3d
from in_the_round.simulated_dancer.phrases import demo_phrase
from in_the_round.simulated_dancer.simulate import simulate


@pytest.fixture(scope="module")
def still() -> Take:
    """Two seconds of standing."""
    return simulate(demo_phrase()[:1], rate_hz=60.0, duration_s=2.0).take


def some(take: Take, markers: slice, labels: tuple[str, ...] | None = None) -> Take:
    return replace(take, positions_m=take.positions_m[:, markers], labels=labels or take.labels[markers])


def unseen(take: Take, frames: slice, markers: slice = slice(None)) -> Take:
    positions = take.positions_m.copy()
    positions[frames, markers] = np.nan
    return replace(take, positions_m=positions)


CASES: dict[str, tuple[Callable[[Take], Take], str]] = {
    "points of an object": (lambda take: some(take, slice(6), tuple(f"chair{n}" for n in range(6))), "chair0"),
    "three markers": (lambda take: some(take, slice(3)), "3 of its 3 points"),
    "not one sample": (lambda take: unseen(take, slice(None)), "not one of its markers was ever seen"),
    "five samples": (lambda take: unseen(take, slice(5, None)), "0 of its"),
    "all but six never seen": (lambda take: unseen(take, slice(None), slice(6, None)), "6 of its"),
    "one frame": (lambda take: replace(take, positions_m=take.positions_m[:1]), "1 frame,"),
    "no marker": (lambda take: some(take, slice(0)), "it holds no markers"),
    "all in one place": (
        lambda take: replace(take, positions_m=np.repeat(take.positions_m[:, :1], len(take.labels), axis=1)),
        "within 0 cm",
    ),
}


@pytest.mark.parametrize("command", ["check", "review"])
@pytest.mark.parametrize(("spoil", "words"), CASES.values(), ids=CASES.keys())
def test_no_body_is_a_sentence(
    command: str, spoil: Callable[[Take], Take], words: str, still: Take, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    take = spoil(still)
    path = tmp_path / "take.c3d"
    write_c3d(path, take, take.labels)
    out = tmp_path / "review"
    assert main([command, str(path), *(["--out", str(out)] if command == "review" else [])]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert words in said.err
    assert "defect" not in said.err
    assert "Traceback" not in said.err
    assert not out.exists()


def test_one_marker_never_seen_is_no_reason_to_refuse(still: Take, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "take.c3d"
    write_c3d(path, unseen(still, slice(None), slice(10, 11)), still.labels)
    assert main(["review", str(path), "--out", str(tmp_path / "review")]) == 0
    assert "missing throughout" in capsys.readouterr().out


def test_samples_that_no_camera_can_have_seen_are_left_out_in_words(still: Take) -> None:
    """Damaged bytes make numbers like 1e30: they end no analysis, and are named."""
    positions = still.positions_m.copy()
    positions[20, 3], positions[40, 8] = 1e30, -5e4
    seen = without_the_impossible(replace(still, positions_m=positions))
    assert [np.argwhere(np.isnan(seen.positions_m).all(axis=2)).tolist()] == [[[20, 3], [40, 8]]]
    assert "2 samples lie more than 100 m away" in seen.warnings[-1]
    assert without_the_impossible(still) is still
