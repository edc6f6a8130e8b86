"""What the search finds once and needs again, kept between runs in a folder the caller names."""

from __future__ import annotations

import contextlib
import os
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

Arrays = Mapping[str, NDArray[Any]]


class Store(Protocol):
    """Where arrays are kept by a key of all that they were made from."""

    def load(self, key: str) -> Arrays | None:
        """What was kept under a key, or None."""

    def save(self, key: str, arrays: Arrays) -> None:
        """Keep this under a key."""


class FolderStore:
    """Keeps arrays as files in a folder; whatever cannot be read is made again.

    A file that cannot be written is done without: the store only saves time.
    """

    def __init__(self, folder: Path | str) -> None:
        self.folder = Path(folder)

    def load(self, key: str) -> Arrays | None:
        """See :class:`Store`."""
        try:
            with np.load(self.folder / f"{key}.npz", allow_pickle=False) as kept:
                return {name: kept[name] for name in kept.files}
        except (OSError, KeyError, ValueError, EOFError, zipfile.BadZipFile):
            return None

    def save(self, key: str, arrays: Arrays) -> None:
        """See :class:`Store`. Written beside and moved, so that no half file is ever read."""
        part = self.folder / f"{key}.{os.getpid()}.part.npz"
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            with part.open("wb") as file:
                np.savez(file, **dict(arrays))  # type: ignore[arg-type]  # names are never its flags
            part.replace(self.folder / f"{key}.npz")
        except OSError:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
