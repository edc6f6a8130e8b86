"""What the stock room can notice, numbered: S0xx the file, S1xx outlines, S2xx grain and flaws,
S3xx figures, S4xx the tape, S5xx wood and weight, S6xx the pile.
"""

from __future__ import annotations

from futtock.findings import Kind, Severity

_FAULT, _MISFIT, _DOUBT, _NOTE = Severity.FAULT, Severity.MISFIT, Severity.DOUBT, Severity.NOTE

NO_RACK = Kind(
    "S001", _NOTE, "no rack yet", "Write slabs.json, or slabs/*.json, or add slabs: 'rack add'."
)
NOT_JSON = Kind("S002", _FAULT, "not JSON", "Mend the place named, or take back the last change.")
NOT_A_SLAB = Kind(
    "S003", _FAULT, "not a slab", 'A rack is a list of slabs, each in braces: {"name": ...}.'
)
KEY_MISSING = Kind("S004", _FAULT, "key missing", "Add the key to the slab.")
KEY_WRONG = Kind("S005", _FAULT, "value of the wrong form", "Write the value as expected.")
NAME_TWICE = Kind(
    "S006", _MISFIT, "two slabs of one name", "Give each slab a name of its own, chalked on it."
)
KEY_UNKNOWN = Kind("S007", _NOTE, "key not known", "It is kept as written; check its spelling.")

NO_FILE = Kind(
    "S008", _FAULT, "rack file cannot be opened", "See that the file is there and may be read."
)

CROSSES = Kind(
    "S101",
    _MISFIT,
    "outline crosses itself",
    "Walk the outline once round in order; two points are likely exchanged. "
    "Until then the slab is set aside.",
)
CLOCKWISE = Kind(
    "S102", _NOTE, "outline drawn clockwise", "It has been turned about; the shape is the same."
)
CLOSED_TWICE = Kind(
    "S103", _NOTE, "first point repeated at the end", "The repeated point is left out."
)
TOO_FEW = Kind(
    "S104", _MISFIT, "too few points", "Give three points or more; until then it is set aside."
)
UNCLOSED = Kind(
    "S105",
    _DOUBT,
    "outline leaves a wide gap",
    "It is closed with a straight line; add the points that are missing if that is not so.",
)
NO_AREA = Kind(
    "S106", _MISFIT, "outline holds no wood", "Measure it again; until then it is set aside."
)
BOTTOM_FAR = Kind(
    "S110",
    _MISFIT,
    "bottom far from top",
    "Give both faces in the same axes, seen from above the top face.",
)
BOTTOM_FROM_BELOW = Kind(
    "S111",
    _DOUBT,
    "bottom drawn as seen from below",
    "Give the bottom as seen through the slab from above its top: turn it over left for right.",
)
BOTTOM_ABSENT = Kind(
    "S112", _NOTE, "no bottom given", "It is taken as the top; measure it where the edge is waney."
)
WHOLE_FACE_SMALLER = Kind(
    "S113",
    _DOUBT,
    "whole face does not hold the sound outline",
    "The face within the bark is the larger of the two; see whether they are exchanged.",
)

GRAIN_OUTSIDE = Kind(
    "S201", _MISFIT, "grain line off the slab", "Trace it again in the axes of the outline."
)
GRAIN_SHORT = Kind("S202", _DOUBT, "grain line too short", "Trace at least two points apart.")
GRAIN_GUESSED = Kind(
    "S203",
    _NOTE,
    "no grain traced",
    "The outline's middle line stands in; trace a line before a crook is cut.",
)
FLAW_KIND = Kind(
    "S210",
    _DOUBT,
    "kind of flaw not known",
    "It is kept clear of; write one of the kinds that are known, or leave it so.",
)
FLAW_FACE = Kind("S211", _DOUBT, "face of a flaw not known", "It is taken as on both faces.")
FLAW_OUTSIDE = Kind("S212", _DOUBT, "flaw off the slab", "Measure its place again.")
FLAW_OUTLINE = Kind(
    "S213",
    _DOUBT,
    "flaw's outline cannot be used as drawn",
    "The ground round all its points is kept clear of; draw it once round in order.",
)

THICKNESS_UNIT = Kind(
    "S301", _MISFIT, "thickness hardly in millimetres", "Write the thickness in millimetres."
)
SIZE_UNIT = Kind("S302", _MISFIT, "slab hardly in millimetres", "Write the outline in millimetres.")
MOISTURE_ODD = Kind(
    "S303", _DOUBT, "moisture hardly possible", "Write percent of the oven-dry mass, as 18."
)
SPECIES_UNKNOWN = Kind(
    "S304",
    _DOUBT,
    "species not in the table",
    "Its mass and shrinkage are not computed; write a species of the table, or add figures.",
)

HEAVY = Kind(
    "S501",
    _NOTE,
    "beyond one person's lift",
    "Use a hoist, rollers or more hands; local rules and a competent person come first.",
)

TAPE_CELL = Kind("S401", _FAULT, "cell cannot be read", "Write the length as the form shows.")
TAPE_HEADING = Kind(
    "S402", _DOUBT, "heading not known", "The column is passed over; use the form's own headings."
)
TAPE_ORDER = Kind(
    "S403", _MISFIT, "stations out of order", "Write the stations from the butt end onward."
)
TAPE_EXCHANGED = Kind(
    "S404",
    _MISFIT,
    "right edge left of the left edge",
    "Left and right are as you stand at the butt and look along the base line; exchange them.",
)
TAPE_FEW = Kind("S405", _FAULT, "too few stations", "Measure both edges at two stations or more.")
TAPE_GAP = Kind(
    "S406",
    _DOUBT,
    "stations far apart",
    "Measure between them: every foot (300 mm), closer where the edge bends.",
)
TAPE_THICKNESS = Kind(
    "S407",
    _NOTE,
    "thickness uneven",
    "The thinnest reading counts; measure cup and twist before thicknessing.",
)
TAPE_NAMELESS = Kind(
    "S408", _FAULT, "readings before any slab", "Begin each slab with a line: slab, NAME."
)
TAPE_MISSING = Kind("S409", _FAULT, "missing from the record", "Measure it and write it in.")
TAPE_LINE = Kind(
    "S410", _DOUBT, "line not understood", "It is passed over; see the form for what may be said."
)
TAPE_JUMP = Kind(
    "S411",
    _DOUBT,
    "an edge jumps between stations",
    "Look at the figure again: an inch or a foot may be slipped, or a unit wrong.",
)

WANE_ODD = Kind(
    "S412",
    _MISFIT,
    "wane hardly possible",
    "Look at the figures and their unit again: wane is how much wider the bottom is, from the butt "
    "on, left and right as you stand at the butt.",
)

STOCK_ROW = Kind(
    "S601", _FAULT, "row of pin stock cannot be read", "Write it as the heading of the file says."
)
STOCK_SHORT = Kind(
    "S602", _MISFIT, "not enough pin stock", "Get more squares of that size, or longer ones."
)
STOCK_SPECIES = Kind(
    "S603",
    _DOUBT,
    "wood seldom used for it",
    "Treenails: locust, osage orange, live oak; wedges: the same or oak (trade practice).",
)

PHOTO_FILE = Kind(
    "S701", _FAULT, "photograph cannot be opened", "Send the file as the phone made it, as JPEG."
)
PHOTO_FORM = Kind(
    "S702",
    _FAULT,
    "kind of picture not read",
    "Set the phone to JPEG ('most compatible'), or save the picture as JPEG or PNG.",
)
PHOTO_SIZE = Kind(
    "S703", _FAULT, "picture too large", "Save it smaller: 12 megapixels are plenty for a slab."
)
PHOTO_CUT = Kind("S704", _FAULT, "picture cut short", "Send or copy the file again, whole.")
PHOTO_COLOURS = Kind(
    "S705", _FAULT, "printing colours (CMYK)", "Save it as an ordinary RGB picture."
)
PHOTO_SMALL = Kind(
    "S706", _MISFIT, "picture too coarse", "Send it at full size, or stand nearer: 1 mm a pixel."
)
PHOTO_REDUCED = Kind("S707", _NOTE, "picture read at a part of its size", "Nothing is lost by it.")
PHOTO_TURNED = Kind("S708", _NOTE, "picture turned upright", "As the camera's own mark says.")
PHOTO_BLURRED = Kind(
    "S709",
    _DOUBT,
    "picture blurred",
    "Hold the phone still or rest it on something, and take it again in better light.",
)
PHOTO_SLOW = Kind(
    "S710", _FAULT, "picture takes too long to open", "Save it again as a smaller JPEG."
)
CARDS_NONE = Kind(
    "S720",
    _FAULT,
    "no card found",
    "Lay four or more of the printed cards flat on the slab, from end to end, unshaded, and none "
    "folded or cut into.",
)
CARDS_ONE = Kind(
    "S721",
    _FAULT,
    "one card only",
    "One card cannot carry a scale along the slab: lay four or more from end to end.",
)
CARDS_FEW = Kind(
    "S722", _DOUBT, "few cards", "Lay four or more, the outermost near the ends; tape a distance."
)
CARDS_DISAGREE = Kind(
    "S723",
    _MISFIT,
    "a card disagrees with the others",
    "See that it lies flat on the face and was printed at its full size; take it away, or again.",
)
CARDS_TWICE = Kind(
    "S724", _MISFIT, "two cards of one number", "Use each number once in a photograph."
)
CARDS_FLOOR = Kind(
    "S725",
    _DOUBT,
    "where do the cards lie?",
    "Say whether they lie on the slab's face or on the floor: nothing in the picture shows it, "
    "and cards on the floor make the slab some 3 % too large.",
)
CARDS_TAPE = Kind(
    "S726",
    _NOTE,
    "no taped distance",
    "Tape one distance between the outermost cards, centre to centre, and give it.",
)
CARDS_TAPE_OFF = Kind(
    "S727",
    _MISFIT,
    "the taped distance and the cards disagree",
    "Tape it again, centre to centre of the black squares; see the cards were printed full size.",
)
CARDS_BESIDE = Kind(
    "S728",
    _MISFIT,
    "cards lie where they were said not to",
    "Say where they lie, all at one height: on the slab's face, or beside it on the floor.",
)
FACE_NOT_FOUND = Kind(
    "S730", _FAULT, "slab not found in the picture", "Draw its outline, or tape the slab."
)
FACE_DOUBTED = Kind(
    "S731",
    _DOUBT,
    "outline not sure",
    "Look at the places named and correct them on the portrait.",
)
FACE_CUT = Kind(
    "S732",
    _MISFIT,
    "slab runs out of the picture",
    "Take it again with both ends in view, or give the end by tape.",
)
SAPWOOD_UNTOLD = Kind(
    "S733",
    _NOTE,
    "sapwood not told apart",
    "The sound outline is the whole face; draw the sapwood's edge if there is any.",
)
FLAWS_PROPOSED = Kind(
    "S734", _DOUBT, "flaws proposed", "Look at each: keep it, change it or take it away."
)
GRAIN_UNSURE = Kind(
    "S735", _DOUBT, "grain not seen well", "Trace a line or two along it before a crook is cut."
)
CORRECTION = Kind(
    "S736", _DOUBT, "correction cannot be applied", "Draw it again, nearer to the edge meant."
)
CARDS_MOVED = Kind(
    "S738",
    _DOUBT,
    "cards were moved between the two faces",
    "To tie by cards, fix them to the slab's edges, printed on both sides, before it is turned.",
)
CORRECTIONS_FILE = Kind(
    "S739",
    _FAULT,
    "corrections cannot be read",
    'Write a list of corrections, or {"top": [...], "bottom": [...], "cards": {...}}.',
)
FACES_UNTIED = Kind(
    "S737",
    _MISFIT,
    "the two faces do not match",
    "See that both photographs are of this slab; give the second face as wane widths by tape.",
)
