"""What can be wrong with the journal and what is entered in it."""

from __future__ import annotations

from futtock.findings import Kind, Severity

_FAULT, _MISFIT, _DOUBT, _NOTE = Severity.FAULT, Severity.MISFIT, Severity.DOUBT, Severity.NOTE

# Entries
OUT_OF_TURN = Kind(
    "Y001",
    _DOUBT,
    "The work is entered before what must come first.",
    "Enter what was done before, or give the reason with the entry.",
)
OUT_OF_TURN_WITH_REASON = Kind(
    "Y002",
    _NOTE,
    "The work is entered out of turn, with a reason.",
    "Nothing need be done; the reason is kept.",
)
DONE_ALREADY = Kind(
    "Y003",
    _DOUBT,
    "This was entered already; the first entry counts.",
    "If the first one is wrong, undo it.",
)
GIVEN_ALREADY = Kind(
    "Y004",
    _DOUBT,
    "The slab was given already; the first entry counts.",
    "Lay this timber out on another slab, or give the reason why both fit.",
)
SLAB_GONE = Kind(
    "Y005",
    _DOUBT,
    "The slab is no longer there.",
    "Look at the name on the slab.",
)
UNKNOWN_MARK = Kind(
    "Y006",
    _DOUBT,
    "The mark is none of the vessel's.",
    "Look at the mark on the timber; undo the entry if it is wrong.",
)

# The journal itself
NOT_A_JOURNAL = Kind(
    "Y020",
    _FAULT,
    "The journal's file cannot be read.",
    "Look at the dated copies in journal-copies; futtock journal import takes them in.",
)
NEWER_JOURNAL = Kind(
    "Y021",
    _FAULT,
    "The journal was made by a newer Futtock.",
    "Use that one.",
)
CANNOT_WRITE = Kind(
    "Y022",
    _FAULT,
    "The entry could not be written; nothing was changed.",
    "Make room on the disk, or look at who may write there, and enter it again.",
)
BUSY = Kind(
    "Y023",
    _FAULT,
    "The journal is held by another program; nothing was changed.",
    "Enter it again.",
)
RECOVERED = Kind(
    "Y024",
    _MISFIT,
    "The journal was damaged and was made good from its copies.",
    "Compare what is said to be lost with the travellers, and enter it again.",
)
COPY_BEHIND = Kind(
    "Y025",
    _DOUBT,
    "The dated copy could not be written; the journal itself holds the entry.",
    "Make room on the disk.",
)
CHAIN_BROKEN = Kind(
    "Y030",
    _MISFIT,
    "A record of the journal was changed after it was written.",
    "Compare it with the dated copies.",
)
RECORD_MISSING = Kind(
    "Y031",
    _MISFIT,
    "A record of the journal is missing.",
    "Take it in from the dated copies: futtock journal import",
)
COPY_DIFFERS = Kind(
    "Y032",
    _MISFIT,
    "The dated copies do not agree with the journal.",
    "Compare the two; one of them was changed.",
)
CLOCK_BACK = Kind(
    "Y033",
    _NOTE,
    "The clock went back between two entries; their order is kept all the same.",
    "Set the clock right.",
)
BAD_LINE = Kind(
    "Y040",
    _FAULT,
    "A line is no journal entry.",
    "Give the file as futtock journal export wrote it.",
)
CHANGED_LINE = Kind(
    "Y041",
    _FAULT,
    "An entry does not match its own seal: it was changed after it was written.",
    "Take the entry from another copy.",
)
OTHER_CONTENT = Kind(
    "Y042",
    _FAULT,
    "An entry has the id of another with different content.",
    "Look which of the two is right.",
)
NEVER_DRY = Kind(
    "Y050",
    _DOUBT,
    "A slab does not get as dry as is asked before it is roughed out.",
    "Meter it again; or ask for less under [yard], dry_to_percent, or state the shed's own air.",
)

KINDS: tuple[Kind, ...] = tuple(k for k in list(globals().values()) if isinstance(k, Kind))
