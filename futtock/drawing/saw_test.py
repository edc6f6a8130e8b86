"""The saw's test piece: what to saw, in which order, and where to write what was measured."""

from __future__ import annotations

from futtock.bench.calibration import TrialPiece
from futtock.bench.cautions import cautions
from futtock.drawing.figures import close_length, degrees, length
from futtock.drawing.heading import Heading, Scale, titled
from futtock.sheet.items import Face, Item, Text, path
from futtock.sheet.letters import wrapped
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import BUTT, CENTRE, SEEN, Tone
from futtock.sheet.table import Table, set_table

_WIDE = 178.0

HOW = (
    "Take a straight board, planed to one thickness, that long, one edge square to its faces.",
    "Saw across it at each line, in this order, cranking only the way that is named: the first "
    "half goes towards the left all the way, the second half back towards the right. Do not go "
    "past a setting and come back.",
    "Set the head by its own scale to the reading, cut, and number the piece that falls.",
    "Measure each cut from square with a protractor, or how far its top stands over its foot to "
    "the left: the angle's tangent is that over the thickness. Left and right are the feeder's, "
    "facing the teeth; to the left is plus.",
    "Write them in [saw] of vessel.toml as trial = [{ read = 30, true = 30.5, going = "
    '"left" }, ...]. Every saw sheet and strip is then corrected for zero, scale and backlash.',
)


def trial_sheet(piece: TrialPiece, heading: Heading) -> Sheet:
    """The test piece on upright A4, its cuts to scale along the board, a line for each reading."""
    out: list[Item] = [
        Text("Saw test piece", (0.0, 0.0), 14.0, Face.FIGURES_BOLD, rise="top"),
    ]
    y = -20.0
    for k, line in enumerate(HOW, 1):
        for n, said in enumerate(wrapped(line, 3.4, Face.WORDS, _WIDE - 8)):
            y -= 4.7
            if n == 0:
                out.append(Text(f"{k}.", (0.0, y), 3.4, Face.WORDS_BOLD))
            out.append(Text(said, (8.0, y), 3.4, Face.WORDS))
    y -= 8.0
    scale = _WIDE / piece.board_mm
    high = 16.0
    out.append(path([(0, y - high), (_WIDE, y - high), (_WIDE, y), (0, y)], SEEN, True, Tone.OAK))
    for k, (_, _, at) in enumerate(piece.cuts, 1):
        x = at * scale
        out.append(path([(x, y - high), (x, y)], CENTRE))
        out.append(Text(str(k), (x, y - high - 4.4), 3.2, Face.FIGURES_BOLD, "middle"))
    x = (piece.cuts[len(piece.cuts) // 2 - 1][2] + piece.cuts[len(piece.cuts) // 2][2]) / 2 * scale
    out.append(path([(x, y - high - 2), (x, y + 2)], BUTT))
    said = (
        f"board {length(piece.board_mm, heading.show)} long,"
        f" {close_length(piece.thickness_mm, heading.show)} thick or more; cuts"
        f" {length(piece.cuts[0][2], heading.show)} apart, seen from above"
    )
    out.append(Text(said, (0.0, y + 2.2), 3.2, tone=Tone.PENCIL))
    y -= high + 9.0
    rows = tuple(
        (
            str(k),
            close_length(at, heading.show),
            "square" if read == 0 else f"{degrees(read)} {'LEFT' if read > 0 else 'RIGHT'}",
            f"to the {way}",
            "__________",
            "__________",
        )
        for k, (read, way, at) in enumerate(piece.cuts, 1)
    )
    head = ("cut", "from the end", "scale reads", "cranked", "measured, degrees", "or over, mm")
    table, tall = set_table(Table(head, rows, "rrrlll"), (0.0, y), 3.8, _WIDE)
    out += table
    y -= tall + 1.0
    for c in cautions("saw test"):
        for n, said in enumerate(wrapped(c.text, 2.8, Face.WORDS, _WIDE - 4)):
            y -= 3.9
            out.append(Text(("– " if n == 0 else "   ") + said, (0.0, y), 2.8, Face.WORDS))
    return titled(
        "saw-test-piece",
        out,
        heading,
        "Saw test piece",
        Scale(0, "none"),
        paper="A4",
        lying=False,
        about=f"Test piece for the tilting head: {len(piece.cuts)} cuts and their readings.",
    )
