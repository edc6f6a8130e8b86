"""One pen to a folder's papers: who reads a paper to write it again holds it meanwhile.

Two tabs, or a tab and the command line, may change the same paper at once; each then writes onto
what the other wrote, and neither's change is lost.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from futtock.job.written import KEPT


@dataclass
class _Pen:
    """Held by one thread at a time, which may take it again."""

    lock: threading.RLock = field(default_factory=threading.RLock)
    times: int = 0


_pens: dict[Path, _Pen] = {}


@contextmanager
def pen(folder: Path) -> Iterator[None]:
    """Hold the pen of a vessel folder; others wait for it, other processes too where they can."""
    from futtock.yard.doors import in_turn

    mine = _pens.setdefault(folder.resolve(), _Pen())
    with mine.lock:
        mine.times += 1
        try:
            if mine.times > 1:
                yield
            else:
                with in_turn(folder / KEPT / "pen.lock"):
                    yield
        finally:
            mine.times -= 1
