"""Patterns already made: read from DXF, SVG and tape, against the cone they were taken from."""

import io

import ezdxf
import numpy as np
import pytest
import shapely
from exact_frames import cone_frame
from hypothesis import given
from hypothesis import strategies as st

from futtock.bench.saw import SawSettings
from futtock.bench.sawing import saw_sheet
from futtock.moulds.drawn import read_dxf, read_svg
from futtock.moulds.flat import moulds
from futtock.moulds.pattern import read_pattern, read_patterns
from futtock.moulds.settings import MouldSettings
from futtock.moulds.split import split_ring


@pytest.fixture(scope="module")
def cone():
    every = moulds([cone_frame(12.25, number=7, x_mm=4000.0)], MouldSettings())
    return {m.mark: m for m in every}


def dxf_of(mould, *, unit=4, scale=1.0, words=True, as_spline=False):
    """A pattern's DXF, written plainly with another hand: outline, bevels, HEEL, piece mark."""
    doc = ezdxf.new("R2010")
    doc.header["$INSUNITS"] = unit
    space = doc.modelspace()
    ring = mould.outline_up_mm * scale
    if as_spline:
        space.add_spline([*map(tuple, ring), tuple(ring[0])], degree=3)
    else:
        space.add_lwpolyline(ring.tolist(), close=True)
    space.add_text(mould.mark, dxfattribs={"insert": tuple(mould.grain_mm[9] * scale)})
    if words:
        space.add_text("HEEL", dxfattribs={"insert": tuple(mould.grain_mm[0] * scale)})
        for edge in mould.edges:
            for k in (0, len(edge.at_mm) // 2, -1):
                space.add_text(
                    f"{edge.lean_deg[k]:.4f}°",
                    dxfattribs={"insert": tuple(edge.up_mm[k] * scale), "layer": "bevels"},
                )
    stream = io.StringIO()
    doc.write(stream)
    return stream.getvalue().encode()


def same_timber(read, mould, within):
    """Both faces of the pattern lie on those of the mould, after laying it on."""
    move = mould.outline_up_mm.min(axis=0) - read.outline_up_mm.min(axis=0)
    for a, b in (
        (read.outline_up_mm, mould.outline_up_mm),
        (read.outline_down_mm, mould.outline_down_mm),
    ):
        gap = shapely.hausdorff_distance(
            shapely.Polygon(a + move).exterior.segmentize(5.0),
            shapely.Polygon(b).exterior.segmentize(5.0),
        )
        assert gap < within


@pytest.mark.parametrize("mark", ["7-S-f1", "7-P-f2", "7-S-a2", "7-P-a3"])
def test_dxf_gives_the_mould_back(cone, mark):
    """Outline, face up, outer edge, heel and both faces come back from a plain DXF."""
    mould = cone[mark]
    read, findings = read_pattern("some name.dxf", dxf_of(mould), 50.0)
    assert findings == ()
    assert (read.mark, read.up, read.frame, read.layer, read.side) == (
        mark,
        mould.up,
        7,
        mark[4],
        mark[2],
    )
    same_timber(read, mould, 0.15)
    assert read.mass_kg == pytest.approx(mould.mass_kg, rel=2e-3)
    assert [m.outer_deg for m in read.marks] == pytest.approx([12.25] * len(read.marks), abs=1e-3)


def test_both_faces_of_a_drawing_give_the_bevels(cone):
    """A second outline on a layer named DOWN is the other face, and needs no figures beside it."""
    for mark in ("7-S-f1", "7-P-a2"):
        mould = cone[mark]
        doc = ezdxf.new("R2010")
        doc.header["$INSUNITS"] = 4
        for name, ring in (("DOWN", mould.outline_down_mm), ("UP", mould.outline_up_mm)):
            doc.modelspace().add_lwpolyline(
                ring.tolist(), close=True, dxfattribs={"layer": f"OUTLINE-{name}"}
            )
        doc.modelspace().add_text("HEEL", dxfattribs={"insert": tuple(mould.grain_mm[0])})
        stream = io.StringIO()
        doc.write(stream)
        read, findings = read_pattern(f"{mark}.dxf", stream.getvalue().encode(), 50.0)
        assert findings == ()
        same_timber(read, mould, 1e-6)
        for edge in read.edges:
            assert edge.lean_deg == pytest.approx(12.25, abs=0.02)


@pytest.mark.parametrize("feed", ["heel first", "head first"])
@pytest.mark.parametrize("mark", ["7-S-f1", "7-P-f2", "7-S-a2", "7-P-a3"])
def test_saw_sheet_of_a_pattern_is_that_of_the_mould(cone, mark, feed):
    """Hands and angles sawn to a pattern are those sawn to the mould it was taken from."""
    read, _ = read_pattern("a.dxf", dxf_of(cone[mark]), 50.0)
    for a, b in zip(
        saw_sheet(read, SawSettings(feed=feed)).cuts,
        saw_sheet(cone[mark], SawSettings(feed=feed)).cuts,
        strict=True,
    ):
        assert (a.edge, a.kept, a.head, a.feed) == (b.edge, b.kept, b.head, b.feed)
        assert {m.deg for m in a.marks} == {m.deg for m in b.marks} == {12.25}


@pytest.mark.parametrize(("unit", "scale"), [(1, 1 / 25.4), (5, 0.1), (6, 0.001)])
def test_dxf_units_are_followed(cone, unit, scale):
    """Inches, centimetres and metres come to the same millimetres."""
    mould = cone["7-S-f1"]
    read, findings = read_pattern("a.dxf", dxf_of(mould, unit=unit, scale=scale), 50.0)
    assert findings == ()
    same_timber(read, mould, 0.15)


def test_dxf_without_unit_or_words_is_doubted(cone):
    """No unit, no heel, no bevels: read all the same, each said."""
    read, findings = read_pattern("a.dxf", dxf_of(cone["7-S-f1"], unit=0, words=False), 50.0)
    assert sorted(f.code for f in findings) == ["D104", "D105", "D107"]
    assert all(f.file == "a.dxf" for f in findings)
    assert read.edges[0].up_mm == pytest.approx(read.edges[0].down_mm)


def svg_of(mould):
    """A pattern's SVG: the viewBox in tenths of a millimetre, y down, inside a shifted group."""
    ring = (mould.outline_up_mm * [1, -1] + [20, 900]) * 10
    d = "M" + "L".join(f"{x:.3f},{y:.3f} " for x, y in ring) + "Z"
    heel, head = ((mould.grain_mm[k] * [1, -1] + [20, 900]) * 10 for k in (0, -1))
    words = f'<text x="{heel[0]}" y="{heel[1]}">heel</text>'
    words += f'<text x="{head[0]}" y="{head[1]}">head</text>'
    for edge in mould.edges:
        for k in (0, -1):
            x, y = (edge.up_mm[k] * [1, -1] + [20, 900]) * 10
            # aft face up and widening aft: the face below is smaller; outside the wood's angle is
            # sharp (under), inside it is obtuse (standing)
            smaller_below = (edge.lean_deg[k] > 0) == (mould.up == "aft")
            said = "under" if smaller_below == (edge.name == "outer") else "s"
            words += f'<text x="{x}" y="{y}">{abs(edge.lean_deg[k]):.2f} deg {said}</text>'
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" viewBox="0 0 3000 12000">'
        f'<g transform="translate(-40,15)"><g transform="translate(40,-15)"><path d="{d}"/>{words}'
        "</g></g></svg>"
    ).encode()


@pytest.mark.parametrize("mark", ["7-S-f2", "7-P-a2"])
def test_svg_gives_the_mould_back(cone, mark):
    """An SVG in its own unit, turned right way up; standing and under are the face's."""
    read, findings = read_pattern(f"{mark}.svg", svg_of(cone[mark]), 50.0)
    assert findings == ()
    same_timber(read, cone[mark], 0.15)


def test_curves_of_svg_are_followed():
    """Bezier curves, arcs, relative and shorthand commands give the curves they mean."""
    k = 4 / 3 * (np.sqrt(2) - 1) * 50
    circle = (
        f"M100,50 c0,{k} {k - 50},50 -50,50 s-50,{k - 50} -50,-50 s{50 - k},-50 50,-50 "
        f"S100,{50 - k} 100,50 z"
    )
    arcs = "M100,50 A50,50 0 0 1 0,50 a50 50 0 1 1 100 0 Z"
    box = "m10 10 h80 v80 h-80 z"
    tiny = "M1e1,2E+1 L90,20 90,90 10,90 1e1 20"
    quad = "M0,0 Q50,100 100,0 T200,0 L200,-50 L0,-50 Z"
    text = "".join(f'<path d="{d}"/>' for d in (circle, arcs, box, quad, tiny))
    data = f'<svg width="200mm" viewBox="0 0 200 200">{text}</svg>'.encode()
    rings = [r for _, r in read_svg("a.svg", data).rings]
    about = [np.hypot(*(r - [50, -50]).T) for r in rings[:2]]
    assert np.abs(about[0] - 50).max() < 0.05
    assert np.abs(about[1] - 50).max() < 0.03
    assert shapely.Polygon(rings[1]).area == pytest.approx(np.pi * 2500, rel=1e-3)
    assert shapely.Polygon(rings[2]).area == pytest.approx(6400)
    # under each arch of a quadratic of height 50 and base 100 lies 2/3 of 5000; one is up, one down
    assert shapely.Polygon(rings[3]).area == pytest.approx(200 * 50, rel=1e-3)
    assert shapely.Polygon(rings[4]).area == pytest.approx(80 * 70)
    assert read_svg("a.svg", data).findings == ()
    strange = b'<svg width="1mm"><path d="M0,0 B1,1"/><path d="M0,0 L1"/></svg>'
    assert [f.code for f in read_svg("a.svg", strange).findings] == ["D101", "D101"]


TAPED = """\
# taken off the wall
mark,7-S-f1
sided,2 in
unit,in
offset,0,0,4
offset,12,1 1/2,5 1/2
offset,2',0,4
bevel,0,10,8
bevel,24,14.5,9
sirmark,A,12
"""


def test_taped_offsets_make_a_mould():
    """Tape offsets in inches and fractions: edges, bevels between marks, sirmark, thickness."""
    read, findings = read_pattern("wall.csv", TAPED.encode(), 47.0)
    assert findings == ()
    assert read.sided_mm == 50.8
    assert read.up == "aft"
    outer, inner = read.edges
    assert outer.at_mm[-1] == pytest.approx(2 * np.hypot(12, 1.5) * 25.4, abs=1.0)
    assert np.hypot(*(inner.up_mm - outer.up_mm).T) == pytest.approx(4 * 25.4, abs=0.5)
    half = np.interp(
        outer.at_mm[-1] / 2, [m.at_mm for m in read.marks], [m.outer_deg for m in read.marks]
    )
    assert half == pytest.approx(12.25, abs=0.05)
    # aft face up, positive lean: the far face lies inboard, here towards +y
    assert (outer.down_mm[5:-5, 1] > outer.up_mm[5:-5, 1]).all()
    sirmark = next(label for label in read.labels if label.kind == "sirmark")
    assert sirmark.text == "A"


@pytest.mark.parametrize(
    ("change", "code", "says"),
    [
        (("offset,12,1 1/2,5 1/2", "offset,12,1 1/0,5 1/2"), "D106", "line 6"),
        (("mark,7-S-f1", "mark,seven"), "D103", "seven"),
        (("bevel,24,14.5,9", "bevel,24,steep,9"), "D106", "steep"),
        (("sided,2 in", "side,2 in"), "D106", "side"),
        (("unit,in", "unit,furlong"), "D106", "furlong"),
        (("sirmark,A,12", "up,left"), "D106", "left"),
        (("offset,2',0,4", "offset,2'"), "D106", "offset"),
    ],
)
def test_faults_of_a_taped_pattern_say_where(change, code, says):
    """A wrong cell is a finding with file, line and what was read; no mould and no error."""
    read, findings = read_pattern("wall.csv", TAPED.replace(*change).encode(), 47.0)
    assert read is None
    assert code in [f.code for f in findings]
    said = " ".join(f"line {f.line} {f.read} {f.message}" for f in findings)
    assert says in said
    assert all(f.file == "wall.csv" for f in findings)


def test_a_folder_of_patterns(cone):
    """Patterns of several kinds come in order; a second of one mark and other files are handled."""
    files = {
        "b.dxf": dxf_of(cone["7-S-f1"]),
        "7-P-a2.svg": svg_of(cone["7-P-a2"]),
        "again.csv": TAPED.encode(),
        "notes.txt": b"nothing",
        "broken.dxf": b"not a drawing",
        "broken.svg": b"<svg",
    }
    got, findings = read_patterns(files, 50.0)
    assert [m.mark for m in got] == ["7-P-a2", "7-S-f1"]
    assert sorted((f.file, f.code) for f in findings) == [
        ("b.dxf", "D103"),
        ("broken.dxf", "D101"),
        ("broken.svg", "D101"),
    ]


@given(st.binary(max_size=400), st.sampled_from(["a.dxf", "a.svg", "a.csv"]))
def test_any_bytes_give_findings(data, name):
    """No bytes make a reader fail: there is a mould, or a finding that says why not."""
    read, findings = read_pattern(name, data, 50.0)
    assert read is not None or findings


@given(st.text("MmLlHhVvCcSsQqTtAaZz0123456789.,- e", max_size=60))
def test_any_path_gives_rings_or_findings(d):
    """Any path data is read or said to be unreadable."""
    from xml.sax.saxutils import quoteattr

    data = f'<svg width="10mm" viewBox="0 0 10 10"><path d={quoteattr(d)}/></svg>'.encode()
    got = read_svg("a.svg", data)
    assert all(np.isfinite(r).all() and r.shape[1] == 2 for _, r in got.rings)
    assert all(f.code == "D101" for f in got.findings)


def test_splines_of_a_dxf_are_followed(cone):
    """A closed spline is flattened to 0.02 mm and read as a ring."""
    doc = ezdxf.new()
    doc.header["$INSUNITS"] = 4
    doc.modelspace().add_circle((0, 0), 100.0)
    doc.modelspace().add_ellipse((500, 0), major_axis=(100, 0), ratio=0.5)
    stream = io.StringIO()
    doc.write(stream)
    drawn = read_dxf("a.dxf", stream.getvalue().encode())
    areas = [shapely.Polygon(r).area for _, r in drawn.rings]
    assert areas == pytest.approx([np.pi * 1e4, np.pi * 5e3], rel=1e-3)


def test_split_finds_the_ends_of_straight_crooked_and_heeled_timbers():
    """A plank, a crook and a heel with a notch are divided at their ends; a disc has none."""
    plank = np.array([[0, 0], [1000, 0], [1000, 90], [0, 90]], float)
    a, b = split_ring(plank)
    assert {len(a), len(b)} == {2}
    notched = np.array(
        [[0, 0], [1000, 0], [1000, 90], [-40, 90], [-40, 60], [-20, 60], [-20, 30], [0, 30]], float
    )
    a, b = split_ring(notched)
    ends = {tuple(p) for line in (a, b) for p in (line[0], line[-1])}
    assert ends == {(0, 0), (1000, 0), (1000, 90), (-40, 90)}
    t = np.linspace(0, 2 * np.pi, 80, endpoint=False)
    assert split_ring(np.stack([np.cos(t), np.sin(t)], axis=1) * 300) is None
    assert split_ring(plank[:3]) is None
