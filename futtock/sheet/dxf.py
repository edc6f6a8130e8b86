"""The sheet as DXF R2010 for a router or a laser: millimetres, layers by meaning.

The drawing's own axes are the file's: nothing is shifted. Washes, halos and pictures are left out.

The frame of the file (header, tables, blocks, objects) comes from ezdxf, once for each set of
layers; the entities are written here, by the format's own rule of a code's line and a value's line
(DXF reference, Autodesk, group codes of LWPOLYLINE, CIRCLE, ARC and TEXT), which is many times
quicker than building each as an object.
"""

from __future__ import annotations

import io
import re
from functools import lru_cache

from futtock.sheet.items import Arc, Path, Text, flat
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import STROKES, Stroke, Tone

_COLOUR = {Tone.RED: 1, Tone.PENCIL: 8, Tone.FAINT: 9, Tone.OAK_DEEP: 33}
_WEIGHTS = (0, 5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100)
_CAP = 0.70  # height of a capital in the body of our faces
_PATTERNED = tuple(s for s in STROKES if s.pattern_mm)
_FIRST_HANDLE = 0x1000  # entities count from here; the frame's own handles lie far below
_EXTENTS = ("$EXTMIN", "$EXTMAX")


def dxf(sheet: Sheet) -> bytes:
    """The sheet as a DXF file, the same bytes for the same sheet."""
    made: dict[str, int] = {}
    entities: list[str] = []
    for item in flat(sheet.items):
        if isinstance(item, Text):
            layer = _layer(made, item.layer, None)
            entities.append(_text(item, layer))
        elif isinstance(item, Path | Arc) and item.stroke is not None:
            layer = _layer(made, item.layer or item.stroke.layer, item.stroke)
            look = _look(item.stroke)
            if isinstance(item, Path):
                entities += _path(item, layer, look)
            else:
                entities.append(_arc(item, layer, look))
    head, middle, foot, owner = _frame(tuple(sorted(made.items())))
    out = [_with_extents(head, sheet.window_mm, _FIRST_HANDLE + len(entities) + 1), middle]
    for k, entity in enumerate(entities):
        out.append(entity.replace("\x00", f"{_FIRST_HANDLE + k:X}\n330\n{owner}", 1))
    out.append(foot)
    return "".join(out).encode("utf-8")


@lru_cache(maxsize=64)
def _frame(layers: tuple[tuple[str, int], ...]) -> tuple[str, str, str, str]:
    """A file without entities: header, what follows up to them, the rest, the space's handle."""
    from ezdxf import units
    from ezdxf._options import options
    from ezdxf.document import Drawing

    # ezdxf stamps the hour and a random name into each file unless told not to
    options.write_fixed_meta_data_for_testing = True
    doc = Drawing.new("R2010")
    doc.units = units.MM
    doc.header["$INSUNITS"] = 4
    doc.header["$MEASUREMENT"] = 1
    for stroke in _PATTERNED:
        dashes = [d if i % 2 == 0 else -d for i, d in enumerate(stroke.pattern_mm)]
        dashes = [0.0 if abs(d) < 0.1 else d for d in dashes]
        doc.linetypes.add(stroke.layer, [sum(stroke.pattern_mm), *dashes])
    for name, colour in layers:
        doc.layers.add(name, color=colour)
    stream = io.StringIO()
    doc.write(stream)
    text = stream.getvalue()
    at = text.index("  2\nENTITIES\n") + len("  2\nENTITIES\n")
    head = text.index("  0\nENDSEC\n")
    return text[:head], text[head:at], text[at:], str(doc.modelspace().layout_key)


def _with_extents(header: str, window: tuple[float, float, float, float], next_handle: int) -> str:
    for name, (x, y) in zip(_EXTENTS, (window[:2], window[2:]), strict=True):
        header = re.sub(
            rf"(  9\n\{name}\n).*?(?=  9\n)",
            rf"\g<1> 10\n{float(x)!r}\n 20\n{float(y)!r}\n 30\n0.0\n",
            header,
            count=1,
            flags=re.DOTALL,
        )
    return re.sub(r"(  9\n\$HANDSEED\n  5\n)\w+", rf"\g<1>{next_handle:X}", header, count=1)


def _layer(made: dict[str, int], name: str, stroke: Stroke | None) -> str:
    name = re.sub(r'[<>/\\":;?*|=`,]', "-", name) or "0"
    if name not in made and name != "0":
        made[name] = _COLOUR.get(stroke.tone, 7) if stroke else 7
    return name


@lru_cache(maxsize=64)
def _look(stroke: Stroke) -> str:
    weight = min(_WEIGHTS, key=lambda w: abs(w - stroke.weight_mm * 100))
    kind = f"6\n{stroke.layer}\n" if stroke.pattern_mm else ""
    return f"{kind}370\n{weight}\n"


def _start(kind: str, layer: str, look: str) -> str:
    """An entity up to its own part; handle and owner go where the zero sign stands."""
    return f"0\n{kind}\n5\n\x00\n100\nAcDbEntity\n8\n{layer}\n{look}"


def _path(item: Path, layer: str, look: str) -> list[str]:
    rings = [(item.points_mm, item.closed), *((h, True) for h in item.holes_mm)]
    start = _start("LWPOLYLINE", layer, look)
    return [
        f"{start}100\nAcDbPolyline\n90\n{len(points)}\n70\n{int(closed)}\n"
        + "".join([f"10\n{x!r}\n20\n{y!r}\n" for x, y in points.tolist()])
        for points, closed in rings
        if len(points) >= 2
    ]


def _arc(item: Arc, layer: str, look: str) -> str:
    x, y = map(float, item.centre_mm)
    round_ = f"100\nAcDbCircle\n10\n{x!r}\n20\n{y!r}\n30\n0.0\n40\n{float(item.radius_mm)!r}\n"
    if item.whole:
        return _start("CIRCLE", layer, look) + round_
    ends = f"100\nAcDbArc\n50\n{float(item.from_deg)!r}\n51\n{float(item.to_deg)!r}\n"
    return _start("ARC", layer, look) + round_ + ends


def _text(item: Text, layer: str) -> str:
    x, y = map(float, item.baseline_mm())
    words = re.sub(r"[\r\n\x00]", " ", item.text)
    across = {"start": 0, "middle": 1, "end": 2}[item.anchor]
    at = f"10\n{x!r}\n20\n{y!r}\n30\n0.0\n"
    # a second point, and how the words lie about it, where they do not start at the first
    also = f"72\n{across}\n11\n{x!r}\n21\n{y!r}\n31\n0.0\n" if across else ""
    return (
        f"{_start('TEXT', layer, '')}100\nAcDbText\n{at}40\n{float(item.size_mm * _CAP)!r}\n"
        f"1\n{words}\n50\n{float(item.angle_deg % 360)!r}\n{also}100\nAcDbText\n"
    )
