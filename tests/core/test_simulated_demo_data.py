"""The demo takes are what their script makes, and hold what their list says."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.body.landmarks import recognise
from in_the_round.analysis_core.read import read_take

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "demo_data"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    spec = importlib.util.spec_from_file_location("make_demo_data", ROOT / "scripts" / "make_demo_data.py")
    assert spec is not None
    assert spec.loader is not None
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    folder = tmp_path_factory.mktemp("demo")
    script.make(folder)
    return folder


def test_the_script_makes_the_same_takes_again(made: Path) -> None:
    for name in ("careless", "careful", "static"):
        again, kept = read_take(made / f"{name}.c3d"), read_take(DEMO / f"{name}.c3d")
        assert again.labels == kept.labels
        # Another processor's last bit may round to the neighbouring step of 0.1 mm.
        np.testing.assert_allclose(again.positions_m, kept.positions_m, atol=1.01e-4, equal_nan=True)
    assert json.loads((made / "faults.json").read_text()) == json.loads((DEMO / "faults.json").read_text())


@pytest.mark.parametrize("name", ["careless", "careful"])
def test_the_takes_read_as_they_were_made(name: str) -> None:
    take = read_take(DEMO / f"{name}.c3d")
    assert (take.kind, take.rate_hz, take.positions_m.shape) == ("markers", 240.0, (4800, 53, 3))
    assert not recognise(take.labels).unknown
    for gap in json.loads((DEMO / "faults.json").read_text())["takes"][f"{name}.c3d"]["gaps"]:
        missing = np.isnan(take.positions_m[:, take.labels.index(gap["label"])]).all(axis=1)
        assert missing[round(gap["start_s"] * 240) : round(gap["end_s"] * 240) + 1].all()
    assert np.isnan(take.positions_m).mean() < 0.01
