"""The same journal on a real PostgreSQL server."""

from __future__ import annotations

import threading
from datetime import UTC, datetime

import pytest

from futtock.errors import Misused, Unavailable, Unreadable, Unwritable
from futtock.yard import Entry, Journal
from futtock.yard.migrate import bring_up
from futtock.yard.schema import HEAD, VERSIONS

NOW = datetime(2031, 5, 5, 9, 30, tzinfo=UTC)
pytestmark = pytest.mark.postgres


@pytest.fixture
def address(postgres_url, request):
    """The address of an empty database of the test's own."""
    import sqlalchemy as sa

    name = f"t{abs(hash(request.node.name)) % 10**8}"
    engine = sa.create_engine(postgres_url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(sa.text(f"CREATE DATABASE {name}"))
    engine.dispose()
    return postgres_url.replace("/postgres?", f"/{name}?")


def _run(address, statement):
    import sqlalchemy as sa

    engine = sa.create_engine(address)
    try:
        with engine.begin() as connection:
            return connection.execute(sa.text(statement))
    finally:
        engine.dispose()


def test_the_same_journal(address, tmp_path):
    """Entries, undoing, state, export and verification are the same as in a file."""
    with Journal(address) as server, Journal(tmp_path / "journal.sqlite") as file:
        for journal in (server, file):
            for i, word in enumerate(("moulded", "laid-out", "roughed", "bevelled")):
                body = {"slab": "A-07", "text": 'ä – "x"'} if word == "laid-out" else {}
                journal.enter(Entry("12-P-f1", word, "Änn", body, id=f"k{i}"), NOW)
            journal.undo("Änn", NOW, new_id="u1")
            journal.enter(Entry("13-P-f1", "laid-out", "Ben", {"slab": "A-07"}, id="k9"), NOW)
            assert journal.enter(Entry("12-P-f1", "moulded", "Änn", id="k0"), NOW).known
            with pytest.raises(Misused):
                journal.enter(Entry("12-P-f2", "moulded", "Änn", id="k0"), NOW)
            assert journal.verify() == ()
        assert list(server.lines()) == list(file.lines())
        assert server.state() == file.state()
        assert [c.why for c in server.state().contested] == ["given"]


def test_carried_from_a_file_to_a_server(address, tmp_path):
    """A journal goes from a file to a server and back by export and import, seals and all."""
    with Journal(address) as server, Journal(tmp_path / "journal.sqlite") as file:
        for i in range(1, 40):
            file.enter(Entry(f"{i}", "note", "Ann", {"text": "x"}), NOW)
        assert server.take_in(file.lines()).added == 39
        assert server.events() == file.events()
        assert server.take_in(file.lines()).known == 39


def test_the_table_refuses_to_be_changed(address):
    """The server itself refuses to change, delete or empty."""
    import sqlalchemy as sa

    with Journal(address) as server:
        server.enter(Entry("1", "note", "Ann", {"text": "x"}), NOW)
    for statement in ("UPDATE events SET who = 'Ben'", "DELETE FROM events", "TRUNCATE events"):
        with pytest.raises(sa.exc.DBAPIError, match="only added to"):
            _run(address, statement)


def test_writers_at_once(address):
    """Several people writing at once lose nothing, leave no gap, and keep each one's order."""

    def write(who: str) -> None:
        with Journal(address) as journal:
            for i in range(25):
                entry = Entry("1", "note", who, {"text": str(i)}, id=f"{who}-{i}")
                journal.enter(entry, NOW)

    with Journal(address):
        pass
    threads = [threading.Thread(target=write, args=(f"w{n}",)) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with Journal(address) as journal:
        assert journal.verify() == ()
        ids = [e.id for e in journal.events()]
    assert len(ids) == 150
    for n in range(6):
        assert [i for i in ids if i.startswith(f"w{n}-")] == [f"w{n}-{i}" for i in range(25)]


@pytest.mark.parametrize("version", VERSIONS[:-1])
def test_older_server_is_brought_up(address, version):
    """A server of an earlier version is brought up with its records sealed."""
    bring_up(address, version)
    _run(
        address,
        "INSERT INTO events (seq, id, at, who, mark, stage, body) VALUES "
        "(1, 'a', '2031-05-05T09:30:00.000000Z', 'Ann', '12-P-f1', 'laid-out', '{\"slab\":\"A\"}')",
    )
    with Journal(address) as journal:
        assert [(e.id, e.frame, e.slab) for e in journal.events()] == [("a", 12, "A")]
        assert journal.verify() == ()
    assert _version(address) == HEAD


def _version(address):
    import sqlalchemy as sa

    engine = sa.create_engine(address)
    with engine.connect() as connection:
        found = connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalar()
    engine.dispose()
    return found


def test_server_that_is_not_there():
    """An address without a server, of an unknown kind, or none at all is told in words."""
    with pytest.raises(Unwritable, match="could not be used"):
        Journal("postgresql+psycopg://nobody@127.0.0.1:9/none?connect_timeout=2")
    with pytest.raises((Unavailable, Unreadable)):
        Journal("nothing at all")
