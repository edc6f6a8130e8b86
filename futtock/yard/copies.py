"""Dated copies beside the journal: every entry once more, as a line of text, as soon as it is kept.

Each file of ``journal-copies`` is named by the first record in it and its day
(``0000042-2031-05-04.jsonl``); together they hold the whole journal in plain JSON lines, which no
damage to the database touches.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from futtock.yard.event import Event

_TAIL = 200_000


class Copies:
    """The folder of dated copies."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def files(self) -> list[Path]:
        """Its files, oldest first."""
        try:
            return sorted(p for p in self.folder.iterdir() if p.suffix == ".jsonl")
        except OSError:
            return []

    def add(self, events: Iterable[Event]) -> None:
        """Write records, synced to disk; OSError where that fails."""
        by_day: dict[str, list[Event]] = {}
        for event in events:
            by_day.setdefault(event.entered[:10], []).append(event)
        for day, many in by_day.items():
            self.folder.mkdir(exist_ok=True)
            files = self.files()
            # A new day begins a new file; so does a clock that was set.
            if files and files[-1].stem.endswith(day):
                path = files[-1]
            else:
                path = self.folder / f"{many[0].seq:07d}-{day}.jsonl"
            text = "".join(line(e.as_json()) for e in many).encode()
            with path.open("ab+", buffering=0) as file:
                if file.tell() and not _ends_whole(file):
                    text = b"\n" + text  # the line before was cut off by a crash
                file.write(text)
                os.fsync(file.fileno())

    def last(self) -> int:
        """Number of the last record that is whole; 0 where there is none."""
        for path in reversed(self.files()):
            with path.open("rb") as file:
                file.seek(0, os.SEEK_END)
                file.seek(max(0, file.tell() - _TAIL))
                numbers = [e.get("seq") for e in _whole(file.read())]
            if known := [n for n in numbers if isinstance(n, int)]:
                return max(known)
        return 0

    def lines(self) -> Iterator[Mapping[str, Any]]:
        """Every whole line, oldest file first; a line may come twice."""
        for path in self.files():
            yield from _whole(path.read_bytes())


def line(record: Mapping[str, Any]) -> str:
    """One record as a line of text."""
    return json.dumps(record, ensure_ascii=False, separators=(",", ":"), allow_nan=False) + "\n"


def _ends_whole(file: Any) -> bool:
    file.seek(-1, os.SEEK_END)
    return bool(file.read(1) == b"\n")


def _whole(content: bytes) -> Iterator[dict[str, Any]]:
    for text in content.split(b"\n"):
        if not text.strip():
            continue
        try:
            record = json.loads(text)
        except ValueError:
            continue
        if isinstance(record, dict):
            yield record
