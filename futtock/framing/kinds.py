"""Findings that framing can make."""

from __future__ import annotations

from futtock.findings import Kind, Severity

MISSES_HULL = Kind(
    "F001",
    Severity.MISFIT,
    "A frame's plane does not cut the hull from heel to head",
    "Move the frame, leave it out, state a smaller count, or change its cant.",
)
BEVEL_LARGE = Kind(
    "F002",
    Severity.DOUBT,
    "A bevel is larger than was stated",
    "Cant the frame, or take the bevel by hand.",
)
BEVEL_BEYOND_SAW = Kind(
    "F003",
    Severity.MISFIT,
    "A bevel is beyond what the saw can cut",
    "Cant the frame, or leave the cut full and take the rest off by hand.",
)
DEPARTURE = Kind(
    "F004",
    Severity.DOUBT,
    "The ruled saw cut stands off the true surface",
    "Saw full and fair the edge with the planks' battens, or thin the layers.",
)
BUTTS_NEAR = Kind(
    "F005",
    Severity.MISFIT,
    "Butts of the two layers are nearer than the shift",
    "Move one of them.",
)
BUTTS_IN_LINE = Kind(
    "F006",
    Severity.NOTE,
    "Butts lie in line with those of the next frame",
    "Shift the butts of one frame.",
)
TIMBER_LONG = Kind(
    "F007",
    Severity.MISFIT,
    "A timber is longer than the longest stated",
    "Add a butt, or allow a longer timber.",
)
TIMBER_SHORT = Kind(
    "F008",
    Severity.DOUBT,
    "A timber is shorter than the shortest stated",
    "Take a butt out, or allow a longer timber.",
)
SHORT_GRAIN = Kind(
    "F009",
    Severity.DOUBT,
    "Straight plank would give short grain",
    "Use a crook, or divide the timber.",
)
TIMBER_WIDE = Kind(
    "F010",
    Severity.MISFIT,
    "A timber is wider than the widest slab",
    "Divide it, or look for a crook.",
)
HEAD_LOW = Kind(
    "F011",
    Severity.MISFIT,
    "A frame's head is below its stated height",
    "Look at the sheer there, or leave the head longer.",
)
HEEL_MISSES = Kind(
    "F012",
    Severity.MISFIT,
    "A heel does not stand on the keel",
    "Look at the keel top and the rabbet there, or let the heel land on deadwood.",
)
FRAMES_CROSS = Kind(
    "F013",
    Severity.MISFIT,
    "Frames cross or stand too near",
    "Lessen the cant of one, or move it.",
)
SWALLOWTAIL = Kind(
    "F014",
    Severity.NOTE,
    "The inner edge folds and its corner was worked to a round",
    "The corner keeps a little more than the moulded size.",
)
HEELS_NEAR = Kind(
    "F015",
    Severity.DOUBT,
    "The heels of canted frames stand nearer than was stated",
    "Lessen a cant, or move a frame.",
)
NO_HEAD = Kind(
    "F016",
    Severity.DOUBT,
    "The sheer's height is not known at a frame, so the surface's upper bound was taken",
)
UNFAIR_BEVELS = Kind(
    "F017",
    Severity.DOUBT,
    "Bevels jump from frame to frame along a diagonal",
    "Look at the lines there: fair bevels come from fair lines.",
)
HEEL_BEARS_LITTLE = Kind(
    "F018",
    Severity.DOUBT,
    "A heel bears on little of the keel",
    "Give the frame a floor across the keel, or let the heel down on to the deadwood's side.",
)
AS_BUILT_DOUBTFUL = Kind(
    "F020",
    Severity.DOUBT,
    "A standing frame is said to stand further off her drawing than frames do",
    "Measure it again; a tape is easily misread by a whole inch or foot. Else she is out.",
)
AS_BUILT_ASTRAY = Kind(
    "F019",
    Severity.DOUBT,
    "A measured point cannot be of the frame that it is given for",
    "Look at the figure, and at the frame's number.",
)
