"""From the journal to lines of text and back, each record checked on the way in."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from futtock.findings import Finding
from futtock.yard import kinds
from futtock.yard.event import Event, seal
from futtock.yard.stages import CORRECTION, WORDS, frame_of, subject

_TEXTS = ("id", "when", "entered", "who", "mark", "stage", "previous", "hash")
_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z")
_KNOWN = {*WORDS, CORRECTION}


@dataclass(frozen=True, slots=True)
class Imported:
    """What became of an import: records added, those known already, what was wrong."""

    added: int
    known: int
    findings: tuple[Finding, ...]


def event_of(record: Mapping[str, Any]) -> Event:
    """The record of a line; ValueError saying what is wrong with it."""
    for key in _TEXTS:
        if not isinstance(record.get(key), str) or not record[key]:
            raise ValueError(f"its '{key}' is missing")
    seq, body, sender = record.get("seq"), record.get("body", {}), record.get("sender", "")
    if not isinstance(seq, int) or isinstance(seq, bool) or seq < 1:
        raise ValueError("its 'seq' is no number from 1")
    if not isinstance(body, dict) or not isinstance(sender, str):
        raise ValueError("its 'body' is no table")
    for key in ("when", "entered"):
        if not _TIME.fullmatch(record[key]):
            raise ValueError(f"its '{key}' is no time in UTC")
        datetime.fromisoformat(record[key])
    stage, mark = record["stage"], record["mark"]
    if stage not in _KNOWN:
        raise ValueError(f"its stage '{stage}' is not known")
    slab = body.get("slab")
    of = subject(mark, stage)
    return Event(
        seq,
        record["id"],
        record["when"],
        record["entered"],
        record["who"],
        mark,
        stage,
        sender,
        body,
        None if of == "slab" else frame_of(mark),
        mark if of == "slab" else slab if isinstance(slab, str) else None,
        record["previous"],
        record["hash"],
    )


def read_lines(lines: Iterable[str], file: str | None) -> Iterator[Event | Finding]:
    """Each line's record, or what is wrong with it."""
    for number, text in enumerate(lines, start=1):
        if not text.strip():
            continue
        try:
            record = json.loads(text)
            if not isinstance(record, dict):
                raise ValueError("it is no table")
            event = event_of(record)
        except (ValueError, RecursionError) as error:
            said = str(error) if type(error) is ValueError else "it is no JSON"
            yield kinds.BAD_LINE.found(
                f"The line is no entry: {said}.",
                file=file,
                line=number,
                read=text.strip()[:80],
                expected="a JSON object with seq, id, when, who, mark, stage, hash",
            )
            continue
        if seal(event) != event.hash:
            yield kinds.CHANGED_LINE.found(
                f"Record {event.seq} ({event.mark} {event.stage}, {event.who}) does not match "
                "its seal.",
                file=file,
                line=number,
                read=event.hash[:12],
                expected=seal(event)[:12],
            )
            continue
        yield event


def same(one: Event, other: Event) -> bool:
    """Whether two records say the same, wherever they stand in their chains."""

    def said(e: Event) -> tuple[Any, ...]:
        return (e.id, e.at, e.entered, e.who, e.mark, e.stage, e.sender, dict(e.body))

    return said(one) == said(other)
