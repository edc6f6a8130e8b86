"""Between a record and its row in the table."""

from __future__ import annotations

import json
from typing import Any

from futtock.yard.event import Event, canonical

_BODY = Event._fields.index("body")


def values_of(event: Event) -> dict[str, Any]:
    """The values of a record's row."""
    return {
        "seq": event.seq,
        "id": event.id,
        "at": event.at,
        "entered": event.entered,
        "who": event.who,
        "mark": event.mark,
        "stage": event.stage,
        "sender": event.sender,
        "body": canonical(event.body),
        "frame": event.frame,
        "slab": event.slab,
        "previous": event.previous,
        "hash": event.hash,
    }


def event_of_row(row: tuple[Any, ...]) -> Event:
    """The record of a row; a body that was tampered with comes back as it stands."""
    body = row[_BODY]
    if body == "{}":
        return Event._make((*row[:_BODY], {}, *row[_BODY + 1 :]))
    try:
        read = json.loads(body)
    except ValueError:  # tampered with: the seal tells of it
        read = None
    if not isinstance(read, dict):
        read = {"unreadable": body}
    return Event._make((*row[:_BODY], read, *row[_BODY + 1 :]))
