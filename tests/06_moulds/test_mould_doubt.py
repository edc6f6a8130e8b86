"""Moulds where the lines are in doubt say how much wood to leave."""

from dataclasses import replace

import numpy as np
import pytest
from exact_frames import cone_frame

from futtock.moulds.doubt import noticed, with_doubt
from futtock.moulds.flat import moulds
from futtock.moulds.settings import MouldSettings


def test_doubt_is_the_spread_over_the_leans_cosine():
    """An error that grows upwards shows at each timber's upper end; large ones are findings."""
    frame = cone_frame(12.0, angles_deg=(15, 115))
    made = moulds([frame], MouldSettings())
    asked = []

    def spread(points):
        asked.append(points)
        return 0.5 + np.maximum(points[:, 2] + 850.0, 0) / 500.0

    r = 4000 * np.tan(np.radians(12.0))
    got = {m.mark: m for m in with_doubt(made, [frame], spread, MouldSettings(doubt_shown_mm=1.5))}
    # the points asked for lie on the three faces' circles, in their planes
    points = np.concatenate(asked)
    assert set(np.round(points[:, 0], 6)) == {3950.0, 4000.0, 4050.0}
    on_cone = points[:, 0] * np.tan(np.radians(12.0))
    assert np.hypot(points[:, 1], points[:, 2]) == pytest.approx(on_cone)
    for mark, angle in (("1-S-f1", 65.0), ("1-P-f2", 115.0), ("1-S-a1", 40.0)):
        want = (0.5 + (850.0 - r * np.cos(np.radians(angle))) / 500.0) / np.cos(np.radians(12.0))
        assert got[mark].doubt_mm == pytest.approx(want, abs=0.03)
        assert got[mark].leave_mm == (2 * got[mark].doubt_mm if want > 1.5 else 0.0)
    assert with_doubt(made, [], spread, MouldSettings()) == made


@pytest.mark.parametrize("inner", ["bevelled", "square"])
def test_every_edge_of_both_faces_knows_its_doubt_place_by_place(inner):
    """Outer and inner edge, up and down, have their own errors in mm and degrees at each mark."""
    frame = cone_frame(12.0, angles_deg=(15, 115))
    made = moulds([frame], MouldSettings())
    if inner == "square":
        made = [
            replace(m, edges=(m.edges[0], replace(m.edges[1], lean_deg=0 * m.edges[1].lean_deg)))
            for m in made
        ]

    def spread(points):
        return 0.2 + np.hypot(points[:, 1], points[:, 2] - 300.0) / 1000.0

    def lean(points, across):
        assert across == pytest.approx([1.0, 0.0, 0.0])
        return 0.05 + (points[:, 2] + 850.0) / 20000.0

    got = {
        m.mark: m for m in with_doubt(made, [frame], spread, MouldSettings(), 1, lean_spread=lean)
    }
    start = {t.mark: t.girth_mm[0] for t in frame.timbers}
    turn = np.tan(np.radians(12.0))
    for mark, far in (("1-S-f1", 3950.0), ("1-S-f2", 3950.0), ("1-S-a1", 4050.0)):
        mould = got[mark]
        assert {(d.edge, d.face) for d in mould.doubts} == {
            (edge, face) for edge in ("outer", "inner") for face in ("up", "down")
        }
        for d in mould.doubts:
            assert d.at_mm == pytest.approx([m.at_mm for m in mould.marks])
            angle = np.radians(15.0) + (start[mark] + d.at_mm) / (4000.0 * turn)

            def on(x, angle=angle):
                r = x * turn
                return np.stack([0 * angle + x, r * np.sin(angle), -r * np.cos(angle)], axis=1)

            square = d.edge == "inner" and inner == "square"
            x = far if d.face == "down" and not square else 4000.0
            assert d.mm == pytest.approx(spread(on(x)) / np.cos(np.radians(12.0)), abs=2e-3)
            bevel = np.zeros_like(angle) if square else lean(on(4000.0), np.array([1.0, 0, 0]))
            assert d.deg == pytest.approx(bevel, abs=1e-3)


def test_the_doubt_is_told_once_naming_every_mould():
    """Many moulds in doubt make one finding with all their marks; none make none."""
    frame = cone_frame(12.0, angles_deg=(15, 115))
    made = moulds([frame], MouldSettings())
    asked = MouldSettings(doubt_shown_mm=1.5)
    far = with_doubt(made, [frame], lambda p: 1.0 + np.maximum(p[:, 2], -600.0) / 600.0, asked)
    unsure = [m for m in far if m.leave_mm > 0]
    assert 1 < len(unsure) < len(far)
    (told,) = noticed(far)
    assert told.code == "D004"
    assert told.read == "in doubt: " + ", ".join(m.mark for m in unsure)
    worst = max(unsure, key=lambda m: m.doubt_mm)
    assert told.line == worst.mark
    assert f"(standard error, {worst.mark}); leave {worst.leave_mm:.0f} mm" in told.message
    (one,) = noticed(unsure[:1])
    assert one.line == unsure[0].mark
    assert noticed(with_doubt(made, [frame], lambda p: np.zeros(len(p)), asked)) == ()
