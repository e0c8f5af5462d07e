"""Commands start quickly: help needs no arrays, and no command imports what only another one uses."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from in_the_round.command_line.__main__ import COMMANDS

DEMO = Path(__file__).resolve().parents[2] / "demo_data"

#: What costs most to import (measured with -X importtime): a command's module must not need it before it runs.
HEAVY = ("numpy", "scipy", "ezc3d", "bpy", "c3d", "sqlalchemy", "matplotlib", "dask")
#: What a review has no use for, of these and what they load.
LONG_TO_LOAD = tuple(name for name in HEAVY if name != "numpy")


def test_no_command_imports_arrays_or_blender_before_it_runs() -> None:
    """Would catch an import at the head of a command's module that every other command pays for."""
    look = (
        "import sys; from in_the_round.command_line.__main__ import make_parser; make_parser(); "
        f"print(*[m for m in {HEAVY!r} if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", look], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.split() == []


def test_every_command_has_help_and_an_example() -> None:
    """Would catch a command whose help does not say how it is used."""
    for name, module in COMMANDS.items():
        assert module.HELP
        assert module.EXAMPLE.startswith(f"in-the-round {name} ")


def test_a_review_loads_no_library_that_it_does_not_need(tmp_path: Path) -> None:
    """Would catch half a second of loading that every review and check (whose way a review goes first) would pay for.

    Whole processes are compared with one that reads the file by a library and filters it once (``scripts/bench.py``).
    """
    words = ["review", str(DEMO / "static.c3d"), "--out", str(tmp_path / "review")]
    look = (
        "import sys; from in_the_round.command_line.__main__ import main; "
        f"code = main({words!r}); sys.stderr.write(' '.join(m for m in {LONG_TO_LOAD!r} if m in sys.modules)); sys.exit(code)"
    )
    done = subprocess.run([sys.executable, "-c", look], capture_output=True, text=True, check=True, timeout=60)
    assert done.stderr.split() == []


def test_the_process_that_writes_the_blend_loads_nothing_that_prepares_it() -> None:
    """Blender starts in it while another process prepares; would catch the core being loaded a second time, a second of work."""
    look = (
        "import sys; import in_the_round.command_line.blender_worker, in_the_round.analysis_core.hand_over.blender_file; "
        "print(*[m for m in sys.modules if m.startswith('in_the_round.analysis_core.')]); "
        "print(*[m for m in ('scipy', 'jinja2', 'subprocess') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", look], capture_output=True, text=True, check=True, timeout=60)
    core, libraries = done.stdout.split("\n")[:2]
    parts = {name.split(".")[2] for name in core.split()}
    assert parts <= {"errors", "wording", "hand_over", "on_demand"}, parts
    assert libraries == ""
