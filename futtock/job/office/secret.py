"""The key by which the pages know their own forms and visits again; it never leaves the folder."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path

from futtock.job.written import KEPT

_FILE = "pages.key"
_BYTES = 32


def page_key(folder: Path) -> bytes:
    """The folder's key, made once; one for this run alone where the folder cannot be written."""
    path = folder / KEPT / _FILE
    with contextlib.suppress(OSError):
        key = path.read_bytes()
        if len(key) == _BYTES:
            return key
    key = secrets.token_bytes(_BYTES)
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(key)
    return key
