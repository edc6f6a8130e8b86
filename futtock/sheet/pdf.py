"""Sheets as one PDF: full size, each page its own size, fonts embedded, same bytes every time.

PDF has y up, as the sheet has; the document's keywords hold ``page_origin_mm`` of each page: where
the drawing's own (0, 0) lies, from the paper's lower left corner.
"""

from __future__ import annotations

import io
import json
import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from futtock.errors import Misused
from futtock.sheet.extent import text_corners
from futtock.sheet.items import Arc, Face, Group, Item, Path, Picture, Text
from futtock.sheet.letters import USUAL_SIGNS, runs, width_mm
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import BLACK, PRINT, Stroke, Tone

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

MM = 72.0 / 25.4
LONGEST_MM = 5080.0
"""The format's customary limit of a page (14,400 points)."""


def pdf(
    sheets: Sequence[Sheet],
    *,
    title: str = "",
    author: str = "",
    black: bool = False,
    contents: Mapping[int, tuple[str, int]] | None = None,
) -> bytes:
    """The sheets as the pages of one document.

    Parameters
    ----------
    black
        Draw for a printer with black alone.
    contents
        Bookmarks: page index -> (words, depth from 0); without it each page's title is one.

    Raises
    ------
    Misused
        where there is no sheet, or a page is longer than the format allows.
    """
    from reportlab import rl_config
    from reportlab.pdfgen.canvas import Canvas

    rl_config.useA85 = 0  # streams as bytes: a quarter smaller, and a third of the time saved
    if not sheets:
        raise Misused("a document needs one sheet at least")
    for s in sheets:
        if max(s.size_mm) > LONGEST_MM:
            raise Misused(
                f"sheet {s.name} is {max(s.size_mm):.0f} mm long; a page may be {LONGEST_MM:.0f} mm"
            )
    buffer = io.BytesIO()
    # the library's own first face would be named in the file without being embedded
    first = runs("0", Face.FIGURES)[0][0].fontName
    name: Any = first  # the stubs say a number
    canvas = Canvas(buffer, invariant=1, pageCompression=1, initialFontName=name)
    usual: list[Any] = [font for face in Face for font, _ in runs(USUAL_SIGNS, face)]
    document: Any = canvas
    for font in usual:
        font.splitString(USUAL_SIGNS, document._doc)
    canvas.setTitle(title or sheets[0].title or sheets[0].name)
    canvas.setAuthor(author or "Futtock")
    canvas.setCreator("Futtock")
    origins = [[round(v, 6) for v in s.origin_mm] for s in sheets[:200]]
    canvas.setKeywords(json.dumps({"page_origin_mm": origins[0] if len(sheets) == 1 else origins}))
    # a reader that fits the page to the paper would spoil every full-size mould
    canvas.setViewerPreference("PrintScaling", "None")
    marks = (
        {i: (s.title or s.name, 0) for i, s in enumerate(sheets)} if contents is None else contents
    )
    depth = -1
    for i, sheet in enumerate(sheets):
        canvas.setPageSize((sheet.size_mm[0] * MM, sheet.size_mm[1] * MM))
        if i in marks:
            words, level = marks[i]
            level = min(level, depth + 1)
            depth = level
            canvas.bookmarkPage(f"p{i}")
            canvas.addOutlineEntry(words, f"p{i}", level=level, closed=level > 0)
        _Page(canvas, sheet, BLACK if black else PRINT).draw()
        canvas.showPage()
    canvas.save()
    for font in usual:
        font.state.pop(document._doc, None)  # faces that wrote nothing still know the document
    return buffer.getvalue()


class _Page:
    def __init__(self, canvas: Canvas, sheet: Sheet, tones: Mapping[Tone, str]) -> None:
        self.canvas = canvas
        self.sheet = sheet
        self.tones = tones
        self.ox, self.oy = sheet.origin_mm
        self.shift = np.array(sheet.origin_mm)
        self.stroke: Stroke | None = None
        self.fill: Tone | None = None

    def draw(self) -> None:
        self.canvas.setLineJoin(1)
        for item in self.sheet.items:
            self.item(item)

    def item(self, item: Item) -> None:
        if isinstance(item, Path):
            self.path(item)
        elif isinstance(item, Arc):
            self.arc(item)
        elif isinstance(item, Text):
            self.text(item)
        elif isinstance(item, Picture):
            self.picture(item)
        else:
            self.group(item)

    def set_stroke(self, stroke: Stroke) -> None:
        if stroke is self.stroke:
            return
        self.stroke = stroke
        c = self.canvas
        c.setLineWidth(stroke.weight_mm * MM)
        c.setStrokeColorRGB(*_rgb(self.tones[stroke.tone]))
        c.setDash([d * MM for d in stroke.pattern_mm], 0)
        c.setLineCap(1 if stroke.round_ends else 0)

    def set_fill(self, fill: Tone) -> None:
        if fill is not self.fill:
            self.fill = fill
            self.canvas.setFillColorRGB(*_rgb(self.tones[fill]))

    def path(self, item: Path) -> None:
        if len(item.points_mm) < 2:
            return
        steps = self.ring(item.points_mm, item.closed)
        for hole in item.holes_mm:
            steps += self.ring(hole, True)
        self.finish(steps, item.stroke, item.fill)

    def ring(self, points: np.ndarray, closed: bool) -> str:
        """A line's own operators, as the format has them: to the first point, on to the others."""
        xy = (points + self.shift) * MM
        words = ("%.4f %.4f l " * len(xy)) % tuple(xy.ravel().tolist())
        # the first is a move, not a line
        first = words.index("l")
        return words[:first] + "m" + words[first + 1 :] + ("h " if closed else "")

    def finish(self, steps: str, stroke: Stroke | None, fill: Tone | None) -> None:
        if stroke:
            self.set_stroke(stroke)
        if fill:
            self.set_fill(fill)
        if stroke or fill:
            # filled by the even-odd rule, so that rings within rings are left out
            paint = "B*" if stroke and fill else "S" if stroke else "f*"
            code: Any = self.canvas
            code._code.append(steps + paint)

    def arc(self, item: Arc) -> None:
        x, y, r = (
            (item.centre_mm[0] + self.ox) * MM,
            (item.centre_mm[1] + self.oy) * MM,
            item.radius_mm * MM,
        )
        p = self.canvas.beginPath()
        # the stubs say int; the library takes any figure
        span: Any = item.to_deg - item.from_deg
        start: Any = item.from_deg
        if item.whole:
            p.circle(x, y, r)
        else:
            p.arc(x - r, y - r, x + r, y + r, start, span)
        self.finish(p.getCode() + " ", item.stroke, item.fill)

    def text(self, item: Text) -> None:
        if not item.text:
            return
        if item.halo:
            self.halo(item)
        bx, by = item.baseline_mm()
        x0 = {"start": 0.0, "middle": -0.5, "end": -1.0}[item.anchor]
        x0 *= width_mm(item.text, item.size_mm, item.face)
        t = math.radians(item.angle_deg)
        cos, sin = math.cos(t), math.sin(t)
        self.set_fill(item.tone)
        code: Any = self.canvas
        x, y = (bx + self.ox + x0 * cos) * MM, (by + self.oy + x0 * sin) * MM
        # the format's own operators: the library's text object takes far longer to say the same
        steps = [f"BT {cos:.6f} {sin:.6f} {-sin:.6f} {cos:.6f} {x:.4f} {y:.4f} Tm"]
        for font, piece in runs(item.text, item.face):
            written: Any = font
            for subset, signs in written.splitString(piece, code._doc):
                name = written.getSubsetInternalName(subset, code._doc)
                steps.append(f"{name} {item.size_mm * MM:.4f} Tf ({code._escape(signs)}) Tj")
        code._code.append(" ".join([*steps, "ET"]))

    def halo(self, item: Text) -> None:
        assert item.halo is not None
        self.finish(self.ring(text_corners(item), True), None, item.halo)

    def picture(self, item: Picture) -> None:
        from reportlab.lib.utils import ImageReader

        x, y = (item.at_mm[0] + self.ox) * MM, (item.at_mm[1] + self.oy) * MM
        w, h = item.size_mm[0] * MM, item.size_mm[1] * MM
        self.canvas.drawImage(ImageReader(io.BytesIO(item.data)), x, y, w, h)

    def group(self, item: Group) -> None:
        if item.clip_mm is None:
            for inner in item.items:
                self.item(inner)
            return
        c = self.canvas
        c.saveState()
        x0, y0, x1, y1 = item.clip_mm
        p = c.beginPath()
        p.rect((x0 + self.ox) * MM, (y0 + self.oy) * MM, (x1 - x0) * MM, (y1 - y0) * MM)
        c.clipPath(p, stroke=0, fill=0)
        self.stroke = self.fill = None
        for inner in item.items:
            self.item(inner)
        c.restoreState()
        self.stroke = self.fill = None


def _rgb(tone: str) -> tuple[float, float, float]:
    return (int(tone[1:3], 16) / 255, int(tone[3:5], 16) / 255, int(tone[5:7], 16) / 255)
