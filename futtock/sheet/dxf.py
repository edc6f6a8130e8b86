"""The sheet as DXF R2010 for a router or a laser: millimetres, layers by meaning.

The drawing's own axes are the file's: nothing is shifted. Washes, halos and pictures are left out.
"""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING, Any

from futtock.sheet.items import Arc, Path, Text, flat
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import STROKES, Stroke, Tone

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Modelspace

_COLOUR = {Tone.RED: 1, Tone.PENCIL: 8, Tone.FAINT: 9, Tone.OAK_DEEP: 33}
_WEIGHTS = (0, 5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100)
_CAP = 0.70  # height of a capital in the body of our faces


def dxf(sheet: Sheet) -> bytes:
    """The sheet as a DXF file, the same bytes for the same sheet."""
    from ezdxf import units
    from ezdxf._options import options
    from ezdxf.document import Drawing

    # ezdxf stamps the hour and a random name into each file unless told not to
    options.write_fixed_meta_data_for_testing = True
    doc = Drawing.new("R2010")
    doc.units = units.MM
    doc.header["$INSUNITS"] = 4
    doc.header["$MEASUREMENT"] = 1
    x0, y0, x1, y1 = sheet.window_mm
    doc.header["$EXTMIN"] = (x0, y0, 0.0)
    doc.header["$EXTMAX"] = (x1, y1, 0.0)
    for stroke in STROKES:
        if stroke.pattern_mm:
            dashes = [d if i % 2 == 0 else -d for i, d in enumerate(stroke.pattern_mm)]
            dashes = [0.0 if abs(d) < 0.1 else d for d in dashes]
            doc.linetypes.add(stroke.layer, [sum(stroke.pattern_mm), *dashes])
    space = doc.modelspace()
    made: set[str] = set()
    for item in flat(sheet.items):
        if isinstance(item, Text):
            if "TEXT" not in made and item.layer == "TEXT":
                doc.layers.add("TEXT", color=7)
                made.add("TEXT")
            _text(space, item, _layer(doc, made, item.layer, None))
        elif isinstance(item, Path | Arc) and item.stroke is not None:
            layer = _layer(doc, made, item.layer or item.stroke.layer, item.stroke)
            look = _look(item.stroke, layer)
            if isinstance(item, Path):
                _path(space, item, look)
            elif item.whole:
                space.add_circle(item.centre_mm, item.radius_mm, dxfattribs=look)
            else:
                space.add_arc(
                    item.centre_mm, item.radius_mm, item.from_deg, item.to_deg, dxfattribs=look
                )
    stream = io.StringIO()
    doc.write(stream)
    return stream.getvalue().encode("utf-8")


def _layer(doc: Any, made: set[str], name: str, stroke: Stroke | None) -> str:
    name = re.sub(r'[<>/\\":;?*|=`,]', "-", name) or "0"
    if name not in made and name != "0":
        colour = _COLOUR.get(stroke.tone, 7) if stroke else 7
        doc.layers.add(name, color=colour)
        made.add(name)
    return name


def _look(stroke: Stroke, layer: str) -> dict[str, Any]:
    weight = min(_WEIGHTS, key=lambda w: abs(w - stroke.weight_mm * 100))
    look: dict[str, Any] = {"layer": layer, "lineweight": weight}
    if stroke.pattern_mm:
        look["linetype"] = stroke.layer
    return look


def _path(space: Modelspace, item: Path, look: dict[str, Any]) -> None:
    rings = [(item.points_mm, item.closed), *((h, True) for h in item.holes_mm)]
    for points, closed in rings:
        if len(points) >= 2:
            space.add_lwpolyline(points.tolist(), close=closed, dxfattribs=look)


def _text(space: Modelspace, item: Text, layer: str) -> None:
    from ezdxf.enums import TextEntityAlignment as Align

    at = {"start": Align.LEFT, "middle": Align.CENTER, "end": Align.RIGHT}[item.anchor]
    words = item.text.replace("\n", " ").replace("\r", " ")
    entity = space.add_text(
        words,
        height=item.size_mm * _CAP,
        rotation=item.angle_deg % 360,
        dxfattribs={"layer": layer},
    )
    entity.set_placement(item.baseline_mm(), align=at)
