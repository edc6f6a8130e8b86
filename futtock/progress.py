"""Progress of long work: functions take a ``report`` callable; its answer says whether to go on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a long piece of work has come.

    ``done`` of ``of`` in the work's own count (``of`` is 0 where the end is not known);
    ``says`` is a short clause for a person ("312 of 358 timbers placed on 61 slabs").
    """

    task: str
    done: float
    of: float
    says: str = ""


Report = Callable[[Progress], bool]
"""Told of progress; answers True to go on, False to stop with the best so far."""


def quiet(_: Progress) -> bool:
    """The report of those who want none: always go on."""
    return True
