"""From a clean clone to reviewed takes, a Blender file and a film: sets up .venv, then runs the program's own commands.

Files of an earlier demo in the same folder are replaced.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import bootstrap

TAKES = ("careless", "careful")
STATIC = "static"


@dataclass(frozen=True)
class Film:
    """How the side-by-side film is rendered."""

    size: str
    fps: int
    seconds: int


FULL = Film("960x540", 24, 10)
#: Cycles needs some seconds for what the quick engines do in a tenth.
FULL_WITHOUT_GRAPHICS = Film("640x360", 12, 6)
QUICK = Film("320x180", 8, 2)


def command(python: Path, *arguments: str) -> None:
    """Run one command of the program. Raises SetupError when it fails; its own sentence is on standard error."""
    words = [str(python), "-m", "in_the_round.command_line", *arguments]
    code = subprocess.run(words, cwd=bootstrap.ROOT, check=False).returncode
    if code != 0:
        raise bootstrap.SetupError(f"The demo stopped at: in-the-round {' '.join(arguments)}")


def film_for(*, quick: bool) -> Film:
    """The film that this machine can render in about a minute; with ``quick`` the smallest."""
    from analysis_core.wording.machine import faster_with
    from command_line.system_libraries import missing_for_quick_rendering

    packages = missing_for_quick_rendering()
    if packages:
        bootstrap.step(faster_with(packages))
    if quick:
        return QUICK
    return FULL_WITHOUT_GRAPHICS if packages else FULL


def demo(out: Path, *, quick: bool) -> None:
    """Do everything, saying what is being done. Raises SetupError."""
    bootstrap.check_python()
    bootstrap.check_blender()
    python = bootstrap.prepare({"archive", "blender"})
    data = bootstrap.ROOT / "demo_data"
    for name in TAKES:
        bootstrap.step(f"Reviewing {name}.c3d")
        take, static = str(data / f"{name}.c3d"), str(data / f"{STATIC}.c3d")
        command(python, "review", take, "--static", static, "--out", str(out / name), "--force")
    scene, movie = out / "careless.blend", out / "side_by_side.mp4"
    bootstrap.step("Building the Blender file")
    command(python, "scene", str(out / "careless"), "--out", str(scene), "--force")
    film = film_for(quick=quick)
    bootstrap.step(f"Rendering {film.seconds} s of turntable at {film.size}")
    # By their files' names: the page, in which the film lies, is about the careless try, and its "now" is the film's "before".
    choices = ["--size", film.size, "--fps", str(film.fps), "--seconds", str(film.seconds), "--names"]
    command(python, "turntable", *(str(out / name) for name in TAKES), "--out", str(movie), *choices, "--draft", "--force")
    page = out / "page.html"
    bootstrap.step("Making the student's page")
    command(
        python,
        "page",
        *(str(out / name) for name in TAKES),
        "--out",
        str(page),
        "--film",
        str(movie),
        "--force",
        *(["--no-pictures"] if quick else []),
    )
    bootstrap.step("Done. Here is everything:")
    for path, what in (
        *((out / name / "review.json", f"the review of the {name} try") for name in TAKES),
        (scene, "the careless try in Blender: open it and press the space bar"),
        (movie, "both tries side by side"),
        (page, "the student's page: open it in a browser, or send it to a phone"),
    ):
        print(f"    {path}  {what}")


def main() -> int:
    """Return 0, or 2 with a sentence on standard error."""
    parser = argparse.ArgumentParser(description=__doc__)
    default = bootstrap.ROOT / "out" / "demo"
    parser.add_argument("--out", type=Path, default=default, metavar="DIR", help="where to put everything (default: out/demo)")
    parser.add_argument("--quick", action="store_true", help="render the smallest film")
    arguments = parser.parse_args()
    try:
        demo(arguments.out.resolve(), quick=arguments.quick)
    except bootstrap.SetupError as error:
        print(error, file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("Stopped.", file=sys.stderr)
        return 130
    return 0


if __name__ == "__main__":
    sys.exit(main())
