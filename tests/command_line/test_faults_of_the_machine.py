"""A disk that is full, a limit on files, a folder that cannot be written, a plain C locale, kill -9: a sentence, nothing lost."""

from __future__ import annotations

import errno
import json
import os
import resource
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from in_the_round.analysis_core.errors import InTheRoundError, OutputError
from in_the_round.analysis_core.review import (
    MOVEMENT_FILE,
    REVIEW_FILE,
    Review,
    read_decisions,
    read_review,
    save_decisions,
    write_again,
    write_review,
)
from in_the_round.analysis_core.review.decisions import Decisions, Judgement, mark_of
from in_the_round.simulated_dancer.files import write_c3d
from in_the_round.simulated_dancer.phrases import demo_phrase
from in_the_round.simulated_dancer.simulate import simulate

ROOT = Path(__file__).parents[2]
PROGRAM = [sys.executable, "-m", "in_the_round.command_line"]


@pytest.fixture(scope="module")
def review(made_review: Review) -> Review:
    """The made review of tests/blender."""
    return made_review


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two seconds of standing, in a file whose name no plain C locale can write."""
    path = tmp_path_factory.mktemp("take") / "plié à la barre.c3d"
    still = simulate(demo_phrase()[:1], rate_hz=60.0, duration_s=2.0).take
    write_c3d(path, still, still.labels)
    return path


def kept(review: Review, place: int = 0) -> Decisions:
    return Decisions((Judgement(mark_of(review.findings[place], review.phrase.phases), "kept"),))


def no_room(*_: object, **__: object) -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.mark.parametrize(
    "where",
    [
        "in_the_round.analysis_core.review.movement_file._write_array",
        "pathlib.Path.write_text",
        "os.fsync",
        "pathlib.Path.replace",
    ],
)
def test_a_full_disk_leaves_the_earlier_review_whole(
    where: str, review: Review, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Wherever the room runs out: one sentence, both files as before, nothing beside them."""
    write_review(review, tmp_path)
    save_decisions(tmp_path, Decisions(), kept(review))
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    with monkeypatch.context() as full:
        full.setattr(where, no_room)
        with pytest.raises(OutputError, match="No space left on device"):
            write_again(review, tmp_path)
        if where != "in_the_round.analysis_core.review.movement_file._write_array":
            with pytest.raises(OutputError, match="No space left on device"):
                save_decisions(tmp_path, kept(review), Decisions())
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
    assert read_review(tmp_path).decisions == kept(review)


def limited() -> None:
    """In the child: no file may grow beyond 20 kB."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))


def said(command: list[str], **more: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", timeout=300, check=False, **more)


def test_a_limit_on_files_is_a_sentence(take: Path, tmp_path: Path) -> None:
    # Without bytecode: Python would keep what the limit cut off as if it were whole, for the next that imports it.
    env = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1"}
    outcome = said([*PROGRAM, "review", str(take), "--out", str(tmp_path / "review")], preexec_fn=limited, env=env)
    assert outcome.returncode == 2
    assert "File too large" in outcome.stderr
    assert len(outcome.stderr.strip().splitlines()) == 1
    assert "defect" not in outcome.stderr
    assert not list((tmp_path / "review").glob("*"))


def test_a_folder_that_is_a_file_is_a_sentence(take: Path, tmp_path: Path) -> None:
    """As a folder that may not be written, also for the one who may write everywhere."""
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    outcome = said([*PROGRAM, "review", str(take), "--out", str(tmp_path / "file" / "review")])
    assert outcome.returncode == 2
    assert len(outcome.stderr.strip().splitlines()) == 1
    assert "cannot be written" in outcome.stderr


def test_a_plain_c_locale_says_all_it_has_to_say(take: Path, tmp_path: Path) -> None:
    """Arrows, accents and ± on a terminal that knows ASCII only, and a file name with accents."""
    plain = {**os.environ, "LC_ALL": "C", "LANG": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONIOENCODING": ""}
    plain.pop("PYTHONIOENCODING")
    for command in (["check", str(take)], ["review", str(take), "--out", str(tmp_path / "é")]):
        outcome = said([*PROGRAM, *command], env=plain)
        assert outcome.returncode == 0, outcome.stderr
        assert "barre.c3d" in outcome.stdout
    failed = said([*PROGRAM, "check", str(take.with_name("nicht da é.c3d"))], env=plain)
    assert failed.returncode == 2
    assert "nicht da" in failed.stderr
    assert "Traceback" not in failed.stderr
    as_json = said([*PROGRAM, "check", str(take), "--json"], env=plain)
    assert json.loads(as_json.stdout)["file"] == take.name


SAVING = """
import sys
from pathlib import Path
from dataclasses import replace
from in_the_round.analysis_core.review import read_review, save_decisions, write_again
from in_the_round.analysis_core.review.decisions import Decisions, Judgement, mark_of
folder = Path(sys.argv[1])
review = read_review(folder)
known = review.decisions
number = 0
while True:
    number += 1
    mark = mark_of(review.analysed[number % 5], review.phrase.phases)
    after = Decisions((Judgement(mark, "kept", note=str(number)),))
    known = save_decisions(folder, known, Decisions((*[j for j in known.judgements if j.mark != mark], *after.judgements)))
    print(number, flush=True)
    if number % 7 == 0:
        write_again(review, folder)
"""


def test_kill_9_loses_at_most_the_last_click(review: Review, tmp_path: Path) -> None:
    """A child decides, and writes the review anew now and then, until it is killed in the middle of whatever it does."""
    write_review(review, tmp_path)
    for pause_s in (0.0, 0.007, 0.023):
        child = subprocess.Popen([sys.executable, "-c", SAVING, str(tmp_path)], stdout=subprocess.PIPE, text=True)
        assert child.stdout is not None
        with child.stdout:
            said = child.stdout.readline()
            time.sleep(pause_s)
            child.send_signal(signal.SIGKILL)
            said += child.stdout.read()
        child.wait()
        clicks = [int(line) for line in said.split("\n") if line.strip().isdigit()]
        notes = {int(item.note) for item in read_decisions(tmp_path).judgements}
        assert max(notes) >= clicks[-1]
        assert set(clicks[-5:]) - notes <= {click for click in clicks if click + 5 <= max(notes)}
        try:
            read_review(tmp_path)
        except InTheRoundError as told:
            # Killed between the two files: said in a sentence, and put right by reviewing again.
            assert "does not belong" in str(told)  # noqa: PT017
            write_again(review, tmp_path)
            assert {int(item.note) for item in read_review(tmp_path).decisions.judgements} == notes


def test_two_programs_that_decide_at_once_lose_nothing(review: Review, tmp_path: Path) -> None:
    """Each decides forty times about a finding of its own, both at the same time."""
    write_review(review, tmp_path)
    code = """
import sys
from pathlib import Path
from in_the_round.analysis_core.review import read_review, save_decisions
from in_the_round.analysis_core.review.decisions import Decisions, Judgement, mark_of
folder, place = Path(sys.argv[1]), int(sys.argv[2])
review = read_review(folder)
known = Decisions()
for number in range(40):
    after = Decisions((Judgement(mark_of(review.analysed[place], review.phrase.phases), "kept", note=str(number)),))
    save_decisions(folder, known, after)
    known = after
"""
    children = [subprocess.Popen([sys.executable, "-c", code, str(tmp_path), str(place)]) for place in (0, 1)]
    assert [child.wait() for child in children] == [0, 0]
    assert [item.note for item in read_decisions(tmp_path).judgements] == ["39", "39"]
    assert {path.name for path in tmp_path.iterdir()} == {REVIEW_FILE, MOVEMENT_FILE}


def test_a_review_that_is_shared_keeps_what_was_decided_at_its_new_place(review: Review, tmp_path: Path) -> None:
    """Two equal recordings in an archive: the review of the first is laid over that of the second, which the teacher knows."""
    from in_the_round.analysis_core.archive.run import share_review

    one, two = tmp_path / "one", tmp_path / "two"
    for folder, place in ((one, 0), (two, 1)):
        write_review(review, folder)
        save_decisions(folder, Decisions(), kept(review, place))
    share_review(one, two, move=False)
    assert set(kept(review, 1).judgements) <= set(read_review(two).decisions.judgements)
    assert read_review(one).decisions == kept(review, 0)
    (two / REVIEW_FILE).write_text("{", encoding="utf-8")
    share_review(one, two, move=False)
    (aside,) = (path for path in tmp_path.iterdir() if path not in (one, two))
    assert (aside / REVIEW_FILE).read_text(encoding="utf-8") == "{"
    assert read_review(two).decisions == kept(review, 0)


def test_what_is_decided_while_the_archive_reviews_again_stays_decided(
    review: Review, take: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once while the take is analysed, and once more by another program while the new review takes the place of the old one."""
    from in_the_round.analysis_core import analyse
    from in_the_round.analysis_core.archive import page_of_review
    from in_the_round.analysis_core.archive.task import Job, review_take
    from in_the_round.analysis_core.settings import Settings

    folder = tmp_path / "reviews" / "take"
    write_review(review, folder)
    late: list[threading.Thread] = []

    def analysed(*_: object) -> Review:
        save_decisions(folder, Decisions(), kept(review, 0))
        return review

    def page(*_: object) -> None:
        late.append(threading.Thread(target=save_decisions, args=(folder, Decisions(), kept(review, 1))))
        late[0].start()
        time.sleep(0.1)

    monkeypatch.setattr(analyse, "analyse", analysed)
    monkeypatch.setattr(page_of_review, "write_page", page)
    assert review_take(Job(take, folder, tmp_path / "running", Settings(), "all"))["state"] == "done"
    late[0].join()
    assert set(read_review(folder).decisions.judgements) == {*kept(review, 0).judgements, *kept(review, 1).judgements}
    assert [path.name for path in folder.parent.iterdir()] == ["take"]
