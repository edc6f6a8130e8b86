"""What can be wrong with a written length or angle."""

from __future__ import annotations

from futtock.findings import Kind, Severity

NOT_A_LENGTH = Kind(
    "M001",
    Severity.FAULT,
    "This is not a length.",
    "Write it as 3-4-5 (feet-inches-eighths), 40 5/8 in or 1032 mm.",
)
DATE = Kind(
    "M002",
    Severity.FAULT,
    "A date stands where a length should be.",
    "Set the cells to text in the spreadsheet and write the length again.",
)
PLACE_TOO_LARGE = Kind(
    "M003",
    Severity.FAULT,
    "A place of the notation is too large: inches run to 11, eighths to 7.",
    "Look at the figure again; carry what is over into the place before.",
)
NO_UNIT = Kind(
    "M004",
    Severity.FAULT,
    "A fraction without its unit.",
    "Write the unit after it, as 1-1/4 in.",
)
UNKNOWN_UNIT = Kind(
    "M005",
    Severity.FAULT,
    "The unit is not known.",
    "Use mm, cm, m, in or ft.",
)
NOT_AN_ANGLE = Kind(
    "M006",
    Severity.FAULT,
    "This is not an angle.",
    "Write it in degrees, as 12.5 or 12 1/4.",
)

KINDS: tuple[Kind, ...] = (
    NOT_A_LENGTH,
    DATE,
    PLACE_TOO_LARGE,
    NO_UNIT,
    UNKNOWN_UNIT,
    NOT_AN_ANGLE,
)
