"""Moulds where the lines are in doubt say how much wood to leave."""

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
    # the points asked for lie on the joint's circle, in its plane
    points = np.concatenate(asked)
    assert points[:, 0] == pytest.approx(4000.0)
    assert np.hypot(points[:, 1], points[:, 2]) == pytest.approx(r)
    for mark, angle in (("1-S-f1", 65.0), ("1-P-f2", 115.0), ("1-S-a1", 40.0)):
        want = (0.5 + (850.0 - r * np.cos(np.radians(angle))) / 500.0) / np.cos(np.radians(12.0))
        assert got[mark].doubt_mm == pytest.approx(want, abs=0.03)
        assert got[mark].leave_mm == (2 * got[mark].doubt_mm if want > 1.5 else 0.0)
    assert with_doubt(made, [], spread, MouldSettings()) == made


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
