"""The kinds of finding this room can make."""

from __future__ import annotations

from futtock.findings import Kind, Severity

DOUBTFUL = Kind(
    "L001",
    Severity.MISFIT,
    "A figure contradicts its neighbours.",
    "Look at the original; mend it in mends.csv. Later steps go on without it.",
)
DRY = Kind(
    "L002",
    Severity.DOUBT,
    "The hull does not reach the waterline given.",
    "State a waterline between the lowest rabbet and the sheer.",
)
