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
BATTENED = Kind(
    "L003",
    Severity.DOUBT,
    "The figures scatter more widely than the tolerance stated.",
    "State a larger tolerance, or look for a row that is off as a whole.",
)
UNPLACED = Kind(
    "L004",
    Severity.DOUBT,
    "Figures that nothing places: their height or diagonal is not given.",
    "Give the row of heights (or the diagonal in vessel.toml) that goes with them.",
)
SCANTY = Kind(
    "L005",
    Severity.NOTE,
    "Places where the surface is known much less well than elsewhere.",
    "Measure more there.",
)
NO_POINTS = Kind(
    "L101", Severity.FAULT, "No survey points can be had from the file.", "Give a file of points."
)
BROKEN_POINTS = Kind(
    "L102",
    Severity.FAULT,
    "A point file is broken.",
    "Write it out again from the program that measured it.",
)
TOO_MANY = Kind(
    "L103",
    Severity.FAULT,
    "A point file holds more points than can be used.",
    "Thin it first: a million points serve a hull well.",
)
BAD_POINTS = Kind("L104", Severity.NOTE, "Some points could not be read and were passed over.")
ODD_SIZE = Kind(
    "L105",
    Severity.DOUBT,
    "The points span an unlikely length.",
    "State the unit of the file's numbers.",
)
EDGE_TAKEN = Kind(
    "L106",
    Severity.NOTE,
    "A bounding line was not surveyed; the edge of the points was taken for it.",
    "Survey the line and name its points.",
)
OUTLIERS = Kind("L107", Severity.NOTE, "Points that lie off the hull were left out.")
NO_KEEL = Kind(
    "L108",
    Severity.DOUBT,
    "Hog cannot be taken out: no points of the keel.",
    "Survey the underside of the keel and name its points 'keel'.",
)
ONE_SIDED = Kind(
    "L109",
    Severity.DOUBT,
    "Bend and twist cannot be told from one side's points.",
    "Survey the other side too, or state that nothing is to be taken out.",
)
ASSUMED = Kind(
    "L110",
    Severity.DOUBT,
    "A choice that the points cannot decide was assumed.",
    "State it under [restore] in vessel.toml.",
)
STEPPED = Kind(
    "L111",
    Severity.NOTE,
    "Where the hull stays as found she stands off her restored lines.",
)
