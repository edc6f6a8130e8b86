"""Bringing an older journal up to this schema; only looked at when the version is another."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path
from typing import Any

from futtock.errors import Unwritable
from futtock.yard import kinds, schema
from futtock.yard.doors import in_turn

_SCRIPTS = Path(__file__).parent / "migrations"
_ONE_AT_A_TIME = 7_150_409
"""Key of the server's lock under which one program at a time migrates."""


def bring_up(place: Path | str, to: str = schema.HEAD) -> None:
    """Bring the journal at a file or an address up to a version, all of it or nothing.

    A file is first copied whole to ``journal-before-VERSION.sqlite`` beside it.
    """
    import sqlalchemy as sa

    address = f"sqlite:///{place}" if isinstance(place, Path) else place
    engine = sa.create_engine(address)
    turn: contextlib.AbstractContextManager[Any] = contextlib.nullcontext()
    if isinstance(place, Path):
        _transactional(engine)
        turn = in_turn(place.parent / ".futtock" / "journal.lock")
    try:
        with turn, engine.begin() as connection:
            if not isinstance(place, Path):
                connection.execute(sa.text(f"SELECT pg_advisory_xact_lock({_ONE_AT_A_TIME})"))
            there = sa.inspect(connection).has_table("alembic_version")
            version = connection.execute(sa.text(schema.VERSION)).scalar() if there else None
            if version == to:
                return
            if isinstance(place, Path) and version is not None:
                _copy_whole(place, to)
            _run(connection, to)
    except sa.exc.DBAPIError as error:
        said = str(error.orig).strip().splitlines()[0]
        finding = kinds.CANNOT_WRITE.found(f"The journal could not be brought up: {said}.")
        raise Unwritable(f"The journal could not be brought up: {said}.", [finding]) from None
    finally:
        engine.dispose()


def _run(connection: Any, to: str) -> None:
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(_SCRIPTS).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, to)


def _transactional(engine: Any) -> None:
    """Make SQLite's changes of schema part of the transaction; its driver does not by itself."""
    import sqlalchemy as sa

    @sa.event.listens_for(engine, "connect")
    def _plain(connection: Any, _: Any) -> None:
        connection.isolation_level = None

    @sa.event.listens_for(engine, "begin")
    def _begin(connection: Any) -> None:
        connection.exec_driver_sql("BEGIN IMMEDIATE")


def _copy_whole(path: Path, to: str) -> None:
    target = path.with_name(f"{path.stem}-before-{to}{path.suffix}")
    number = 1
    while target.exists():
        number += 1
        target = path.with_name(f"{path.stem}-before-{to}-{number}{path.suffix}")
    with (
        contextlib.closing(sqlite3.connect(path)) as source,
        contextlib.closing(sqlite3.connect(target)) as copy,
    ):
        source.backup(copy)
