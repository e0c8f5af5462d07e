"""A watched folder on a file system that fails in every way: nothing raises, nobody waits, no half take opens. No Blender."""

from __future__ import annotations

import errno
import importlib
import os
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from in_the_round.folder_watch import Watch, Watcher


def after_first_look(folder: Path) -> Watch:
    watch = Watch(folder)
    assert watch.look() == []
    return watch


def test_only_takes_that_are_complete_open(tmp_path: Path) -> None:
    (tmp_path / "old.c3d").write_bytes(b"old")
    watch = after_first_look(tmp_path)
    new = tmp_path / "new.c3d"
    new.write_bytes(b"half")
    assert watch.look() == []
    new.write_bytes(b"half and the rest")
    assert watch.look() == []
    assert watch.look() == [new]
    assert watch.look() == []
    (tmp_path / "empty.c3d").touch()
    (tmp_path / "notes.txt").write_text("no take", encoding="utf-8")
    (tmp_path / ".unfinished.c3d").write_bytes(b"hidden")
    (tmp_path / "folder.c3d").mkdir()
    os.mkfifo(tmp_path / "pipe.c3d")
    (tmp_path / "nowhere.c3d").symlink_to(tmp_path / "nothing")
    for _ in range(3):
        assert watch.look() == []


def test_a_take_that_is_saved_again_opens_again_and_the_newest_comes_last(tmp_path: Path) -> None:
    watch = after_first_look(tmp_path)
    later, earlier = tmp_path / "a.c3d", tmp_path / "b.bvh"
    for path, when in ((later, 2_000_000_000), (earlier, 1_000_000_000)):
        path.write_bytes(b"take")
        os.utime(path, (when, when))
    watch.look()
    assert watch.look() == [earlier, later]
    later.write_bytes(b"another try")
    watch.look()
    assert watch.look() == [later]


def test_a_take_that_vanishes_between_two_looks_begins_anew(tmp_path: Path) -> None:
    """Catches a take that counts as still because it was the same size before it vanished."""
    watch = after_first_look(tmp_path)
    take = tmp_path / "take.c3d"
    take.write_bytes(b"half")
    os.utime(take, (5, 5))
    watch.look()
    take.unlink()
    assert watch.look() == []
    take.write_bytes(b"half")
    os.utime(take, (5, 5))
    assert watch.look() == []
    assert watch.look() == [take]


def test_a_take_that_vanishes_while_it_is_looked_at_is_passed_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    watch = after_first_look(tmp_path)
    for name in ("gone.c3d", "there.c3d"):
        (tmp_path / name).write_bytes(b"take")
    real = Path.stat

    def vanishing(path: Path, **more: bool) -> os.stat_result:
        if path.name == "gone.c3d":
            raise FileNotFoundError(errno.ENOENT, "gone")
        return real(path, **more)

    monkeypatch.setattr(Path, "stat", vanishing)
    watch.look()
    assert watch.look() == [tmp_path / "there.c3d"]


AWAY = [errno.ENOENT, errno.EACCES, errno.ENOTCONN, errno.ESTALE, errno.EIO, errno.ENOTDIR, errno.ETIMEDOUT]


@pytest.mark.parametrize("number", AWAY, ids=[errno.errorcode[number] for number in AWAY])
def test_a_folder_that_fails_is_told_and_nothing_opens_until_it_is_back(
    number: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Catches a look that fails and takes what it saw last for a take that held still: half a take would open."""
    watch = after_first_look(tmp_path)
    take = tmp_path / "take.c3d"
    take.write_bytes(b"half")
    assert watch.look() == []

    def failing(_path: Path) -> Iterator[Path]:
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as away:
        away.setattr(Path, "iterdir", failing)
        for _ in range(3):
            assert watch.look() == []
            assert watch.away == os.strerror(number)
    assert watch.look() == []
    assert watch.away == ""
    assert watch.look() == [take]


def test_a_folder_that_is_taken_away_and_put_back_opens_nothing_old(tmp_path: Path) -> None:
    folder = tmp_path / "takes"
    folder.mkdir()
    (folder / "old.c3d").write_bytes(b"old")
    watch = after_first_look(folder)
    folder.rename(tmp_path / "aside")
    assert watch.look() == []
    assert watch.away
    folder.write_text("a file in its place", encoding="utf-8")
    assert watch.look() == []
    assert watch.away
    folder.unlink()
    folder.mkdir()  # the bare place of a drive that is not there
    assert watch.look() == []
    folder.rmdir()
    (tmp_path / "aside").rename(folder)
    for _ in range(3):
        assert watch.look() == []


def test_a_folder_that_is_away_at_the_start_opens_nothing_old_when_it_comes(tmp_path: Path) -> None:
    folder = tmp_path / "takes"
    watch = after_first_look(folder)
    assert watch.away
    folder.mkdir()
    (folder / "old.c3d").write_bytes(b"old")
    for _ in range(3):
        assert watch.look() == []


def soon(is_so: Callable[[], bool], most_s: float = 30.0) -> bool:
    until = time.monotonic() + most_s
    while not is_so():
        if time.monotonic() > until:
            return False
        time.sleep(0.005)
    return True


def test_a_drive_that_hangs_keeps_nobody_waiting_and_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Catches a look on Blender's own thread: this test would hang with it."""
    hangs, let_go = threading.Event(), threading.Event()
    real = Path.iterdir

    def hanging(path: Path) -> Iterator[Path]:
        if path == tmp_path and hangs.is_set():
            let_go.wait(60)
        return real(path)

    monkeypatch.setattr(Path, "iterdir", hanging)
    monkeypatch.setattr("in_the_round.folder_watch._PATIENCE_S", 0.05)
    watcher = Watcher(tmp_path, every_s=0.01)
    try:
        assert watcher.answers_within(30)
        assert watcher.trouble() == ""
        hangs.set()
        assert soon(lambda: "has not answered since" in watcher.trouble())
        assert watcher.ready.empty()
        (tmp_path / "take.c3d").write_bytes(b"take")
        hangs.clear()
        let_go.set()
        assert soon(lambda: not watcher.ready.empty())
        assert watcher.ready.get() == tmp_path / "take.c3d"
        assert soon(lambda: watcher.trouble() == "")
    finally:
        watcher.stop()
        let_go.set()
    assert soon(lambda: not watcher._thread.is_alive())


def test_a_drive_that_hangs_from_the_start_is_not_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    let_go = threading.Event()
    monkeypatch.setattr(Path, "iterdir", lambda _path: iter(str(let_go.wait(60))[:0]))
    monkeypatch.setattr("in_the_round.folder_watch._PATIENCE_S", 0.0)
    watcher = Watcher(tmp_path)
    assert not watcher.answers_within(0.01)
    assert watcher.trouble() == "The folder has not answered. New takes open when it does."
    watcher.stop()
    let_go.set()
    assert soon(lambda: not watcher._thread.is_alive())


def test_a_defect_in_a_look_is_told_and_the_watch_goes_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as broken:
        broken.setattr(Path, "iterdir", lambda _path: 1 / 0)
        watcher = Watcher(tmp_path, every_s=0.01)
        assert watcher.answers_within(30)
        assert soon(lambda: "division by zero" in watcher.trouble())
    assert soon(lambda: watcher.trouble() == "")
    watcher.stop()
    assert soon(lambda: not watcher._thread.is_alive())


def test_the_module_of_the_watch_needs_no_blender() -> None:
    assert "bpy" not in vars(importlib.import_module("in_the_round.folder_watch"))
