"""Where in a TOML text each key stands, so that a finding can name the line."""

from __future__ import annotations

import re
from collections.abc import Sequence

Path = tuple[str | int, ...]

_TABLE = re.compile(r"\s*(\[\[?)\s*([^\]]+?)\s*\]\]?\s*(?:#.*)?$")
_WORD = r"""(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')"""
_KEY = re.compile(rf"\s*({_WORD}(?:\s*\.\s*{_WORD})*)\s*=(?P<rest>.*)")
_PART = re.compile(_WORD)


class KeyLines:
    """Line numbers, from 1, of the tables and keys of one TOML text.

    A key inside an inline table or a list is looked for from the line of its owner onwards, as
    far as the owner's value reaches; so a list written over several lines names the right one.
    """

    def __init__(self, text: str) -> None:
        self._lines = text.splitlines()
        self._at: dict[Path, int] = {}
        self._until: dict[Path, int] = {}
        self._unclosed: Path | None = None
        self._scan()

    def line(self, path: Sequence[str | int]) -> int | None:
        """Line of a key, else of the nearest owner that stands in the text, else None."""
        known = tuple(path)
        while known and known not in self._at:
            known = known[:-1]
        if not known:
            return None
        line = self._at[known]
        last = self._until.get(known, line)
        for part in path[len(known) :]:
            if isinstance(part, int):
                line = self._item(line, last, part)
            else:
                found = re.compile(rf"""(?:^|[\s{{,\[])["']?{re.escape(part)}["']?\s*=""")
                line = next(
                    (n for n in range(line, last + 1) if found.search(self._lines[n - 1])), line
                )
        return line

    def span(self, line: int) -> tuple[int, int, Path]:
        """First and last line of the key whose value reaches over a line, and the key.

        Where a bracket is never closed, the key's own line alone.
        """
        for key, last in self._until.items():
            first = self._at[key]
            if first <= line <= last:
                return (first, first if key == self._unclosed else last, key)
        return line, line, ()

    def _item(self, first: int, last: int, index: int) -> int:
        """Line on which the item of a list of inline tables begins (best guess: count braces)."""
        depth = seen = 0
        for n in range(first, last + 1):
            for mark in self._lines[n - 1].split("#")[0]:
                if mark == "{":
                    if depth == 0:
                        if seen == index:
                            return n
                        seen += 1
                    depth += 1
                elif mark == "}":
                    depth = max(0, depth - 1)
        return first

    def _scan(self) -> None:
        table: Path = ()
        counts: dict[Path, int] = {}
        open_key: Path | None = None
        depth = 0
        quote = ""
        for number, line in enumerate(self._lines, start=1):
            if quote:
                quote = "" if quote in line else quote
                continue
            if depth > 0:
                depth += _opens(line)
                if open_key is not None:
                    self._until[open_key] = number
                continue
            if head := _TABLE.match(line):
                table = _parts(head[2])
                if head[1] == "[[":
                    index = counts.get(table, -1) + 1
                    counts[table] = index
                    self._at.setdefault(table, number)
                    table = (*table, index)
                self._at.setdefault(table, number)
            elif key := _KEY.match(line):
                open_key = (*table, *_parts(key[1]))
                for cut in range(len(table) + 1, len(open_key) + 1):
                    self._at.setdefault(open_key[:cut], number)
                self._until[open_key] = number
                rest = key["rest"]
                quote = next((q for q in ('"""', "'''") if rest.count(q) == 1), "")
                depth = 0 if quote else max(0, _opens(rest))
        if depth > 0 or quote:
            self._unclosed = open_key


def _parts(dotted: str) -> Path:
    return tuple(p.strip("\"'") for p in _PART.findall(dotted))


def _opens(text: str) -> int:
    """Brackets opened less brackets closed, outside of quotes and comments."""
    bare = re.sub(r""""(?:\\.|[^"\\])*"|'[^']*'""", "", text).split("#")[0]
    return bare.count("[") + bare.count("{") - bare.count("]") - bare.count("}")
