"""A pile drawn slowly, for tests that end a worker in the midst of it."""

from __future__ import annotations

import time

from futtock.layout.drawn import Case, Drawn, draw


def slowly(case: Case, r: int) -> Drawn:
    """One pile, a little later."""
    time.sleep(0.15)
    return draw(case, r)
