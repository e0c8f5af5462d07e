"""From a recording to everything that is made of it, by the program's own commands: check, review, decide,
compare, film, page, lesson, record, hand-over.

    .venv/bin/python scripts/whole_walk.py OUT BEFORE.c3d NOW.c3d [STATIC.c3d] [--tempo BPM]

The bench measures it, a test walks it. Stops at the first command that fails, with its sentence.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from in_the_round.analysis_core.review import read_decisions, read_review, save_decisions
from in_the_round.analysis_core.review.decisions import Judgement, judged, mark_of

#: The smallest film: the walk is about the way, not about the picture.
_FILM = ("--size", "160x90", "--fps", "2", "--seconds", "1", "--draft", "--json")
_DANCER = "amber-heron"


class WalkError(Exception):
    """A command of the walk failed; the text is what it said."""


@dataclass(frozen=True)
class Step:
    """One step of the walk, when it was done. seconds: of the clock, start of the program included. made: the file or folder
    that it left, None where it only says something."""

    name: str
    seconds: float
    said: str
    made: Path | None


def as_a_user(*words: str) -> str:
    """What the program says, started for each command. Raises WalkError."""
    line = [sys.executable, "-m", "in_the_round.command_line", *words]
    done = subprocess.run(line, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise WalkError(f"in-the-round {' '.join(words)}: {done.stderr.strip()}")
    return done.stdout


def keep_the_first(folder: Path) -> str:
    """The teacher's part: keep what is to be said first, in words of her own, and set the last one aside."""
    review = read_review(folder)
    before = after = read_decisions(folder)
    choices = [("kept", "Breathe before you go.", review.findings[:1]), ("set aside", "", review.findings[1:][-1:])]
    for decision, words, findings in choices:
        for finding in findings:
            after = judged(after, Judgement(mark_of(finding, review.phrase.phases), decision, words=words))
    save_decisions(folder, before, after)
    return f"{len(after.judgements)} decisions"


def walk(
    out: Path,
    takes: tuple[Path, Path],
    static: Path | None = None,
    *,
    tempo: str = "",
    film: bool = True,
    music: Path | None = None,
    pictures: bool = True,
    command: Callable[..., str] = as_a_user,
) -> Iterator[Step]:
    """Walk it; yields each step when it is done. Raises WalkError.

    out: an empty folder. takes: the one before, and now. tempo: in beats a minute, or "auto". film, pictures: whether the film
    is made (playing, with its music, where there is any), and pictures for the page. command: how the program is asked.
    """
    drawn = () if pictures else ("--no-pictures",)
    shown = ("--film", str(out / "film.mp4")) if film else ()
    told = (*(("--static", str(static)) if static else ()), *(("--tempo", tempo) if tempo else ()))
    filmed = (*_FILM, *(("--mode", "play", "--music", str(music)) if music else ()))
    before, now = out / "before", out / "now"
    database = ("--database", str(out / "record.db"))
    page, plan, handed = out / "page.html", out / "plan.html", out / "handed"
    added = ("record", "add", str(now), "--dancer", _DANCER, "--phrase", "walk", "--day", "2026-09-14")
    consent = ("record", "consent", _DANCER, "--until", "2099-07-31", "--by", "dancer", "--adult-on", "2020-01-01")
    steps: tuple[tuple[str, Path | None, Callable[[], str]], ...] = (
        ("check", None, lambda: command("check", str(takes[1]))),
        ("review the one before", before, lambda: command("review", str(takes[0]), *told, "--out", str(before))),
        ("review", now, lambda: command("review", str(takes[1]), *told, "--out", str(now))),
        ("decide", None, lambda: keep_the_first(now)),
        ("compare", out / "compared", lambda: command("compare", str(before), str(now), "--out", str(out / "compared"))),
        ("film", out / "film.mp4", lambda: command("turntable", str(before), str(now), "--out", shown[1], *filmed)),
        ("page", page, lambda: command("page", str(now), str(before), *shown, "--out", str(page), *drawn)),
        ("lesson", plan, lambda: command("lesson", str(now), "--out", str(plan))),
        ("consent", None, lambda: command(*consent, *database)),
        ("record", out / "record.db", lambda: command(*added, *database)),
        ("hand-over", handed, lambda: command("hand-over", str(now), "--out", str(handed), "--formats", "bvh,glb")),
    )
    for name, made, do in (step for step in steps if film or step[0] != "film"):
        started = time.perf_counter()
        said = do()
        yield Step(name, time.perf_counter() - started, said, made)


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("takes", nargs=2, type=Path)
    parser.add_argument("static", nargs="?", type=Path)
    parser.add_argument("--tempo", default="")
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    try:
        for step in walk(options.out, tuple(options.takes), options.static, tempo=options.tempo):
            print(f"{step.name:20} {step.seconds:6.1f} s   {step.made or ''}", flush=True)
    except WalkError as error:
        print(error, file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
