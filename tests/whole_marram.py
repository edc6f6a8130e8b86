"""Marram computed once for all tests that draw or hand her over."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from futtock.drawing.heading import Heading
from futtock.job.whole import Job

FOLDER = Path(__file__).resolve().parent.parent / "futtock" / "demo"
HEADING = Heading("Marram", "14 March 2026", "7f3a21bc", "imperial")


@lru_cache(maxsize=1)
def marram() -> Job:
    """The demo vessel; what is asked of it is computed once."""
    return Job(FOLDER)
