"""Files written into a folder, each whole or not at all, and drawings among them."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from futtock.errors import Unwritable
from futtock.job.accounts import counted

if TYPE_CHECKING:
    from futtock.sheet.sheet import Sheet

KEPT = ".futtock"
"""Where a vessel folder keeps what can be made again."""


@dataclass
class Written:
    """What was written: file names below the folder, in order, and what is to be said of them."""

    folder: Path
    files: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def put(self, name: str, content: bytes | str) -> None:
        """Write one file, whole or not at all.

        Raises
        ------
        Unwritable
            Where the folder cannot be written or the disk is full.
        """
        raw = content.encode() if isinstance(content, str) else content
        target = self.folder / name
        part = target.with_name(target.name + ".part")
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            part.write_bytes(raw)
            os.replace(part, target)
        except OSError as error:
            part.unlink(missing_ok=True)
            raise Unwritable(f"'{target}' cannot be written: {error.strerror}.") from None
        self.files.append(name)

    @property
    def account(self) -> str:
        """In words."""
        where = "here" if self.folder == Path() else f"to {self.folder}"
        wrote = f"Wrote {counted(len(self.files), 'file')} {where}."
        return "\n".join([wrote, *self.notes])


def file_name(name: str) -> str:
    """A name given by a person as one safe file name."""
    plain = re.sub(r"[^\w.-]+", "_", name).strip("._")
    return plain or "unnamed"


def write_sheet(written: Written, name: str, sheets: Sequence[Sheet]) -> None:
    """One drawing as PDF (all its pages) and SVG (its first)."""
    write_pdf(written, name, sheets)
    write_picture(written, name, sheets[0])


def write_picture(written: Written, name: str, sheet: Sheet) -> None:
    """A sheet as an SVG that stands alone on a screen."""
    from futtock.sheet.svg import svg

    written.put(f"{name}.svg", svg(sheet, "picture"))


def write_pdf(written: Written, name: str, sheets: Sequence[Sheet]) -> None:
    """Many pages as one PDF; none where there is no page."""
    from futtock.sheet.pdf import pdf

    if sheets:
        written.put(f"{name}.pdf", pdf(sheets))
