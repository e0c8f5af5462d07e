"""Bringing the tables of an older record up to date."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from alembic import command
from alembic.config import Config

from ..errors import RecordError

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from .database import Store

FOLDER = Path(__file__).parent / "migrations"


def configuration(connection: Connection) -> Config:
    """What the migrations need, on a connection of ours."""
    config = Config()
    config.set_main_option("script_location", str(FOLDER).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def bring_up_to_date(store: Store, revision: str = "head") -> None:
    """Run the migrations that are missing, in one transaction. Raises RecordError when rows would lose what they hang on."""
    with store.engine.connect() as connection:
        if store.embedded:
            # Rebuilding a table deletes it first: with foreign keys on, everything that hangs on it would go, too. Said to the
            # driver, since inside a transaction, which the library would begin, this is ignored in silence.
            driver = connection.connection.driver_connection
            assert driver is not None
            driver.execute("PRAGMA foreign_keys=off")
        with connection.begin():
            command.upgrade(configuration(connection), revision)
            if store.embedded and connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
                raise RecordError(
                    f"{store.place.words} could not be brought up to date: rows hang on nothing. It was left as it is."
                )
