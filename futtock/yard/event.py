"""One record of the journal: who did what to which mark and when, sealed into a chain."""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, NamedTuple

from futtock.errors import Misused
from futtock.yard.stages import CORRECTION, WORDS, frame_of, subject, tidy_mark

FIRST = "0" * 64
"""What the first record is chained to."""

CODE = "futtock"
"""What the code on a print begins with."""

_LONGEST_BODY = 65_536
_NAME = re.compile(r"[^\x00-\x1f\x7f]{1,80}")
_ID = re.compile(r"[A-Za-z0-9._:-]{1,80}")
_LINK = re.compile(r"(?i:https?)://[^/\s]+/traveller/([\w-]{1,20})(?:\?r=([\w.-]{1,40}))?")


@dataclass(frozen=True, slots=True)
class Entry:
    """What a person enters.

    Attributes
    ----------
    mark, stage, who
        What was done to which mark by whom; words of :data:`futtock.yard.stages.WORDS`.
    body
        More about it: ``slab``, ``place``, ``layout`` (laid-out); ``moisture_percent``
        (measured); ``to`` (moved); ``offcuts`` (consumed); ``name``, ``found_mm``, ``wanted_mm``
        (checked); ``file`` (photograph); ``text`` (note); ``hours``; ``because``.
    at
        When it was done; None: now.
    id
        Made by the sender, so that sending again is harmless; empty: one is made.
    sender
        The tablet or terminal it came from.
    seen
        Last record the sender knew of when it was entered; None: all of them.
    """

    mark: str
    stage: str
    who: str
    body: Mapping[str, Any] = field(default_factory=dict)
    at: datetime | None = None
    id: str = ""
    sender: str = ""
    seen: int | None = None


class Event(NamedTuple):
    """One record as the journal keeps it, its times in UTC as text (``...T10:02:00.000000Z``).

    A named tuple, not a dataclass: a long journal makes a hundred thousand of them.

    ``seq`` counts from 1 without gaps; ``at`` is when it was done, ``entered`` when it was
    entered; ``frame`` and ``slab`` are what it touches; ``previous`` and ``hash`` chain it.
    """

    seq: int
    id: str
    at: str
    entered: str
    who: str
    mark: str
    stage: str
    sender: str
    body: Mapping[str, Any]
    frame: int | None = None
    slab: str | None = None
    previous: str = FIRST
    hash: str = ""

    @property
    def when(self) -> datetime:
        """When it was done, in UTC."""
        return datetime.fromisoformat(self.at)

    def sealed(self, seq: int, previous: str) -> Event:
        """The same record in its place in the chain."""
        placed = self._replace(seq=seq, previous=previous)
        return placed._replace(hash=seal(placed))

    def as_json(self) -> dict[str, Any]:
        """The record as an exported line holds it."""
        return {
            "seq": self.seq,
            "id": self.id,
            "when": self.at,
            "entered": self.entered,
            "who": self.who,
            "mark": self.mark,
            "stage": self.stage,
            "sender": self.sender,
            "body": dict(self.body),
            "previous": self.previous,
            "hash": self.hash,
        }


def canonical(body: Mapping[str, Any]) -> str:
    """The one JSON text of a body: keys in order, no blanks."""
    return json.dumps(
        body, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )


def seal(event: Event) -> str:
    """SHA-256 over the record and the seal of the one before it."""
    said = [
        event.previous,
        event.seq,
        event.id,
        event.at,
        event.entered,
        event.who,
        event.mark,
        event.stage,
        event.sender,
        canonical(event.body),
    ]
    text = json.dumps(said, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def utc_text(moment: datetime) -> str:
    """A moment as the journal writes it; Misused where it has no zone."""
    if moment.tzinfo is None:
        raise Misused(f"The time {moment} has no zone.")
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def new_id(now: datetime) -> str:
    """A new id: the time in milliseconds, then eight random bytes."""
    return f"{int(now.timestamp() * 1000):012x}-{os.urandom(8).hex()}"


def made(entry: Entry, now: datetime) -> Event:
    """The record of an entry, not yet in the chain; Misused where it cannot be meant."""
    word = entry.stage.strip().lower().replace("_", "-").replace(" ", "-")
    if word not in WORDS:
        import difflib

        near = difflib.get_close_matches(word, WORDS, n=1)
        hint = f"; perhaps '{near[0]}' is meant" if near else f"; known are {', '.join(WORDS)}"
        raise Misused(f"'{entry.stage}' is no stage{hint}.")
    scanned = entry.mark.strip().lower().startswith((f"{CODE}:", "http://", "https://"))
    mark = read_code(entry.mark)[0] if scanned else tidy_mark(entry.mark)
    for what, text in (("mark", mark), ("name of who did it", entry.who.strip())):
        if not _NAME.fullmatch(text):
            raise Misused(f"The {what} is '{text[:90]}'; expected 1 to 80 letters.")
    if entry.id and not _ID.fullmatch(entry.id):
        raise Misused(f"The id '{entry.id[:90]}' is none; expected letters, digits, . _ : -")
    body = dict(entry.body)
    if entry.seen is not None:
        body["seen"] = int(entry.seen)
    _check_body(word, body)
    of = subject(mark, word)
    return Event(
        0,
        entry.id or new_id(now),
        utc_text(entry.at or now),
        utc_text(now),
        entry.who.strip(),
        mark,
        word,
        entry.sender,
        body,
        None if of == "slab" else frame_of(mark),
        mark if of == "slab" else body.get("slab"),
    )


def corrected(
    event: Event,
    who: str,
    now: datetime,
    *,
    put: Mapping[str, Any] | None = None,
    because: str = "",
    id: str = "",
) -> Event:
    """A correction of a record: undone, or with ``at``, ``who`` or keys of ``body`` put right."""
    if event.stage == CORRECTION and put is not None:
        raise Misused("A correction is undone and made anew, not amended.")
    if put is not None and not set(put) <= {"at", "who", "body"}:
        raise Misused("Only the time, the name and the particulars can be amended.")
    if put is not None and {"slab", "layout"} & set(put.get("body", ())):
        raise Misused("Another slab is another entry: undo this one and enter it anew.")
    if not _NAME.fullmatch(who.strip()):
        raise Misused(f"The name of who corrects is '{who[:90]}'; expected 1 to 80 letters.")
    body: dict[str, Any] = {"of": event.id}
    if event.slab is not None and event.slab != event.mark:
        body["slab"] = event.slab
    if put is None:
        body["undo"] = True
    else:
        body["put"] = dict(put)
    if because:
        body["because"] = because
    _check_size(body)
    moment = utc_text(now)
    return Event(
        0, id or new_id(now), moment, moment, who.strip(), event.mark, CORRECTION, "", body,
        event.frame, event.slab,
    )  # fmt: skip


def _check_body(word: str, body: dict[str, Any]) -> None:
    _check_size(body)
    for key, kind, said in (
        ("slab", str, "a slab's name"),
        ("layout", str, "a layout's id"),
        ("to", str, "a place"),
        ("because", str, "a reason"),
        ("text", str, "text"),
        ("file", str, "a file's name"),
        ("hours", (int, float), "hours"),
        ("moisture_percent", (int, float), "percent"),
        ("found_mm", (int, float), "millimetres"),
        ("wanted_mm", (int, float), "millimetres"),
    ):
        if key in body and (not isinstance(body[key], kind) or isinstance(body[key], bool)):
            raise Misused(f"'{key}' is {body[key]!r}; expected {said}.")
    if not 0 <= body.get("moisture_percent", 0) <= 300:
        raise Misused(f"A moisture of {body['moisture_percent']} % is none; expected 0 to 300.")
    if not 0 <= body.get("hours", 0) <= 1000:
        raise Misused(f"{body['hours']} hours are none; expected 0 to 1000.")
    needed = {"moved": "to", "checked": "name", "note": "text", "photograph": "file"}.get(word)
    if needed and not body.get(needed):
        raise Misused(f"An entry '{word}' needs '{needed}'.")


def _check_size(body: Mapping[str, Any]) -> None:
    try:
        size = len(canonical(body))
    except (TypeError, ValueError):
        raise Misused("The particulars of an entry are no plain data.") from None
    if size > _LONGEST_BODY:
        raise Misused(f"The particulars of an entry have {size} letters; {_LONGEST_BODY} at most.")


def read_code(text: str) -> tuple[str, str, str]:
    """Mark, stage and revision of a scanned code (or of a plain mark); empty where not in it.

    A print's code reads ``futtock:REVISION:MARK``; a stage may follow, as ``futtock:r3:12:bedded``.
    Printed while the pages were served to the yard, it is a link to the mark's traveller.

    >>> read_code("futtock:r3:12-P-f2"), read_code("futtock:r3:12:bedded"), read_code("12-p-f2")
    (('12-P-f2', '', 'r3'), ('12', 'bedded', 'r3'), ('12-P-f2', '', ''))
    >>> read_code("https://10.0.0.5:8035/traveller/12-P-f2?r=r3")
    ('12-P-f2', '', 'r3')
    """
    link = _LINK.fullmatch(text.strip())
    if link:
        return tidy_mark(link[1]), "", link[2] or ""
    parts = text.strip().split(":")
    if len(parts) == 1 and parts[0]:
        return tidy_mark(parts[0]), "", ""
    if parts[0].lower() != CODE or not 3 <= len(parts) <= 4 or not parts[2]:
        raise Misused(f"'{text[:80]}' is no code of this yard.")
    return tidy_mark(parts[2]), parts[3] if len(parts) == 4 else "", parts[1]
