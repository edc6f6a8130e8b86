"""The rim: files of the vessel folder read once, with their content hashes and what was noticed."""

from __future__ import annotations

import codecs
import difflib
import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from futtock.findings import Finding
from futtock.vessel import kinds

LARGEST_BYTES = 20_000_000
"""No paper typed by people is larger."""

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


@dataclass
class Papers:
    """Reads files of one folder; keeps their hashes (SHA-256, hex) and collects findings."""

    folder: Path
    hashes: dict[str, str] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)

    def note(self, finding: Finding) -> None:
        """Add one finding."""
        self.findings.append(finding)

    def has(self, name: str) -> bool:
        """Whether the folder has such a file."""
        return (self.folder / name).is_file()

    def bytes_of(self, name: str) -> bytes | None:
        """Content of a file, or None with a finding."""
        path = self.folder / name
        try:
            if path.is_dir():
                self.note(kinds.UNREADABLE_FILE.found("This is a folder, not a file.", file=name))
                return None
            size = path.stat().st_size
            if size > LARGEST_BYTES:
                said = f"It has {size / 1e6:.0f} MB; at most {LARGEST_BYTES / 1e6:.0f} are read."
                self.note(kinds.TOO_LARGE.found(said, file=name))
                return None
            content = path.read_bytes()
        except FileNotFoundError:
            there = [p.name for p in self.folder.iterdir() if p.is_file()]
            where = " in the vessel folder" if self.has("vessel.toml") else ""
            said = f"There is no such file{where}{did_you_mean(name, there)}."
            self.note(kinds.MISSING_FILE.found(said, file=name))
            return None
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            said = f"The file cannot be opened: {reason}."
            self.note(kinds.UNREADABLE_FILE.found(said, file=name))
            return None
        self.hashes[name] = hashlib.sha256(content).hexdigest()
        return content

    def text_of(self, name: str) -> str | None:
        """Text of a file whatever its encoding, or None with a finding."""
        content = self.bytes_of(name)
        return None if content is None else self.decoded(name, content)

    def decoded(self, name: str, content: bytes) -> str | None:
        """Text of bytes: by byte-order mark, else UTF-8, else Windows-1252 with a note."""
        encoding = next((e for mark, e in _MARKS if content.startswith(mark)), "utf-8")
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError as error:
            if encoding != "utf-8" or b"\0" in content:
                self.note(kinds.UNREADABLE_FILE.found("This is not a text file.", file=name))
                return None
            text = content.decode("cp1252", "replace")
            line = content.count(b"\n", 0, error.start) + 1
            said = "The text is not in UTF-8 and was read as Windows-1252."
            self.note(kinds.ENCODING.found(said, file=name, line=line))
        if "\0" in text:
            self.note(kinds.UNREADABLE_FILE.found("This is not a text file.", file=name))
            return None
        return text


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """``; perhaps 'sheer' is meant`` where one of the known words is near, else nothing."""
    by_lower = {k.lower(): k for k in known}
    near = difflib.get_close_matches(word.lower(), by_lower, n=1, cutoff=0.6)
    return f"; perhaps '{by_lower[near[0]]}' is meant" if near else ""
