"""Every command that writes, on a full disk, with a limit on files, in a folder that may not be written: a sentence, code 2,
nothing half-written, what was there before kept."""

from __future__ import annotations

import contextlib
import ctypes
import errno
import importlib.util
import json
import os
import shutil
import signal
import subprocess
import sys
import time
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from in_the_round.analysis_core.errors import ReviewError
from in_the_round.analysis_core.findings.finding import View
from in_the_round.analysis_core.review import Review, read_decisions, read_review, save_decisions, write_review
from in_the_round.analysis_core.review.decisions import Decisions, OwnCorrection
from in_the_round.command_line.__main__ import main
from in_the_round.simulated_dancer.files import write_c3d
from in_the_round.simulated_dancer.phrases import demo_phrase
from in_the_round.simulated_dancer.simulate import simulate

ROOT = Path(__file__).parents[2]

#: What each command is told, besides --force; {out} is a folder of its own, {given} the folder with what it reads.
COMMANDS = {
    "check": "check {given}/take.c3d --propose-landmarks {out}/table.toml",
    "review": "review {given}/take.c3d --out {out} --force",
    "compare": "compare {given}/review {given}/review --out {out} --force",
    "page": "page {given}/review --no-pictures --out {out}/page.html --force",
    "lesson": "lesson {given}/review --out {out}/class.html --force",
    "hand-over": "hand-over {given}/review --formats bvh,glb --out {out} --force",
    "record": "record consent amber-heron --until 2999-07-31 --database {out}/record.db",
    "record add": "record add {given}/review --dancer amber-heron --no-minor --database {out}/record.db",
    "record export": "record export amber-heron --out {out}/held.zip --force --database {given}/record.db",
    "archive": "archive {given}/takes --workers 1 --out {out} --level {level}",
}
#: These ask Blender to render or to save.
WITH_BLENDER = {
    "scene": "scene {given}/review --out {out}/scene.blend --force",
    "turntable": "turntable {given}/review --out {out}/film.mp4 --size 64x64 --fps 1 --seconds 1 --force",
    "stills": "stills {given}/review --out {out} --size 64x64 --force",
    "page with pictures": "page {given}/review --out {out}/page.html --force",
    "hand-over to Blender": "hand-over {given}/review --formats blend --out {out} --force",
}
ALL = {**COMMANDS, **WITH_BLENDER} if importlib.util.find_spec("bpy") else COMMANDS


RUN_EACH = str(Path(__file__).with_name("run_each.py"))
#: Python keeps what a limit cut off as if it were whole, and whoever imports it next fails.
NO_BYTECODE = {"PYTHONDONTWRITEBYTECODE": "1"}


def words(name: str, given: Path, out: Path, level: str) -> list[str]:
    return [word.format(given=given, out=out, level=level) for word in ALL[name].split()]


#: A terminal and file names that may be ASCII only.
PLAIN = {word: value for word, value in os.environ.items() if word not in ("PYTHONIOENCODING", "LC_CTYPE")}
PLAIN |= {"LC_ALL": "C", "LANG": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}


def in_a_plain_c_locale(commands: list[list[str]]) -> list[tuple[int, str, str]]:
    """How each command ends in one child process that begins in such a locale."""
    child = subprocess.run(
        [sys.executable, RUN_EACH],
        input=json.dumps(commands),
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=500,
        check=False,
        env={**PLAIN, **NO_BYTECODE},
    )
    assert child.returncode == 0, child.stderr
    return [tuple(one) for one in json.loads(child.stdout)]


def without_root_rights() -> None:
    """In a process that begins: root may write only where its own rights say so, as anybody else."""
    library = ctypes.CDLL(None, use_errno=True)
    for capability in (1, 2, 3):
        # PR_CAPBSET_DROP of CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH and CAP_FOWNER; the next program starts without them.
        library.prctl(24, capability, 0, 0, 0)


class Loaded:
    """A process without rights of its own that has loaded what commands need; each call runs commands in a copy of it, which
    nothing else shares."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, RUN_EACH, "again"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            encoding="utf-8",
            env={**os.environ, **NO_BYTECODE},
            preexec_fn=without_root_rights if sys.platform.startswith("linux") else None,
        )

    def __call__(
        self, commands: list[list[str]], *, largest: int | None = None, killed_after_s: float | None = None
    ) -> list[tuple[int, str, str]] | None:
        """How each command ends where no file may grow beyond a size (bytes); None when all of it was killed, some time after it
        was begun."""
        assert self._process.stdin is not None
        self._process.stdin.write(f"{json.dumps([largest, commands])}\n")
        self._process.stdin.flush()
        child = int(self._told())
        if killed_after_s is not None:
            time.sleep(killed_after_s)
            with contextlib.suppress(ProcessLookupError):
                os.killpg(child, signal.SIGKILL)
        answer = None
        while (told := self._told()) != "null":
            answer = told
        return None if answer is None or killed_after_s is not None else [tuple(one) for one in json.loads(answer)]

    def _told(self) -> str:
        assert self._process.stdout is not None
        while (line := self._process.stdout.readline()) == "\n":
            pass
        assert line, "the process that runs the commands is gone"
        return line.strip()

    def close(self) -> None:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.stdout.close()
        self._process.wait()


@pytest.fixture(scope="module")
def loaded() -> Iterator[Loaded]:
    process = Loaded()
    yield process
    process.close()


@pytest.fixture(scope="module")
def given(made_review: Review, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the commands read: a short take, the made review of tests/blender, a record that holds it."""
    folder = tmp_path_factory.mktemp("given")
    still = simulate(demo_phrase()[:1], rate_hz=60.0, duration_s=2.0).take
    write_c3d(folder / "take.c3d", still, still.labels)
    (folder / "takes").mkdir()
    shutil.copy(folder / "take.c3d", folder / "takes")
    write_review(made_review, folder / "review")
    assert main(words("record add", folder, folder, "")) == 0
    return folder


@pytest.fixture(scope="module")
def earlier(given: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What each command wrote on a day on which nothing was wrong, a folder for each; in a plain C locale, with accents in every
    path."""
    source, folder = tmp_path_factory.mktemp("source") / "donnée", tmp_path_factory.mktemp("sortie é")
    source.symlink_to(given)
    commands = [words(name, source, folder / name, "advanced") for name in COMMANDS]
    for name, (code, _, err) in zip(COMMANDS, in_a_plain_c_locale(commands), strict=True):
        assert code == 0, (name, err)
        assert held(folder / name), name
    for name in WITH_BLENDER:
        # What Blender made is not looked into here: any file keeps its place.
        (folder / name).mkdir()
        ends = {"scene": "scene.blend", "turntable": "film.mp4", "stills": "f1.png", "page with pictures": "page.html"}
        (folder / name / ends.get(name, "note.json")).write_text("mine", encoding="utf-8")
    (folder / "check" / "table.toml").unlink()
    view = View((0.0, -3.0, 1.0), (0.0, 0.0, 0.8), "front")
    own = OwnCorrection("own-1", "Breathe before you begin", None, 0.2, 0.5, 0.8, ("head",), view, note="said in class")
    save_decisions(folder / "review", Decisions(), Decisions(own=(own,)))
    return folder


def held(folder: Path) -> dict[str, bytes]:
    """All files below a folder. What SQLite keeps beside a database while it is open is no file of ours."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.name.endswith(("-wal", "-shm", "-journal", ".lock.sqlite"))
    }


def may_not_be_written(folder: Path) -> None:
    for path in (*folder.rglob("*"), folder):
        path.chmod(0o555 if path.is_dir() else 0o444)


def may_be_written(folder: Path) -> None:
    folder.chmod(0o755)
    for path in folder.rglob("*"):
        path.chmod(0o755 if path.is_dir() else 0o644)


def assert_a_sentence(name: str, outcome: tuple[int, str, str]) -> None:
    code, out, err = outcome
    assert code == 2, (name, outcome)
    assert out == "", (name, out)
    assert "Traceback" not in err, (name, err)
    assert "defect" not in err, (name, err)
    sentence = err.strip().splitlines()[-1]
    assert sentence.endswith((".", ")")), (name, err)


def test_with_a_limit_on_files(given: Path, earlier: Path, loaded: Loaded, tmp_path: Path) -> None:
    """No room for any file of ours, in a folder that is new and in one with an earlier outcome."""
    new, old = tmp_path / "new", shutil.copytree(earlier, tmp_path / "old")
    # Blender starts for one of them only: it takes its time.
    pairs = [(old, name) for name in COMMANDS]
    pairs += [(new, name) for name in ("review", "hand-over", "record", "scene") if name in ALL]
    commands = [words(name, given, place / name, "older beginner") for place, name in pairs]
    outcomes = loaded(commands, largest=200)
    assert outcomes is not None
    for (_, name), outcome in zip(pairs, outcomes, strict=True):
        assert_a_sentence(name, outcome)
    assert held(new) == {}
    assert held(old) == held(earlier)


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="takes rights away as Linux does")
def test_in_a_folder_that_may_not_be_written(given: Path, earlier: Path, loaded: Loaded, tmp_path: Path) -> None:
    """Told before Blender is asked to render for minutes."""
    old = shutil.copytree(earlier, tmp_path / "old")
    may_not_be_written(old)
    try:
        outcomes = loaded([words(name, given, old / name, "older beginner") for name in ALL])
    finally:
        may_be_written(old)
    assert outcomes is not None
    for name, outcome in zip(ALL, outcomes, strict=True):
        assert_a_sentence(name, outcome)
        assert "Permission denied" in outcome[2] or "write" in outcome[2], (name, outcome)
    assert held(old) == held(earlier)


def test_in_a_plain_c_locale(given: Path, earlier: Path, tmp_path: Path) -> None:
    """Accents in every path where file names and terminal may be ASCII only: each did what it always does.

    Here once as a user runs it: a record that keeps the path of a review.
    """
    assert {path.parent.name for path in earlier.glob("*/*")} >= set(COMMANDS) - {"check"}
    source = tmp_path / "donnée"
    source.symlink_to(given)
    program = [sys.executable, "-m", "in_the_round.command_line"]
    command = [*program, *words("record add", source, tmp_path / "sortie é", "advanced")]
    done = subprocess.run(command, capture_output=True, timeout=300, check=False, env=PLAIN)
    assert (done.returncode, done.stderr) == (0, b"")
    assert held(tmp_path / "sortie é")


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of its own of 4 MB."""
    place = tmp_path / "disk"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", str(place)], capture_output=True, text=True, check=False
    )
    if mounted.returncode:
        pytest.skip(f"no disk can be mounted here: {mounted.stderr.strip()}")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


def fill(disk: Path) -> None:
    """Take all the room that is left."""
    with (disk / "filler").open("wb", buffering=0) as file:
        try:
            while True:
                file.write(bytes(4096))
        except OSError as error:
            assert error.errno == errno.ENOSPC  # noqa: PT017


def test_on_a_full_disk(given: Path, earlier: Path, loaded: Loaded, small_disk: Path) -> None:
    """Not a byte is free, and each command is to replace what it made before."""
    names = list(COMMANDS)
    old = small_disk / "old"
    for name in names:
        shutil.copytree(earlier / name, old / name)
    fill(small_disk)
    outcomes = loaded([words(name, given, old / name, "older beginner") for name in names])
    assert outcomes is not None
    for name, outcome in zip(names, outcomes, strict=True):
        assert_a_sentence(name, outcome)
    assert held(old) == {path: data for path, data in held(earlier).items() if path.partition("/")[0] in names}


def assert_whole(folder: Path) -> None:
    """Every file that has its final name can be read to its end."""
    for name, data in held(folder).items():
        path = folder / name
        if path.name.startswith("."):
            continue
        match path.suffix:
            case ".json":
                json.loads(data)
            case ".html":
                assert data.rstrip().endswith(b"</html>"), name
            case ".npz" | ".zip":
                with zipfile.ZipFile(path) as packed:
                    assert packed.testzip() is None, name
            case ".glb":
                assert int.from_bytes(data[8:12], "little") == len(data), name
            case ".bvh":
                frames = int(data.partition(b"Frames:")[2].split()[0])
                assert data.count(b"\n") == data[: data.index(b"Frame Time")].count(b"\n") + 1 + frames, name
            case ".csv" | ".toml":
                assert data.endswith(b"\n"), name


@pytest.mark.parametrize("after_s", [0.1, 0.3, 0.7])
def test_killed_at_any_moment(
    after_s: float, given: Path, earlier: Path, loaded: Loaded, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Commands that replace what they made before, killed in the middle of whatever they do: each file is the old or the new one.

    What the teacher decided is there, and so is what the record holds. By hand at seven moments.
    """
    old = shutil.copytree(earlier, tmp_path / "old")
    decided = read_decisions(old / "review")
    assert decided != Decisions()
    names = [name for name in ("review", "record add", "compare", "page", "lesson", "hand-over", "record export") if name in ALL]
    loaded([words(name, given, old / name, "older beginner") for name in names], killed_after_s=after_s)
    for name in names:
        assert_whole(old / name)
    assert read_decisions(old / "review") == decided
    assert held(old).keys() >= held(earlier).keys()
    assert main(["record", "list", "--database", str(old / "record add" / "record.db"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["dancers"][0]["takes"] == 1
    try:
        read_review(old / "review")
    except ReviewError as told:
        assert "does not belong" in str(told)  # noqa: PT017
