"""What can be wrong with what the builder states."""

from __future__ import annotations

from futtock.findings import Kind, Severity

_FAULT, _MISFIT, _DOUBT, _NOTE = Severity.FAULT, Severity.MISFIT, Severity.DOUBT, Severity.NOTE

# Files
NO_FOLDER = Kind(
    "V001",
    _FAULT,
    "There is no vessel folder here.",
    "Make one with: futtock new DIR",
)
MISSING_FILE = Kind(
    "V002",
    _FAULT,
    "A file that vessel.toml names is not there.",
    "Put the file there, or name the right one.",
)
UNREADABLE_FILE = Kind(
    "V003",
    _FAULT,
    "A file cannot be read.",
    "Save it again as plain text (CSV, UTF-8) or as XLSX.",
)
ENCODING = Kind(
    "V004",
    _NOTE,
    "A file is not in UTF-8; it was read as Windows-1252.",
    "Save it again as UTF-8 so that every letter is sure.",
)
EMPTY_FILE = Kind(
    "V005",
    _FAULT,
    "A file holds nothing that can be read.",
    "Fill it in, or remove it.",
)
TOO_LARGE = Kind(
    "V006",
    _FAULT,
    "A file is far larger than such a paper can be.",
    "Look whether it is the right file.",
)

# vessel.toml
NOT_TOML = Kind(
    "V010",
    _FAULT,
    "vessel.toml cannot be read as TOML.",
    "Mend that line: a key, an equals sign, and a value; text between quotes.",
)
UNKNOWN_KEY = Kind(
    "V011",
    _MISFIT,
    "A key that is not known; it was left out.",
    "Correct its spelling or remove it.",
)
MISSING_KEY = Kind(
    "V012",
    _FAULT,
    "A key that is needed is not there.",
    "Add it to vessel.toml.",
)
WRONG_VALUE = Kind(
    "V013",
    _FAULT,
    "A key's value cannot be used; it was left out.",
    "Correct it in vessel.toml.",
)
ODD_VALUE = Kind(
    "V014",
    _MISFIT,
    "Two stated values contradict each other.",
    "Correct one of the two.",
)

# Tables (offsets.csv and the smaller papers)
NO_HEADER = Kind(
    "V020",
    _FAULT,
    "The table's first row is not its header.",
    "Begin the table with the row of names shown in the guide to its file.",
)
RAGGED = Kind(
    "V021",
    _MISFIT,
    "A row has more cells than the header has columns; those beyond were left out.",
    "Look for a comma too many in that row.",
)
SHORT_ROW = Kind(
    "V022",
    _DOUBT,
    "A row has fewer cells than the header has columns; the rest were taken as empty.",
    "Add the empty cells, so that it is sure that none has slipped.",
)
UNKNOWN_ROW = Kind(
    "V023",
    _FAULT,
    "The row's name is not known; it was left out.",
    "Correct its spelling.",
)
DUPLICATE_ROW = Kind(
    "V024",
    _MISFIT,
    "A row stands twice; the first was kept.",
    "Remove the one that is not meant.",
)
NO_STATIONS = Kind(
    "V025",
    _FAULT,
    "The row of station positions is missing.",
    "Add a row: station,,x of each station aft of the forward perpendicular",
)
STATION_LEFT_OUT = Kind(
    "V026",
    _FAULT,
    "A station has no position that can be read; its column was left out.",
    "Write its x in the station row.",
)
STATIONS_DISORDER = Kind(
    "V027",
    _MISFIT,
    "The stations do not run from forward to aft; they were put in order.",
    "Look whether one position is a slip.",
)
DUPLICATE_STATION = Kind(
    "V028",
    _FAULT,
    "Two stations have one name or one position; the second was left out.",
    "Correct the name or the position.",
)
UNKNOWN_DIAGONAL = Kind(
    "V029",
    _FAULT,
    "The diagonal's plane is not stated; the row was left out.",
    'State it in vessel.toml: [diagonals] A = { height = "6-6-0", slope_deg = -35 }',
)
UNKNOWN_LINE = Kind(
    "V030",
    _FAULT,
    "The line's name is not known; the row was left out.",
    "Write one of the names that docs/formats/offsets lists, as sheer or waterline 2-3-0.",
)
UNKNOWN_PLACE = Kind(
    "V031",
    _FAULT,
    "There is no such line or station in the table of offsets; the mend was left out.",
    "Write the row's first two cells joined by a blank, and the station's name.",
)
WRONG_CELL = Kind(
    "V032",
    _FAULT,
    "A cell cannot be used; its row was left out.",
    "Correct the cell.",
)
EMPTY_ROW = Kind(
    "V033",
    _DOUBT,
    "A row holds no figure.",
    "Fill it in, or remove it.",
)

# What the figures say about one another
UNIT_MIXED_UP = Kind(
    "V040",
    _MISFIT,
    "The figures make no vessel in the unit that is stated.",
    "Look at unit under [lines] in vessel.toml.",
)
CROSSED_HEIGHTS = Kind(
    "V041",
    _MISFIT,
    "A line lies below one that it must lie above.",
    "Look at both figures; one is a slip, or two rows are exchanged.",
)
TOO_FEW = Kind(
    "V042",
    _FAULT,
    "There are too few figures to draw a hull from.",
    "Give half-breadths on waterlines, heights of buttocks or diagonals at four stations or more.",
)
ENDS_ELSEWHERE = Kind(
    "V043",
    _MISFIT,
    "An end line lies far from the stations.",
    "Look at its x and at the unit under [lines] in vessel.toml.",
)
ENDS_DISORDER = Kind(
    "V044",
    _DOUBT,
    "The points of an end line turn back on themselves.",
    "Write the points in order along the line.",
)

KINDS: tuple[Kind, ...] = tuple(k for k in list(globals().values()) if isinstance(k, Kind))
