"""The record on disk: nothing acknowledged is lost, nothing deleted is left, and what goes wrong becomes a sentence."""

from __future__ import annotations

import ctypes
import json
import math
import multiprocessing
import os
import shutil
import sqlite3
import stat
import statistics
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import suppress
from datetime import date, timedelta
from pathlib import Path

import pytest
from in_the_round.analysis_core.errors import InTheRoundError, OutputError, RecordError
from in_the_round.analysis_core.record import names, schema, store
from in_the_round.analysis_core.record.dancers import Given, dancer_of, give_consent, withdraw
from in_the_round.analysis_core.record.deletion import delete_dancer, delete_made_for, finish_deletions
from in_the_round.analysis_core.record.export import export_dancer
from in_the_round.analysis_core.record.folders import read_folder
from in_the_round.analysis_core.record.names import open_names
from in_the_round.analysis_core.record.overview import due, overview
from in_the_round.analysis_core.record.places import place_of
from in_the_round.analysis_core.record.proof import Search, found_in
from in_the_round.analysis_core.record.pseudonyms import draw, words
from in_the_round.analysis_core.record.repeatability import repeatability_of
from in_the_round.analysis_core.record.series import progress_of
from in_the_round.analysis_core.record.store import Store, copies_of, open_store, save_copy
from in_the_round.analysis_core.record.takes import When, add_take, keep_files, takes_of
from sqlalchemy import func, select, text

from .made_record import NOTE, WORDS, make_folder, measured

TODAY = date(2027, 3, 1)
NAME, OTHER = "amber-heron", "birch-wren"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "school" / "record.db"


@pytest.fixture
def opened(file: Path) -> Iterator[Store]:
    with open_store(place_of(file), today=TODAY) as record:
        yield record


def consent(record: Store, name: str = NAME, **more: object) -> None:
    given = Given(**{"until": TODAY + timedelta(days=365), "assent": "yes", **more})
    with record.begin() as connection:
        give_consent(connection, name, given, TODAY)


def add(record: Store, folder: Path, name: str = NAME, *, day: date = TODAY, again: bool = False) -> str:
    secret = record.secret()
    with record.begin() as connection:
        dancer = dancer_of(connection, name)
        return add_take(
            connection, dancer, read_folder(folder), When(day, "", "spring", "adagio"), secret=secret, today=TODAY, again=again
        )


def count(record: Store, table: str) -> int:
    with record.read() as connection:
        return int(connection.execute(select(func.count()).select_from(schema.metadata.tables[table])).scalar_one())


def test_no_take_without_a_consent_that_holds(opened: Store, tmp_path: Path) -> None:
    """None, not the child's, ended, withdrawn, come of age: each is refused with its reason, and nothing is entered."""
    folder = make_folder(tmp_path / "t1", [measured(31.0)])
    with pytest.raises(RecordError, match="no dancer"):
        add(opened, folder)
    consent(opened, purpose="publish")
    with pytest.raises(RecordError, match="none for 'review'"):
        add(opened, folder)
    consent(opened, assent="no")
    with pytest.raises(RecordError, match="did not agree"):
        add(opened, folder)
    consent(opened)
    assert add(opened, folder) == "added"
    with opened.begin() as connection:
        withdraw(connection, NAME, "review", TODAY)
    with pytest.raises(RecordError, match="withdrawn"):
        add(opened, make_folder(tmp_path / "t2", []))
    consent(opened, OTHER, adult_on=TODAY)
    with pytest.raises(RecordError, match="came of age"):
        add(opened, folder, OTHER)
    assert count(opened, "take") == 1


def test_the_same_content_is_held_once_and_decisions_are_renewed(opened: Store, tmp_path: Path) -> None:
    consent(opened)
    folder = make_folder(tmp_path / "t1", [measured(31.0)])
    assert [add(opened, folder), add(opened, folder)] == ["added", "there already"]
    make_folder(folder, [measured(31.0)], decisions={"judgements": [], "own": [], "links": []})
    assert add(opened, folder) == "reviewed again"
    assert (count(opened, "take"), count(opened, "review"), count(opened, "decision")) == (1, 1, 0)
    make_folder(folder, [measured(30.0)], measures_version="v2")
    assert add(opened, folder) == "reviewed again"
    assert (count(opened, "take"), count(opened, "review")) == (1, 2)


def test_progress_compares_what_was_measured_alike(opened: Store, tmp_path: Path) -> None:
    """Same phrase, step and measures over three days; a take by other measures is named, not compared."""
    consent(opened)
    for number, value in enumerate((31.0, 29.0, 12.0)):
        add(opened, make_folder(tmp_path / f"t{number}", [measured(value)]), day=TODAY + timedelta(days=7 * number))
    add(opened, make_folder(tmp_path / "old", [measured(50.0)], measures_version="v0"), day=TODAY - timedelta(days=90))
    add(opened, make_folder(tmp_path / "t9", [measured(13.0)]), day=TODAY + timedelta(days=14))
    with opened.read() as connection:
        report = progress_of(connection, dancer_of(connection, NAME).id)
    (series,) = report.series
    assert [item.n for item in series.sessions] == [3, 3, 6]
    assert series.sessions[-1].value == pytest.approx(12.5)
    assert series.claim == "may be better"
    assert report.review_again == ("old.c3d",)


def test_how_well_the_studio_measures(opened: Store, tmp_path: Path) -> None:
    """Ten dancers twice within a week, differences of 1 or 3 mm: the standard error is their SD over the square root of 2. A
    tenth pair makes it known, a pair a month apart does not."""
    for number in range(10):
        name = f"dancer-{number}"
        consent(opened, name)
        days = (0, 30) if number == 9 else (0, 7)
        for day, value in zip(days, (20.0 + number, 21.0 + number + 2 * (number % 2)), strict=True):
            folder = make_folder(tmp_path / f"{number}-{day}", [measured(value)])
            add(opened, folder, name, day=TODAY + timedelta(days=day))
    with opened.read() as connection:
        assert repeatability_of(connection) == ()
    add(opened, make_folder(tmp_path / "late", [measured(26.0)]), "dancer-9", day=TODAY + timedelta(days=35))
    with opened.read() as connection:
        (found,) = repeatability_of(connection, fault="heel-lifts-early")
        assert repeatability_of(connection, fault="arms-drop") == ()
    differences = [1.0 + 2 * (number % 2) for number in range(9)] + [26.0 - 32.0]
    assert found.found.sem == pytest.approx(statistics.stdev(differences) / math.sqrt(2))
    assert (found.unit, found.found.dancers) == ("mm", 10)


def test_due(opened: Store) -> None:
    """What ends within thirty days, what has been withdrawn, who comes of age: each with its day; the rest is silent."""
    consent(opened, until=TODAY + timedelta(days=20))
    consent(opened, OTHER)
    consent(opened, "clay-robin", adult_on=TODAY + timedelta(days=5))
    with opened.read() as connection:
        found = {(item.pseudonym, item.what) for item in due(connection, TODAY)}
    assert found == {
        (NAME, "kept until"),
        (NAME, "consent for review ends"),
        ("clay-robin", "comes of age and has to be asked"),
    }
    with opened.begin() as connection:
        withdraw(connection, OTHER, "review", TODAY)
    with opened.read() as connection:
        assert (OTHER, "kept until") in {(item.pseudonym, item.what) for item in due(connection, TODAY)}
        assert [line.consent_until for line in overview(connection, TODAY) if line.dancer.pseudonym == OTHER] == [None]


def test_withdrawing_one_purpose_takes_what_was_made_for_it_alone(opened: Store, tmp_path: Path) -> None:
    """A film made for publishing goes and is said; a film without a purpose, the review and another dancer's film stay. What
    could not be deleted is due by name until it is gone, and the consent is withdrawn all the same."""
    for name in (NAME, OTHER):
        consent(opened, name)
        consent(opened, name, purpose="publish")
    folder = make_folder(tmp_path / "t1", [measured(31.0)])
    add(opened, folder)
    films = [tmp_path / f"{name}.mp4" for name in ("public", "plain", "other")]
    for film in films:
        film.write_bytes(b"film")
    stuck = tmp_path / "stuck"
    stuck.mkdir()
    with opened.begin() as connection:
        keep_files(connection, [1], [films[0], stuck], "made", TODAY, "publish")
        keep_files(connection, [1], films[1:2], "made", TODAY)
        keep_files(connection, [2], films[2:], "made", TODAY, "publish")
        withdraw(connection, NAME, "publish", TODAY)
    with pytest.raises(OutputError, match="is withdrawn, but a file made for it cannot be deleted"):
        delete_made_for(opened, 1, "publish")
    with opened.read() as connection:
        (left,) = (item for item in due(connection, TODAY) if "publish" in item.what)
        assert str(stuck) in left.do
    stuck.rmdir()
    delete_made_for(opened, 1, "publish")
    assert [film.exists() for film in films] == [False, True, True]
    assert (folder / "review.json").exists()
    with opened.read() as connection:
        assert not [item for item in due(connection, TODAY) if "publish" in item.what]
        assert dancer_of(connection, NAME).retain_until > TODAY


def _everything(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def test_deletion_leaves_no_byte(file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Files, rows, write-ahead log, safety copies and names book, with deletion by zeroes switched off before.

    This system's SQLite deletes with zeroes by itself and most others do not: without switching it off this test would prove
    nothing. Searched with bytes.find, not with the program's own search.
    """
    # What a guess of the passphrase costs is not what is asked here.
    monkeypatch.setattr(names, "_COST", 2**8)
    monkeypatch.setattr(
        store, "_PRAGMAS", tuple(item.replace("secure_delete=on", "secure_delete=off") for item in store._PRAGMAS)
    )
    with open_store(place_of(file), today=TODAY) as record:
        consent(record, note="Paper in the red folder")
        consent(record, OTHER)
        for number in range(12):
            add(record, make_folder(tmp_path / "hers" / f"t{number}", [measured(31.123456 + number)]))
        kept = make_folder(tmp_path / "others" / "t1", [measured(21.654321)])
        make_folder(kept, [measured(21.654321)], decisions={})
        add(record, kept, OTHER)
        film = tmp_path / "both.mp4"
        film.write_bytes(b"film of two")
        recording = tmp_path / "hers" / "t1.c3d"
        with record.begin() as connection:
            keep_files(connection, [1, 2], [film], "film", TODAY)
        book = open_names(record.place.names, "three random words")
        book.names |= {NAME: "Wilhelmina Invented", OTHER: "Other Person"}
        book.write()
        save_copy(record, "asked for", TODAY)
        before = _everything(file.parent)
        needles = [
            NAME.encode(),
            NOTE.encode(),
            WORDS.encode(),
            b"red folder",
            read_folder(tmp_path / "hers" / "t3").take.sha256.encode(),
        ]
        assert all(needle in before for needle in needles)
        done = delete_dancer(record, NAME, reason="asked for", today=TODAY, book=book)
        with sqlite3.connect(f"file:{file}?mode=ro", uri=True) as looked:
            assert looked.execute("PRAGMA quick_check").fetchone() == ("ok",)
        looked.close()
        assert done.clean
        assert done.proof.patterns > 40
        assert (done.takes, done.copies) == (12, 1)
        assert done.elsewhere[0].startswith("t0.c3d")
    assert not film.exists()
    assert not recording.exists()
    assert not (tmp_path / "hers").exists() or not any((tmp_path / "hers").rglob("*"))
    assert (kept / "review.json").exists()
    after = _everything(file.parent)
    assert [needle for needle in needles if needle in after] == []
    assert open_names(place_of(file).names, "three random words").names == {OTHER: "Other Person"}
    with open_store(place_of(file), today=TODAY) as record:
        assert (count(record, "dancer"), count(record, "take"), count(record, "erased")) == (1, 1, 1)
        with record.read() as connection:
            assert connection.execute(select(schema.event.c.what).where(schema.event.c.what.like("%another dancer%"))).all()
            assert not connection.execute(select(schema.event).where(schema.event.c.dancer == 1)).all()
        consent(record)
        with pytest.raises(RecordError, match="was deleted from this record"):
            add(record, make_folder(tmp_path / "hers" / "t3", [measured(34.123456)]))
        assert add(record, tmp_path / "hers" / "t3", again=True) == "added"


def test_the_search_finds_what_is_left(opened: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A deletion whose pages are not given back must be told as unclean: proof that the proof can fail."""
    monkeypatch.setattr(
        store, "_PRAGMAS", tuple(item.replace("secure_delete=on", "secure_delete=off") for item in store._PRAGMAS)
    )
    monkeypatch.setattr("in_the_round.analysis_core.record.deletion._give_back_pages", lambda record: True)
    with open_store(opened.place, today=TODAY) as record:
        consent(record)
        add(record, make_folder(tmp_path / "t1", [measured(31.123456)]))
        assert not delete_dancer(record, NAME, reason="asked for", today=TODAY).clean


@pytest.mark.parametrize("shift", range(9))
def test_the_search_looks_at_every_offset(shift: int) -> None:
    """Long and short patterns, at each place within a word and at the end, packed as the database packs numbers."""
    search = Search()
    search.add_text("amber-heron")
    search.add_text("Anna")
    search.add_number(31.123456)
    search.add_number(8.0)
    assert len(search.patterns) == 5
    for pattern in search.patterns:
        assert found_in(bytes(shift) + pattern, search.patterns) >= {pattern}
        assert found_in(bytes(shift) + pattern[:-1], search.patterns - {pattern[:-1]}) == set()


def test_what_lies_elsewhere_is_named(opened: Store, tmp_path: Path) -> None:
    """The recording beside the review and the ledger of the archive above it stay, and are said."""
    from in_the_round.analysis_core.archive.ledger import FILE

    consent(opened)
    (tmp_path / "archive").mkdir()
    recording, ledger = tmp_path / "archive" / "t1.c3d", tmp_path / "archive" / FILE
    recording.write_bytes(b"recording")
    ledger.write_bytes(b"ledger")
    add(opened, make_folder(tmp_path / "archive" / "t1", [measured(31.0)]))
    done = delete_dancer(opened, NAME, reason="asked for", today=TODAY)
    assert [line.partition(" (")[0] for line in done.elsewhere] == [str(ledger), str(recording)]
    assert recording.exists()
    assert ledger.exists()


def test_a_deletion_that_was_cut_off_is_finished(opened: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Killed after the rows were gone: the next opening empties log and copies."""
    consent(opened)
    add(opened, make_folder(tmp_path / "t1", [measured(31.123456)]))
    save_copy(opened, "asked for", TODAY)

    def killed(*_: object) -> tuple[int, bool]:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr("in_the_round.analysis_core.record.deletion._tidy", killed)
        with pytest.raises(KeyboardInterrupt):
            delete_dancer(opened, NAME, reason="asked for", today=TODAY)
    assert NOTE.encode() in _everything(opened.place.copies)
    assert finish_deletions(opened, TODAY)
    assert not finish_deletions(opened, TODAY)
    assert NOTE.encode() not in _everything(opened.place.copies)


#: Adds takes one after the other and tells of each; run by ``_Writer``, which says what is named here in capitals.
WRITER = """
import sys
from datetime import date
from pathlib import Path
sys.path.insert(0, TESTS)
from core.made_record import make_folder, measured
from in_the_round.analysis_core.record.dancers import dancer_of
from in_the_round.analysis_core.record.folders import read_folder
from in_the_round.analysis_core.record.places import place_of
from in_the_round.analysis_core.record.store import open_store
from in_the_round.analysis_core.record.takes import When, add_take
entries = [measured(20.0 + n, step=f"step {n}") for n in range(40)]
with open_store(place_of(DATABASE)) as record:
    secret = record.secret()
    for number in range(TAKES):
        reviewed = read_folder(make_folder(Path(FOLDER) / f"t{number}", entries))
        with record.begin() as connection:
            dancer, day = dancer_of(connection, DANCER), date(2027, 3, 1)
            add_take(connection, dancer, reviewed, When(day), secret=secret, today=day)
        TOLD.send(number)
"""


class _Writer:
    """A process that adds takes for a dancer: a copy of one that has loaded what it needs, for loading takes longer."""

    def __init__(self, database: object, name: str, folder: Path, takes: int) -> None:
        processes = multiprocessing.get_context("forkserver")
        processes.set_forkserver_preload([f"in_the_round.analysis_core.record.{part}" for part in ("store", "takes", "folders")])
        self.told, tell = processes.Pipe(duplex=False)
        said = {"DATABASE": str(database), "DANCER": name, "FOLDER": str(folder), "TAKES": takes, "TOLD": tell}
        tests = str(Path(__file__).parent.parent)
        self.process = processes.Process(target=exec, args=(WRITER, {**said, "TESTS": tests, "__name__": "writer"}), daemon=True)
        self.process.start()
        tell.close()

    def kill(self) -> None:
        """kill -9."""
        self.process.kill()

    def to_the_end(self) -> int:
        """How many more takes it tells of until it is over, or gone."""
        count = 0
        with suppress(EOFError):
            while self.told.recv() is not None:
                count += 1
        self.told.close()
        self.process.join(60)
        return count


def _whole(record: Store) -> int:
    """How many takes there are; each must have its review and all of its values."""
    assert count(record, "review") == count(record, "take")
    assert count(record, "measured") == 40 * count(record, "take")
    return count(record, "take")


def test_nothing_acknowledged_is_lost_when_a_writer_is_killed(opened: Store, tmp_path: Path) -> None:
    """kill -9 in the middle of writing, three times: each take that was said to be in is in, whole."""
    consent(opened)
    acknowledged = 0
    for run, lines in enumerate((2, 9, 17)):
        writer = _Writer(opened.place.file, NAME, tmp_path / f"run{run}", 10_000)
        for _ in range(lines):
            writer.told.recv()
        writer.kill()
        acknowledged += lines + writer.to_the_end()
        assert acknowledged <= _whole(opened) <= acknowledged + run + 1


def test_two_writers_at_once(opened: Store, tmp_path: Path) -> None:
    consent(opened)
    consent(opened, OTHER)
    writers = [_Writer(opened.place.file, name, tmp_path / name, 15) for name in (NAME, OTHER)]
    for writer in writers:
        assert (writer.to_the_end(), writer.process.exitcode) == (15, 0)
    assert _whole(opened) == 30


def _older(file: Path) -> None:
    """A record as the first version wrote it, with one take and all that hangs on it."""
    from in_the_round.analysis_core.record.migrate import bring_up_to_date
    from in_the_round.analysis_core.record.store import APPLICATION_ID, _embedded_engine

    file.parent.mkdir(parents=True, exist_ok=True)
    record = Store(place_of(file), _embedded_engine(file, immutable=False))
    with record.engine.connect() as connection:
        connection.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")
        connection.commit()
    bring_up_to_date(record, "0001")
    with record.engine.begin() as connection:
        for line in (
            "INSERT INTO about VALUES ('secret', '00ff')",
            "INSERT INTO dancer (id, pseudonym, retain_until, created_on) VALUES (1, 'amber-heron', '2028-01-01', '2026-01-01')",
            "INSERT INTO session (id, day) VALUES (1, '2026-02-01')",
            "INSERT INTO take (id, dancer, session, sha256, file, kind, verdict) "
            "VALUES (1, 1, 1, 'aa', 'a.c3d', 'markers', 'good')",
            "INSERT INTO review (id, take, sha256, measures_version, level, folder, made_on) "
            "VALUES (1, 1, 'bb', 'v', '', '', '2026-02-01')",
            "INSERT INTO measured (review, fault, measure, n, value, unit, outside) "
            "VALUES (1, 'low-jump', 'height', 1, 0.2, 'm', 1)",
            "INSERT INTO decision (take, fault, decision, day) VALUES (1, 'low-jump', 'kept', '2026-02-01')",
        ):
            connection.execute(text(line))
    record.close()


def test_an_older_record_is_copied_and_brought_up_to_date(file: Path) -> None:
    """Rebuilding ``take`` must keep all that hangs on it: with foreign keys on, review, values and decision would be gone."""
    _older(file)
    with open_store(place_of(file), today=TODAY) as record:
        assert {name: count(record, name) for name in ("take", "review", "measured", "decision")} == dict.fromkeys(
            ("take", "review", "measured", "decision"), 1
        )
        with record.read() as connection:
            assert takes_of(connection, 1)[0].file == "a.c3d"
            assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1
        (copy,) = copies_of(record.place)
    with sqlite3.connect(copy) as looked:
        assert looked.execute("SELECT version_num FROM alembic_version").fetchone() == ("0001",)
    looked.close()


def test_migrations_and_tables_are_the_same(file: Path) -> None:
    """What the migrations build is what the schema says, and the newest of them is the revision that is looked for."""
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext
    from alembic.script import ScriptDirectory
    from in_the_round.analysis_core.record.migrate import configuration

    _older(file)
    with open_store(place_of(file), today=TODAY) as record, record.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), schema.metadata) == []
        assert ScriptDirectory.from_config(configuration(connection)).get_current_head() == store.REVISION


def _says(path: Path) -> str:
    with pytest.raises(InTheRoundError) as caught, open_store(place_of(path), today=TODAY):
        pass
    return str(caught.value)


def test_what_is_no_record_is_left_as_it_is(file: Path, opened: Store, tmp_path: Path) -> None:
    """Garbage, another program's database, a newer one, a folder: each a sentence with the file's name, not a byte changed."""
    consent(opened)
    opened.close()
    damaged, foreign, newer = tmp_path / "damaged.db", tmp_path / "foreign.db", tmp_path / "newer.db"
    data = file.read_bytes()
    damaged.write_bytes(data[:100] + b"\xff" * 4000 + data[4100:])
    with sqlite3.connect(foreign) as made:
        made.execute("CREATE TABLE songs (id)")
    made.close()
    shutil.copy(file, newer)
    with sqlite3.connect(newer) as made:
        made.execute("UPDATE alembic_version SET version_num = '9999'")
    made.close()
    before = {path: path.read_bytes() for path in (damaged, foreign, newer)}
    assert "damaged" in _says(damaged)
    assert "another program" in _says(foreign)
    assert "newer version" in _says(newer)
    assert "is a folder" in _says(tmp_path)
    assert {path: path.read_bytes()[100:] for path in before} == {path: content[100:] for path, content in before.items()}


def test_a_full_disk(opened: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The database's own "disk is full": nothing half-written, what was there stays, and deleting is not told as done."""
    consent(opened)
    assert add(opened, make_folder(tmp_path / "t0", [measured(31.0)])) == "added"
    with opened.read() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
    monkeypatch.setattr(store, "_PRAGMAS", (*store._PRAGMAS, f"max_page_count={pages}"))
    with open_store(opened.place, today=TODAY) as record:
        with pytest.raises(OutputError, match="disk is full"):
            add(record, make_folder(tmp_path / "t1", [measured(float(n), step=f"s{n}") for n in range(3000)]))
        assert (count(record, "take"), count(record, "measured")) == (1, 1)


#: On a disk of its own: add until it is full, then everything else; what is said goes to a file.
ON_A_FULL_DISK = """
import json, os, subprocess, sys
from pathlib import Path
sys.path.insert(0, {tests!r})
from core import test_record_store as record
from core.made_record import make_folder, measured
from in_the_round.analysis_core.errors import OutputError
from in_the_round.analysis_core.record.deletion import delete_dancer
from in_the_round.analysis_core.record.places import place_of
from in_the_round.analysis_core.record.store import open_store, save_copy
disk, reviews, said = Path(sys.argv[1]), Path(sys.argv[2]), {{}}
def on(act):
    with open_store(place_of(disk / "record.db"), today=record.TODAY) as store:
        try:
            return act(store)
        except OutputError as error:
            return str(error)
def reviewed(name):
    return make_folder(reviews / name, [measured(31.123456 + n, step=f"s{{n}}") for n in range(250)])
def state(store):
    with store.read() as connection:
        whole = connection.exec_driver_sql("PRAGMA integrity_check").scalar()
    return [*(record.count(store, table) for table in ("dancer", "take", "measured")), whole]
on(record.consent)
said["added"] = 0
while on(lambda store: record.add(store, reviewed(f"t{{said['added']}}"))) == "added":
    said["added"] += 1
filler = os.open(disk / "filler", os.O_CREAT | os.O_WRONLY)
try:
    while True:
        os.write(filler, bytes(512))
except OSError:
    os.close(filler)
said["state"] = on(state)
said["add"] = on(lambda store: record.add(store, reviewed("more")))
said["copy"] = on(lambda store: str(save_copy(store, "asked for", record.TODAY)))
said["delete"] = on(lambda store: delete_dancer(store, record.NAME, reason="r", today=record.TODAY).clean)
said["after"] = on(state)
said["files"] = len([folder for folder in reviews.iterdir() if (folder / "review.json").exists()])
subprocess.run(["mount", "-o", "remount,size=8m", disk], check=True)
said["with room"] = on(lambda store: delete_dancer(store, record.NAME, reason="r", today=record.TODAY).clean)
Path(sys.argv[3]).write_text(json.dumps(said))
"""


def test_a_disk_that_is_full_to_the_last_byte(tmp_path: Path) -> None:
    """A real one of 500 kB, in a name space of its own: adding, copying and deleting each get a sentence, every take that was
    said to be in is in, no file of hers is gone while her rows are there, and with room again the deletion is whole.

    Catches a deletion that deletes the files first and finds out afterwards, and errors of the database that nobody words.
    """
    disk, reviews, outcome = tmp_path / "disk", tmp_path / "reviews", tmp_path / "said.json"
    disk.mkdir()
    reviews.mkdir()
    alone = ["unshare", "--user", "--map-root-user", "--mount"]
    mount = f"mount -t tmpfs -o size=500k none {disk}"
    if (
        shutil.which("unshare") is None
        or subprocess.run([*alone, "sh", "-c", mount], capture_output=True, check=False).returncode
    ):
        pytest.skip("no disk of one's own can be made here (unshare of name spaces is not allowed)")
    code = ON_A_FULL_DISK.format(tests=str(Path(__file__).parent.parent))
    script = tmp_path / "script.py"
    script.write_text(code, encoding="utf-8")
    words = f"{mount} && exec '{sys.executable}' '{script}' '{disk}' '{reviews}' '{outcome}'"
    done = subprocess.run([*alone, "sh", "-c", words], capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stderr
    said = json.loads(outcome.read_text(encoding="utf-8"))
    assert said["added"] > 2
    assert said["state"] == said["after"] == [1, said["added"], 250 * said["added"], "ok"]
    assert "the disk is full" in said["add"]
    assert "No copy could be written" in said["copy"]
    assert "nothing was deleted" in said["delete"]
    assert said["files"] == said["added"] + 2
    assert said["with room"] is True


def _without_override() -> None:
    """Even root then has only the rights that a file gives (prctl PR_CAPBSET_DROP, CAP_DAC_OVERRIDE; from memory)."""
    if os.geteuid() == 0:
        ctypes.CDLL(None).prctl(24, 1, 0, 0, 0)


#: One after the other in a process that has no right to write: code, output and errors of each.
THREE_COMMANDS = """
import contextlib, io, json, sys
from in_the_round.command_line.__main__ import main
said = []
for words in (["show"], ["consent", "--until", "2099-01-01"], ["delete", "--yes"]):
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(["record", words[0], sys.argv[1], *words[1:], "--database", "record.db"])
    said.append([code, out.getvalue(), err.getvalue()])
print(json.dumps(said))
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="rights are taken away by a call of Linux")
def test_a_record_that_can_only_be_read() -> None:
    """Readable without any right to write, and a sentence when something is to be written."""
    folder = Path(tempfile.mkdtemp(prefix="record-"))
    try:
        with open_store(place_of(folder / "record.db"), today=TODAY) as record:
            consent(record)
        (folder / "record.db").chmod(stat.S_IRUSR | stat.S_IRGRP | stat.S_IROTH)
        folder.chmod(0o555)
        done = subprocess.run(
            [sys.executable, "-c", THREE_COMMANDS, NAME],
            cwd=folder,
            capture_output=True,
            text=True,
            check=True,
            preexec_fn=_without_override,
        )
        shown, *refused = json.loads(done.stdout)
        assert "kept until" in shown[1], shown[2]
        assert [code for code, _, _ in refused] == [2, 2]
        assert all("only be read" in said for _, _, said in refused)
    finally:
        folder.chmod(0o755)
        shutil.rmtree(folder)


def test_a_copy_is_whole_and_old_ones_go(opened: Store) -> None:
    """At most three; a copy made while the record is open opens by itself, without its log."""
    consent(opened)
    for _ in range(4):
        path = save_copy(opened, "asked for", date.today())
    assert len(copies_of(opened.place)) == 3
    with open_store(place_of(path), today=TODAY) as copy:
        assert count(copy, "dancer") == 1
    assert [item.name for item in opened.place.copies.iterdir() if item.name.startswith(".unfinished")] == []


def test_export_holds_everything_and_opens_with_the_standard_library(opened: Store, tmp_path: Path) -> None:
    """A bag by RFC 8493: every checksum true; the film with another dancer withheld and said."""
    import csv
    import hashlib
    import io
    import json

    consent(opened)
    consent(opened, OTHER)
    add(opened, make_folder(tmp_path / "t1", [measured(31.0)]))
    film = tmp_path / "both.mp4"
    film.write_bytes(b"film of two")
    with opened.begin() as connection:
        keep_files(connection, [1, 2], [film], "film", TODAY)
        done = export_dancer(connection, NAME, tmp_path / "x.zip", today=TODAY, overwrite=False)
    assert done.withheld == ("both.mp4: it shows another dancer, too",)
    with zipfile.ZipFile(tmp_path / "x.zip") as packed:
        lines = packed.read(f"{NAME}/manifest-sha256.txt").decode().splitlines()
        for line in lines:
            digest, place = line.split("  ", 1)
            assert hashlib.sha256(packed.read(f"{NAME}/{place}")).hexdigest() == digest
        assert {f"{NAME}/{line.split('  ', 1)[1]}" for line in lines} == {name for name in packed.namelist() if "/data/" in name}
        held = json.loads(packed.read(f"{NAME}/data/record.json"))
        table = list(csv.DictReader(io.StringIO(packed.read(f"{NAME}/data/tables/measured.csv").decode())))
        everything = packed.read(f"{NAME}/data/files/1/review.json")
    assert everything == (tmp_path / "t1" / "review.json").read_bytes()
    assert [row["value"] for row in table] == ["31.0"]
    assert len(held["consent"]) == len(held["take"]) == 1
    assert OTHER not in json.dumps(held)


def test_names_are_read_with_the_passphrase_only(tmp_path: Path) -> None:
    book = open_names(tmp_path / "r.names", "three random words")
    book.names[NAME] = "Wilhelmina Invented"
    book.write()
    assert b"Wilhelmina" not in (tmp_path / "r.names").read_bytes()
    assert open_names(tmp_path / "r.names", "three random words").pseudonym_of(" wilhelmina invented ") == NAME
    with pytest.raises(RecordError, match="passphrase does not open"):
        open_names(tmp_path / "r.names", "three random worms")
    with pytest.raises(RecordError, match="at least"):
        open_names(tmp_path / "new.names", "short")


def test_pseudonyms() -> None:
    """Two lists of 128 different words; a taken one is never drawn."""
    first, second = words()
    assert len(set(first)) == len(set(second)) == 128
    half = {f"{a}-{b}" for a in first[:64] for b in second}
    assert all(draw(half).partition("-")[0] in first[64:] for _ in range(50))


def test_the_core_never_loads_the_database_library() -> None:
    """18 MB that Blender's process must not pay for."""
    look = "import sys, in_the_round.analysis_core.analyse, in_the_round.analysis_core.record; print('sqlalchemy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", look], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
