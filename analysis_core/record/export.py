"""Everything that is held of one dancer, in open formats, as a bag (BagIt, RFC 8493) in a zip file."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from sqlalchemy import Connection, Table, select

from ..wording import keeping as words
from ..write.files import whole_file
from . import schema as tables
from .dancers import dancer_of, log
from .takes import keep_files

_STEP = 1 << 20


@dataclass(frozen=True)
class Exported:
    """What was written. files: of the program; withheld: path and reason of each that was not put in."""

    file: Path
    rows: int
    files: int
    withheld: tuple[str, ...]


def rows_of(connection: Connection, dancer: int) -> dict[str, list[dict[str, Any]]]:
    """All rows that hang on a dancer, by table."""
    take, review, shown = tables.take, tables.review, tables.shown
    takes = select(take.c.id).where(take.c.dancer == dancer)
    reviews = select(review.c.id).where(review.c.take.in_(takes))
    queries: list[tuple[Table, Any]] = [
        (tables.dancer, tables.dancer.c.id == dancer),
        (tables.consent, tables.consent.c.dancer == dancer),
        (tables.session, tables.session.c.id.in_(select(take.c.session).where(take.c.dancer == dancer))),
        (take, take.c.dancer == dancer),
        (review, review.c.take.in_(takes)),
        (tables.measured, tables.measured.c.review.in_(reviews)),
        (tables.decision, tables.decision.c.take.in_(takes)),
        (tables.goal, tables.goal.c.dancer == dancer),
        (tables.mastered, tables.mastered.c.dancer == dancer),
        (tables.lesson, tables.lesson.c.dancer == dancer),
        (tables.artefact, tables.artefact.c.id.in_(select(shown.c.artefact).where(shown.c.dancer == dancer))),
        (shown, shown.c.dancer == dancer),
        (tables.event, tables.event.c.dancer == dancer),
    ]
    return {
        table.name: [dict(row._mapping) for row in connection.execute(select(table).where(condition))]
        for table, condition in queries
    }


def _files(connection: Connection, dancer: int) -> tuple[list[Path], list[str]]:
    """Files to put in, and what is withheld and why."""
    artefact, shown = tables.artefact, tables.shown
    join = select(artefact.c.id, artefact.c.path, artefact.c.kind).join(shown, shown.c.artefact == artefact.c.id)
    hers = connection.execute(join.where(shown.c.dancer == dancer)).all()
    with_others = shown.c.artefact.in_([row.id for row in hers]) & (shown.c.dancer != dancer)
    shared = set(connection.execute(select(shown.c.artefact).where(with_others)).scalars())
    put_in, withheld = [], []
    for row in hers:
        path = Path(row.path)
        if row.kind == "export":
            continue
        if row.id in shared:
            withheld.append(words.shows_another(path.name))
        elif not path.is_file():
            withheld.append(words.not_there(path.name))
        else:
            put_in.append(path)
    return put_in, withheld


def _table_text(rows: Sequence[Mapping[str, Any]], columns: Sequence[str]) -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def _description(name: str, rows: Mapping[str, Any]) -> str:
    """A data package (Frictionless Standards, 2024) that says what each table holds."""
    resources = []
    for table in (tables.metadata.tables[key] for key in rows):
        fields = [
            {"name": column.name, "type": {"INTEGER": "integer", "TEXT": "string"}.get(str(column.type), "number")}
            for column in table.columns
        ]
        resources.append({"name": table.name, "path": f"tables/{table.name}.csv", "schema": {"fields": fields}})
    return json.dumps({"name": name.lower().replace(" ", "-"), "resources": resources}, indent=1)


def _angles_text(path: Path) -> str:
    """The joint angles of a movement.npz as a table: time in seconds, then one column for each angle in degrees (heels in mm)."""
    with np.load(path, allow_pickle=False) as stored:
        times, names, angles = stored["time_s"], [str(name) for name in stored["angle_names"]], stored["angles_deg"]
    text = io.StringIO()
    np.savetxt(
        text, np.column_stack([times, angles]), fmt="%.6g", delimiter=",", header=",".join(["time_s", *names]), comments=""
    )
    return text.getvalue()


def _places(paths: Sequence[Path]) -> Iterator[tuple[Path, str]]:
    """Each file with its place in the bag: numbered folders, since the folders' own names may say more than they should."""
    folders = {folder: number for number, folder in enumerate(dict.fromkeys(path.parent for path in paths), start=1)}
    for path in paths:
        yield path, f"data/files/{folders[path.parent]}/{path.name}"


class _Bag:
    """A bag that is written into a zip file, with its checksums."""

    def __init__(self, packed: zipfile.ZipFile, name: str) -> None:
        self._packed, self._name = packed, name
        self._sums: dict[str, str] = {}
        self._size = 0

    def text(self, place: str, text: str) -> None:
        data = text.encode()
        self._sums[place] = hashlib.sha256(data).hexdigest()
        self._size += len(data)
        self._packed.writestr(f"{self._name}/{place}", data)

    def file(self, place: str, path: Path) -> None:
        digest = hashlib.sha256()
        with path.open("rb") as source, self._packed.open(f"{self._name}/{place}", "w", force_zip64=True) as target:
            while part := source.read(_STEP):
                digest.update(part)
                target.write(part)
                self._size += len(part)
        self._sums[place] = digest.hexdigest()

    def close(self, day: date) -> None:
        payload = {place: digest for place, digest in self._sums.items() if place.startswith("data/")}
        size = self._size
        self.text("bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")
        self.text("bag-info.txt", f"Bagging-Date: {day.isoformat()}\nPayload-Oxum: {size}.{len(payload)}\n")
        self.text("manifest-sha256.txt", "".join(f"{digest}  {place}\n" for place, digest in payload.items()))
        tags = "".join(f"{digest}  {place}\n" for place, digest in self._sums.items() if place not in payload)
        self.text("tagmanifest-sha256.txt", tags)


def export_dancer(connection: Connection, name: str, out: Path, *, today: date, overwrite: bool) -> Exported:
    """Write everything that is held of a dancer into a zip file, whole or not at all, and note that it was handed out.

    Raises RecordError for an unknown dancer, OutputError when the file is there already or cannot be written.
    """
    dancer = dancer_of(connection, name)
    rows = rows_of(connection, dancer.id)
    files, withheld = _files(connection, dancer.id)
    with whole_file(out, overwrite=overwrite) as temporary, zipfile.ZipFile(temporary, "w", zipfile.ZIP_DEFLATED) as packed:
        bag = _Bag(packed, dancer.pseudonym)
        bag.text("data/letter.txt", words.letter(dancer.pseudonym, today.isoformat()))
        bag.text("data/record.json", json.dumps(rows, ensure_ascii=False, indent=1))
        bag.text("data/datapackage.json", _description(dancer.pseudonym, rows))
        for table, held in rows.items():
            bag.text(
                f"data/tables/{table}.csv", _table_text(held, [column.name for column in tables.metadata.tables[table].columns])
            )
        for path, place in _places(files):
            bag.file(place, path)
            if path.name == "movement.npz":
                bag.text(f"{place.removesuffix('movement.npz')}joint_angles.csv", _angles_text(path))
        bag.text("data/withheld.txt", "".join(f"{line}\n" for line in withheld) or f"{words.NOTHING_WITHHELD}\n")
        bag.close(today)
    keep_files(connection, [dancer.id], [out], "export", today)
    log(connection, dancer.id, "exported", words.files(len(files)))
    return Exported(out, sum(len(held) for held in rows.values()), len(files), tuple(withheld))
