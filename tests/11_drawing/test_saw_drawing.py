"""The saw sheet as it is drawn: read back from its DXF, it shows which way the head leans."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from exact_frames import cone_frame, shape_of, sphere_frame
from readback import dxf_polylines, read_dxf_entities
from shapely import affinity

from futtock.bench.saw import HeadError, SawSettings
from futtock.bench.sawing import saw_sheet
from futtock.bench.strip import saw_strips
from futtock.drawing.heading import Heading
from futtock.drawing.saw_sheet import STRIP_MM, saw_page, strip_sheet
from futtock.moulds.flat import lay_flat
from futtock.moulds.settings import MouldSettings
from futtock.sheet.dxf import dxf
from futtock.sheet.items import Face, Text, flat
from futtock.sheet.letters import width_mm
from futtock.sheet.sheet import Sheet

HEADING = Heading("Marram", "14 March 2031", "7f3a21bc", "metric")
COMBINATIONS = list(
    itertools.product("PS", "fa", [0, 1], ["heel first", "head first"], [True, False])
)


def _words(drawn: bytes) -> dict[str, tuple[float, float]]:
    """Where each text of a DXF stands."""
    found = {}
    for name, pairs in read_dxf_entities(drawn):
        if name in ("TEXT", "MTEXT"):
            said = dict(pairs)
            found[said[1]] = (float(said[10]), float(said[20]))
    return found


def _only(drawn: bytes, layer: str) -> np.ndarray:
    ((points, _closed),) = dxf_polylines(drawn, layer)
    return points


def _turned(p: np.ndarray, q: np.ndarray) -> float:
    """Positive where q lies to the left of the direction p."""
    return float(p[0] * q[1] - p[1] * q[0])


def _page(side: str, layer: str, edge: int, feed: str, widens: bool) -> Sheet:
    frame = cone_frame(12.0, widens_aft=widens, x_mm=6000.0)
    timber = next(t for t in frame.timbers if t.mark == f"1-{side}-{layer}1")
    mould = lay_flat(shape_of(frame, timber), frame, timber, MouldSettings())
    return saw_page(saw_sheet(mould, SawSettings(feed=feed)), mould, HEADING)[edge]


@pytest.mark.parametrize(("side", "layer", "edge", "feed", "widens"), COMBINATIONS)
def test_the_drawing_leans_the_way_the_wood_wants(side, layer, edge, feed, widens):
    """On each of the thirty-two combinations the drawing alone, read back from its DXF, agrees with
    the cone: the blade's top stands on the hand that port and starboard, feed and sign give, the
    wood kept is the timber's own side of the line, and its upper corner is obtuse where the inside
    angle at the up face is over 90 degrees.
    """
    drawn = dxf(_page(side, layer, edge, feed, widens))
    right = (side == "P") ^ (feed == "head first") ^ (not widens)
    # what the feeder sees, facing the teeth: left is left on the paper
    words = _words(drawn)
    assert words["left"][0] < words["facing the teeth"][0] < words["right"][0]
    low, top = sorted(_only(drawn, "END-BLADE"), key=lambda p: p[1])
    assert (top[0] > low[0]) == right
    wood = _only(drawn, "END-WOOD")
    foot = low + (top - low) * (wood[:, 1].min() - low[1]) / (top[1] - low[1])
    kept_right = wood[:, 0].mean() > foot[0]
    assert (words["kept"][0] > foot[0]) == kept_right
    # the sawn face of the wood lies along the blade
    along = (top - low) / np.hypot(*(top - low))
    assert sorted(abs(_turned(along, p - low)) for p in wood)[:2] == pytest.approx([0, 0], abs=1e-3)
    # seen from above: the wood goes towards the teeth, and he looks after it
    line, plan = _only(drawn, "PLAN-LINE"), _only(drawn, "PLAN-WOOD")
    blade = _only(drawn, "PLAN-BLADE").mean(axis=0)
    if np.hypot(*(line[0] - blade)) < np.hypot(*(line[-1] - blade)):
        line = line[::-1]
    leading = np.array(words["heel" if feed == "heel first" else "head"])
    other = np.array(words["head" if feed == "heel first" else "heel"])
    assert np.hypot(*(leading - line[-1])) < np.hypot(*(leading - line[0]))
    assert np.hypot(*(other - line[0])) < np.hypot(*(other - line[-1]))
    looks = line[-1] - line[0]
    beside = plan.mean(axis=0) - line.mean(axis=0)
    assert (_turned(looks, beside) < 0) == kept_right
    # over 90 degrees where the far face stands outside this edge: aft of a joint where she widens
    obtuse = (layer == "f") ^ widens ^ (edge == 1)
    upper = wood[wood[:, 1] > wood[:, 1].mean()]
    corner = upper[np.argmin([abs(_turned(along, p - low)) for p in upper])]
    inward = 1.0 if kept_right else -1.0
    assert (float(-along[0] * inward) < 0) == obtuse  # the inside angle's cosine, at that corner
    assert corner[1] == pytest.approx(wood[:, 1].max())
    assert ((top[0] > foot[0]) == kept_right) == obtuse
    # and the words beside it say the same
    assert {"LEFT", "RIGHT"} & set(words)
    told = [w for w in words if w.startswith(("LEFT, up to", "RIGHT, up to"))]
    assert told == [f"{'RIGHT' if right else 'LEFT'}, up to 12°"]


def test_the_combinations_are_thirty_two():
    """Both sides, layers, edges, feeds and signs."""
    assert len(set(COMBINATIONS)) == 32


def test_a_page_of_many_marks_stays_on_its_paper():
    """However many marks and warnings a cut has, the page's words keep within its frame."""
    frame = cone_frame(12.0, x_mm=6000.0)
    timber = next(t for t in frame.timbers if t.mark == "1-S-f1")
    mould = lay_flat(shape_of(frame, timber), frame, timber, MouldSettings())
    for every in (50.0, 152.4):
        sheet = saw_sheet(mould, SawSettings(marks_every_mm=every, left_deg=5.0, right_deg=5.0))
        for page in saw_page(sheet, mould, HEADING):
            title = next(
                i.at_mm[1] for i in flat(page.items) if isinstance(i, Text) and i.text == "1-S-f1"
            )
            caution = [i for i in flat(page.items) if isinstance(i, Text) and i.size_mm == 2.8]
            assert title - min(i.at_mm[1] for i in caution) <= 241.0, every


@pytest.mark.parametrize("stand", ["feed", "out", "left", "right"])
def test_figures_of_a_strip_stand_clear_and_on_it(stand):
    """Bold figures touch neither one another nor the strip's cut line, wherever the crank stands,
    with the saw's error known or not.
    """
    frame = sphere_frame(3000.0, 4900.0, sided_mm=60.0)
    for head in (HeadError(), HeadError(0.4, 1.02, 0.6)):
        asked = SawSettings(crank_from=stand, head=head)
        for timber in frame.timbers[:4]:
            mould = lay_flat(shape_of(frame, timber), frame, timber, MouldSettings())
            for strip in saw_strips(saw_sheet(mould, asked), asked):
                sheet = strip_sheet(strip, HEADING)
                bold = [i for i in flat(sheet.items) if isinstance(i, Text) and "°" in i.text]
                bold = [i for i in bold if i.face is Face.FIGURES_BOLD]
                assert len(bold) == sum(not m.fine for m in strip.marks)
                paper = shapely.box(0.0, 0.0, strip.length_mm, STRIP_MM)
                boxes = [_box(i) for i in bold]
                for one, two in itertools.pairwise(boxes):
                    assert one.distance(two) > 0.2
                assert all(paper.contains(b) for b in boxes)


def _box(text: Text) -> shapely.Polygon:
    """About the room that a text takes, set by its middle."""
    wide, high = width_mm(text.text, text.size_mm, text.face), 0.72 * text.size_mm
    flat_box = shapely.box(-wide / 2, -high / 2, wide / 2, high / 2)
    turned = affinity.rotate(flat_box, text.angle_deg, origin=(0, 0))
    return affinity.translate(turned, *text.at_mm)
