"""What the layout room can notice: P0xx what it is given, P1xx what does not fit, P2xx the rack,
P3xx locks and wishes, P4xx the search itself, P5xx whether there is enough.
"""

from __future__ import annotations

from futtock.findings import Kind, Severity

_FAULT, _MISFIT, _DOUBT, _NOTE = Severity.FAULT, Severity.MISFIT, Severity.DOUBT, Severity.NOTE

NO_RACK = Kind("P001", _MISFIT, "no slab to lay on", "Record slabs in slabs.json, or by tape.")
NO_TIMBERS = Kind("P002", _NOTE, "no timber to lay", "Make moulds first.")
EMPTY_MOULD = Kind(
    "P003", _MISFIT, "a mould without area or without a middle line", "Draw that mould again."
)
TWICE = Kind("P004", _MISFIT, "two moulds of one mark", "Give each timber a mark of its own.")
EMPTY_SLAB = Kind("P005", _MISFIT, "a slab without sound wood", "Measure it again.")
SLAB_TWICE = Kind("P006", _MISFIT, "two slabs of one name", "Chalk a name of its own on each slab.")

TOO_THIN = Kind(
    "P101",
    _MISFIT,
    "no slab is thick enough",
    "Saw thicker stock, or plane this timber to less, or make it of two thicknesses.",
)
TOO_LONG = Kind(
    "P102", _MISFIT, "longer than any slab", "Divide the frame into shorter timbers, or buy longer."
)
FITS_NOWHERE = Kind(
    "P103", _MISFIT, "fits nowhere on the rack", "Look for the shape of slab that would serve."
)
UNPLACED = Kind(
    "P104",
    _MISFIT,
    "no place left for a timber",
    "Search longer, or get another slab, or divide the frame differently.",
)
MENDED = Kind("P110", _NOTE, "a placement moved a little to pass the exact check")
OVER_KNOT = Kind(
    "P112",
    _NOTE,
    "a timber is laid over a sound knot that the builder allows",
    "Look at the knot: tight and sound, or lay the timber elsewhere.",
)
LEFT_OUT = Kind(
    "P111",
    _MISFIT,
    "a placement failed the exact check and was left out",
    "Search again, or lay it by hand where the grain can be looked at.",
)

WANTED_BY_NONE = Kind(
    "P201", _NOTE, "slabs that no timber wants", "They are better sold, or kept for other work."
)
SCARCE = Kind(
    "P202",
    _MISFIT,
    "more timbers than places for them",
    "Buy slabs of that shape, or divide those frames differently.",
)

UNKNOWN_NAME = Kind("P301", _DOUBT, "a wish names what there is not", "Check the mark or the slab.")
LOCK_FAILS = Kind(
    "P302",
    _MISFIT,
    "a locked placement does not pass the exact check",
    "It stands as you locked it; move it or unlock it.",
)
WISH_CLASH = Kind("P303", _DOUBT, "two wishes that cannot both be kept", "Take one of them back.")

TOO_FEW = Kind("P501", _DOUBT, "too few slabs measured", "Measure some of each stack first.")
NO_SAMPLE = Kind("P502", _DOUBT, "a stack of which none is measured", "Measure a few of it.")
NO_SHAPE = Kind(
    "P503",
    _MISFIT,
    "timbers that no slab measured can give",
    "Look for their shapes among the slabs not measured and measure those, or buy them.",
)

STOPPED = Kind("P401", _NOTE, "stopped before its time", "This is the best found until then.")
