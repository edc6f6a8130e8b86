"""The one way to a database: SQLite by the standard library, any other by SQLAlchemy.

A door runs the statements of :mod:`futtock.yard.schema` and turns what a database may say into
the errors of this package. SQLite is opened without SQLAlchemy because an entry from the command
line has to be acknowledged in half a second.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

from futtock.errors import Unavailable, Unreadable, Unwritable
from futtock.yard import kinds

_WAIT_SECONDS = 30.0
_DAMAGE = ("malformed", "not a database", "Could not decode")


class Broken(Exception):
    """The SQLite file is damaged or no database; caught where it can be made good."""


class Door(Protocol):
    """What the journal asks of a database."""

    def version(self) -> str | None:
        """Version of the schema; None where there is none yet."""
        ...

    def rows(
        self, statement: str, values: Mapping[str, Any] | None = None
    ) -> list[tuple[Any, ...]]:
        """All rows of a question."""
        ...

    def run(self, statement: str, many: Sequence[Mapping[str, Any]]) -> None:
        """A statement for each set of values."""
        ...

    def turn(self) -> contextlib.AbstractContextManager[list[Callable[[], None]]]:
        """One writer's turn: everything in it is kept, durably, or nothing is.

        What is put on the list that it gives is done once everything is kept, still in turn.
        """
        ...

    def close(self) -> None:
        """Let go of the database."""
        ...


class SqliteDoor:
    """A journal in one file, write-ahead logged, each entry synced to disk before it is told."""

    def __init__(self, path: Path, statements: Sequence[str] = ()) -> None:
        """Open ``path``; ``statements`` make a new database where there is none."""
        self.path = path
        self._lock = path.parent / ".futtock" / "journal.lock"
        _check_length(path)
        with _told(path):
            self._db = sqlite3.connect(
                path, timeout=_WAIT_SECONDS, isolation_level=None, check_same_thread=False
            )
            try:
                self._db.execute("PRAGMA synchronous=FULL")
                self._node = _node(path)
                if statements and self.version() is None:
                    self._make(statements)
            except BaseException:
                self._db.close()
                raise

    def _make(self, statements: Sequence[str]) -> None:
        with in_turn(self._lock):
            if self.version() is not None:
                return
            _patiently(lambda: self._db.execute("PRAGMA journal_mode=WAL").fetchall())
            self._db.execute("BEGIN IMMEDIATE")
            try:
                if self.version() is None:
                    for statement in statements:
                        self._db.execute(statement)
                self._db.execute("COMMIT")
            except BaseException:
                self._rollback()
                raise

    def version(self) -> str | None:
        """Version of the schema; None where there is none yet."""
        if not self.rows("SELECT 1 FROM sqlite_master WHERE name = 'alembic_version'"):
            return None
        found = self.rows("SELECT version_num FROM alembic_version")
        return str(found[0][0]) if found else None

    def rows(
        self, statement: str, values: Mapping[str, Any] | None = None
    ) -> list[tuple[Any, ...]]:
        """All rows of a question."""
        with _told(self.path):
            return self._db.execute(statement, values or {}).fetchall()

    def run(self, statement: str, many: Sequence[Mapping[str, Any]]) -> None:
        """A statement for each set of values."""
        with _told(self.path):
            self._db.executemany(statement, many)

    @contextlib.contextmanager
    def turn(self) -> Iterator[list[Callable[[], None]]]:
        """One writer's turn, in the order in which they ask."""
        with in_turn(self._lock):
            if self._node != _node(self.path):
                raise Broken("the file was put aside by another program")
            then: list[Callable[[], None]] = []
            with _told(self.path):
                self._db.execute("BEGIN IMMEDIATE")
            try:
                yield then
                with _told(self.path):
                    self._db.execute("COMMIT")
            except BaseException:
                self._rollback()
                raise
            for each in then:
                each()

    def _rollback(self) -> None:
        with contextlib.suppress(sqlite3.Error):
            if self._db.in_transaction:
                self._db.execute("ROLLBACK")

    def close(self) -> None:
        """Let go of the database."""
        with contextlib.suppress(sqlite3.Error):
            self._db.close()


class ServerDoor:
    """A journal on a database server by its address, through SQLAlchemy."""

    def __init__(self, address: str) -> None:
        try:
            import sqlalchemy
        except ImportError:  # pragma: no cover - a plain dependency
            raise Unavailable("SQLAlchemy is needed for a journal on a server.") from None
        self._sql = sqlalchemy
        try:
            self.engine = sqlalchemy.create_engine(address, pool_pre_ping=True, pool_size=2)
        except ModuleNotFoundError as error:
            raise Unavailable(
                f"A journal at this address needs '{error.name}': install futtock[postgres]."
            ) from None
        except sqlalchemy.exc.ArgumentError:
            raise Unreadable(
                "The journal's address is none; expected postgresql+psycopg://HOST/NAME."
            ) from None
        self._now: Any = None  # the connection of the turn that is running

    @contextlib.contextmanager
    def _connection(self) -> Iterator[Any]:
        if self._now is not None:
            yield self._now
            return
        with self._told(), self.engine.connect() as connection:
            yield connection

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except self._sql.exc.DBAPIError as error:
            said = str(error.orig).strip().splitlines()[0]
            finding = kinds.CANNOT_WRITE.found(f"The database says: {said}.")
            raise Unwritable(
                f"The journal's database could not be used: {said}.", [finding]
            ) from None

    def version(self) -> str | None:
        """Version of the schema; None where there is none yet."""
        with self._told():
            if not self._sql.inspect(self.engine).has_table("alembic_version"):
                return None
        found = self.rows("SELECT version_num FROM alembic_version")
        return str(found[0][0]) if found else None

    def rows(
        self, statement: str, values: Mapping[str, Any] | None = None
    ) -> list[tuple[Any, ...]]:
        """All rows of a question."""
        with self._connection() as connection:
            found = connection.execute(self._sql.text(statement), dict(values or {}))
            return [tuple(row) for row in found]

    def run(self, statement: str, many: Sequence[Mapping[str, Any]]) -> None:
        """A statement for each set of values."""
        with self._connection() as connection:
            connection.execute(self._sql.text(statement), [dict(v) for v in many])

    @contextlib.contextmanager
    def turn(self) -> Iterator[list[Callable[[], None]]]:
        """One writer's turn; the table's own lock keeps the order."""
        then: list[Callable[[], None]] = []
        with self._told(), self.engine.begin() as connection:
            connection.execute(self._sql.text("LOCK TABLE events IN EXCLUSIVE MODE"))
            self._now = connection
            try:
                yield then
            finally:
                self._now = None
        for each in then:
            each()

    def close(self) -> None:
        """Let go of the server."""
        self.engine.dispose()


@contextlib.contextmanager
def in_turn(lock: Path) -> Iterator[None]:
    """Writers wait for each other in the order they came, where the system can do that.

    SQLite alone would be safe too; but its waiters sleep, and are served in no order.
    """
    file: int | None = None
    try:
        import fcntl

        lock.parent.mkdir(exist_ok=True)
        file = os.open(lock, os.O_RDWR | os.O_CREAT, 0o666)
        fcntl.flock(file, fcntl.LOCK_EX)
    except (ImportError, OSError):
        pass
    try:
        yield
    finally:
        if file is not None:
            os.close(file)


@contextlib.contextmanager
def _told(path: Path) -> Iterator[None]:
    """What SQLite says, in words; a damaged file as :class:`Broken`."""
    try:
        yield
    except sqlite3.OperationalError as error:
        said = str(error)
        if "locked" in said:
            finding = kinds.BUSY.found(f"It was waited for {_WAIT_SECONDS:.0f} s.", file=path.name)
            raise Unwritable(f"'{path}' is held by another program.", [finding]) from None
        if any(word in said for word in _DAMAGE):
            raise Broken(said) from None
        reason = "the disk is full" if "full" in said else said
        finding = kinds.CANNOT_WRITE.found(f"It cannot be written: {reason}.", file=path.name)
        raise Unwritable(f"'{path}' could not be written: {reason}.", [finding]) from None
    except sqlite3.DatabaseError as error:
        raise Broken(str(error)) from None


def _check_length(path: Path) -> None:
    """Broken where the file is shorter than its own header says and no log can make it good."""
    try:
        size = path.stat().st_size
        log = path.with_name(path.name + "-wal")
        if size == 0 or (log.exists() and log.stat().st_size):
            return
        with path.open("rb") as file:
            head = file.read(100)
    except OSError:
        return
    if len(head) < 100 or not head.startswith(b"SQLite format 3\0"):
        raise Broken("file is not a database")
    page = int.from_bytes(head[16:18], "big")
    page = 65_536 if page == 1 else page
    if size < page * int.from_bytes(head[28:32], "big"):
        raise Broken("the file is cut short")


def _node(path: Path) -> int | None:
    """Which file the name stands for: it changes where a damaged one was put aside."""
    try:
        return path.stat().st_ino
    except OSError:
        return None


def _patiently(do: Any) -> None:
    """Try again while another program holds the file (changing the journal mode does not wait)."""
    until = time.monotonic() + _WAIT_SECONDS
    while True:
        try:
            do()
            return
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > until:
                raise
            time.sleep(0.01)
