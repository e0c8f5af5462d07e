"""Skeletons whose names say left for right: by renaming the joints of real dance on purpose.

Catches: turnout read as 345° because both legs are the other one; a rightly named dancer who turns, jumps or lies down renamed.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core import Settings, review_take
from in_the_round.analysis_core.body.skeleton_sides import sides_put_right
from in_the_round.analysis_core.read import read_take

DATA = Path(__file__).resolve().parents[3] / "shared" / "data" / "dance_bvh"
pytestmark = pytest.mark.skipif(not DATA.is_dir(), reason="the open recordings (../shared/data) are not here")
RECORDINGS = sorted(path.name for path in DATA.glob("*.bvh"))


@pytest.mark.parametrize("name", RECORDINGS)
def test_a_mirror_image_is_renamed_and_said_and_a_dancer_as_she_is_is_not(name: str) -> None:
    take = read_take(DATA / name)
    assert sides_put_right(take) is take
    mirrored = replace(take, positions_m=take.positions_m * [1.0, -1.0, 1.0])
    renamed = sides_put_right(mirrored)
    assert "mirror image" in renamed.warnings[-1]
    assert sorted(renamed.labels) == sorted(take.labels)
    moved = [before for before, after in zip(take.labels, renamed.labels, strict=True) if before != after]
    assert len(moved) >= 12


def test_a_file_with_exchanged_names_is_reviewed_as_the_dancer_it_shows(tmp_path: Path) -> None:
    """The joints' places are those of the recording, so every number must be that of the file with its own names."""
    text = (DATA / "slow_turn_arms.bvh").read_text(encoding="utf-8", errors="replace")
    exchanged = text.replace("JOINT L_", "JOINT X_").replace("JOINT R_", "JOINT L_").replace("JOINT X_", "JOINT R_")
    assert exchanged != text
    (tmp_path / "exchanged.bvh").write_text(exchanged, encoding="utf-8")
    expected, given = (review_take(path, Settings()) for path in (DATA / "slow_turn_arms.bvh", tmp_path / "exchanged.bvh"))
    np.testing.assert_array_equal(given.movement.joint("knee.L"), expected.movement.joint("knee.L"))
    assert [(f.fault, f.phase, f.value) for f in given.findings] == [(f.fault, f.phase, f.value) for f in expected.findings]
    assert any("exchanged in all labels" in warning for warning in given.take.warnings)
