"""What a notebook finds at the front door, that opening it is quick, and that the example runs."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from in_the_round import analysis_core

ROOT = Path(__file__).resolve().parents[2]
#: A contract with notebooks: take nothing away without saying so in the changelog.
PROMISED = {
    "Comparison", "Finding", "InTheRoundError", "Movement", "Phrase", "Quality", "Review", "Settings", "Take", "catalogue",
    "check", "compare_reviews", "finding_in_words", "jump_load", "read_review", "read_take", "review_take", "write_review",
}  # fmt: skip


def test_the_promised_names_are_there_and_no_others() -> None:
    """Each is what it says, documented, and not shadowed by a sub-package of the same name."""
    assert set(analysis_core.__all__) == PROMISED
    for name in PROMISED:
        assert callable(getattr(analysis_core, name)), name
        assert getattr(analysis_core, name).__doc__, name
    assert (Path(analysis_core.__file__).parent / "py.typed").is_file()


def test_opening_it_imports_no_arrays() -> None:
    """Would catch an import at the head that every command pays for."""
    look = "import sys, in_the_round.analysis_core as a; print('numpy' in sys.modules, 'check' in dir(a))"
    done = subprocess.run([sys.executable, "-c", look], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.split() == ["False", "True"]


def test_the_example_runs() -> None:
    """The script that newcomers start from: verdict, phases and findings of the demo take."""
    done = subprocess.run(
        [sys.executable, str(ROOT / "scripts" / "first_look.py")], capture_output=True, text=True, check=False, timeout=300
    )
    assert done.returncode == 0, done.stderr
    assert "careless.c3d: " in done.stdout
    assert "Heel lifts early in the preparation" in done.stdout
    assert "knee_flexion.L: at most" in done.stdout
