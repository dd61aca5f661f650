"""Bring a store's database to this edition, whole or not at all."""

from __future__ import annotations

from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent


def upgrade(database: Path, application_id: int, edition: int) -> None:
    """Run the steps that are missing and note whose it is, in one transaction. Raises sqlite3.DatabaseError, OSError."""
    import sqlalchemy
    from alembic import command
    from alembic.config import Config

    engine = sqlalchemy.create_engine(
        sqlalchemy.URL.create("sqlite", database=str(database)), connect_args={"timeout": 20}
    )
    # SQLite's module ends a transaction before it changes a table; with its own hand on it, it does not
    sqlalchemy.event.listen(engine, "connect", _by_hand)
    sqlalchemy.event.listen(engine, "begin", _begun)
    config = Config()
    config.set_main_option("script_location", str(FOLDER).replace("%", "%%"))
    try:
        with engine.begin() as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
            connection.exec_driver_sql(f"PRAGMA application_id = {application_id:d}")
            connection.exec_driver_sql(f"PRAGMA user_version = {edition:d}")
    except sqlalchemy.exc.DBAPIError as error:
        raise (error.orig or error) from error
    finally:
        engine.dispose()


def _by_hand(connection: Any, _: Any) -> None:
    connection.isolation_level = None


def _begun(connection: Any) -> None:
    connection.exec_driver_sql("BEGIN IMMEDIATE")
