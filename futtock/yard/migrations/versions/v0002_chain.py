"""The chain of seals, what an entry touches, and triggers that keep the table unchanged."""

from __future__ import annotations

import hashlib
import json
import re
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

_TABLE = """CREATE TABLE events (
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
)"""
_INDEXES = (
    "CREATE INDEX events_by_mark ON events (mark)",
    "CREATE INDEX events_by_frame ON events (frame)",
    "CREATE INDEX events_by_slab ON events (slab)",
    "CREATE INDEX events_by_who ON events (who)",
)
_KEPT_BY_SQLITE = (
    """CREATE TRIGGER events_kept BEFORE UPDATE ON events
BEGIN SELECT RAISE(ABORT, 'the journal is only added to'); END""",
    """CREATE TRIGGER events_stay BEFORE DELETE ON events
BEGIN SELECT RAISE(ABORT, 'the journal is only added to'); END""",
)
_KEPT_BY_POSTGRES = (
    """CREATE FUNCTION events_refuse() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'the journal is only added to'; END $$""",
    """CREATE TRIGGER events_kept BEFORE UPDATE OR DELETE OR TRUNCATE ON events
FOR EACH STATEMENT EXECUTE FUNCTION events_refuse()""",
)
_SLAB_WORDS = ("measured", "moved", "consumed")


def upgrade() -> None:
    """Make the table anew, with every record sealed to the one before it."""
    connection = op.get_bind()
    sqlite = connection.dialect.name == "sqlite"
    op.drop_index("events_by_mark", "events")
    op.rename_table("events", "events_0001")
    op.execute(_TABLE + (" STRICT" if sqlite else ""))
    insert = sa.text(
        "INSERT INTO events VALUES (:seq, :id, :at, :at, :who, :mark, :stage, '', :body, :frame, "
        ":slab, :previous, :hash)"
    )
    previous = "0" * 64
    rows = connection.execute(
        sa.text("SELECT seq, id, at, who, mark, stage, body FROM events_0001 ORDER BY seq")
    ).all()
    for seq, id, at, who, mark, stage, body in rows:
        told = json.loads(body)
        said = [previous, seq, id, at, at, who, mark, stage, "", _plain(told)]
        text = json.dumps(said, separators=(",", ":"), ensure_ascii=False)
        hash = hashlib.sha256(text.encode()).hexdigest()
        frame, slab = _touches(mark, stage, told)
        connection.execute(
            insert,
            {
                "seq": seq, "id": id, "at": at, "who": who, "mark": mark, "stage": stage,
                "body": _plain(told), "frame": frame, "slab": slab, "previous": previous,
                "hash": hash,
            },
        )  # fmt: skip
        previous = hash
    op.drop_table("events_0001")
    for statement in (*_INDEXES, *(_KEPT_BY_SQLITE if sqlite else _KEPT_BY_POSTGRES)):
        op.execute(statement)


def _plain(body: dict[str, Any]) -> str:
    return json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def _touches(mark: str, stage: str, body: dict[str, Any]) -> tuple[int | None, str | None]:
    found = re.fullmatch(r"(\d{1,4})(?:-([PSC])-([fa])(\d{1,2})|-([PS]))?", mark)
    if stage in _SLAB_WORDS or (found is None and mark != "vessel"):
        return None, mark
    return (int(found[1]) if found else None), body.get("slab")
