from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from futtock.stock.adding import add_taped
from futtock.stock.inspect import inspect_slab
from futtock.stock.invent import invent_rack
from futtock.stock.offcut import offcuts
from futtock.stock.outline import signed_area_mm2
from futtock.stock.pile import State, at_hand, count_pile
from futtock.stock.pins import Squares, cut_lengths, read_squares
from futtock.stock.rack import rack_of, rack_text
from futtock.stock.slab import Flaw, Slab
from futtock.stock.weight import volume_m3
from futtock.vessel.papers import Papers

SLABS = invent_rack(40, seed=9)


def box(x0, y0, x1, y1):
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], float)


def slab(name="T", length=2000.0, width=300.0, thick=50.0, **more):
    ring = box(0, 0, length, width)
    line = np.array([[10.0, width / 2], [length - 10, width / 2]])
    return Slab(name, "white oak", thick, 18.0, ring, ring, (line,), **({"flaws": ()} | more))


def test_stacks_sum_to_the_whole_and_count_what_is_where():
    """Counts, volume and mass of the stacks add up to the pile's; measured and not are told."""
    pile = count_pile(SLABS)
    assert [s.name for s in pile.stacks] == ["A", "B", "C", "D", "E"]
    assert pile.whole.slabs == 40
    assert pile.whole.measured == sum(s.measured for s in SLABS)
    assert pile.whole.measured + pile.whole.unmeasured == 40
    for figure in ("slabs", "volume_m3", "board_feet", "sound_m2", "kg", "measured"):
        parts = sum(getattr(s, figure) for s in pile.stacks)
        assert parts == pytest.approx(getattr(pile.whole, figure))
    assert pile.whole.volume_m3 == pytest.approx(sum(map(volume_m3, SLABS)))


def test_volume_value_and_moisture_of_two_planks():
    """Two planks 2 m by 0.3 m by 50 mm: 0.06 m3, 25.4 board feet (144 cubic inches each)."""
    pair = [
        slab("A-1", price=40.0, moisture_date="2026-10-01"),
        slab("A-2", moisture_date="2026-09-01", measured=False),
    ]
    whole = count_pile(pair).whole
    assert whole.volume_m3 == pytest.approx(0.06)
    assert whole.board_feet == pytest.approx(0.06 / (144 * 0.0254**3))
    assert (whole.value, whole.priced) == (40.0, 1)
    assert whole.oldest_reading == "2026-09-01"
    assert whole.moisture_percent == (18.0, 18.0)
    assert (whole.measured, whole.unmeasured) == (1, 1)


def test_consumed_and_spoiled_slabs_stay_in_the_record():
    """What is gone is counted as gone and holds no more wood; what is begun still does."""
    states = {"A-1": State.CONSUMED, "A-2": State.SPOILED, "A-3": State.BEGUN}
    four = [slab(f"A-{k}") for k in (1, 2, 3, 4)]
    whole = count_pile(four, states).whole
    assert (whole.slabs, whole.consumed, whole.spoiled, whole.begun) == (2, 1, 1, 1)
    assert whole.volume_m3 == pytest.approx(2 * 0.03)
    assert [s.name for s in at_hand(four, states)] == ["A-4"]


def test_heavy_slabs_and_unknown_woods_are_said():
    """A slab beyond one person's lift is a note with its mass; ironbark is in no table."""
    pile = count_pile([slab("A-1", length=3600, width=380, thick=65), slab("A-2", length=500)])
    assert [(f.code, f.line) for f in pile.findings] == [("S501", "A-1")]
    assert "people or a hoist" in pile.findings[0].message
    odd = count_pile([replace(slab(), species="ironbark")])
    assert [f.code for f in odd.findings] == ["S304"]
    assert (odd.whole.kg, odd.whole.weighed) == (0, 0)


def test_an_offcut_has_its_true_outline():
    """Half a plank sawn off leaves the other half less the kerf, exactly."""
    (rest,) = offcuts(slab(), [box(0, 0, 1000, 300)], kerf_mm=6.0)
    assert rest.name == "T/1"
    assert signed_area_mm2(rest.top_mm) == pytest.approx(994 * 300, rel=1e-4)
    assert rest.top_mm[:, 0].min() == pytest.approx(1006, abs=0.1)
    assert rest.grain_mm[0][0][0] >= 1000
    assert not rest.grain_guessed
    assert [f.code for f in inspect_slab(rest) if f.severity != "note"] == []


def test_a_timber_sawn_from_the_middle_leaves_two_pieces():
    """Across the whole width: a butt piece and a head piece, named from the butt."""
    left = offcuts(slab(), [box(800, 0, 1200, 300)], kerf_mm=5.0)
    assert [p.name for p in left] == ["T/1", "T/2"]
    assert left[0].top_mm[:, 0].max() == pytest.approx(795, abs=0.1)
    assert left[1].top_mm[:, 0].min() == pytest.approx(1205, abs=0.1)


def test_a_hole_left_in_a_slab_is_opened_by_the_saw():
    """A timber sawn from within leaves wood that is a simple outline, its ground never in it."""
    timber = box(500, 100, 1500, 180)
    left = offcuts(slab(), [timber], kerf_mm=5.0)
    assert left
    for piece in left:
        assert shapely.Polygon(piece.top_mm).is_valid
        assert shapely.Polygon(piece.top_mm).intersection(shapely.Polygon(timber)).area < 1.0


def test_small_remains_are_firewood_and_flaws_go_with_their_piece():
    """Nothing narrower or shorter than asked for comes back; a flaw stays where it lies."""
    assert offcuts(slab(), [box(0, 0, 2000, 260)], kerf_mm=6.0) == ()
    rot, knot = (
        Flaw("rot", box(1500, 100, 1600, 200), "both"),
        Flaw("knot", box(100, 100, 130, 130), "both"),
    )
    (rest,) = offcuts(slab(flaws=(rot, knot)), [box(0, 0, 1000, 300)], kerf_mm=6.0)
    assert [f.kind for f in rest.flaws] == ["rot"]


@settings(max_examples=25, deadline=None)
@given(st.integers(0, len(SLABS) - 1), st.floats(0.1, 0.9), st.floats(0.2, 0.6), st.floats(2, 8))
def test_offcuts_never_hold_wood_that_was_sawn(k, at, share, kerf):
    """Of any slab, whatever is sawn: the remains lie on it, clear of the cut by the kerf."""
    one = SLABS[k]
    n = len(one.top_mm) // 2
    piece = shapely.Polygon(one.top_mm)
    x0, x1 = piece.bounds[0], piece.bounds[2]
    middle = x0 + at * (x1 - x0)
    sawn = piece.intersection(
        shapely.box(middle - 100 * share * 5, -4000, middle + 100 * share * 5, 4000)
    )
    rings = [shapely.get_coordinates(g)[:-1] for g in shapely.get_parts(sawn) if g.area > 1]
    assert n > 2
    for rest in offcuts(one, rings, kerf):
        left = shapely.Polygon(rest.top_mm)
        assert left.is_valid
        assert left.difference(piece.buffer(0.5)).area < 5
        assert left.distance(sawn) > kerf - 0.5
        assert rack_of([rest]).set_aside == ()
        assert rack_text([rest])


def test_taped_slabs_join_the_rack_and_names_stay_single(tmp_path):
    """What can be made is added with its notes; a name already taken is left off and said."""
    good = "slab,N-1\nspecies,white oak\nthickness,60\n"
    good += "station,top left,top right\n0,90,90\n400,90,95\n800,85,90\n"
    text = good + good.replace("N-1", "T") + "slab,N-3\nspecies,white oak\n"
    (tmp_path / "tape.csv").write_text(text)
    got = add_taped(rack_of([slab()]), Papers(tmp_path), "tape.csv")
    assert [s.name for s in got.slabs] == ["N-1"]
    assert [s.name for s in got.rack.slabs] == ["T", "N-1"]
    assert {"S006", "S405", "S409", "S203"} <= {f.code for f in got.findings}
    assert not got.complete


PINS = """\
name,use,species,square,length,count,moisture_percent,stack
P-1,treenail,osage orange,7/8 in,1-6-0,20,8,bench
P-2,treenail,white ash,7/8 in,2-0-0,3,,
P-3,wedge,white oak,3/4 in,1-0-0,40,8,bench
"""


def test_pin_stock_is_read_with_its_doubts(tmp_path):
    """Squares in the trade's notation; ash treenails are doubted; a bad row is a finding."""
    (tmp_path / "pins.csv").write_text(PINS + "P-4,peg,white oak,big,1-0-0,-2\n")
    stock, findings = read_squares(Papers(tmp_path))
    assert [s.name for s in stock] == ["P-1", "P-2", "P-3"]
    assert stock[0] == Squares("P-1", "treenail", "osage orange", 22.225, 457.2, 20, 8.0, "bench")
    assert stock[0].volume_m3 == pytest.approx(0.022225**2 * 0.4572 * 20)
    assert [(f.code, f.line, f.column) for f in findings] == [
        ("S603", 3, "species"),
        ("S601", 5, "use"),
        ("S601", 5, "square"),
        ("S601", 5, "count"),
    ]


def test_pin_stock_without_its_heading_is_a_finding(tmp_path):
    """A file that begins with figures is told which columns it lacks."""
    (tmp_path / "pins.csv").write_text("P-1,treenail,oak\n")
    assert [f.code for f in read_squares(Papers(tmp_path))[1]] == ["S601"]
    assert read_squares(Papers(tmp_path), "none.csv")[0] == ()


def test_lengths_come_out_of_squares():
    """450 mm squares give four of 110 and none of 500; what lacks is said by length."""
    stock = [
        Squares("P", "treenail", "locust", 22, 450, 2),
        Squares("W", "wedge", "oak", 22, 900, 9),
    ]
    got = cut_lengths(stock, [110] * 8, 20, kerf_mm=3)
    assert (got.got, got.squares_used, got.short) == (8, {"P": 2}, {})
    assert got.left_mm == pytest.approx(2 * (450 - 4 * 113) if 450 >= 4 * 113 else 0)
    long = cut_lengths(stock, [500, 440], 20)
    assert (long.got, long.short) == (1, {500: 1})
    assert long.findings[0].code == "S602"
    assert cut_lengths(stock, [100], 25).got == 0


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(80, 460), min_size=1, max_size=30), st.integers(1, 20))
def test_no_square_is_cut_into_more_than_it_holds(lengths, count):
    """Pieces got and short add up; their lengths and kerfs fit the squares that were cut."""
    stock = [Squares("P", "treenail", "locust", 22, 450, count)]
    got = cut_lengths(stock, lengths, 20, kerf_mm=3)
    assert got.got + sum(got.short.values()) == len(lengths)
    cut = sum(sorted(lengths)) - sum(long * n for long, n in got.short.items())
    used = got.squares_used.get("P", 0)
    assert used <= count
    assert cut + got.left_mm <= 450 * used + 1e-6


def test_the_documented_pins_are_read(tmp_path):
    """The example that the documentation prints is a file that is read as it says."""
    text = (Path(__file__).parents[2] / "docs" / "formats" / "pins.md").read_text("utf-8")
    (tmp_path / "pins.csv").write_text(text.split("```")[1].lstrip(), "utf-8")
    bundles, findings = read_squares(Papers(tmp_path))
    assert findings == ()
    assert [(b.name, b.use, b.count) for b in bundles] == [
        ("P-1", "treenail", 40), ("P-2", "treenail", 25), ("W-1", "wedge", 60)
    ]  # fmt: skip
    assert bundles[1].length_mm == pytest.approx(3.5 * 304.8)
    assert bundles[1].square_mm == pytest.approx(1.125 * 25.4)
    assert (bundles[2].moisture_percent, bundles[2].stack) == (8.0, "")
