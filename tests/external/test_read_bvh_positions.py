"""Forward kinematics against joint positions that were published beside the recording (MANIFEST: bvh_dialects)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.read import read_take

DATA = Path(__file__).resolve().parents[3] / "shared" / "data" / "bvh_dialects"


def test_joint_positions_equal_the_published_table_to_one_millimetre() -> None:
    path = DATA / "walk_with_positions.bvh"
    if not path.is_file():
        pytest.skip("the open recordings (../shared/data) are not here")
    take = read_take(path)
    table = path.with_name("walk_with_positions_pos.csv")
    names = table.read_text(encoding="utf-8").splitlines()[0].split(",")
    values = np.genfromtxt(table, delimiter=",", skip_header=1)
    published = {name[:-2]: values[:, index : index + 3] for index, name in enumerate(names) if name.endswith(".x")}
    assert set(published) == set(take.labels)
    assert len(values) == take.frames
    for label, centimetres in published.items():
        # The table is in centimetres, Y up: Z-up metres are (x, -z, y) / 100.
        expected = centimetres[:, [0, 2, 1]] * [0.01, -0.01, 0.01]
        difference = np.abs(take.positions_m[:, take.labels.index(label)] - expected).max()
        assert difference < 0.001, (label, difference)
