from __future__ import annotations

import itertools
import json
import math
import subprocess
import sys

import numpy as np
import pytest
from layout_cases import arc, crook, knot, plank, strip
from shapely import LineString, Point, Polygon
from shapely.affinity import affine_transform

from futtock.errors import Interrupted, Misused
from futtock.layout.document import layout_json, placements_from_json
from futtock.layout.exact import Court
from futtock.layout.lay import lay
from futtock.layout.placement import Placement
from futtock.layout.settings import LaySettings, Weights
from futtock.layout.store import FolderStore

SETTINGS = LaySettings(kerf_mm=6.0)


def straight(mark, long, wide, **more):
    return strip(mark, np.c_[np.linspace(0, long, 31), np.zeros(31)], wide, **more)


def yard():
    """Twelve bent timbers with bevels, and ten crooks and planks with knots."""
    rng = np.random.default_rng(5)
    moulds = [
        strip(f"{k + 1}-{side}-f1", arc(900 + 120 * k, 38 - 2 * k), 90 + 3 * k, over=over)
        for k in range(6)
        for side, over in (("P", 9.0), ("S", -9.0))
    ]
    slabs = [
        crook(f"C{k}", arc(1000 + 150 * k, 75 - 5 * k), 260, flaws=[knot(300, 130 + 20 * k, 12)])
        for k in range(8)
    ]
    slabs += [plank(f"P{k}", 1600, 240, flaws=[knot(*rng.uniform(60, 180, 2), 10)]) for k in "ab"]
    return moulds, slabs


def outside(moulds, slabs, layout, kerf, slope):
    """Faults found from the JSON document alone, with code of its own."""
    by_mark = {m.mark: m for m in moulds}
    by_name = {s.name: s for s in slabs}
    document = json.loads(json.dumps(layout_json(layout)))
    faults, laid, slopes = [], {}, []
    for p in document["placements"]:
        m, s = by_mark[p["mark"]], by_name[p["slab"]]
        t, y = math.radians(p["turn_deg"]), -1.0 if p["mirrored"] else 1.0
        mat = [math.cos(t), -math.sin(t) * y, math.sin(t), math.cos(t) * y, *p["shift_mm"]]
        up, down, line = (
            affine_transform(g, mat)
            for g in (Polygon(m.outline_up_mm), Polygon(m.outline_down_mm), LineString(m.grain_mm))
        )
        on_top, on_bottom = (down, up) if p["mirrored"] else (up, down)
        if on_top.difference(Polygon(s.top_mm)).area > 0.1:
            faults.append(("top", p["mark"]))
        if on_bottom.difference(Polygon(s.bottom_mm)).area > 0.1:
            faults.append(("bottom", p["mark"]))
        blank = up.union(down)
        faults += [("flaw", p["mark"]) for f in s.flaws if blank.intersects(Polygon(f.outline_mm))]
        faults += [
            ("gap", p["mark"]) for b in laid.get(p["slab"], ()) if b.distance(blank) < kerf - 1e-6
        ]
        laid.setdefault(p["slab"], []).append(blank)
        for g in s.grain_mm:
            for a, b in itertools.pairwise(g):
                q = Point((a + b) / 2)
                if q.distance(line) < 12 and up.contains(q):
                    w = line.project(q)
                    u, v = line.interpolate(max(0, w - 20)), line.interpolate(w + 20)
                    off = math.atan2(v.y - u.y, v.x - u.x) - math.atan2(*(b - a)[::-1])
                    slopes.append(abs(math.tan(off)))
    if slopes and max(slopes) > slope + 1e-6:
        faults.append(("grain", max(slopes)))
    return faults


def test_layout_holds_from_outside():
    """No placement delivered breaks face, flaw, kerf or grain, by code that shares nothing."""
    moulds, slabs = yard()
    layout = lay(moulds, slabs, SETTINGS, rounds=60, seed=1)
    assert len(layout.placements) >= 10
    assert outside(moulds, slabs, layout, 6.0, 0.1) == []
    assert len(layout.placements) + len(layout.unplaced) == len(moulds)


def test_same_seed_and_rounds_same_layout():
    """The same seed and rounds give the same layout to the last figure; another seed may not."""
    moulds, slabs = yard()
    one, two = (lay(moulds, slabs, SETTINGS, rounds=40, seed=3) for _ in range(2))
    assert one.placements == two.placements
    assert one.unplaced == two.unplaced


def test_planks_that_just_hold_their_strips():
    """Four strips fill a plank three kerfs and 20 mm wider than they; a second is not begun."""
    moulds = [straight(f"{k}-P-f1", 800, 60) for k in range(1, 5)]
    slabs = [plank(n, 820, 4 * 60 + 3 * 6 + 20) for n in "AB"]
    layout = lay(moulds, slabs, SETTINGS, rounds=400, seed=0)
    assert layout.unplaced == ()
    assert layout.slabs_used == 1
    assert layout.yield_ == pytest.approx(4 * 800 * 60 / (820 * 278), rel=1e-6)
    assert outside(moulds, slabs, layout, 6.0, 0.1) == []


def test_bound_is_true_and_counts_kerf():
    """The area bound never exceeds what a layout reaches, and the kerf raises it."""
    moulds, slabs = yard()
    wide = lay(moulds, slabs, LaySettings(kerf_mm=20.0), rounds=20)
    thin = lay(moulds, slabs, LaySettings(kerf_mm=1.0), rounds=20)
    for layout in (wide, thin):
        assert 0 < layout.bound.value <= layout.bound.reached
        assert layout.bound.gap == pytest.approx(1 - layout.bound.value / layout.bound.reached)
    if wide.unplaced == thin.unplaced:
        assert wide.bound.value > thin.bound.value


def test_wane_carries_a_bevel():
    """A bevelled timber fits a waney slab only with its wide side where the slab is wide."""
    long, wide, over = 700.0, 100.0, 14.0
    mould = straight("1-P-f1", long, wide, over=over)
    ring = np.array([[0.0, 0.0], [720, 0.0], [720, wide + 9], [0.0, wide + 9]])
    slab = plank("W", 720, wide + 9, bottom=ring + np.array([0.0, over]))
    layout = lay([mould], [slab], LaySettings(guard_mm=0.5), rounds=5)
    assert layout.unplaced == ()
    square = plank("Q", 720, wide + 9)
    assert lay([mould], [square], LaySettings(guard_mm=0.5), rounds=5).unplaced == ("1-P-f1",)


def test_rough_allowance_stands_between():
    """Rough allowance is left on both sides of the kerf between neighbours."""
    moulds = [straight(f"{k}-P-f1", 600, 50) for k in (1, 2)]
    settings = LaySettings(kerf_mm=6.0, rough_allowance_mm=10.0)
    assert lay(moulds, [plank("A", 640, 140)], settings, rounds=200).unplaced == ()
    tight = lay(moulds, [plank("A", 640, 121)], settings, rounds=50)
    assert len(tight.unplaced) == 1


def test_thin_slabs_are_refused_with_a_finding():
    """A timber for which no slab is thick enough is left out and said."""
    moulds = [straight("1-P-f1", 500, 60, sided=70.0), straight("2-P-f1", 500, 60)]
    layout = lay(moulds, [plank("A", 600, 200)], SETTINGS, rounds=5)
    assert layout.unplaced == ("1-P-f1",)
    assert [f.code for f in layout.findings if f.read == "1-P-f1"] == ["P101"]


def test_bad_input_is_found_never_raised():
    """Empty moulds and slabs, doubles, too long timbers and an empty rack come out as findings."""
    empty = straight("3-P-f1", 500, 60)
    object.__setattr__(empty, "outline_up_mm", np.zeros((4, 2)))
    moulds = [straight("1-P-f1", 5000, 60), straight("2-P-f1", 500, 60), empty]
    moulds.append(straight("2-P-f1", 400, 50))
    flat = plank("B", 600, 200)
    object.__setattr__(flat, "top_mm", np.zeros((4, 2)))
    layout = lay(moulds, [plank("A", 600, 200), plank("A", 600, 200), flat], SETTINGS, rounds=5)
    assert {f.code for f in layout.findings} >= {"P003", "P004", "P005", "P006", "P102"}
    assert [p.mark for p in layout.placements] == ["2-P-f1"]
    none = lay(moulds[:1], [], SETTINGS, rounds=5)
    assert none.placements == ()
    assert none.unplaced == ("1-P-f1",)
    assert "P001" in {f.code for f in none.findings}
    assert lay([], [plank("A", 600, 200)], SETTINGS).placements == ()


def test_steep_grain_is_refused():
    """A straight timber does not go into a crook whose grain turns more than it may."""
    bent = crook("C", arc(700, 60), 300)
    assert lay([straight("1-P-f1", 600, 60)], [bent], SETTINGS, rounds=5).unplaced
    easy = LaySettings(grain_slope=1.5)
    assert not lay([straight("1-P-f1", 600, 60)], [bent], easy, rounds=5).unplaced


def test_locks_stand_and_others_keep_clear():
    """A locked timber stays to the last figure, and the rest is laid round it."""
    moulds, slabs = yard()
    first = lay(moulds, slabs, SETTINGS, rounds=30, seed=1)
    lock = first.placements[3]
    again = lay(moulds, slabs, SETTINGS, rounds=30, seed=9, locks=[lock])
    held = next(p for p in again.placements if p.mark == lock.mark)
    assert held.locked
    assert (held.slab, held.turn_deg, held.shift_mm) == (lock.slab, lock.turn_deg, lock.shift_mm)
    assert outside(moulds, slabs, again, 6.0, 0.1) == []


def test_what_is_cut_already_is_not_laid_again():
    """A timber cut before, of which no place is known, is neither placed nor missed."""
    moulds = [straight(f"{k}-P-f1", 500, 60) for k in (1, 2)]
    layout = lay(moulds, [plank("A", 900, 300)], SETTINGS, rounds=5, done=["2-P-f1"])
    assert [p.mark for p in layout.placements] == ["1-P-f1"]
    assert layout.unplaced == ()


def test_wishes_are_kept():
    """Forbidden slabs and pairs stay empty; a slab kept for later is begun only in need."""
    moulds = [straight("1-P-f1", 500, 60), straight("2-P-f1", 500, 60)]
    slabs = [plank("A", 520, 80), plank("B", 900, 300), plank("C", 900, 300)]
    forbid = LaySettings(forbid=frozenset({"A", "B"}))
    assert {p.slab for p in lay(moulds, slabs, forbid, rounds=10).placements} == {"C"}
    pair = LaySettings(forbid_pairs=frozenset({("1-P-f1", "A"), ("1-P-f1", "C")}))
    at = {p.mark: p.slab for p in lay(moulds, slabs, pair, rounds=10).placements}
    assert at["1-P-f1"] == "B"
    keep = LaySettings(keep_for_later=frozenset({"A"}))
    assert "A" not in {p.slab for p in lay(moulds, slabs, keep, rounds=10).placements}
    need = lay(moulds, slabs[:1], keep, rounds=10)
    assert len(need.placements) == 1


@pytest.mark.parametrize("stack", ["east", "west"])
def test_a_stack_that_is_preferred_is_begun_first(stack):
    """Of two slabs alike in all but their stack, the timber lies on that of the stack preferred."""
    mould = straight("1-P-f1", 800.0, 100.0)
    slabs = [plank(f"{s}-1", 1200.0, 200.0, stack=s) for s in ("east", "west")]
    asked = LaySettings(kerf_mm=6.0, prefer_stacks=frozenset({stack}))
    (placed,) = lay([mould], slabs, asked, rounds=20).placements
    assert placed.slab == f"{stack}-1"


def test_stopped_gives_the_best_so_far():
    """Stopped in the search it gives what it has, checked; stopped before, it says so."""
    moulds, slabs = yard()

    def stop(p):
        return p.task != "laying out"

    layout = lay(moulds, slabs, SETTINGS, stop, rounds=10_000)
    assert layout.placements
    assert "P401" in {f.code for f in layout.findings}
    assert outside(moulds, slabs, layout, 6.0, 0.1) == []
    with pytest.raises(Interrupted):
        lay(moulds, slabs, SETTINGS, lambda p: False, rounds=10)


def test_poses_kept_on_disk_change_nothing(tmp_path):
    """With the poses read back from a folder nothing changes; a spoiled file is made anew."""
    moulds, slabs = yard()
    store = FolderStore(tmp_path)
    one = lay(moulds, slabs, SETTINGS, rounds=20, store=store)
    files = sorted(tmp_path.glob("poses-*.npz"))
    assert len(files) == len(slabs)
    files[0].write_bytes(b"not a file of poses")
    two = lay(moulds, slabs, SETTINGS, rounds=20, store=store)
    assert one.placements == two.placements


def test_document_goes_round():
    """A layout read back from its document has the same placements."""
    moulds, slabs = yard()
    layout = lay(moulds, slabs, SETTINGS, rounds=5)
    document = json.loads(json.dumps(layout_json(layout)))
    assert placements_from_json(document) == layout.placements
    assert {"placements", "unplaced", "slabs_used", "yield", "bound", "seconds"} <= set(document)


def test_misuse_is_told():
    """Seconds without a clock, rounds with seconds, and impossible settings are refused."""
    with pytest.raises(Misused):
        lay([], [], seconds=3.0)
    with pytest.raises(Misused):
        lay([], [], seconds=3.0, rounds=4, clock=lambda: 0.0)
    with pytest.raises(Misused):
        LaySettings(kerf_mm=-1.0)
    with pytest.raises(Misused):
        Weights(straight_grain=7.0)


@pytest.mark.parametrize(
    ("shift", "turn", "what"),
    [
        ((-20.0, 60.0), 0.0, "inside"),
        ((100.0, 60.0), 0.0, "flaw"),
        ((20.0, 60.0), 8.0, "grain"),
        ((20.0, 145.0), 0.0, "gap"),
    ],
)
def test_exact_check_names_the_fault(shift, turn, what):
    """Each way to be wrong is told by its name, and a good place passes."""
    mould = straight("1-P-f1", 400, 60)
    slab = plank("A", 600, 300, flaws=[knot(520, 60, 9)])
    court = Court([mould], [slab], SETTINGS)
    neighbour = Polygon([(0, 180), (600, 180), (600, 260), (0, 260)])
    good = court.judge(Placement("1-P-f1", "A", 0.0, (20.0, 60.0), False, 0, 0), [neighbour])
    assert good.passes
    assert good.gap_mm == pytest.approx(90.0)
    if what == "flaw":
        shift = (150.0, 60.0)
    bad = court.judge(Placement("1-P-f1", "A", turn, shift, False, 0, 0), [neighbour])
    assert what in {f.what for f in bad.faults}


def test_no_numba_until_a_layout_is_asked():
    """The rooms that name layout's values do not load the compiler."""
    code = (
        "import sys; import futtock.layout.placement, futtock.layout.settings, "
        "futtock.layout.lay, futtock.layout.document; assert 'numba' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
