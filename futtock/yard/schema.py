"""The journal's table, its version, and the statements in which it is written and read.

The statements are plain SQL with named parameters that SQLite and PostgreSQL both take. A new
SQLite journal is made from :data:`SQLITE` directly, so that entering work needs no migration
library; a test holds it equal to what the migrations make.
"""

from __future__ import annotations

HEAD = "0002"
"""Version of the schema that this code reads and writes."""

VERSIONS: tuple[str, ...] = ("0001", "0002")
"""Every version there has been, oldest first."""

SQLITE: tuple[str, ...] = (
    """CREATE TABLE events (
seq INTEGER NOT NULL PRIMARY KEY,
id TEXT NOT NULL UNIQUE,
at TEXT NOT NULL,
entered TEXT NOT NULL,
who TEXT NOT NULL,
mark TEXT NOT NULL,
stage TEXT NOT NULL,
sender TEXT NOT NULL,
body TEXT NOT NULL,
frame INTEGER,
slab TEXT,
previous TEXT NOT NULL,
hash TEXT NOT NULL
) STRICT""",
    "CREATE INDEX events_by_mark ON events (mark)",
    "CREATE INDEX events_by_frame ON events (frame)",
    "CREATE INDEX events_by_slab ON events (slab)",
    "CREATE INDEX events_by_who ON events (who)",
    """CREATE TRIGGER events_kept BEFORE UPDATE ON events
BEGIN SELECT RAISE(ABORT, 'the journal is only added to'); END""",
    """CREATE TRIGGER events_stay BEFORE DELETE ON events
BEGIN SELECT RAISE(ABORT, 'the journal is only added to'); END""",
    """CREATE TABLE alembic_version (
version_num VARCHAR(32) NOT NULL,
CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
)""",
    f"INSERT INTO alembic_version (version_num) VALUES ('{HEAD}')",
)

COLUMNS = "seq, id, at, entered, who, mark, stage, sender, body, frame, slab, previous, hash"
_EVENTS = f"SELECT {COLUMNS} FROM events"

VERSION = "SELECT version_num FROM alembic_version"
LAST = "SELECT seq, hash FROM events ORDER BY seq DESC LIMIT 1"
BY_ID = f"{_EVENTS} WHERE id = :id"
BY_SEQ = f"{_EVENTS} WHERE seq = :seq"
FROM_TO = f"{_EVENTS} WHERE seq > :after AND seq <= :upto ORDER BY seq"
NEAR = f"""{_EVENTS} WHERE mark = :mark OR frame = :frame OR slab = :slab ORDER BY seq"""
BY_WHO = f"{_EVENTS} WHERE who = :who ORDER BY seq DESC LIMIT 200"
INSERT = (
    f"INSERT INTO events ({COLUMNS}) VALUES (:seq, :id, :at, :entered, :who, :mark, :stage, "
    ":sender, :body, :frame, :slab, :previous, :hash)"
)
