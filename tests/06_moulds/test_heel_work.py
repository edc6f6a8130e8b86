"""What is marked at a heel: notch, limber hole, the bolts' zone, on the wood and nowhere else."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from exact_surfaces import keeled, settings

from futtock.framing.build import frame_hull
from futtock.moulds.flat import moulds
from futtock.moulds.settings import MouldSettings

ASKED = settings(
    cants="none", longest_mm=1500.0, notch_mm=30.0, notch_clear_mm=2.0, keel_siding_mm=160.0,
    limber_mm=30.0, limber_wide_mm=50.0, heel_bolt_mm=15.0,
)  # fmt: skip


def made(**changes):
    framing = frame_hull(keeled(), replace(ASKED, **changes))
    return framing, moulds(framing.frames, MouldSettings())


@pytest.mark.parametrize("floors", ["separate", "in frame"])
def test_lines_lie_on_the_wood_of_first_timbers(floors):
    """First timbers of frames on the keel carry them, within their outline; no other timber."""
    framing, laid = made(floors=floors)
    on_keel = {f.number for f in framing.frames if f.on_keel}
    assert on_keel
    for mould in laid:
        first = mould.mark.endswith("1") and mould.frame in on_keel
        assert bool(mould.work) == first, mould.mark
        wood = shapely.Polygon(mould.outline_up_mm).buffer(1e-6)
        for line in mould.work:
            assert wood.covers(shapely.LineString(line.points_mm)), (mould.mark, line.kind)


def test_the_notch_fits_the_keel_with_its_clearance():
    """Over the keel's top by the clearance, down its side half a siding and the clearance out."""
    framing, laid = made()
    for mould in laid:
        notch = [w for w in mould.work if w.kind == "notch"]
        if not notch or mould.place is None or mould.same_as:
            continue
        frame = framing.frame(mould.frame)
        top = frame.joint.edge_mm[0, 1]
        points = mould.place.to_frame(np.concatenate([w.points_mm for w in notch]))
        assert points[:, 1].max() == pytest.approx(top + 2.0, abs=1e-6)
        assert points[:, 0].max() == pytest.approx(80.0 + 2.0, abs=1e-6)


def test_a_floors_notch_runs_over_both_sides():
    """A floor carries the whole keel's section and two limber holes, each the other's mirror."""
    _, laid = made(floors="in frame")
    floors = [m for m in laid if m.side == "C"]
    assert floors
    for mould in floors:
        notch = mould.place.to_frame(
            np.concatenate([w.points_mm for w in mould.work if w.kind == "notch"])
        )
        assert notch[:, 0].max() == pytest.approx(-notch[:, 0].min())
        assert sum(w.kind == "limber" for w in mould.work) == 2


def test_a_notch_sawn_with_the_timber_is_in_its_outline_alone():
    """Half timbers then carry no notch to saw later; a floor's is always sawn after assembly."""
    _, laid = made(floors="in frame", notch_sawn="with the timber")
    kinds = {m.side: {w.kind for w in m.work} for m in laid if m.work}
    assert "notch" in kinds["C"]
    assert "notch" not in kinds["S"]


def test_a_port_mould_carries_them_turned_over():
    """Turned over, every line of the twin lies where the mould does."""
    _, laid = made()
    by_mark = {m.mark: m for m in laid}
    for mould in (m for m in laid if m.same_as and m.work):
        twin = by_mark[mould.same_as]
        for own, other in zip(mould.work, twin.work, strict=True):
            assert own.kind == other.kind
            a, b = mould.place.to_frame(own.points_mm), twin.place.to_frame(other.points_mm)
            assert np.abs(a - b).max() < 1e-9
