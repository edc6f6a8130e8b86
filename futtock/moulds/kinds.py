"""The kinds of finding that moulds make: D0 moulds, D1 patterns already made, D2 stale ones."""

from __future__ import annotations

from futtock.findings import Kind, Severity

CROSSED = Kind(
    "D001",
    Severity.MISFIT,
    "A timber's outline crosses itself and no simple outline was found near it",
    "Divide the frame differently there or lessen the moulded size.",
)
SWALLOWTAIL = Kind(
    "D002",
    Severity.NOTE,
    "The inner edge turned back on itself and was trimmed to where it meets",
    "The hull is rounder there than the timber is deep: look at the inner corner before sawing.",
)
FACES_APART = Kind(
    "D003",
    Severity.MISFIT,
    "The two faces of a timber hardly overlap",
    "The bevel is too large for a square frame here: cant the frame or side the timber thinner.",
)
DOUBTFUL_LINES = Kind(
    "D004",
    Severity.DOUBT,
    "The lines are uncertain under some moulds",
    "Leave on the outer edge what the mould says, and fair it on the standing frame.",
)
SIDES_APART = Kind(
    "D005",
    Severity.NOTE,
    "Port and starboard of a frame are not twins: a part of the hull stays as it was found",
    "Saw port by port's own moulds; half patterns and frame sheets show starboard.",
)
PATTERN_UNREADABLE = Kind(
    "D101", Severity.FAULT, "A pattern's file cannot be read", "Write it out again, or tape it."
)
PATTERN_OUTLINE = Kind(
    "D102",
    Severity.FAULT,
    "A pattern has no single closed outline",
    "Close the outline of the face that is up and leave out what is not the timber.",
)
PATTERN_MARK = Kind(
    "D103",
    Severity.FAULT,
    "A pattern's piece mark cannot be understood",
    "Write frame, side, layer and number, as in 12-P-f2.",
)
PATTERN_BEVEL = Kind(
    "D104",
    Severity.DOUBT,
    "A pattern carries no bevels and is taken as square",
    "Write the degrees at two or more marks of each edge.",
)
PATTERN_UNITS = Kind(
    "D105",
    Severity.DOUBT,
    "A pattern's file names no unit and is taken as millimetres",
    "Set the unit of the file, or write mm after the figures.",
)
PATTERN_FIGURE = Kind(
    "D106", Severity.FAULT, "A figure of a pattern cannot be read", "Write a length or degrees."
)
PATTERN_ENDS = Kind(
    "D107",
    Severity.DOUBT,
    "A pattern does not say which end is the heel and it was taken by its lie",
    "Put HEEL beside the end that stands lower in the vessel.",
)
STALE = Kind(
    "D201",
    Severity.MISFIT,
    "A pattern made earlier is now wrong",
    "Print and mark it again; look whether the timber sawn to it can still be dubbed.",
)
GONE = Kind(
    "D202",
    Severity.MISFIT,
    "A pattern made earlier belongs to a timber that is no more",
    "Take it off the wall.",
)
