"""The extension as Blender installs it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest


@pytest.mark.blender
@pytest.mark.slow
def test_a_blender_with_the_extension_begins_without_libraries_that_only_some_work_needs(installed: Path) -> None:
    """Would catch a second of loading that every start of Blender would pay for."""
    assert json.loads((installed / "result.json").read_text(encoding="utf-8")) == {"loaded": []}
