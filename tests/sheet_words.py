"""Words that lie over lines: what every kind of sheet is searched for."""

from __future__ import annotations

import numpy as np
import shapely

from futtock.sheet.extent import text_corners
from futtock.sheet.items import Arc, Path, Text, flat
from futtock.sheet.sheet import Sheet

# Lines that words with a white ground may break: what is only construction, hatching, the middle
# line of a timber, and contours that carry their own figure.
MAY_BE_BROKEN = {"GRAIN", "GRID", "CONSTRUCTION", "WATERLINES", "BUTTOCKS", "BEVELS"}
_TOUCH_MM = 0.25  # the body's box is a little larger than the letters in it
_OVER_MM = 0.5


def words_over_lines(sheet: Sheet) -> list[tuple[str, str]]:
    """(words, layer of the line) wherever words lie over a line that matters."""
    words = [i for i in flat(sheet.items) if isinstance(i, Text) and i.text.strip()]
    if not words:
        return []
    boxes = [shapely.Polygon(text_corners(w)).buffer(-_TOUCH_MM, join_style=2) for w in words]
    tree = shapely.STRtree(boxes)
    found = []
    for item in flat(sheet.items):
        line, layer = _line(item)
        if line is None:
            continue
        for k in tree.query(line, predicate="intersects").tolist():
            if words[k].halo is not None and layer in MAY_BE_BROKEN:
                continue
            if shapely.length(shapely.intersection(line, boxes[k])) > _OVER_MM:
                found.append((words[k].text, layer))
    return found


def _line(item: object) -> tuple[shapely.Geometry | None, str]:
    if isinstance(item, Path) and item.stroke is not None and len(item.points_mm) > 1:
        p, closed = item.points_mm, item.closed
    elif isinstance(item, Arc) and item.stroke is not None:
        p, closed = item.points_mm(0.1), item.whole
    else:
        return None, ""
    ring = np.vstack([p, p[:1]]) if closed else p
    return shapely.LineString(ring), item.layer or item.stroke.layer
