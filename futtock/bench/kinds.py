"""The kinds of finding the bench makes: B0 sawing, B1 fastening, B2 thicknessing, B3 scarfs, B4
lifting.
"""

from __future__ import annotations

from futtock.findings import Kind, Severity

BLADE_TOO_WIDE = Kind(
    "B001",
    Severity.DOUBT,
    "The blade is too wide for the tightest turn of a cut",
    "Saw outside the line there with relief cuts, or change to a narrower blade.",
)
TWIST = Kind(
    "B002",
    Severity.DOUBT,
    "The angle changes faster than a blade this wide lets it",
    "Feed slowly, use a narrower blade or more set, or leave wood and finish by hand.",
)
HEAD_RANGE = Kind(
    "B003",
    Severity.MISFIT,
    "An angle is past the head's range",
    "Feed the other end first where that helps; else saw at the limit and hew the rest.",
)
RULED = Kind(
    "B004",
    Severity.NOTE,
    "A straight saw cut cannot follow the surface between the faces",
    "Leave the wood proud where it says so and fair it with the adze or plane.",
)
SAW_SPREAD = Kind(
    "B005",
    Severity.DOUBT,
    "The test pieces disagree with one another about the saw's head",
    "Saw and measure them again; look for play in the guides and the table.",
)
HOLES_TOO_FEW = Kind(
    "B101",
    Severity.MISFIT,
    "A butt has fewer treenails beside it than the rule asks",
    "Lengthen the shift of butts, lessen the end distance, or bolt there.",
)
NO_ROOM = Kind(
    "B102",
    Severity.MISFIT,
    "The edge distances leave no room for a hole",
    "Use a smaller treenail, accept a smaller edge distance, or leave the timber deeper.",
)
BELOW_PUBLISHED = Kind(
    "B103",
    Severity.DOUBT,
    "A fastening setting is less than a published value",
    "Read the source beside it and decide; no published rule was found for a frame's own layers.",
)
TREENAIL_WET = Kind(
    "B104",
    Severity.DOUBT,
    "The treenails are not drier than the frame",
    "Dry them below the frame's moisture, so that they swell and hold.",
)
DRIFT = Kind(
    "B105",
    Severity.DOUBT,
    "The hole is not smaller than the treenail",
    "Bore under the treenail's size, so that it drives tight.",
)
SPACING_WIDE = Kind(
    "B106",
    Severity.NOTE,
    "Holes stand further apart than the spacing asked for",
    "Butts, ends and kept-clear stretches leave no better place.",
)
TOO_THIN = Kind(
    "B201",
    Severity.MISFIT,
    "A slab cannot be brought to the sided size all over",
    "Choose a thicker or flatter slab, cut it shorter before flattening, or accept a thin corner.",
)
WILL_SHRINK = Kind(
    "B202",
    Severity.DOUBT,
    "The wood is not dry and will be thinner later",
    "Leave the allowance named, or thickness it again when dry.",
)
SCARF_SHORT = Kind(
    "B301",
    Severity.DOUBT,
    "A scarf is shorter than a published ratio",
    "Lengthen it or settle it with the surveyor.",
)
SCARF_BOLTS = Kind(
    "B302", Severity.MISFIT, "The bolts of a scarf have no room", "Use fewer or smaller bolts."
)
STOPWATER = Kind(
    "B303",
    Severity.NOTE,
    "A scarf crosses the rabbet",
    "Bore the stopwater after the scarf is bolted, half in each piece, in the rabbet's middle.",
)
HEAVY = Kind(
    "B401",
    Severity.DOUBT,
    "A piece is more than one person should lift",
    "Use the number of people or the tackle named; local rules and a competent person come first.",
)
