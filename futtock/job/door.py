"""What a folder keeps of its pages' server: where it is reached, who was put out, what came by."""

from __future__ import annotations

import contextlib
import io
import json
import logging
import os
import time
from collections.abc import Mapping
from logging.handlers import RotatingFileHandler
from pathlib import Path

from futtock.job.written import KEPT, Written

_OUT = "put-out.json"
_SERVED = "served.json"
_LOG = "door.log"
_LOG_BYTES = 256 * 1024


def kept_out(folder: Path, now: float) -> dict[str, float]:
    """Visits that were put out, and until when they are remembered, in seconds of the epoch."""
    try:
        found = json.loads((folder / KEPT / _OUT).read_text("utf-8"))
        return {str(v): float(until) for v, until in found.items() if float(until) > now}
    except (OSError, ValueError, AttributeError, TypeError):
        return {}


def keep_out(folder: Path, out: Mapping[str, float]) -> None:
    """Remember who was put out."""
    Written(folder / KEPT).put(_OUT, json.dumps(dict(out)))


def served_at(folder: Path) -> str:
    """Where the folder's pages are reached from the network now; empty where they are not."""
    try:
        found = json.loads((folder / KEPT / _SERVED).read_text("utf-8"))["address"]
    except (OSError, ValueError, KeyError, TypeError):
        return ""
    return str(found) if str(found).startswith(("http://", "https://")) else ""


def say_served(folder: Path, address: str) -> None:
    """Remember where the pages are reached, for the codes on prints; empty: nowhere."""
    if address:
        Written(folder / KEPT).put(_SERVED, json.dumps({"address": address}))
    else:
        with contextlib.suppress(OSError):
            (folder / KEPT / _SERVED).unlink()


def traveller_link(folder: Path) -> str:
    """What a print's code leads to while the pages are served to the network; else empty.

    It holds ``{mark}`` and ``{revision}``.
    """
    address = served_at(folder)
    return f"{address}/traveller/{{mark}}?r={{revision}}" if address else ""


def code_svg(text: str) -> str:
    """A code to scan, for a page."""
    from futtock.drawing.code import CODE_MM, code
    from futtock.job.office.picture import inline
    from futtock.sheet.sheet import Sheet

    quiet = 6.0
    side = CODE_MM + 2 * quiet
    drawn = (code(text, (quiet, quiet)),)
    sheet = Sheet("code", (side, side), (0.0, 0.0), drawn, "Code to scan")
    return inline(sheet)


def code_in_letters(text: str) -> str:
    """A code to scan, drawn in half blocks for a terminal with light letters on dark."""
    import segno

    out = io.StringIO()
    segno.make(text, error="m", micro=False).terminal(out, compact=True)
    return out.getvalue()


class _OwnersFile(RotatingFileHandler):
    """A log that only who runs the server can read."""

    def _open(self) -> io.TextIOWrapper:
        handle = os.open(self.baseFilename, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        return io.TextIOWrapper(os.fdopen(handle, "ab"), encoding="utf-8", write_through=True)


def door_log(folder: Path) -> logging.Logger:
    """The log of who came to the door; it grows to half a megabyte and no further."""
    path = folder / KEPT / _LOG
    log = logging.getLogger(f"futtock.door.{path}")
    log.propagate = False
    if log.handlers:
        return log
    log.setLevel(logging.INFO)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handler: logging.Handler = _OwnersFile(
            path, maxBytes=_LOG_BYTES, backupCount=1, encoding="utf-8", delay=True
        )
    except OSError:
        handler = logging.NullHandler()
    form = logging.Formatter("%(asctime)sZ %(levelname)s %(message)s")
    form.converter = time.gmtime
    handler.setFormatter(form)
    log.addHandler(handler)
    return log
